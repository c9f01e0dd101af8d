//! What shutting the throttle at boost asks of a relief valve, without a run over time: the charge at the surge line's ratio for the
//! speed that the shaft has, the manifold as low as the shut plate leaves it.

use super::stations::Stations;
use super::valve::flux;
use super::{Placed, boosted, no_solution};
use crate::build::Build;
use crate::build::engine::Cycle;
use crate::build::parts::{Body, Part, PartKind};
use crate::known::{At, Known, Missing, Read, Reads, Setting, State};
use crate::model::machine::Machine;
use crate::model::result::{SiteSteady, Solution};
use crate::model::site::SiteState;
use crate::physics::engine::{Cycle as Strokes, mixture_flow, throttled_factor};
use crate::physics::flow::bore_area;
use crate::physics::numeric::find_root;
use crate::physics::relief_valve::Pressures;
use crate::tract::Tract;

/// The point from which the throttle is shut.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum StartKind {
    /// The highest boost, at the lowest speed that has it.
    HighestBoost,
    /// The highest engine speed.
    HighestSpeed,
    /// The smallest boost of the table.
    LightBoost,
}

/// A start at a site.
#[derive(Clone, Debug)]
pub struct Start<'s> {
    /// Which.
    pub kind: StartKind,
    /// Site and engine speed.
    pub at: At,
    /// The steady point.
    pub solution: &'s Solution,
}

/// What a start asks of the valve.
#[derive(Clone, Debug)]
pub struct ShutDemand {
    /// Which start.
    pub kind: StartKind,
    /// Pressures on the valve with the charge at the surge line's ratio and the throttle shut.
    pub pressures: Pressures,
    /// Effective area, m2, that passes at once what the compressor delivers at its surge line.
    pub area: f64,
    /// That flow, kg/s.
    pub flow: f64,
}

/// The starts of a site; of two that are the same point the first alone.
pub(super) fn starts<'s>(build: &Build, site: &'s SiteSteady, reads: &dyn Reads) -> Vec<Known<Start<'s>>> {
    let points = boosted(site);
    let boost = |solution: &Solution| solution.p_manifold;
    let highest = points.iter().map(|(_, solution)| boost(solution)).fold(f64::NEG_INFINITY, f64::max);
    let most = points.iter().find(|(_, solution)| boost(solution) >= highest * (1.0 - 1e-9));
    let lightest = build.top.boost.get(reads).and_then(|table| {
        let above = table.entries.iter().filter(|entry| entry.value.si() > 0.0);
        let least = above.min_by(|a, b| a.value.si().total_cmp(&b.value.si()));
        least.map_or_else(|| Known::not_applicable("the table has no boost"), |entry| Known::Is(entry.x))
    });
    let lightest = match lightest {
        Known::Is(speed) => points.iter().find(|(at, _)| (at - speed).abs() < 1e-6),
        _ => None,
    };
    let all = [
        (StartKind::HighestBoost, most),
        (StartKind::HighestSpeed, points.last()),
        (StartKind::LightBoost, lightest),
    ];
    let mut found: Vec<Known<Start<'s>>> = Vec::new();
    for (kind, point) in all {
        let at = |speed| At { site: site.name.clone(), home: site.home, speed };
        found.push(match point {
            Some((speed, solution)) => Known::Is(Start { kind, at: at(Some(*speed)), solution }),
            None => no_solution(&at(None)),
        });
    }
    found
}

/// The engine behind a shut throttle.
#[derive(Clone, Debug)]
pub(super) struct ShutEngine {
    cycle: Strokes,
    displacement: f64,
    ratio: f64,
    /// Volumetric efficiencies, by speed.
    efficiency: crate::build::tables::SpeedTable<crate::build::scalars::Ratio>,
    leak: Leak,
    /// Effective area that the plate leaves at the stated opening beyond the leak, m2.
    opened: f64,
}

/// How the leak past the shut plate is known.
#[derive(Clone, Copy, Debug)]
enum Leak {
    /// From the engine's idle: speed and absolute manifold pressure.
    Idle { speed: f64, manifold: f64 },
    /// An effective area, m2.
    Area(f64),
}

/// Discharge coefficient of a throttle nearly shut.
const PLATE_COEFFICIENT: f64 = 0.9;

impl ShutEngine {
    /// From the description; a leak that the idle figures do not tell is taken from the settings, and said.
    pub fn set_up(tract: &Tract<'_>, build: &Build, reads: &dyn Reads) -> Known<Self> {
        let throttle = tract.path(reads).and_then(|path| {
            let found = path.iter().find(|spot| spot.kind == PartKind::Throttle);
            found.map_or_else(
                || Known::not_applicable("no throttle is on the air path"),
                |spot| Known::Is(spot.part),
            )
        });
        build.top.engine.get(reads).zip(throttle).and_then(|(engine, throttle)| {
            let cycle = engine.cycle.get(reads).map(|cycle| match cycle {
                Cycle::FourStroke => Strokes::FourStroke,
                Cycle::TwoStroke => Strokes::TwoStroke,
            });
            let displacement = engine.displacement.get(reads).map(|volume| volume.si());
            let efficiency = engine.volumetric_efficiency.get(reads).map(Clone::clone);
            let ratio = match engine.compression_ratio.state(reads) {
                State::Absent => {
                    let words = "the usual compression ratio, as none is given";
                    reads.note(Read::Default {
                        field: engine.compression_ratio.route().clone(),
                        words: words.into(),
                    });
                    Known::Is(reads.setting(Setting::CompressionRatio).v)
                }
                _ => engine.compression_ratio.get(reads).map(|ratio| ratio.si()),
            };
            let bore = throttle.duct.as_ref().map_or_else(
                || Known::missing(&throttle.route),
                |duct| duct.bore.get(reads).map(|bore| bore.si()),
            );
            let idle = engine.idle.get(reads).and_then(|idle| {
                let speed = idle.speed.get(reads).map(|speed| speed.si());
                speed.zip(idle.manifold_pressure.get(reads).map(|pressure| pressure.si()))
            });
            let leak = bore.clone().map(|bore| match idle {
                Known::Is((speed, manifold)) => Leak::Idle { speed, manifold },
                _ => {
                    let words = "the usual leak past a shut throttle, as the idle figures do not tell it";
                    reads.note(Read::Default { field: engine.idle.route().clone(), words: words.into() });
                    let share = reads.setting(Setting::ThrottleLeak).v;
                    Leak::Area(PLATE_COEFFICIENT * share * bore_area(bore))
                }
            });
            let opened = bore.map(|bore| PLATE_COEFFICIENT * bore_area(bore) * opening(throttle, reads));
            cycle.zip(displacement).zip(efficiency).zip(ratio).zip(leak.zip(opened)).map(
                |((((cycle, displacement), efficiency), ratio), (leak, opened))| Self {
                    cycle,
                    displacement,
                    ratio,
                    efficiency: efficiency.clone(),
                    leak,
                    opened,
                },
            )
        })
    }

    fn flow(&self, speed: f64, p: f64, t: f64, site: &SiteState) -> Option<f64> {
        let entries = &self.efficiency.entries;
        let ends = [entries.first(), entries.last()].into_iter().flatten();
        let nearest = ends.min_by(|a, b| (a.x - speed).abs().total_cmp(&(b.x - speed).abs()));
        let efficiency = self.efficiency.at(speed).or(nearest.map(|entry| entry.value.si()))?;
        let full = mixture_flow(efficiency, self.displacement, speed, p, t, site.gas.r(), self.cycle)?;
        Some(full * throttled_factor(p, site.pressure, self.ratio)?)
    }

    /// Effective area past the shut plate, m2.
    fn area(&self, site: &SiteState) -> Option<f64> {
        let leak = match self.leak {
            Leak::Area(area) => area,
            Leak::Idle { speed, manifold } => {
                let (gamma, r) = (site.gas.gamma(site.temperature), site.gas.r());
                self.flow(speed, manifold, site.temperature, site)?
                    / flux(site.pressure, site.temperature, manifold, gamma, r)?
            }
        };
        Some(leak + self.opened)
    }

    /// Manifold pressure, Pa, that the engine draws down to behind the shut plate with `charge` Pa and `t` K ahead of it.
    fn manifold(&self, speed: f64, charge: f64, t: f64, site: &SiteState) -> Option<f64> {
        let (gamma, r) = (site.gas.gamma(t), site.gas.r());
        let area = self.area(site)?;
        let surplus = |p: f64| match (flux(charge, t, p, gamma, r), self.flow(speed, p, t, site)) {
            (Some(flux), Some(drawn)) => area * flux - drawn,
            _ => f64::NAN,
        };
        find_root(1e3, charge * (1.0 - 1e-9), 1.0, surplus).ok().map(|root| root.x)
    }
}

/// Share of the bore that the plate leaves open at the end of its travel: 1 - cos of its angle.
fn opening(throttle: &Part, reads: &dyn Reads) -> f64 {
    let Body::Throttle(fields) = &throttle.body else { return 0.0 };
    let to = fields.closing.get(reads).and_then(|closing| closing.to.get(reads).map(|to| to.si()));
    to.exact().map_or(0.0, |to| 1.0 - (to * std::f64::consts::FRAC_PI_2).cos())
}

/// What a start asks of the valve.
pub(super) fn demand(
    start: &Start<'_>,
    stations: &Stations,
    machine: &Machine<'_>,
    engine: &ShutEngine,
    site: &SiteState,
) -> Known<Placed<ShutDemand>> {
    let solution = start.solution;
    let Some(speed) = solution.working.and_then(|working| working.speed) else {
        return Known::Open(Missing::hindrance("the shaft's speed is not known without a map"));
    };
    let found = (|| {
        let (corrected, ratio) = machine.surge_at_speed(speed)?;
        let flow = machine.reference.actual_flow(corrected, solution.p1, solution.t1)?;
        let charge = ratio * solution.p1;
        let t = stations.tap_temperature(solution)?;
        let discharge = stations.discharge(solution, site)?;
        let signal = engine.manifold(start.at.speed?, charge, t, site)?;
        let (gamma, r) = (site.gas.gamma(t), site.gas.r());
        let area = flow / flux(charge, t, discharge, gamma, r)?;
        let pressures = Pressures { charge, discharge, signal };
        Some(Placed { at: start.at.clone(), value: ShutDemand { kind: start.kind, pressures, area, flow } })
    })();
    found.map_or_else(
        || Known::Open(Missing::hindrance("the state with the throttle shut cannot be found")),
        Known::Is,
    )
}
