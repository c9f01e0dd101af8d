//! Which file decided what: rules, their levels and limits, settings, and the tables of the house.

use super::safe_text::one_line;
use super::text_pages::{heading, indented};
use crate::known::SETTINGS;
use crate::review::{House, HouseLevel, Policy, Row};
use crate::rules::{Limit, LimitValue, Rule};

/// For each rule, limit and setting: its value, the file that decided it, and the reason where it was changed.
pub fn page(policy: &Policy, house_file: &str, width: usize) -> String {
    let mut out = String::new();
    let house_file = one_line(house_file);
    let house = policy.house.as_ref();
    heading(&mut out, "Rules");
    for rule in policy.catalogue.rules() {
        let file = if rule.origin.of_house { one_line(&rule.origin.path) } else { "the program".to_owned() };
        indented(&mut out, &format!("{}: {file}", rule.id), width);
        indented(&mut out, &format!("  {}", level(rule, house, &house_file)), width);
        for one in &rule.limits {
            indented(&mut out, &format!("  {}", limit(rule, one, house, &house_file, &file)), width);
        }
    }
    heading(&mut out, "Settings");
    for row in SETTINGS {
        let line = match house.and_then(|house| house.settings.get(&row.setting)) {
            None => format!("{}: {}, the program ({})", row.name, row.written, row.source),
            Some(changed) => format!(
                "{}: {}{}, {house_file}, because {} (the program has {})",
                row.name,
                one_line(&changed.written),
                locked(changed.locked),
                one_line(&changed.because),
                row.written
            ),
        };
        indented(&mut out, &line, width);
    }
    if let Some(house) = house {
        of_house(&mut out, house, &house_file, width);
    }
    out.trim_start().to_owned()
}

fn locked(locked: bool) -> &'static str {
    if locked { " (no build may change it)" } else { "" }
}

fn level(rule: &Rule, house: Option<&House>, house_file: &str) -> String {
    match house.and_then(|house| house.level_of(&rule.id)) {
        Some(changed) if changed.level == HouseLevel::Off => {
            format!("off, {house_file}, because {}", one_line(&changed.because))
        }
        Some(changed) => format!(
            "level {}, {house_file}, because {} (the rule has {})",
            rule.level.word(),
            one_line(&changed.because),
            changed.own.unwrap_or(rule.level).word()
        ),
        None => format!("level {}, its own file", rule.level.word()),
    }
}

fn limit(rule: &Rule, limit: &Limit, house: Option<&House>, house_file: &str, file: &str) -> String {
    let own = match &limit.value {
        LimitValue::One(written) => written.text.to_string(),
        LimitValue::ByKey { values, .. } => {
            let each: Vec<_> = values.iter().map(|(key, value)| format!("{key} {}", value.text)).collect();
            each.join(", ")
        }
    };
    let changed = house.and_then(|house| {
        house.limits.iter().find(|changed| changed.rule == rule.id && changed.limit == limit.name)
    });
    match changed {
        None => format!("limit {}: {}, {file} ({})", limit.name, one_line(&own), one_line(&limit.source)),
        Some(changed) => format!(
            "limit {}: {}{}, {house_file}, because {} (the rule has {})",
            limit.name,
            one_line(&changed.written),
            locked(changed.locked),
            one_line(&changed.because),
            one_line(&own)
        ),
    }
}

fn of_house(out: &mut String, house: &House, house_file: &str, width: usize) {
    heading(out, "Builds");
    let list = |written: &[std::sync::Arc<str>]| one_line(&written.join(", "));
    let what = match &house.include {
        Some(include) => format!("files that fit {}, {house_file}", list(&include.written)),
        None => "YAML files with a format and parts, an engine or an air path; the program".to_owned(),
    };
    indented(out, &what, width);
    if !house.exclude.written.is_empty() {
        indented(out, &format!("but not {}, {house_file}", list(&house.exclude.written)), width);
    }
    heading(out, "Who may accept findings");
    let who = match house.who_may_accept.as_deref() {
        None => "anybody; the program".to_owned(),
        Some([]) => format!("nobody, {house_file}"),
        Some(names) => format!("{}, {house_file}", list(names)),
    };
    indented(out, &who, width);
    table(out, "Materials", &house.materials, house_file, width);
    table(out, "Clamps", &house.clamps, house_file, width);
}

fn table(out: &mut String, title: &str, rows: &[Row], house_file: &str, width: usize) {
    if rows.is_empty() {
        return;
    }
    heading(out, title);
    for row in rows {
        let values: Vec<_> =
            row.values.iter().map(|(name, _, written)| format!("{name} {written}")).collect();
        let line = format!("{}: {}, {house_file} ({})", row.name, values.join(", "), row.source);
        indented(out, &one_line(&line), width);
    }
}
