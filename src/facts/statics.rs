//! Facts from the static balance of relief valves. Forces are positive opening.

use super::graph::{row, with_part};
use super::registry::{Fold, Group, Make, Row, Series};
use super::scope::Scope;
use crate::build::engine::Engine;
use crate::build::parts::{Body, Part, ReliefPurpose, ReliefValve};
use crate::build::scalars::{AIR, Length, Q};
use crate::known::{Datum, Field, Kind, Known, Num, Read, Reads, Setting, State};
use crate::model::{
    Opening, Placed, ShutDemand, StartKind, Statics, Valve, effective_area, is_electric, not_by_pressures,
    pipe_area, pipe_bore, vent_lift,
};
use crate::physics::flow::bore_area;
use crate::physics::loss::area_behind;
use crate::physics::relief_valve::{ActingAreas, Pressures};
use crate::text::Dim;
use crate::tract::{Subject, SubjectKind};

const VALVE: &[SubjectKind] = &[SubjectKind::ReliefValve];
const FORCE: Kind = Kind::Number(Dim::FORCE);
const LENGTH: Kind = Kind::Number(Dim::LENGTH);
const AREA: Kind = Kind::Number(Dim::AREA);

const fn worst(
    name: &'static str,
    kind: Kind,
    fold: Fold,
    meaning: &'static str,
    make: fn(&Scope<'_>, &Subject) -> Series,
) -> Row {
    Row { name, kind, meaning, group: Group::Statics, on: VALVE, make: Make::Worst(fold, make) }
}

/// The rows.
pub(super) static ROWS: &[Row] = &[
    row(
        "idle_air_counts",
        Kind::Bool,
        &[SubjectKind::Build],
        "whether air that comes in at idle beside the metering makes the mixture wrong: the engine goes by an air meter",
        |scope, _| Statics::idle_air_counts(&scope.tract(), scope).map(Datum::Bool),
    ),
    worst(
        "opening_force_idle",
        FORCE,
        Fold::Max,
        "force that lifts the valve at idle to where it begins to vent, spring counted, over all sites",
        |scope, subject| series(scope, subject, Dim::FORCE, |valve| valve.venting_force(valve.idle())),
    ),
    worst(
        "opening_force_overrun",
        FORCE,
        Fold::Max,
        "force that lifts the valve on overrun to where it begins to vent, spring counted, over all sites",
        |scope, subject| series(scope, subject, Dim::FORCE, |valve| valve.venting_force(valve.overrun())),
    ),
    worst(
        "opening_force_full_throttle_max",
        FORCE,
        Fold::Max,
        "largest force that opens the valve at full throttle, spring counted, over all points and sites",
        |scope, subject| {
            series(scope, subject, Dim::FORCE, |valve| valve.opening_force(valve.full_throttle()))
        },
    ),
    worst(
        "opening_force_gentle_tip_out",
        FORCE,
        Fold::Min,
        "force that opens the valve when the throttle is gently shut from light boost, spring and friction counted, over all sites",
        |scope, subject| series(scope, subject, Dim::FORCE, |valve| valve.gentle_force()),
    ),
    worst(
        "preload_window_low",
        FORCE,
        Fold::Max,
        "least preload that keeps the valve shut at full throttle, and from venting at idle where that air would count",
        |scope, subject| series(scope, subject, Dim::FORCE, |valve| valve.preload_low()),
    ),
    worst(
        "preload_window_high",
        FORCE,
        Fold::Min,
        "largest preload that lets the valve open far enough for the flow of the surge line when the throttle is shut, friction counted",
        |scope, subject| series(scope, subject, Dim::FORCE, |valve| valve.preload_high()),
    ),
    row(
        "relief_area_installed",
        AREA,
        VALVE,
        "effective area of the valve at full lift",
        |scope, subject| {
            with_part(scope, subject, |part| {
                Opening::set_up(part, scope)
                    .map(|opening| Datum::Number(Num::new(opening.effective, Dim::AREA)))
            })
        },
    ),
    worst(
        "relief_area_needed",
        AREA,
        Fold::Max,
        "effective area that passes at once what the compressor delivers at its surge line when the throttle is shut, less that of other valves beside it",
        |scope, subject| series(scope, subject, Dim::AREA, |valve| valve.area_needed()),
    ),
    row(
        "seat_needed",
        LENGTH,
        VALVE,
        "diameter of a seat that passes what is needed once it has lifted a quarter of itself",
        |scope, subject| {
            with_part(scope, subject, |part| {
                let needed = scope.fact(subject, "relief_area_needed", super::Sites::All);
                Valves { scope, part }.coefficient().zip(needed).map(|(coefficient, needed)| {
                    let area = needed.as_number().map_or(f64::NAN, |number| number.v) / coefficient;
                    Datum::Number(Num::new((4.0 * area / std::f64::consts::PI).sqrt(), Dim::LENGTH))
                })
            })
        },
    ),
    row("seat_diameter", LENGTH, VALVE, "diameter of the valve's seat", |scope, subject| {
        with_part(scope, subject, |part| measured(part, |valve| valve.seat.get(scope)))
    }),
    row("lift", LENGTH, VALVE, "stroke of the valve to its stop", |scope, subject| {
        with_part(scope, subject, |part| measured(part, |valve| valve.lift.get(scope)))
    }),
    row(
        "spring_travel_left",
        LENGTH,
        VALVE,
        "travel of the spring from the shut valve until its coils touch",
        |scope, subject| with_part(scope, subject, |part| Valves { scope, part }.spring_travel()),
    ),
    row(
        "return_area",
        AREA,
        VALVE,
        "effective area of the pipes that lead the air back, entry, exit and friction counted",
        |scope, subject| {
            with_part(scope, subject, |part| {
                Valves { scope, part }.returned().map(|(area, _)| area_datum(area))
            })
        },
    ),
    worst(
        "return_area_needed",
        AREA,
        Fold::Max,
        "effective area that the returns need for valve and returns in a row to pass the flow of the surge line",
        |scope, subject| series(scope, subject, Dim::AREA, |valve| valve.return_needed()),
    ),
    row(
        "return_bore_needed",
        LENGTH,
        VALVE,
        "bore of a single return pipe of the same length that has the effective area needed",
        |scope, subject| {
            with_part(scope, subject, |part| {
                let needed = scope.fact(subject, "return_area_needed", super::Sites::All);
                Valves { scope, part }.returned().zip(needed).and_then(|((_, length), needed)| {
                    let area = needed.as_number().map_or(f64::NAN, |number| number.v);
                    let roughness = scope.setting(Setting::PipeRoughness).v;
                    pipe_bore(area, length, roughness).map_or_else(
                        || Known::not_applicable("no bore up to 200 mm has that area"),
                        |bore| Known::Is(Datum::Number(Num::new(bore, Dim::LENGTH))),
                    )
                })
            })
        },
    ),
];

/// A length of a relief valve, as given.
fn measured<'b>(part: &'b Part, field: impl FnOnce(&'b ReliefValve) -> Known<&'b Q<Length>>) -> Known<Datum> {
    let Body::ReliefValve(valve) = &part.body else { return Known::not_applicable("it is no relief valve") };
    field(valve).map(|length| Datum::Number(Num::new(length.si(), Dim::LENGTH)))
}

fn area_datum(area: f64) -> Datum {
    Datum::Number(Num::new(area, Dim::AREA))
}

/// Values at places.
pub(super) type Values<T> = Vec<Known<Placed<T>>>;

fn series(
    scope: &Scope<'_>,
    subject: &Subject,
    dim: Dim,
    make: impl FnOnce(&Valves<'_>) -> Values<f64>,
) -> Series {
    match scope.tract().part_of(subject) {
        Some(part) => {
            let values = make(&Valves { scope, part });
            values
                .into_iter()
                .map(|value| value.map(|placed| Num::new(placed.value, dim).at(placed.at)))
                .collect()
        }
        None => vec![Known::missing(&subject.route)],
    }
}

/// One value a place; what hinders the first stands in the way of all.
fn over<A: Clone, B: Clone>(
    first: &Known<A>,
    places: Values<B>,
    value: impl Fn(&A, &B) -> f64,
) -> Values<f64> {
    let each = places.into_iter().map(|place| {
        first
            .clone()
            .zip(place)
            .map(|(first, place)| Placed { at: place.at.clone(), value: value(&first, &place.value) })
    });
    each.collect()
}

/// A relief valve in its build.
pub(super) struct Valves<'a> {
    /// The build's facts.
    pub scope: &'a Scope<'a>,
    /// The valve.
    pub part: &'a Part,
}

impl Valves<'_> {
    fn statics<T>(&self, look: impl FnOnce(&Statics<'_, '_>) -> T) -> T {
        let steady = self.scope.steady();
        look(&Statics::new(self.scope.tract(), &steady, self.part))
    }

    fn valve(&self) -> Known<Valve> {
        Valve::set_up(self.part, self.scope)
    }

    fn areas(&self) -> Known<ActingAreas> {
        Valve::acting_areas(self.part, self.scope)
    }

    /// What the way to the valve's tap sets against little air, at each site.
    pub fn way_to_tap(&self) -> Values<f64> {
        self.statics(|statics| statics.way_to_tap(self.scope))
    }

    /// Pressures at idle, at each site.
    pub fn idle(&self) -> Values<Pressures> {
        let manifold = self.engine(|engine| {
            engine
                .idle
                .get(self.scope)
                .and_then(|idle| idle.manifold_pressure.get(self.scope).map(|p| p.si()))
        });
        self.throttled(&manifold)
    }

    /// Pressures on overrun, at each site.
    fn overrun(&self) -> Values<Pressures> {
        let manifold = self.engine(|engine| {
            engine
                .overrun
                .get(self.scope)
                .and_then(|run| run.manifold_pressure.get(self.scope).map(|p| p.si()))
        });
        self.throttled(&manifold)
    }

    fn engine(&self, pressure: impl FnOnce(&Engine) -> Known<f64>) -> Known<f64> {
        self.scope.build().top.engine.get(self.scope).and_then(pressure)
    }

    /// The steady points need not be solved for what happens at idle.
    fn throttled(&self, manifold: &Known<f64>) -> Values<Pressures> {
        Statics::throttled(self.scope.build(), manifold, self.scope)
    }

    /// Pressures at full throttle, at each point and site.
    pub fn full_throttle(&self) -> Values<Pressures> {
        self.statics(|statics| statics.full_throttle(self.scope))
    }

    /// What shutting the throttle asks, from the starts that are wanted.
    fn demands(&self, wanted: impl Fn(StartKind) -> bool) -> Values<ShutDemand> {
        let all = self.statics(|statics| statics.demands(self.scope)).into_iter();
        all.filter(|demand| demand.exact().is_none_or(|placed| wanted(placed.value.kind))).collect()
    }

    /// As [`Self::full_throttle`], with what is not said of the valve's places taken as usual.
    pub fn full_throttle_as_usual(&self) -> Values<Pressures> {
        let steady = self.scope.steady();
        Statics::new(self.scope.tract(), &steady, self.part).as_usual().full_throttle(self.scope)
    }

    /// All that shutting the throttle asks, with what is not said of the valve's places taken as usual.
    pub fn demands_as_usual(&self) -> Values<ShutDemand> {
        let steady = self.scope.steady();
        Statics::new(self.scope.tract(), &steady, self.part).as_usual().demands(self.scope)
    }

    /// Effective area of the other relief valves of the build that open at tip-out.
    fn others(&self) -> Known<f64> {
        let tract = self.scope.tract();
        let beside = tract.subjects(SubjectKind::ReliefValve).into_iter();
        let areas = beside
            .filter_map(|subject| tract.part_of(&subject))
            .filter(|part| part.name != self.part.name)
            .map(|part| match &part.body {
                Body::ReliefValve(valve) => {
                    valve.purpose_or_usual(self.scope).and_then(|purpose| match purpose {
                        ReliefPurpose::TipOut => {
                            Opening::set_up(part, self.scope).map(|opening| opening.effective)
                        }
                        _ => Known::Is(0.0),
                    })
                }
                _ => Known::Is(0.0),
            });
        areas.collect::<Known<Vec<f64>>>().map(|areas| areas.iter().sum())
    }

    /// Discharge coefficient of the whole seat.
    fn coefficient(&self) -> Known<f64> {
        match &self.part.body {
            Body::ReliefValve(fields) => match fields.flow.state(self.scope) {
                State::Given(flow) if flow.sonic_conductance.is_given(self.scope) => {
                    let seat = fields.seat.get(self.scope).map(|seat| bore_area(seat.si()));
                    effective_area(&fields.flow, 1.0, self.scope).zip(seat).map(|(whole, seat)| whole / seat)
                }
                _ => effective_area(&fields.flow, 1.0, self.scope),
            },
            _ => Known::not_applicable("it is no relief valve"),
        }
    }

    /// Force at each place, with the spring at no lift.
    fn opening_force(&self, places: Values<Pressures>) -> Values<f64> {
        over(&self.valve(), places, |valve, p| valve.areas.force(*p) - valve.preload)
    }

    /// Force at each place that is left at the lift at which the valve begins to vent: where each vent is staged it may rise a
    /// little without harm.
    fn venting_force(&self, places: Values<Pressures>) -> Values<f64> {
        let set_up = self.valve().zip(vent_lift(self.part, self.scope));
        over(&set_up, places, |(valve, lift), p| valve.areas.force(*p) - valve.preload - valve.rate * lift)
    }

    fn gentle_force(&self) -> Values<f64> {
        let valve = self.hears().zip(self.valve()).map(|((), valve)| valve);
        over(&valve, self.demands(|start| start == StartKind::LightBoost), |valve, demand| {
            valve.areas.force(demand.pressures) - valve.preload - valve.friction
        })
    }

    /// The window's lower edge: shut at full throttle everywhere, and at idle where air that it vents would count.
    fn preload_low(&self) -> Values<f64> {
        let areas = self.areas();
        let mut all = over(&areas, self.full_throttle(), |areas, p| areas.force(*p));
        let vents = self
            .scope
            .tract()
            .discharge_share(self.part, |to| to == AIR, self.scope)
            .map(|share| share > 0.0);
        match vents.zip(Statics::idle_air_counts(&self.scope.tract(), self.scope)) {
            Known::Is((true, true)) => {
                let set_up = areas.clone().zip(self.spring_till_vent());
                all.extend(over(&set_up, self.idle(), |(areas, spring), p| areas.force(*p) - spring));
            }
            Known::Is(_) | Known::Between(..) | Known::NotApplicable(_) => {}
            Known::Open(missing) => all.push(Known::Open(missing)),
        }
        all
    }

    /// What the spring's rate adds until the valve begins to vent, N.
    fn spring_till_vent(&self) -> Known<f64> {
        vent_lift(self.part, self.scope).and_then(|lift| {
            if lift == 0.0 {
                return Known::Is(0.0);
            }
            Valve::set_up_without_preload(self.part, self.scope).map(|valve| valve.rate * lift)
        })
    }

    fn hears(&self) -> Known<()> {
        self.statics(|statics| statics.hears(self.scope))
    }

    /// The window's upper edge: open at the lift that passes the flow of the surge line. Where no lift does, the valve is too
    /// small whatever its spring, and full lift is taken.
    fn preload_high(&self) -> Values<f64> {
        let set_up = Valve::set_up_without_preload(self.part, self.scope)
            .zip(Opening::set_up(self.part, self.scope))
            .zip(self.others());
        let set_up = self.hears().zip(set_up).map(|((), set_up)| set_up);
        over(&set_up, self.demands(|_| true), |((valve, opening), others), demand| {
            let own = demand.area * opening.effective / (opening.effective + others);
            let lift = opening.lift_for(own).unwrap_or(opening.lift.min(opening.useful_lift()));
            valve.areas.force(demand.pressures) - valve.rate * lift - valve.friction
        })
    }

    /// The signal, Pa, at which the valve stands so far open that it passes the flow of the surge line, with the throttle shut; with
    /// what shutting it asks. Nothing where no lift passes that flow.
    pub fn opened_by(&self) -> Values<(ShutDemand, f64)> {
        let set_up = Valve::set_up(self.part, self.scope)
            .zip(Opening::set_up(self.part, self.scope))
            .zip(self.others());
        let each = self.demands(|_| true).into_iter().map(|demand| {
            set_up.clone().zip(demand).and_then(|(((valve, opening), others), demand)| {
                let own = demand.value.area * opening.effective / (opening.effective + others);
                let Some(lift) = opening.lift_for(own) else {
                    return Known::not_applicable("wide open it passes less than the flow of the surge line");
                };
                let unsignalled = Pressures { signal: 0.0, ..demand.value.pressures };
                let spring = valve.preload + valve.rate * lift + valve.friction;
                let level = (valve.areas.force(unsignalled) - spring) / valve.areas.signal;
                Known::Is(Placed { at: demand.at.clone(), value: (demand.value, level) })
            })
        });
        each.collect()
    }

    fn area_needed(&self) -> Values<f64> {
        over(&self.others(), self.demands_as_usual(), |others, demand| (demand.area - others).max(0.0))
    }

    /// Effective area of the returns together, and the length of the longest.
    fn returned(&self) -> Known<(f64, f64)> {
        let roughness = self.scope.setting(Setting::PipeRoughness).v;
        let returns = Statics::returns(self.part, self.scope);
        returns.and_then(|returns| {
            if returns.is_empty() {
                return Known::not_applicable("nothing is led back");
            }
            let longest = returns.iter().map(|(_, length)| *length).fold(0.0, f64::max);
            let areas =
                returns.iter().map(|(bore, length)| pipe_area(*bore, *length, roughness).unwrap_or(0.0));
            Known::Is((areas.sum(), longest))
        })
    }

    fn return_needed(&self) -> Values<f64> {
        let share = self.scope.tract().discharge_share(self.part, |to| to != AIR, self.scope);
        let share = share.and_then(|share| {
            if share > 0.0 { Known::Is(share) } else { Known::not_applicable("nothing is led back") }
        });
        let set_up = Opening::set_up(self.part, self.scope).zip(self.others()).zip(share);
        let all = self.demands(|_| true).into_iter().map(|demand| {
            set_up.clone().zip(demand).and_then(|(((opening, others), share), demand)| {
                let both = (demand.value.area - others).max(0.0);
                // A valve that is too small by itself is another rule's matter.
                match area_behind(opening.effective, both) {
                    Some(area) => Known::Is(Placed { at: demand.at, value: share * area }),
                    None => {
                        Known::not_applicable("the valve itself passes less than the flow of the surge line")
                    }
                }
            })
        });
        all.collect()
    }

    fn spring_travel(&self) -> Known<Datum> {
        let Body::ReliefValve(fields) = &self.part.body else {
            return Known::not_applicable("it is no relief valve");
        };
        if is_electric(fields, self.scope) {
            return not_by_pressures();
        }
        fields.spring.get(self.scope).and_then(|spring| {
            let length = |field: &Field<Q<Length>>| field.get(self.scope).map(|length| length.si());
            let neither = [&spring.free_length, &spring.solid_length]
                .iter()
                .all(|field| matches!(field.state(self.scope), State::Absent));
            if neither {
                let words = "a spring that is not solid before the stop, as its lengths are not given";
                let field = spring.free_length.route().clone();
                self.scope.note(Read::Default { field, words: words.into() });
                return Known::not_applicable("the lengths of the spring are not given");
            }
            let lengths = length(&spring.free_length).zip(length(&spring.solid_length));
            let force = spring.preload.get(self.scope).map(|force| force.si());
            let rate = spring.rate.get(self.scope).map(|rate| rate.si());
            lengths.zip(force.zip(rate)).map(|((free, solid), (force, rate))| {
                Datum::Number(Num::new(free - solid - force / rate, Dim::LENGTH))
            })
        })
    }
}
