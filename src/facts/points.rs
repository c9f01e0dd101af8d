//! Looking at operating points: what facts over points, sites and stations of the tract share.

use std::sync::Arc;

use super::registry::Series;
use super::scope::Scope;
use crate::build::parts::Part;
use crate::known::{At, Datum, Known, Missing, Num};
use crate::model::{Outcome, Point, Running, SiteState, SiteSteady, Solution, Station};
use crate::text::Dim;
use crate::tract::Subject;

/// A station at a point of a site.
pub(super) struct Here<'a> {
    /// The air outside.
    pub site: &'a SiteState,
    /// The point.
    pub point: &'a Point,
    /// Its solution.
    pub solution: &'a Solution,
    /// The station.
    pub station: &'a Station,
}

impl Here<'_> {
    /// A number with the error that the solver leaves in any temperature, as a share of it.
    pub fn num(&self, value: f64, dim: Dim) -> Known<Num> {
        Known::Is(Num::new(value, dim).with_error(self.solution.relative_error() * value.abs()))
    }
}

/// The circumstances of a point.
pub(super) fn at(site: &SiteSteady, point: &Point) -> At {
    At { site: site.name.clone(), home: site.home, speed: Some(point.speed) }
}

/// The circumstances of a site as a whole.
pub(super) fn at_site(site: &SiteSteady) -> At {
    At { site: site.name.clone(), home: site.home, speed: None }
}

/// One value a point and site. Points without a solution, and sites that cannot be set up, are unknown ones.
pub(super) fn over_points(
    scope: &Scope<'_>,
    pick: impl Fn(&SiteState, &Point, &Solution) -> Option<Known<Num>>,
) -> Series {
    let steady = scope.steady();
    let mut series = Series::new();
    for site in &steady.sites {
        let known = site.state.as_ref().zip(site.points.as_ref());
        match known {
            Known::Is((state, points)) => {
                let values = points.iter().filter_map(|point| match &point.outcome {
                    Outcome::Solved(solution) => {
                        Some(pick(state, point, solution)?.map(|number| number.at(at(site, point))))
                    }
                    Outcome::NoSolution => Some(Known::Open(Missing::hindrance(format!(
                        "no flow satisfies engine, losses and map at {:.0} rpm ({})",
                        point.speed * 60.0,
                        site.name
                    )))),
                    Outcome::Open(missing) => Some(Known::Open(missing.clone())),
                });
                series.extend(values);
            }
            Known::Open(missing) => series.push(Known::Open(missing)),
            Known::NotApplicable(reason) => series.push(Known::NotApplicable(reason)),
            Known::Between(..) => series.push(Known::Open(Missing::default())),
        }
    }
    series
}

/// One value a point, site and station of a part.
pub(super) fn over_stations(
    scope: &Scope<'_>,
    part: &str,
    pick: impl Fn(&Here<'_>) -> Option<Known<Num>>,
) -> Series {
    let series = over_points(scope, |site, point, solution| {
        let station = solution.stations.iter().find(|station| &*station.part == part)?;
        pick(&Here { site, point, solution, station })
    });
    if series.is_empty() {
        vec![Known::not_applicable("no operating point leads through it")]
    } else {
        series
    }
}

/// One value a boosted point and site at which a compressor works.
pub(super) fn over_running(
    scope: &Scope<'_>,
    subject: &Subject,
    pick: impl Fn(&Here<'_>, &Running) -> Option<Known<Num>>,
) -> Series {
    over_stations(scope, &subject.name, |here| {
        if here.point.off_boost {
            return None;
        }
        pick(here, here.station.compressor.as_ref()?)
    })
}

/// One value a site: what can be told of its air alone.
pub(super) fn over_sites(scope: &Scope<'_>, pick: impl Fn(&SiteState) -> Known<Num>) -> Series {
    let steady = scope.steady();
    let each = steady
        .sites
        .iter()
        .map(|site| site.state.as_ref().and_then(&pick).map(|number| number.at(at_site(site))));
    each.collect()
}

/// The part of the air path whose air a part meets: itself, or the one that carries its tap.
pub(super) fn place_of(scope: &Scope<'_>, part: &Part) -> Known<Arc<str>> {
    let tract = scope.tract();
    let Some(part) = scope.build().parts.named(&part.name) else { return Known::missing(&part.route) };
    tract.is_on_path(&part.name, scope).and_then(|on_path| {
        if on_path {
            return Known::Is(part.name.clone());
        }
        if !part.common.tap.is_given(scope) {
            return Known::not_applicable("it is neither on the air path nor tapped into a part of it");
        }
        tract.host_of(part, scope).and_then(|host| {
            tract.is_on_path(&host.name, scope).and_then(|on_path| match on_path {
                true => Known::Is(host.name.clone()),
                false => Known::not_applicable("what it sits on is not on the air path"),
            })
        })
    })
}

/// A series for a subject's place on the path.
pub(super) fn at_place(
    scope: &Scope<'_>,
    subject: &Subject,
    pick: impl Fn(&Here<'_>) -> Option<Known<Num>>,
) -> Series {
    let Some(part) = scope.tract().part_of(subject) else { return vec![Known::missing(&subject.route)] };
    match place_of(scope, part) {
        Known::Is(place) => over_stations(scope, &place, pick),
        other => vec![other.and_then(|_| Known::not_applicable("it has no place"))],
    }
}

/// Another value at the boosted point where a worst case was found, whose circumstances it takes over.
pub(super) fn at_worst(
    scope: &Scope<'_>,
    worst: Known<Datum>,
    dim: Dim,
    pick: impl Fn(&Point) -> Option<f64>,
) -> Known<Datum> {
    worst.and_then(|worst| {
        let here = worst.as_number().and_then(|number| number.at.clone());
        let steady = scope.steady();
        let found = here.and_then(|here| {
            let site = steady.sites.iter().find(|site| site.name == here.site)?;
            let points = site.points.exact()?;
            let point = points.iter().find(|point| Some(point.speed) == here.speed && !point.off_boost)?;
            Some(Num::new(pick(point)?, dim).at(here))
        });
        found
            .map_or_else(|| Known::not_applicable("no such point"), |number| Known::Is(Datum::Number(number)))
    })
}

/// A number of a dimension.
pub(super) fn num(value: f64, dim: Dim) -> Known<Num> {
    Known::Is(Num::new(value, dim))
}

/// A number as a fact's value.
pub(super) fn datum(value: f64, dim: Dim) -> Known<Datum> {
    Known::Is(Datum::Number(Num::new(value, dim)))
}
