//! How the engine knows its air, and what lies ahead of or behind the sensor of mass flow.

use super::Tract;
use crate::build::engine::Metering;
use crate::build::parts::{Body, Discharge, Part, PartKind, SensorPurpose};
use crate::build::scalars::{AIR, Destination, List};
use crate::known::{Known, Missing, Read, Reads, State};

impl<'b> Tract<'b> {
    /// How the engine knows its air: as said, else inferred from the parts, and recorded as such.
    pub fn metering(&self, reads: &dyn Reads) -> Known<Metering> {
        let engine = match self.build().top.engine.get(reads) {
            Known::Is(engine) => engine,
            other => return other.and_then(|_| Known::missing(self.build().top.engine.route())),
        };
        let field = &engine.metering;
        if !matches!(field.state(reads), State::Absent) {
            return field.get(reads).map(|metering| *metering);
        }
        self.path(reads).and_then(|path| {
            let on_path = |kind| path.iter().any(|spot| spot.kind == kind);
            let inferred = if on_path(PartKind::AirMeter) {
                Metering::AirMeter
            } else if on_path(PartKind::Carburettor) {
                Metering::Carburettor
            } else if self.senses_density(reads) {
                Metering::SpeedDensity
            } else {
                return Known::missing(field.route());
            };
            let words =
                format!("the metering is taken as {}, from the parts that are described", inferred.word());
            reads.note(Read::Default { field: field.route().clone(), words: words.into() });
            Known::Is(inferred)
        })
    }

    fn senses_density(&self, reads: &dyn Reads) -> bool {
        self.build().parts.list.iter().any(|part| {
            let Body::PressureSensor(sensor) = &part.body else { return false };
            matches!(sensor.purpose.get(reads), Known::Is(SensorPurpose::Density))
        })
    }

    /// The place on the path of the air meter that the engine goes by.
    pub fn air_meter(&self, reads: &dyn Reads) -> Known<usize> {
        match self.metering(reads) {
            Known::Is(Metering::AirMeter) => {}
            Known::Is(other) => {
                return Known::not_applicable(format!(
                    "the engine goes by {} and no air meter counts",
                    other.word()
                ));
            }
            other => return other.and_then(|_| Known::Is(0)),
        }
        self.path(reads).and_then(|path| match path.iter().find(|spot| spot.kind == PartKind::AirMeter) {
            Some(spot) => Known::Is(spot.index),
            None => Known::missing(self.build().top.air_path.route()),
        })
    }

    /// The discharge ports of a relief valve.
    pub fn discharge(&self, valve: &'b Part, reads: &dyn Reads) -> Known<&'b [Discharge]> {
        let Body::ReliefValve(fields) = &valve.body else {
            return Known::not_applicable("it is no relief valve");
        };
        fields.discharge.get(reads).map(|List(ports)| ports.as_slice())
    }

    /// The share of all discharge, at full lift, whose destination passes a test.
    pub fn discharge_share(
        &self,
        valve: &'b Part,
        wanted: impl Fn(&str) -> bool,
        reads: &dyn Reads,
    ) -> Known<f64> {
        self.discharge(valve, reads).and_then(|ports| {
            let alone = ports.len() == 1;
            let mut sum = 0.0;
            let mut unknown = Missing::default();
            for port in ports {
                let share = if alone {
                    share_alone(port, reads)
                } else {
                    port.share.get(reads).map(|share| share.si())
                };
                match port.to.get(reads).zip(share) {
                    Known::Is((Destination(to), share)) => sum += if wanted(to) { share } else { 0.0 },
                    Known::Open(missing) => unknown = unknown.join(missing),
                    Known::Between(..) | Known::NotApplicable(_) => {}
                }
            }
            if unknown == Missing::default() { Known::Is(sum) } else { Known::Open(unknown) }
        })
    }

    /// Whether any of the returned air comes back ahead of the air meter.
    pub fn returns_ahead_of_meter(&self, valve: &'b Part, reads: &dyn Reads) -> Known<bool> {
        self.discharge(valve, reads).and_then(|ports| {
            let returned = ports.iter().map(|port| port.to.get(reads)).collect::<Known<Vec<_>>>();
            returned.and_then(|targets| {
                let names: Vec<_> = targets.into_iter().filter(|Destination(to)| &**to != AIR).collect();
                if names.is_empty() {
                    return Known::not_applicable("nothing is returned");
                }
                self.air_meter(reads).and_then(|meter| {
                    let places = names.iter().map(|Destination(to)| self.spot(to, reads));
                    places.collect::<Known<Vec<_>>>().and_then(|places| {
                        if places.iter().flatten().any(|spot| spot.index <= meter) {
                            return Known::Is(true);
                        }
                        if places.iter().any(Option::is_none) {
                            return Known::missing(self.build().top.air_path.route());
                        }
                        Known::Is(false)
                    })
                })
            })
        })
    }
}

fn share_alone(port: &Discharge, reads: &dyn Reads) -> Known<f64> {
    match port.share.state(reads) {
        State::Absent => {
            let words = "all of it, as there is one discharge only";
            reads.note(Read::Default { field: port.share.route().clone(), words: words.into() });
            Known::Is(1.0)
        }
        _ => port.share.get(reads).map(|share| share.si()),
    }
}
