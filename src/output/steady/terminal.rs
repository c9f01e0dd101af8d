//! The points for a person: stations across, engine speeds down, one block a site.

use super::layout::{Column, table};
use super::{Mark, Points, json, marks, rpm, station_marks};
use crate::build::parts::PartKind;
use crate::known::Known;
use crate::model::{Outcome, Point, Running, SiteSteady, Station};
use crate::output::safe_text::one_line;
use crate::output::terminal::wrap;

const KELVIN: f64 = 273.15;

/// One build: all points of its sites, a line each.
pub fn points(build: &Points<'_>, width: usize) -> String {
    page(build, width, |out, points| over_speeds(out, points, width))
}

/// One build: every part at each of its points.
pub fn parts(build: &Points<'_>, width: usize) -> String {
    page(build, width, |out, points| {
        for point in points {
            at_speed(out, point, width);
        }
    })
}

fn page(build: &Points<'_>, width: usize, draw: impl Fn(&mut String, &[&Point])) -> String {
    let mut out = String::new();
    let title = build.title.map_or_else(String::new, |title| format!(" ({})", one_line(title)));
    wrap(&mut out, &format!("{}{title}", one_line(build.path)), width);
    wrap(
        &mut out,
        "Full throttle, steady. Pressures are total and absolute, temperatures total. Values rest on the description and on \
         the maps as given.",
        width,
    );
    for (site, points) in &build.sites {
        out.push('\n');
        wrap(&mut out, &site_words(site), width);
        match &site.points {
            Known::Is(_) => draw(&mut out, points),
            Known::Open(missing) => {
                wrap(
                    &mut out,
                    &format!("  not solved, for want of: {}", json::lacks(missing).join("; ")),
                    width,
                );
            }
            Known::NotApplicable(reason) => wrap(&mut out, &format!("  not solved: {reason}"), width),
            Known::Between(..) => {}
        }
    }
    let found: Vec<Mark> =
        build.sites.iter().flat_map(|(_, points)| points.iter().flat_map(|point| marks(point))).collect();
    if !found.is_empty() {
        out.push('\n');
    }
    for mark in Mark::ALL.iter().filter(|mark| found.contains(mark)) {
        wrap(&mut out, &format!("{}: {}", mark.short(), mark.meaning()), width);
    }
    out
}

fn site_words(site: &SiteSteady) -> String {
    let air = site.state.exact().map_or_else(String::new, |state| {
        format!(": {:.1} kPa, {:.0} degC outside", state.pressure / 1e3, state.temperature - KELVIN)
    });
    let filter = match site.state.exact() {
        Some(state) if state.filter_due => ", filter due for change",
        _ => "",
    };
    format!("{}{air}{filter}", one_line(&site.name))
}

fn short(marks: &[Mark]) -> String {
    marks.iter().map(|mark| mark.short()).collect::<Vec<_>>().join(", ")
}

/// The stations that a line over the speeds shows, by part, as the first solved point has them.
fn over_speeds(out: &mut String, points: &[&Point], width: usize) {
    let solved: Vec<Option<&[Station]>> = points
        .iter()
        .map(|point| match &point.outcome {
            Outcome::Solved(solution) => Some(solution.stations.as_slice()),
            Outcome::NoSolution | Outcome::Open(_) => None,
        })
        .collect();
    let keys: Vec<String> = points.iter().map(|point| format!("{:.0}", rpm(point.speed))).collect();
    let last: Vec<String> = points.iter().map(|point| short(&marks(point))).collect();
    let cells = |of: &dyn Fn(&[Station]) -> Option<String>| -> Vec<String> {
        solved.iter().map(|stations| stations.and_then(of).unwrap_or_else(|| "-".to_owned())).collect()
    };
    let Some(stations) = solved.iter().find_map(|stations| *stations) else {
        table(out, "rpm", &keys, &[], &last, width);
        return;
    };
    let mut columns = Vec::new();
    let engine = |of: &dyn Fn(&[Station]) -> Option<String>| cells(of);
    columns.push(Column::new(
        "engine",
        "flow",
        "kg/s",
        engine(&|all| Some(format!("{:.4}", all.last()?.flow))),
    ));
    let mut machines = Vec::new();
    for (at, station) in stations.iter().enumerate() {
        let name = &*station.part;
        let last = at + 1 == stations.len();
        let column = |what, unit, of: &dyn Fn(&Station) -> Option<String>| {
            Column::new(name, what, unit, cells(&|all| of(all.get(at)?)))
        };
        let compresses = matches!(station.kind, PartKind::Turbocharger | PartKind::Supercharger);
        if compresses {
            columns.push(column("p in", "kPa", &|s| Some(kilopascals(s.inlet.pressure))));
        }
        if compresses || last {
            columns.push(column("p out", "kPa", &|s| Some(kilopascals(s.outlet.pressure))));
        }
        if compresses || last || station.kind == PartKind::ChargeAirCooler {
            columns.push(column("T out", "degC", &|s| Some(celsius(s.outlet.temperature))));
        }
        if compresses {
            let group = format!("{name} on its map");
            let running = |what, unit, of: &dyn Fn(&Station, &Running) -> Option<String>| {
                let cells = cells(&|all| {
                    let station = all.get(at)?;
                    of(station, station.compressor.as_ref()?)
                });
                Column::new(&group, what, unit, cells)
            };
            machines.extend([
                running("ratio", "1", &|s, _| Some(format!("{:.2}", s.ratio()))),
                running("eff", "%", &|_, r| Some(per_cent(r.working.efficiency))),
                running("surge", "%", &|_, r| r.surge_margin.map(per_cent)),
                running("choke", "%", &|_, r| r.choke_share.map(per_cent)),
                running("rotor", "1000/min", &|_, r| Some(format!("{:.1}", rpm(r.rotor_speed?) / 1e3))),
            ]);
        }
    }
    columns.extend(machines);
    table(out, "rpm", &keys, &columns, &last, width);
    wrap(
        out,
        "surge: flow in hand before the surge line, as a share of the flow. choke: flow as a share of that at the choke end.",
        width,
    );
}

/// All stations of one point, a line each.
fn at_speed(out: &mut String, point: &Point, width: usize) {
    let boost = if point.off_boost { "off boost" } else { "boosted" };
    wrap(out, &format!("{:.0} rpm, {boost}", rpm(point.speed)), width);
    let stations = match &point.outcome {
        Outcome::Solved(solution) => &solution.stations,
        Outcome::NoSolution => return wrap(out, &format!("  {}", Mark::NoSolution.meaning()), width),
        Outcome::Open(missing) => {
            return wrap(
                out,
                &format!("  not solved, for want of: {}", json::lacks(missing).join("; ")),
                width,
            );
        }
    };
    let keys: Vec<String> = stations.iter().map(|station| one_line(&station.part)).collect();
    let column = |group: &str, name, unit, of: &dyn Fn(&Station) -> Option<String>| {
        let cells = stations.iter().map(|s| of(s).unwrap_or_else(|| "-".to_owned())).collect();
        Column::new(group, name, unit, cells)
    };
    let columns = [
        column("", "flow", "kg/s", &|s| Some(format!("{:.4}", s.flow))),
        column("pressure", "in", "kPa", &|s| Some(format!("{:.2}", s.inlet.pressure / 1e3))),
        column("pressure", "out", "kPa", &|s| Some(format!("{:.2}", s.outlet.pressure / 1e3))),
        column("pressure", "loss", "kPa", &|s| Some(format!("{:.2}", s.loss() / 1e3))),
        column("temperature", "in", "degC", &|s| Some(celsius(s.inlet.temperature))),
        column("temperature", "out", "degC", &|s| Some(celsius(s.outlet.temperature))),
        column("bore", "velocity", "m/s", &|s| Some(format!("{:.1}", s.speed?.0))),
        column("bore", "Mach", "1", &|s| Some(format!("{:.3}", s.speed?.1))),
        column("into the air", "power", "kW", &|s| Some(format!("{:.2}", tidy(s.power() / 1e3)))),
    ];
    let last: Vec<String> = stations.iter().map(|station| short(&station_marks(station))).collect();
    let last = if last.iter().all(String::is_empty) { Vec::new() } else { last };
    table(out, "part", &keys, &columns, &last, width);
    for (station, running) in stations.iter().filter_map(|s| Some((s, s.compressor.as_ref()?))) {
        wrap(out, &format!("  {}", running_words(station, running)), width);
    }
}

fn running_words(station: &Station, running: &Running) -> String {
    let mut words = vec![
        format!("ratio {:.3}", station.ratio()),
        format!("corrected flow {:.4} kg/s", running.corrected_flow),
        format!("efficiency {} %", per_cent(running.working.efficiency)),
    ];
    words.extend(running.working.surge_flow.map(|flow| format!("surge line at {flow:.4} kg/s")));
    words.extend(running.choke_flow().map(|flow| format!("choke end at {flow:.4} kg/s")));
    words.extend(running.rotor_speed.map(|speed| format!("rotor {:.0} rpm", rpm(speed))));
    words.extend(running.speed_share.map(|share| format!("{} % of the map's top line", per_cent(share))));
    format!("{}: {}", one_line(&station.part), words.join(", "))
}

fn kilopascals(pressure: f64) -> String {
    format!("{:.1}", pressure / 1e3)
}

fn celsius(temperature: f64) -> String {
    format!("{:.0}", tidy(temperature - KELVIN))
}

fn per_cent(share: f64) -> String {
    format!("{:.1}", tidy(100.0 * share))
}

/// No nought with a minus sign.
fn tidy(value: f64) -> f64 {
    if value.abs() < 0.005 { 0.0 } else { value }
}
