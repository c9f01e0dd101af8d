//! The state of the air at each site.

use std::sync::Arc;

use crate::build::Build;
use crate::build::scalars::{Length, List, Pressure, Q, Ratio, Temperature, Text};
use crate::build::site::{FilterState, OtherSite, Site};
use crate::known::{Field, Known, Read, Reads, State};
use crate::physics::{atmosphere, gas::Gas, humidity};
use crate::text::Route;

/// Name of the build's own site.
pub const HOME: &str = "home";

/// The air outside at one site.
#[derive(Clone, Debug)]
pub struct SiteState {
    /// Its name.
    pub name: Arc<str>,
    /// Whether it is the build's own.
    pub home: bool,
    /// Absolute pressure, Pa.
    pub pressure: f64,
    /// Temperature, K.
    pub temperature: f64,
    /// Water per dry air, kg/kg.
    pub humidity_ratio: f64,
    /// The moist air.
    pub gas: Gas,
    /// Whether the filter is due for change.
    pub filter_due: bool,
}

/// The sites of a build: its own first, then the others in the order of the text.
pub fn sites(build: &Build, reads: &dyn Reads) -> Vec<(Arc<str>, Known<SiteState>)> {
    let site = match build.top.site.get(reads) {
        Known::Is(site) => site,
        other => return vec![(HOME.into(), other.and_then(|_| Known::missing(build.top.site.route())))],
    };
    let mut all = vec![(Arc::from(HOME), home(site, reads))];
    match site.other_sites.state(reads) {
        State::Given(List(others)) => {
            for (i, other) in others.iter().enumerate() {
                let name = match other.name.get(reads) {
                    Known::Is(Text(name)) => name.clone(),
                    _ => format!("site {}", i + 1).into(),
                };
                let state = elsewhere(&name, other, site, reads);
                all.push((name, state));
            }
        }
        State::Faulty => all.push(("other sites".into(), Known::missing(site.other_sites.route()))),
        State::Absent | State::SaidNone => {}
    }
    all
}

/// Pressure from `pressure`, else from `altitude`; `None` when neither is written.
fn pressure(
    pressure: &Field<Q<Pressure>>,
    altitude: &Field<Q<Length>>,
    reads: &dyn Reads,
) -> Option<Known<f64>> {
    if let State::Given(_) | State::Faulty = pressure.state(reads) {
        // At a site, gauge pressure has nothing to stand above.
        return Some(pressure.get(reads).and_then(|p| {
            if p.is_absolute() { Known::Is(p.si()) } else { Known::missing(pressure.route()) }
        }));
    }
    match altitude.state(reads) {
        State::Given(_) | State::Faulty => Some(altitude.get(reads).and_then(|altitude_value| {
            let p = atmosphere::standard_pressure(altitude_value.si());
            p.map_or_else(|| Known::missing(altitude.route()), Known::Is)
        })),
        State::Absent | State::SaidNone => None,
    }
}

fn home(site: &Site, reads: &dyn Reads) -> Known<SiteState> {
    let p = pressure(&site.pressure, &site.altitude, reads)
        .unwrap_or_else(|| Known::missing(site.altitude.route()));
    state(HOME.into(), true, p, &[&site.air_temperature], &[&site.relative_humidity], false, reads)
}

fn elsewhere(name: &Arc<str>, other: &OtherSite, home: &Site, reads: &dyn Reads) -> Known<SiteState> {
    let p = pressure(&other.pressure, &other.altitude, reads)
        .or_else(|| {
            note_home(other.altitude.route(), "the altitude of home, as the site gives none", reads);
            pressure(&home.pressure, &home.altitude, reads)
        })
        .unwrap_or_else(|| Known::missing(home.altitude.route()));
    let due = match other.filter.state(reads) {
        State::Absent => {
            note_home(other.filter.route(), "a clean filter, as the site says nothing else", reads);
            Known::Is(false)
        }
        State::SaidNone => Known::Is(false),
        _ => other.filter.get(reads).map(|state| *state == FilterState::LossWhenDue),
    };
    if let State::Absent = other.air_temperature.state(reads) {
        let words = "the air temperature of home, as the site gives none";
        note_home(other.air_temperature.route(), words, reads);
    }
    due.and_then(|due| {
        let temperatures = [&other.air_temperature, &home.air_temperature];
        let humidities = [&other.relative_humidity, &home.relative_humidity];
        state(name.clone(), false, p, &temperatures, &humidities, due, reads)
    })
}

fn note_home(field: &Route, words: &str, reads: &dyn Reads) {
    reads.note(Read::Default { field: field.clone(), words: words.into() });
}

/// The first field that is written, the last one when none is.
fn first_written<'a, T>(fields: &[&'a Field<T>], reads: &dyn Reads) -> Option<&'a Field<T>> {
    let written = fields.iter().find(|field| !matches!(field.state(reads), State::Absent));
    written.or(fields.last()).copied()
}

fn state(
    name: Arc<str>,
    home: bool,
    pressure: Known<f64>,
    temperatures: &[&Field<Q<Temperature>>],
    humidities: &[&Field<Q<Ratio>>],
    filter_due: bool,
    reads: &dyn Reads,
) -> Known<SiteState> {
    let Some(temperature_field) = first_written(temperatures, reads) else {
        return Known::not_applicable("no site");
    };
    let relative = match first_written(humidities, reads) {
        Some(field) if matches!(field.state(reads), State::Absent) => {
            let words = "dry air, as no humidity is given";
            reads.note(Read::Default { field: field.route().clone(), words: words.into() });
            Known::Is(0.0)
        }
        Some(field) => field.get(reads).map(Q::si),
        None => Known::Is(0.0),
    };
    let temperature = temperature_field.get(reads).map(Q::si);
    pressure.zip(temperature).zip(relative).and_then(|((pressure, temperature), relative)| {
        let made = humidity::humidity_ratio(relative, temperature, pressure)
            .and_then(|w| Some((w, Gas::moist_air(w)?)));
        match made {
            Some((humidity_ratio, gas)) => {
                Known::Is(SiteState { name, home, pressure, temperature, humidity_ratio, gas, filter_due })
            }
            // A site that no air can be in: the temperature is what was misread.
            None => Known::missing(temperature_field.route()),
        }
    })
}
