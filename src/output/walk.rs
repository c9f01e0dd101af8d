//! A rule walked through with the numbers of one build.

use super::cure_words;
use super::policy_words::{changed_limit, setting_words};
use super::safe_text::one_line;
use super::terminal::{circumstances, lacking_words, wrap};
use super::text_pages::indented;
use crate::known::{At, Datum, Known, Num, SETTINGS, Truth};
use crate::review::{InFull, NamedValue, Reach, Trace, Verdict, Walk, Walked};
use crate::rules::{Comparison, Outcome, Rule, Whose, put_in};
use crate::text::{Dim, Mark, Measure, Route, Sources, format_in};

/// Figures that a number is worked with.
const FIGURES: i32 = 4;

/// The numbers of a build for a rule, behind the rule's teaching text.
pub fn page(walk: &Walk, build: &str, title: Option<&str>, sources: &Sources, width: usize) -> String {
    let mut out = String::new();
    let title = title.map_or(String::new(), |title| format!(" ({})", one_line(title)));
    title_line(&mut out, &format!("With the numbers of {}{title}", one_line(build)), width);
    if !walk.asked {
        indented(
            &mut out,
            "A review does not ask this rule here: it is a draft, withdrawn, or off in the house.",
            width,
        );
    }
    if walk.subjects.is_empty() {
        let word = walk.rule.for_each.word();
        indented(
            &mut out,
            &format!("There is no {word} in this build, so that the rule has nothing to look at."),
            width,
        );
    }
    let paper = Paper { rule: &walk.rule, sources, width };
    for walked in walk.subjects.iter().filter(|walked| walked.full.is_some()) {
        paper.subject(&mut out, walked);
    }
    let brief: Vec<&Walked> = walk.subjects.iter().filter(|walked| walked.full.is_none()).collect();
    if !brief.is_empty() {
        title_line(&mut out, "The others (`--subject NAME` walks one of them through)", width);
        for walked in brief {
            let last = paper.comparison_lines(walked).pop();
            let reason = match &walked.result.judgement.outcome {
                Outcome::NotApplicable(reason) => Some(one_line(&reason.0)),
                Outcome::Open(_) => Some(lacking_words(&walked.result)),
                _ => last,
            };
            let reason = reason.map_or(String::new(), |reason| format!("; {reason}"));
            indented(&mut out, &format!("{}: {}{reason}", name_words(walked), verdict_words(walked)), width);
        }
    }
    out
}

struct Paper<'a> {
    rule: &'a Rule,
    sources: &'a Sources,
    width: usize,
}

impl Paper<'_> {
    fn line(&self, out: &mut String, depth: usize, words: &str) {
        wrap(out, &format!("{}{words}", "  ".repeat(depth)), self.width);
    }

    fn subject(&self, out: &mut String, walked: &Walked) {
        let Some(full) = &walked.full else { return };
        title_line(out, &format!("{}: {}", name_words(walked), verdict_words(walked)), self.width);
        self.line(out, 1, "The condition");
        self.condition(out, walked);
        if !full.traces.is_empty() {
            self.line(out, 1, "What it is made of");
        }
        for trace in &full.traces {
            self.trace(out, trace, 2, Some(walked));
        }
        self.limits(out, walked);
        // What does not apply here is there for questions that stay open.
        let applies = |value: &Known<Datum>| !matches!(value, Known::NotApplicable(_));
        if full.beside.iter().any(|fact| applies(&fact.value)) {
            self.line(out, 1, "Beside it");
            for fact in full.beside.iter().filter(|fact| applies(&fact.value)) {
                // Where all is worst at the same point that is told once, at the end.
                let at = |value: &Known<Datum>| match value {
                    Known::Is(Datum::Number(number)) => number.at.clone(),
                    _ => None,
                };
                let same = at(&fact.value) == walked.result.worst_at;
                let value = if same { in_expression(&fact.value) } else { known(&fact.value) };
                let words = format!("{} = {value}: {}", fact.name, fact.meaning);
                self.line(out, 2, &words);
            }
        }
        self.line(out, 1, "Put in numbers");
        self.outcome(out, walked);
        self.what_turns_it(out, walked, full);
    }

    fn condition(&self, out: &mut String, walked: &Walked) {
        let shut_out = matches!(walked.result.judgement.outcome, Outcome::NotApplicable(_));
        if let Some(applies) = &self.rule.applies_when {
            let put = self.put(applies.text(), walked);
            self.line(out, 2, &format!("asked when {}", one_line(applies.text())));
            self.line(out, 2, &format!("here: {put}{}", if shut_out { ": so it is not asked" } else { "" }));
        }
        self.line(out, 2, &format!("fails when {}", one_line(self.rule.fails_when.text())));
        if walked.result.judgement.fallback_spoke
            && let Some(fallback) = &self.rule.fallback
        {
            self.line(
                out,
                2,
                &format!("as that cannot be told, a rule of thumb: fails when {}", one_line(fallback.text())),
            );
        }
    }

    /// An expression with what its names stand for.
    fn put(&self, text: &str, walked: &Walked) -> String {
        let value = |root: &str, name: &str| match root {
            "limits" => {
                let named = |limit: &str| limit.replace('-', "_") == name;
                let used = walked.result.judgement.limits.iter().find(|used| named(&used.name));
                used.map(|used| known(&used.value.clone().map(Datum::Number)))
            }
            "settings" => {
                let row = SETTINGS.iter().find(|row| row.name.replace('-', "_") == name)?;
                let changed = walked.result.settings.get(&row.setting);
                Some(number(
                    &changed.map_or_else(|| Num::new(row.default, row.dim), |changed| changed.value.clone()),
                ))
            }
            _ => {
                let whose = if root == Whose::It.word() { Whose::It } else { Whose::Build };
                let own = |fact: &&NamedValue| fact.whose == whose && *fact.name == *name;
                walked.facts.iter().find(own).map(|fact| in_expression(&fact.value))
            }
        };
        one_line(&put_in(text, &value))
    }

    /// The derivation of a number, each step under the one that it serves.
    fn trace(&self, out: &mut String, trace: &Trace, depth: usize, of: Option<&Walked>) {
        let value = trace.value.as_ref().map_or(String::new(), |value| format!(" = {}", known(value)));
        let name = format!("{} of {}{value}", trace.fact, one_line(&trace.subject));
        if trace.shown_above {
            self.line(out, depth, &format!("{name} (shown above)"));
            return;
        }
        let plain = trace.below.is_empty() && trace.tables.is_empty() && trace.settings.is_empty();
        if let ([(route, _, mark)], true, true) = (trace.fields.as_slice(), plain, trace.defaults.is_empty())
        {
            let place = self.place(route, mark);
            self.line(out, depth, &format!("{name} ({place}): {}", trace.how));
            return;
        }
        self.line(out, depth, &name);
        let named = of.and_then(|walked| walked.facts.iter().find(|fact| *fact.name == *trace.fact));
        if let Some(fact) = named {
            self.line(out, depth + 1, &format!("meaning: {}", fact.meaning));
        }
        if !trace.how.is_empty() {
            self.line(out, depth + 1, &format!("equation: {}", trace.how));
            self.line(out, depth + 1, &format!("source: {}", trace.source));
        }
        self.put_into(out, trace, depth + 1);
        for below in &trace.below {
            self.trace(out, below, depth + 1, None);
        }
    }

    /// What goes into a step: numbers one below the other, or part by part where they are many; words apart from them.
    fn put_into(&self, out: &mut String, trace: &Trace, depth: usize) {
        let is_number =
            |written: &str| written.starts_with(|c: char| c.is_ascii_digit() || "+-.".contains(c));
        let (numbers, words): (Vec<_>, Vec<_>) =
            trace.fields.iter().partition(|(_, written, _)| is_number(written));
        let fields: Vec<_> = numbers.into_iter().chain(&trace.tables).collect();
        if fields.len() > MOST_LINES {
            self.grouped(out, &fields, depth);
        } else {
            for (route, written, mark) in fields {
                let place = one_line(&route.to_string());
                self.line(out, depth, &format!("put in: {place} {} ({})", one_line(written), self.at(mark)));
            }
        }
        for used in &trace.settings {
            let row = used.setting.row();
            let words = match &used.changed {
                None => format!("setting {} {} ({})", row.name, row.written, row.source),
                Some(changed) => setting_words(used.setting, changed),
            };
            self.line(out, depth, &format!("put in: {words}"));
        }
        let (kinds, words): (Vec<_>, Vec<_>) =
            words.into_iter().partition(|(route, ..)| route.last_key() == Some("kind"));
        let mut words: Vec<String> = words
            .into_iter()
            .map(|(route, written, _)| format!("{} {}", one_line(&route.to_string()), one_line(written)))
            .collect();
        match kinds.as_slice() {
            [] => {}
            [(route, written, _)] => {
                words.push(format!("{} {}", one_line(&route.to_string()), one_line(written)));
            }
            many => words.push(format!("the kinds of {} parts", many.len())),
        }
        if !words.is_empty() {
            self.line(out, depth, &format!("by the words: {}", words.join("; ")));
        }
        for (field, words) in &trace.defaults {
            let words = format!("taken for {}: {}", one_line(&field.to_string()), one_line(words));
            self.line(out, depth, &words);
        }
        let lacks: Vec<_> = trace.lacks.fields.iter().map(|route| one_line(&route.to_string())).collect();
        if !lacks.is_empty() {
            self.line(out, depth, &format!("lacks {}", lacks.join(", ")));
        }
    }

    /// Many numbers, those of one part, or of one table of the description, in one paragraph.
    fn grouped(&self, out: &mut String, fields: &[&(Route, String, Mark)], depth: usize) {
        let mut groups: Vec<(Route, Vec<String>)> = Vec::new();
        for (route, written, _) in fields {
            let steps = if route.steps().len() > 2 { 2 } else { 1 };
            let above: Route = route.steps().iter().take(steps).cloned().collect();
            let below: Route = route.steps().iter().skip(steps).cloned().collect();
            let words = format!("{} {}", one_line(&below.to_string()), one_line(written));
            match groups.iter_mut().find(|(group, _)| *group == above) {
                Some((_, all)) => all.push(words.trim().to_owned()),
                None => groups.push((above, vec![words.trim().to_owned()])),
            }
        }
        for (group, words) in groups {
            self.line(out, depth, &format!("put in: {}: {}", one_line(&group.to_string()), words.join(", ")));
        }
    }

    fn place(&self, route: &Route, mark: &Mark) -> String {
        format!("{}, {}", one_line(&route.to_string()), self.at(mark))
    }

    fn at(&self, mark: &Mark) -> String {
        format!("line {}", self.sources.get(mark.span.file).line_col(mark.span.start).0)
    }

    fn limits(&self, out: &mut String, walked: &Walked) {
        for used in &walked.result.judgement.limits {
            let Some(limit) = self.rule.limit(&used.name) else { continue };
            let own = limit.written(used.key.as_deref());
            let source = one_line(&limit.source);
            let words = match &used.changed {
                None => format!("limit: {} {} ({source})", used.name, own.unwrap_or_default()),
                Some(changed) => changed_limit(&used.name, changed, own, &source),
            };
            self.line(out, 2, &words);
        }
    }

    /// Each comparison with its numbers, and whether it holds.
    fn comparison_lines(&self, walked: &Walked) -> Vec<String> {
        let comparisons = walked.result.judgement.comparisons.iter();
        comparisons.map(|comparison| self.comparison(comparison, walked)).collect()
    }

    fn comparison(&self, comparison: &Comparison, walked: &Walked) -> String {
        let side = |text: &str, value: &Known<Datum>| {
            let put = self.put(text, walked);
            let worth = in_expression(value);
            let is_list = matches!(value, Known::NotApplicable(_));
            if put == worth || is_list || put.trim_start_matches('-') == "0" {
                put
            } else {
                format!("{put} = {worth}")
            }
        };
        let holds = match &comparison.truth {
            Truth::Yes => "holds",
            Truth::No => "does not hold",
            Truth::Open(_) => "cannot be told",
            Truth::NotApplicable(_) => "does not arise",
        };
        format!(
            "{} {} {}: {holds}",
            side(&comparison.left.text, &comparison.left.value),
            comparison.relation.sign(),
            side(&comparison.right.text, &comparison.right.value)
        )
    }

    fn outcome(&self, out: &mut String, walked: &Walked) {
        let result = &walked.result;
        let judgement = &result.judgement;
        let so = match &judgement.outcome {
            Outcome::Fail => "so the rule fails".to_owned(),
            Outcome::Review => "so a person has to judge".to_owned(),
            Outcome::Pass => "so the rule passes".to_owned(),
            Outcome::Open(_) => format!("so the rule cannot be decided: {}", lacking_words(result)),
            Outcome::NotApplicable(reason) => format!("so the rule does not apply: {}", one_line(&reason.0)),
        };
        let shut_out =
            matches!(judgement.outcome, Outcome::NotApplicable(_)) && self.rule.applies_when.is_some();
        let mut lines = self.comparison_lines(walked);
        if shut_out {
            lines.clear();
        } else if lines.is_empty() {
            lines.push(self.put(self.rule.fails_when.text(), walked));
        } else if lines.len() > 1 {
            lines.push(format!("together: {}", self.put(self.rule.fails_when.text(), walked)));
        }
        match lines.pop() {
            Some(last) => {
                lines.iter().for_each(|line| self.line(out, 2, line));
                self.line(out, 2, &format!("{last}, {so}."));
            }
            None => self.line(out, 2, &format!("{so}.")),
        }
        if let [only] = judgement.comparisons.as_slice()
            && !shut_out
            && let Known::Is(margin) = only.margin()
        {
            let size = Num::new(margin.v.abs(), margin.dim);
            // A share says something only of a limit that is a size, and not of a temperature or a bare reserve.
            let limit = match &only.right.value {
                Known::Is(Datum::Number(limit)) => Some(limit).filter(|limit| limit.v > 0.0),
                _ => None,
            };
            let limit =
                limit.filter(|limit| margin.dim != Dim::TEMPERATURE && size.v <= MOST_TIMES * limit.v);
            let of_limit = limit.map_or_else(String::new, |limit| {
                format!(" ({} % of {})", figures(100.0 * size.v / limit.v, 3), number(limit))
            });
            let words = if margin.v >= 0.0 { "in hand" } else { "lacking" };
            self.line(out, 2, &format!("{words}: {}{of_limit}", difference(&size)));
        }
        if let Some(at) = &result.worst_at {
            self.line(out, 2, &format!("this is the worst case, {}", circumstance(at)));
        }
        let limits = |line: &String| !line.starts_with("limit: ") && !line.starts_with("worst at the site");
        circumstances(result).iter().filter(|line| limits(line)).for_each(|line| self.line(out, 2, line));
        if let Some(passes) = result.passes_at_home {
            self.line(out, 2, if passes { "at home it passes" } else { "at home it does not pass either" });
        }
        if let Some(by) = &result.silenced_by {
            self.line(out, 2, &format!("silenced by {by}, which says more of the same"));
        }
        if let Some(accepted) = &result.accepted {
            let because = one_line(&accepted.because);
            self.line(out, 2, &format!("accepted by {}, because {because}", one_line(&accepted.by)));
        }
    }

    fn what_turns_it(&self, out: &mut String, walked: &Walked, full: &InFull) {
        let fails = matches!(walked.result.judgement.outcome, Outcome::Fail);
        if fails && !walked.result.cures.is_empty() {
            self.line(out, 1, "What would change it");
            walked.result.cures.iter().for_each(|cure| self.line(out, 2, &cure_words::words(cure)));
            return;
        }
        let reaches = &full.reaches;
        if reaches.tried > 0 {
            let title = if fails { "What would change it" } else { "How much is in hand" };
            self.line(out, 1, title);
            let each = if fails {
                "each alone, all else as it is; only this rule was asked:"
            } else {
                "each alone, all else as it is, until the rule fails:"
            };
            self.line(out, 2, if reaches.nearest.is_empty() { NONE_TURNS } else { each });
            reaches.nearest.iter().for_each(|reach| self.line(out, 2, &reach_words(reach, fails)));
            if !reaches.nearest.is_empty() {
                let words = format!(
                    "{} numbers move it; these turn it soonest within their usual ranges ({} changed builds asked)",
                    reaches.moving, reaches.tried
                );
                self.line(out, 2, &words);
            }
        } else if fails && let Some(advice) = &self.rule.advice {
            self.line(out, 1, "What would change it");
            self.line(out, 2, &one_line(advice));
        }
    }
}

/// A line that opens a section, after an empty one.
fn title_line(out: &mut String, words: &str, width: usize) {
    out.push('\n');
    wrap(out, words, width);
}

/// More numbers than these are told part by part.
const MOST_LINES: usize = 8;

/// A margin of more than so many times the limit is told without its share.
const MOST_TIMES: f64 = 10.0;

const NONE_TURNS: &str = "no single number turns it within its usual range";

fn reach_words(reach: &Reach, fails: bool) -> String {
    let share = 100.0 * reach.share();
    let share = if reach.measure == Measure::Temperature {
        String::new()
    } else {
        format!(" ({}{} %)", if share > 0.0 { "+" } else { "" }, figures(share, 3))
    };
    let rises = reach.to > reach.now;
    let then = match (fails, rises) {
        (true, true) => format!("passes from {} up{share}", reach.told),
        (true, false) => format!("passes from {} down{share}", reach.told),
        (false, true) => format!("may rise to {}{share}", reach.told),
        (false, false) => format!("may fall to {}{share}", reach.told),
    };
    format!("{}: {}, {then}", one_line(&reach.route.to_string()), one_line(&reach.written))
}

fn name_words(walked: &Walked) -> String {
    let subject = &walked.result.subject;
    let (name, route) = (one_line(&subject.name), one_line(&subject.route.to_string()));
    if subject.route.is_root() || name == route { name } else { format!("{name} ({route})") }
}

fn verdict_words(walked: &Walked) -> &'static str {
    match walked.result.verdict() {
        Verdict::Fail => "fails",
        Verdict::Review => "for a person to judge",
        Verdict::Pass => "passes",
        Verdict::Open => "undecided",
        Verdict::NotApplicable => "does not apply",
        Verdict::Silenced => "silenced",
    }
}

fn circumstance(at: &At) -> String {
    let speed =
        at.speed.map_or(String::new(), |speed| format!("at {} rpm, ", figures(speed * 60.0, FIGURES)));
    if at.home { format!("{speed}at home") } else { format!("{speed}at the site {}", one_line(&at.site)) }
}

/// A value as a derivation tells it, with the circumstances of a worst case.
fn known(value: &Known<Datum>) -> String {
    let at = match value {
        Known::Is(Datum::Number(number)) => number.at.as_ref(),
        _ => None,
    };
    let at = at.map_or(String::new(), |at| format!(" ({})", circumstance(at)));
    let words = in_expression(value);
    format!("{}{at}", words.trim_matches('\''))
}

/// A value as it stands in an expression.
fn in_expression(value: &Known<Datum>) -> String {
    let one = |datum: &Datum| match datum {
        Datum::Number(value) => number(value),
        Datum::Bool(true) => "yes".to_owned(),
        Datum::Bool(false) => "no".to_owned(),
        Datum::Word(word) => format!("'{}'", one_line(word)),
    };
    let endless = |datum: &Datum| datum.as_number().is_some_and(|number| number.v.is_infinite());
    match value {
        Known::Is(datum) => one(datum),
        Known::Between(low, high) if endless(high) => format!("at least {}", one(low)),
        Known::Between(low, high) if endless(low) => format!("at most {}", one(high)),
        Known::Between(low, high) => format!("{} to {}", one(low), one(high)),
        Known::Open(_) => "not known".to_owned(),
        Known::NotApplicable(reason) => format!("does not apply ({})", one_line(&reason.0)),
    }
}

/// A number with the figures that it is worked with, in the unit that the trade reads it in.
fn number(value: &Num) -> String {
    in_unit(value, if value.dim == Dim::TEMPERATURE { "degC" } else { unit_of(value.dim) })
}

/// The same of a difference of two numbers.
fn difference(value: &Num) -> String {
    in_unit(value, if value.dim == Dim::TEMPERATURE { "K" } else { unit_of(value.dim) })
}

fn unit_of(dim: Dim) -> &'static str {
    match dim {
        Dim::LENGTH => "mm",
        Dim::PRESSURE => "kPa",
        Dim::MASS_FLOW => "kg/s",
        Dim::FREQUENCY => "rpm",
        Dim::FORCE => "N",
        Dim::TIME => "ms",
        Dim::AREA => "mm2",
        Dim::VOLUME => "L",
        Dim::SPEED => "m/s",
        Dim::POWER => "kW",
        _ => "",
    }
}

fn in_unit(value: &Num, unit: &str) -> String {
    // Twelve digits behind the point are enough to cut to figures from.
    let written = format_in(value.v, value.dim, unit, 12).and_then(|text| {
        let number: f64 = text.split(' ').next()?.parse().ok()?;
        Some(format!("{} {unit}", figures(number, FIGURES)))
    });
    written.unwrap_or_else(|| {
        let unit = if value.dim == Dim::ONE { String::new() } else { format!(" {}", value.dim) };
        format!("{}{unit}", figures(value.v, FIGURES))
    })
}

/// A number cut to so many figures, without noughts at its end; whole numbers keep all theirs.
fn figures(number: f64, count: i32) -> String {
    if number == 0.0 || !number.is_finite() {
        return format!("{number}");
    }
    // The place of the first figure of a finite number lies within ±400.
    let first = number.abs().log10().floor() as i32;
    let digits = usize::try_from((count - 1 - first).clamp(0, 12)).unwrap_or(0);
    let text = format!("{number:.digits$}");
    if !text.contains('.') {
        return text;
    }
    let short = text.trim_end_matches('0').trim_end_matches('.');
    if matches!(short, "-0" | "") { "0".to_owned() } else { short.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_told_with_four_figures() {
        assert_eq!(figures(0.306, 4), "0.306");
        assert_eq!(figures(306.049, 4), "306");
        assert_eq!(figures(-0.000_123_456, 4), "-0.0001235");
        assert_eq!(figures(123_456.7, 4), "123457");
        assert_eq!(figures(0.0, 4), "0");
        assert_eq!(number(&Num::new(0.051, Dim::LENGTH)), "51 mm");
        assert_eq!(number(&Num::new(303.15, Dim::TEMPERATURE)), "30 degC");
        assert_eq!(difference(&Num::new(12.0, Dim::TEMPERATURE)), "12 K");
        assert_eq!(number(&Num::pure(0.1)), "0.1");
    }
}
