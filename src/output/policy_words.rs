//! Words for what house and build decide: changed limits, settings and levels, rules switched off, accepted findings, and
//! what all that hides.

use super::safe_text::one_line;
use super::terminal::plural;
use crate::known::{Overridden, Setting};
use crate::review::{Hidden, Notice, NoticeKind, RuleResult, SwitchedOff, Verdict};
use crate::rules::Override;

/// A limit that house or build have changed, with the rule's own value and its source.
pub fn changed_limit(name: &str, changed: &Override, own: Option<&str>, source: &str) -> String {
    let own = own.unwrap_or("another value");
    format!(
        "limit: {name} {}, set by the {}, because {} (the rule has {own}: {source})",
        one_line(&changed.written),
        changed.by.word(),
        one_line(&changed.because)
    )
}

/// A setting that house or build have changed.
pub fn setting_words(setting: Setting, changed: &Overridden) -> String {
    let row = setting.row();
    format!(
        "setting {}: {}, set by the {}, because {} (the program has {}: {})",
        row.name,
        one_line(&changed.written),
        changed.by.word(),
        one_line(&changed.because),
        row.written,
        row.source
    )
}

/// A level that the house has changed.
pub fn changed_level(result: &RuleResult) -> Option<String> {
    let changed = result.level_change.as_ref()?;
    let now = result.rule.level.word();
    let (own, because) = (changed.own.word(), one_line(&changed.because));
    Some(format!("level: {now}, set by the house, because {because} (the rule has {own})"))
}

/// Whether a notice is drawn at its place; else it is told in a line.
pub fn is_drawn(notice: &Notice) -> bool {
    match notice.kind {
        NoticeKind::AcceptedStale | NoticeKind::AcceptedExpired | NoticeKind::AcceptedNew => true,
        NoticeKind::AcceptedUndated => false,
        NoticeKind::LimitLoosened
        | NoticeKind::SettingChanged
        | NoticeKind::LevelLowered
        | NoticeKind::RuleSwitchedOff
        | NoticeKind::PolicyChanged => !notice.hides.is_empty(),
    }
}

/// What a notice hides.
pub fn hides(notice: &Notice) -> Option<String> {
    let each: Vec<String> = notice.hides.iter().map(hidden).collect();
    let verb = match notice.kind {
        NoticeKind::LevelLowered => "this weighs less",
        NoticeKind::PolicyChanged => "this would hide",
        _ => "this hides",
    };
    (!each.is_empty()).then(|| format!("{verb}: {}", each.join("; ")))
}

fn hidden(hidden: &Hidden) -> String {
    let subject = if hidden.subject.is_root() { "the build".to_owned() } else { hidden.subject.to_string() };
    let was = match hidden.was {
        Verdict::Fail => "a finding",
        Verdict::Review => "for a person to judge",
        _ => "undecided",
    };
    format!("{} of {} ({was})", hidden.rule, one_line(&subject))
}

/// The notices that are not drawn, each in a line.
pub fn told_briefly(notices: &[Notice]) -> impl Iterator<Item = String> + '_ {
    notices.iter().filter(|notice| !is_drawn(notice)).map(|notice| {
        let effect = match notice.kind {
            NoticeKind::AcceptedUndated => "",
            NoticeKind::LevelLowered => "; nothing is found there here",
            NoticeKind::PolicyChanged => "; that would hide nothing here",
            _ => "; that hides nothing here",
        };
        format!("Note: {}{effect}", one_line(&notice.message))
    })
}

/// The findings that are accepted, each in a line.
pub fn accepted(results: &[RuleResult]) -> Vec<String> {
    let each = results.iter().filter(|one| matches!(one.verdict(), Verdict::Fail | Verdict::Review));
    let mut lines: Vec<String> = each
        .filter_map(|result| {
            let accepted = result.accepted.as_ref()?;
            let until = accepted.until.as_ref().map_or(String::new(), |until| format!(" until {until}"));
            let level = if result.verdict() == Verdict::Fail { result.rule.level.word() } else { "to judge" };
            Some(format!(
                "  {level} {} of {}: accepted by {}{until}, because {}",
                result.rule.id,
                one_line(&result.subject.name),
                one_line(&accepted.by),
                one_line(&accepted.because)
            ))
        })
        .collect();
    if !lines.is_empty() {
        lines.insert(0, "Accepted:".to_owned());
    }
    lines
}

/// The rules that are not asked, though they are in force.
pub fn switched_off(rules: &[SwitchedOff]) -> Option<String> {
    let each: Vec<String> = rules
        .iter()
        .map(|one| match &one.because {
            Some(because) => format!("{} by the house, because {}", one.rule, one_line(because)),
            None => format!("{} by --without", one.rule),
        })
        .collect();
    let count = plural(rules.len(), "rule is", "rules are");
    (!each.is_empty()).then(|| format!("{count} switched off: {}", each.join("; ")))
}
