//! The list for a person: what to order, joint by joint, hose by hose, and what to measure first.

use std::collections::BTreeMap;

use super::{
    CouplerLine, Highest, HoseEnd, HoseLine, Join, JointLine, JointList, Reducer, Said, celsius, millimetres,
};
use crate::output::safe_text::one_line;
use crate::output::steady::rpm;
use crate::output::terminal::{CAUTIONS, wrap};
use crate::output::text_pages::{heading, indented};

/// Everything, for lines of this many columns.
pub fn page(path: &str, title: Option<&str>, list: &JointList, width: usize) -> String {
    let mut out = String::new();
    let title = title.map_or_else(String::new, |title| format!(" ({})", one_line(title)));
    wrap(&mut out, &format!("{}{title}: joints and hoses", one_line(path)), width);
    wrap(
        &mut out,
        "Bores are inside diameters, the upstream end first. Pressures are total, above the air outside, the highest \
         of all steady points at full throttle and all sites; what the throttle's shutting adds is not in them. `?` is \
         not described.",
        width,
    );
    heading(&mut out, "To order");
    let orders = orders(list);
    if orders.is_empty() {
        indented(&mut out, "nothing: the description names neither joints nor hoses", width);
    }
    for line in orders {
        indented(&mut out, &line, width);
    }
    heading(&mut out, "Joints");
    for joint in &list.joints {
        joint_block(&mut out, joint, width);
    }
    heading(&mut out, "Hoses");
    if list.hoses.is_empty() {
        indented(&mut out, "none described", width);
    }
    for hose in &list.hoses {
        hose_block(&mut out, hose, width);
    }
    heading(&mut out, "Plugs");
    indented(
        &mut out,
        "not listed: a description has no word for an outlet that nothing uses; count those on the parts",
        width,
    );
    let to_say = list.to_say();
    if !to_say.is_empty() {
        heading(&mut out, "To measure or write down");
        for one in to_say {
            indented(&mut out, &one_line(&format!("{}: {}", one.route, one.what)), width);
        }
    }
    out.push('\n');
    wrap(&mut out, CAUTIONS, width);
    out
}

/// Lines of an order: like things counted together.
fn orders(list: &JointList) -> Vec<String> {
    let mut counts: BTreeMap<(u8, String), usize> = BTreeMap::new();
    let mut add = |rank: u8, words: String, count: usize| {
        if count > 0 {
            *counts.entry((rank, words)).or_default() += count;
        }
    };
    for joint in &list.joints {
        match &joint.join {
            Join::Coupler(coupler) => {
                let what = match joint.reducer() {
                    Reducer::Needed(from, to) => {
                        format!("reducing coupler, pipe bores {} to {}", mm(from), mm(to))
                    }
                    _ => format!("coupler, bore {}", said_mm(&coupler.bore)),
                };
                add(0, format!("{what}, {}", material(&coupler.material)), 1);
                let clamp = format!(
                    "clamp, {}, for a coupler of bore {}",
                    kind(&coupler.clamp),
                    said_mm(&coupler.bore)
                );
                add(1, clamp, joint.clamps().unwrap_or_default());
            }
            Join::SoftPart => add(1, "clamp on a soft piece, kind ?".to_owned(), 1),
            Join::Flange(flange) => add(2, format!("gasket or seal of a {} flange", flange.word()), 1),
            Join::NotDescribed => {
                let words = match joint.reducer() {
                    Reducer::Needed(from, to) => {
                        format!("reducing joint, pipe bores {} to {}", mm(from), mm(to))
                    }
                    _ => "joint".to_owned(),
                };
                add(3, format!("{words}, of which the description does not say what joins it"), 1);
            }
        }
    }
    for hose in &list.hoses {
        add(4, format!("hose, {}", hose_size(hose)), 1);
    }
    counts.into_iter().map(|((_, words), count)| one_line(&format!("{count} x {words}"))).collect()
}

fn joint_block(out: &mut String, joint: &JointLine, width: usize) {
    indented(out, &one_line(&format!("{} > {}", joint.upstream, joint.downstream)), width);
    let end = |bore: Option<f64>, outside: Option<f64>| {
        let outside = outside.map_or_else(String::new, |outside| format!(" ({} outside)", mm(outside)));
        format!("{}{outside}", bore.map_or_else(|| "?".to_owned(), mm))
    };
    let [upstream, downstream] = joint.bores;
    let [outside_up, outside_down] = joint.outsides;
    let step = match joint.step().map(millimetres) {
        None => "step ?".to_owned(),
        Some(0.0) => "no step".to_owned(),
        Some(step) => format!("step {step:+.1} mm"),
    };
    let reducer = match joint.reducer() {
        Reducer::Needed(from, to) => format!("reducer {} to {}", mm(from), mm(to)),
        Reducer::NotNeeded => "no reducer".to_owned(),
        Reducer::Unknown => "reducer ?".to_owned(),
        Reducer::Flanged => "no reducer at a flange".to_owned(),
    };
    let bores =
        format!("bores {} | {}, {step}; {reducer}", end(upstream, outside_up), end(downstream, outside_down));
    indented(out, &format!("  {bores}"), width);
    let joined = match &joint.join {
        Join::Coupler(coupler) => coupler_words(coupler, joint.clamps().unwrap_or_default()),
        Join::SoftPart => "pushed onto the soft piece; 1 clamp, kind ?".to_owned(),
        Join::Flange(flange) => format!("{} flange", flange.word()),
        Join::NotDescribed => "not described".to_owned(),
    };
    indented(out, &format!("  joined by: {}", one_line(&joined)), width);
    let kpa = |pressure: f64| format!("{:.1} kPa", pressure / 1e3);
    let boosted = joint.pressure.value.as_ref().is_none_or(|peak| peak.value > 0.0);
    let pressure = match boosted {
        true => peak(&joint.pressure, kpa),
        false => format!("depression of {}", peak(&joint.depression, kpa)),
    };
    let temperature = peak(&joint.temperature, |temperature| format!("{:.0} degC", celsius(temperature)));
    indented(out, &format!("  steady: {}, {}", one_line(&pressure), one_line(&temperature)), width);
}

fn coupler_words(coupler: &CouplerLine, clamps: usize) -> String {
    let tied = match coupler.tied {
        Said::Is(true) => "tied",
        Said::Is(false) | Said::None => "not tied",
        Said::Open => "tied ?",
    };
    format!(
        "coupler, bore {}, gap {}, overlap {}, {}, form {}, bead {}, {clamps} clamps, {}, {tied}",
        said_mm(&coupler.bore),
        said_mm(&coupler.gap),
        said_mm(&coupler.overlap),
        material(&coupler.material),
        words(&coupler.form),
        words(&coupler.bead),
        kind(&coupler.clamp),
    )
}

fn hose_block(out: &mut String, hose: &HoseLine, width: usize) {
    let end = |end: &Said<HoseEnd>| end.given().map_or_else(|| "?".to_owned(), HoseEnd::words);
    let [from, to] = &hose.ends;
    indented(out, &one_line(&format!("{}: {} to {}", hose.name, end(from), end(to))), width);
    let mut details = vec![hose_size(hose)];
    if !hose.restrictors.is_empty() {
        let each = hose.restrictors.iter().map(|bore| bore.map_or_else(|| "?".to_owned(), mm));
        details.push(format!("restrictors of {}", each.collect::<Vec<_>>().join(", ")));
    }
    if !hose.through.is_empty() {
        details.push(format!("through {}", hose.through.join(", ")));
    }
    for (name, at) in &hose.tees {
        details.push(format!("tee for {name} at {}", at.map_or_else(|| "?".to_owned(), mm)));
    }
    indented(out, &format!("  {}", one_line(&details.join("; "))), width);
}

fn hose_size(hose: &HoseLine) -> String {
    format!("length {}, bore {}, {}", said_mm(&hose.length), said_mm(&hose.bore), material(&hose.material))
}

fn peak(highest: &Highest, unit: impl Fn(f64) -> String) -> String {
    match &highest.value {
        None => "? (not computed)".to_owned(),
        Some(peak) => {
            let least = if highest.complete { "" } else { "at least " };
            format!("{least}{} ({}, {:.0} rpm)", unit(peak.value), peak.site, rpm(peak.speed))
        }
    }
}

fn mm(length: f64) -> String {
    format!("{:.1} mm", millimetres(length))
}

fn said_mm(length: &Said<f64>) -> String {
    match length {
        Said::Is(length) => mm(*length),
        Said::None => "none".to_owned(),
        Said::Open => "?".to_owned(),
    }
}

fn words<T: ToString>(said: &Said<T>) -> String {
    match said {
        Said::Is(word) => word.to_string(),
        Said::None => "none".to_owned(),
        Said::Open => "?".to_owned(),
    }
}

fn material(said: &Said<std::sync::Arc<str>>) -> String {
    match said {
        Said::Open => "material ?".to_owned(),
        other => words(other),
    }
}

fn kind(said: &Said<&'static str>) -> String {
    match said {
        Said::Open => "kind ?".to_owned(),
        other => words(other),
    }
}
