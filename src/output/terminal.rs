//! Findings for a person at a terminal: the frame is drawn by the diagnostics library, the words are ours.

use std::collections::BTreeMap;
use std::fmt;

use miette::{Diagnostic, GraphicalReportHandler, GraphicalTheme, LabeledSpan, Severity, SourceCode};

use super::Reviewed;
use super::cure_words;
use super::excerpt::Excerpt;
use super::policy_words::{self, setting_words};
use super::safe_text::one_line;
use crate::known::{Datum, Known, Num};
use crate::review::{Notice, PlacedMark, RuleResult, Tally, Trace, Unasked, Verdict};
use crate::rules::Level;
use crate::text::{Dim, Fault, FileId, Route, Sources, Span, format_in};

/// How to draw.
#[derive(Clone, Copy, Debug)]
pub struct Style {
    /// Columns of the terminal.
    pub width: usize,
    /// Whether to colour.
    pub colour: bool,
}

/// The usual cautions, closing every review for a person.
pub const CAUTIONS: &str = "Reviewed was a description, not the built vehicle. Pressure, heat, rotating parts and fuel vapour can hurt: \
fit and test by the makers' instructions. Noise and emission law differ by place. Work on a road vehicle belongs with licensed practice.";

/// One thing to draw: a finding, an open question, a fault.
#[derive(Debug)]
struct Drawn {
    code: String,
    message: String,
    severity: Severity,
    labels: Vec<LabeledSpan>,
    help: Option<String>,
    source: Excerpt,
}

impl fmt::Display for Drawn {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.message)
    }
}

impl std::error::Error for Drawn {}

impl Diagnostic for Drawn {
    fn code<'a>(&'a self) -> Option<Box<dyn fmt::Display + 'a>> {
        Some(Box::new(&self.code))
    }

    fn severity(&self) -> Option<Severity> {
        Some(self.severity)
    }

    fn help<'a>(&'a self) -> Option<Box<dyn fmt::Display + 'a>> {
        self.help.as_ref().map(|help| Box::new(help) as Box<dyn fmt::Display>)
    }

    fn labels(&self) -> Option<Box<dyn Iterator<Item = LabeledSpan> + '_>> {
        Some(Box::new(self.labels.iter().cloned()))
    }

    fn source_code(&self) -> Option<&dyn SourceCode> {
        Some(&self.source)
    }
}

/// So many faults of a text are drawn; the rest are counted.
const MOST_FAULTS: usize = 40;

/// The whole review of one build as text.
pub fn review(reviewed: &Reviewed, style: Style) -> String {
    let mut out = String::new();
    let handler = handler(style);
    for fault in reviewed.review.faults.iter().take(MOST_FAULTS) {
        draw(&mut out, &handler, &drawn_fault(fault, &reviewed.sources, style));
    }
    if let Some(more) = reviewed.review.faults.len().checked_sub(MOST_FAULTS).filter(|more| *more > 0) {
        wrap(&mut out, &format!("and {more} more faults in the text"), style.width);
    }
    let of =
        |verdict: Verdict| reviewed.review.results.iter().filter(move |result| result.verdict() == verdict);
    for result in of(Verdict::Fail).chain(of(Verdict::Review)).filter(|result| result.accepted.is_none()) {
        draw(&mut out, &handler, &drawn_result(result, reviewed, style));
    }
    for notice in reviewed.review.notices.iter().filter(|notice| policy_words::is_drawn(notice)) {
        draw(&mut out, &handler, &drawn_notice(notice, &reviewed.sources, style));
    }
    out.push_str(&derivations(reviewed, style));
    summary(&mut out, reviewed, style);
    out
}

/// The derivations that were asked for.
pub fn derivations(reviewed: &Reviewed, style: Style) -> String {
    let mut out = String::new();
    for trace in &reviewed.review.traces {
        derivation(&mut out, trace, reviewed, 0, style);
        out.push('\n');
    }
    out
}

/// A derivation, each step under the one that it serves.
fn derivation(out: &mut String, trace: &Trace, reviewed: &Reviewed, depth: usize, style: Style) {
    let indent = "  ".repeat(depth);
    let value = trace.value.as_ref().map_or(String::new(), |value| format!(" = {}", known_words(value)));
    let above = if trace.shown_above { " (shown above)" } else { "" };
    wrap(out, &format!("{indent}{} of {}{value}{above}", trace.fact, one_line(&trace.subject)), style.width);
    if trace.shown_above {
        return;
    }
    let mut line = |words: String| wrap(out, &format!("{indent}    {words}"), style.width);
    if !trace.how.is_empty() {
        line(format!("how: {}", trace.how));
        line(format!("source: {}", trace.source));
    }
    for (route, written, mark) in &trace.fields {
        let (at, _) = reviewed.sources.get(mark.span.file).line_col(mark.span.start);
        line(format!("{}: {} (line {at})", one_line(&route.to_string()), one_line(written)));
    }
    for used in &trace.settings {
        let row = used.setting.row();
        line(match &used.changed {
            None => format!("setting {}: {} ({})", row.name, row.written, row.source),
            Some(changed) => setting_words(used.setting, changed),
        });
    }
    for (field, words) in &trace.defaults {
        line(format!("taken for {}: {}", one_line(&field.to_string()), one_line(words)));
    }
    let lacks: Vec<_> = trace.lacks.fields.iter().map(|route| one_line(&route.to_string())).collect();
    if !lacks.is_empty() {
        line(format!("lacks {}", lacks.join(", ")));
    }
    for below in &trace.below {
        derivation(out, below, reviewed, depth + 2, style);
    }
}

fn known_words(value: &Known<Datum>) -> String {
    let one = |datum: &Datum| match datum {
        Datum::Number(number) => {
            let at = number.at.as_ref().map_or(String::new(), |at| {
                let speed = at.speed.map_or(String::new(), |speed| format!("{:.0} rpm, ", speed * 60.0));
                format!(" at {speed}{}", one_line(&at.site))
            });
            format!("{}{at}", plain_number(number))
        }
        Datum::Bool(true) => "yes".to_owned(),
        Datum::Bool(false) => "no".to_owned(),
        Datum::Word(word) => one_line(word),
    };
    match value {
        Known::Is(datum) => one(datum),
        Known::Between(low, high) => format!("between {} and {}", one(low), one(high)),
        Known::Open(_) => "not known".to_owned(),
        Known::NotApplicable(reason) => format!("does not apply: {}", one_line(&reason.0)),
    }
}

/// Faults of texts that are no builds, such as rule files.
pub fn faults(faults: &[Fault], sources: &Sources, style: Style) -> String {
    let mut out = String::new();
    let handler = handler(style);
    for fault in faults {
        draw(&mut out, &handler, &drawn_fault(fault, sources, style));
    }
    out
}

fn handler(style: Style) -> GraphicalReportHandler {
    let theme = if style.colour { GraphicalTheme::unicode() } else { GraphicalTheme::unicode_nocolor() };
    GraphicalReportHandler::new_themed(theme).with_width(style.width).with_links(false)
}

fn draw(out: &mut String, handler: &GraphicalReportHandler, drawn: &Drawn) {
    let mut drawing = String::new();
    // Writing to a string cannot fail; a frame that cannot be drawn still leaves its message.
    if handler.render_report(&mut drawing, drawn).is_err() {
        drawing.clone_from(&drawn.message);
    }
    for line in drawing.lines() {
        out.push_str(line.trim_end());
        out.push('\n');
    }
    out.push('\n');
}

/// The marks of one drawing, all in one file, the main one first, with the lines that they stand on.
fn labelled(
    file: FileId,
    marks: &[(Span, String)],
    sources: &Sources,
    style: Style,
) -> (Excerpt, Vec<LabeledSpan>) {
    let spans: Vec<Span> = marks.iter().map(|(span, _)| *span).collect();
    let excerpt = Excerpt::new(sources.get(file), &spans, style.width);
    let labels = marks.iter().enumerate().map(|(i, (span, says))| {
        let place = excerpt.place(*span);
        // A label begins below the middle of its mark; what does not fit beside that goes on in further lines.
        let room = style.width.saturating_sub(excerpt.column(*span) + place.len() / 2 + LABEL_FRAME);
        let says = Some(folded(&one_line(says), room.max(LEAST_LABEL)));
        if i == 0 {
            LabeledSpan::new_primary_with_span(says, place)
        } else {
            LabeledSpan::new_with_span(says, place)
        }
    });
    let labels = labels.collect();
    (excerpt, labels)
}

/// Columns between a line's start and its label's text, beside the mark itself.
const LABEL_FRAME: usize = 14;
/// A label is never folded narrower than this.
const LEAST_LABEL: usize = 28;

/// Words folded into lines of a width.
fn folded(words: &str, width: usize) -> String {
    let mut out = String::new();
    wrap(&mut out, words, width);
    out.trim_end().to_owned()
}

fn drawn_fault(fault: &Fault, sources: &Sources, style: Style) -> Drawn {
    let mut marks = vec![(fault.span, "here".to_owned())];
    let mut notes: Vec<String> = fault.help.iter().map(|help| one_line(help)).collect();
    for (span, says) in &fault.also {
        if span.file == fault.span.file {
            marks.push((*span, says.clone()));
        } else {
            notes.push(format!("{} at {}", one_line(says), place_words(*span, sources)));
        }
    }
    let (source, labels) = labelled(fault.span.file, &marks, sources, style);
    Drawn {
        code: format!("fault {}", fault.kind.word()),
        message: one_line(&fault.message),
        severity: Severity::Error,
        labels,
        help: (!notes.is_empty()).then(|| notes.join("\n")),
        source,
    }
}

fn drawn_notice(notice: &Notice, sources: &Sources, style: Style) -> Drawn {
    let marks = [(notice.span, "here".to_owned())];
    let (source, labels) = labelled(notice.span.file, &marks, sources, style);
    Drawn {
        code: format!("note {}", notice.kind.word()),
        message: one_line(&notice.message),
        severity: Severity::Advice,
        labels,
        help: policy_words::hides(notice),
        source,
    }
}

/// `file:line:column` of a place.
pub fn place_words(span: Span, sources: &Sources) -> String {
    let source = sources.get(span.file);
    let (line, column) = source.line_col(span.start);
    format!("{}:{line}:{column}", one_line(source.name()))
}

fn drawn_result(result: &RuleResult, reviewed: &Reviewed, style: Style) -> Drawn {
    let (word, severity) = match (result.verdict(), result.rule.level) {
        (Verdict::Fail, Level::Error) => ("error", Severity::Error),
        (Verdict::Fail, Level::Warning) => ("warning", Severity::Warning),
        (Verdict::Fail, Level::Note) => ("note", Severity::Advice),
        _ => ("for a person to judge", Severity::Advice),
    };
    let main_file = result.marks.first().map_or(FileId(0), |mark| mark.span.file);
    let (here, elsewhere): (Vec<_>, Vec<_>) =
        result.marks.iter().partition(|mark| mark.span.file == main_file);
    let marks: Vec<_> = here.into_iter().map(|mark| (mark.span, mark_words(mark))).collect();
    let (source, labels) = labelled(main_file, &marks, &reviewed.sources, style);
    let mut lines: Vec<String> = elsewhere
        .into_iter()
        .map(|mark| format!("{}: {}", place_words(mark.span, &reviewed.sources), one_line(&mark_words(mark))))
        .collect();
    lines.extend(definitions(result, &reviewed.sources));
    lines.extend(circumstances(result));
    lines.extend(result.cures.iter().map(cure_words::words));
    if result.cure_left_out {
        lines.push(
            "no cure was searched for, as there are so many findings; mend some and review again".to_owned(),
        );
    }
    if result.cures.is_empty() {
        lines.extend(result.rule.advice.iter().map(|advice| format!("advice: {}", one_line(advice))));
    }
    lines.push(format!("why: tractwright explain {}", result.rule.id));
    Drawn {
        code: format!("{word} {}, {}", result.rule.id, one_line(&result.main_route().to_string())),
        message: format!("{} ({})", one_line(&result.rule.title), one_line(&result.subject.name)),
        severity,
        labels,
        help: Some(lines.join("\n")),
        source,
    }
}

/// Where marked things are defined that another file brought in: a library of parts.
fn definitions(result: &RuleResult, sources: &Sources) -> Vec<String> {
    let shared = result.marks.iter().filter_map(|mark| {
        let defined_at = mark.defined_at.filter(|defined_at| defined_at.file != mark.span.file)?;
        let route = one_line(&mark.route.to_string());
        Some(format!("{route} is defined at {}", place_words(defined_at, sources)))
    });
    shared.collect()
}

fn mark_words(mark: &PlacedMark) -> String {
    if mark.given { mark.says.clone() } else { format!("{} ({} is not given)", mark.says, mark.route) }
}

/// What a reader must know beside the number: the rule of thumb, the site, nearness to the limit, the limit's source.
pub(super) fn circumstances(result: &RuleResult) -> Vec<String> {
    let mut lines = Vec::new();
    let judgement = &result.judgement;
    if judgement.fallback_spoke {
        lines.push("a rule of thumb speaks here, as the computation cannot be made yet".to_owned());
    }
    if judgement.at_limit {
        lines.push("this lies at the limit: within the solver's own error of it".to_owned());
    }
    if let Some(at) = result.worst_at.as_ref().filter(|at| !at.home) {
        let home = match result.passes_at_home {
            Some(true) => "; at home it passes",
            Some(false) => "; at home it does not pass either",
            None => "",
        };
        lines.push(format!("worst at the site {}{home}", one_line(&at.site)));
    }
    for used in &judgement.limits {
        let Some(limit) = result.rule.limit(&used.name) else { continue };
        let own = limit.written(used.key.as_deref());
        let source = one_line(&limit.source);
        lines.push(match &used.changed {
            None => {
                let value = own.map_or_else(String::new, |own| format!(" {own}"));
                format!("limit: {}{value} ({source})", used.name)
            }
            Some(changed) => policy_words::changed_limit(&used.name, changed, own, &source),
        });
    }
    lines.extend(result.settings.iter().map(|(setting, changed)| setting_words(*setting, changed)));
    lines.extend(policy_words::changed_level(result));
    lines
}

/// A number in the unit that the trade reads it in.
pub fn plain_number(number: &Num) -> String {
    let (unit, digits) = match number.dim {
        Dim::LENGTH => ("mm", 0),
        Dim::TEMPERATURE => ("degC", 1),
        Dim::PRESSURE => ("kPa", 1),
        Dim::MASS_FLOW => ("kg/s", 4),
        Dim::FREQUENCY => ("rpm", 0),
        Dim::FORCE => ("N", 1),
        Dim::TIME => ("ms", 0),
        Dim::AREA => ("mm2", 0),
        Dim::ONE => return format!("{:.3}", number.v),
        _ => return format!("{:.4} {}", number.v, number.dim),
    };
    format_in(number.v, number.dim, unit, digits).unwrap_or_else(|| format!("{:.4} {}", number.v, number.dim))
}

pub(super) fn plural(count: usize, one: &str, many: &str) -> String {
    if count == 1 { format!("1 {one}") } else { format!("{count} {many}") }
}

/// What came of it all: the count that adds up, what was not asked, what is missing.
fn summary(out: &mut String, reviewed: &Reviewed, style: Style) {
    let review = &reviewed.review;
    let title = reviewed.title.as_ref().map_or(String::new(), |title| format!(" ({})", one_line(title)));
    let mut paragraphs = vec![format!("{}{title}", one_line(&reviewed.path)), headline(reviewed)];
    paragraphs.push(tally_words(&review.tally));
    paragraphs.extend(policy_words::accepted(&review.results));
    paragraphs.extend(policy_words::switched_off(&review.switched_off));
    paragraphs.extend(policy_words::told_briefly(&review.notices));
    if !review.unasked.is_empty() {
        paragraphs.push(unasked_words(&review.unasked));
    }
    let open = open_groups(&review.results);
    if !open.is_empty() {
        paragraphs.push("Undecided:".to_owned());
        paragraphs.extend(open);
    }
    if !review.asking.is_empty() {
        paragraphs.push("To measure or write down next, the most useful first:".to_owned());
        let shown = review.asking.iter().take(8).map(|asked| {
            let settles = match (asked.settles, asked.helps) {
                (0, helps) => format!("helps to settle {}", plural(helps, "result", "results")),
                (settles, helps) if settles == helps => {
                    format!("settles {}", plural(settles, "result", "results"))
                }
                (settles, helps) => {
                    format!(
                        "settles {} and helps with {}",
                        plural(settles, "result", "results"),
                        helps - settles
                    )
                }
            };
            format!("  {}: {settles}", one_line(&asked.field.to_string()))
        });
        paragraphs.extend(shown);
        if review.asking.len() > 8 {
            paragraphs.push(format!("  and {} more", review.asking.len() - 8));
        }
    }
    let defaults = defaults(&review.results);
    if !defaults.is_empty() {
        paragraphs.push("Taken for what is not given:".to_owned());
        paragraphs.extend(defaults.iter().map(|(words, fields)| {
            let fields: Vec<_> = fields.iter().map(|route| one_line(&route.to_string())).collect();
            format!("  {} ({})", one_line(words), fields.join(", "))
        }));
    }
    if !review.unread.is_empty() {
        let list: Vec<_> = review.unread.iter().map(|route| one_line(&route.to_string())).collect();
        paragraphs.push(format!("Kept, but not read yet by this version: {}", list.join(", ")));
    }
    for paragraph in paragraphs {
        wrap(out, &paragraph, style.width);
    }
}

/// Rules without anything to look at, by what is not described.
fn unasked_words(unasked: &[Unasked]) -> String {
    let mut groups: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
    for one in unasked {
        groups.entry(one.for_each.word()).or_default().push(&one.rule);
    }
    let each: Vec<_> =
        groups.iter().map(|(word, rules)| format!("no {word} for {}", rules.join(", "))).collect();
    let count = plural(unasked.len(), "rule found", "rules found");
    format!("{count} nothing to look at: {}", each.join("; "))
}

fn headline(reviewed: &Reviewed) -> String {
    let review = &reviewed.review;
    let count = |level: Level| {
        review.results.iter().filter(|result| result.speaks() && result.rule.level == level).count()
    };
    let mut parts = Vec::new();
    for (level, one, many) in [
        (Level::Error, "error", "errors"),
        (Level::Warning, "warning", "warnings"),
        (Level::Note, "note", "notes"),
    ] {
        if count(level) > 0 {
            parts.push(plural(count(level), one, many));
        }
    }
    if review.tally.review > review.tally.judged {
        parts.push(format!("{} for a person to judge", review.tally.review - review.tally.judged));
    }
    if review.tally.accepted > 0 {
        parts.push(plural(review.tally.accepted, "accepted finding", "accepted findings"));
    }
    if !review.faults.is_empty() {
        parts.push(format!("{} in the text itself", plural(review.faults.len(), "fault", "faults")));
    }
    let undecided = match review.tally.open {
        0 => String::new(),
        1 => "; 1 result is undecided".to_owned(),
        count => format!("; {count} results are undecided"),
    };
    if parts.is_empty() {
        format!("No finding{undecided}.")
    } else {
        format!("{}{undecided}.", parts.join(", "))
    }
}

fn tally_words(tally: &Tally) -> String {
    let accepted = |count: usize| if count == 0 { String::new() } else { format!(" ({count} accepted)") };
    format!(
        "{} = {} passed + {}{} + {} undecided + {} + {} to be judged{} + {} silenced",
        plural(tally.results, "result", "results"),
        tally.pass,
        plural(tally.fail, "finding", "findings"),
        accepted(tally.accepted),
        tally.open,
        if tally.not_applicable == 1 {
            "1 does not apply".to_owned()
        } else {
            format!("{} do not apply", tally.not_applicable)
        },
        tally.review,
        accepted(tally.judged),
        tally.silenced
    )
}

/// The defaults that any result rests on: the words, with the fields they stand in for.
fn defaults(results: &[RuleResult]) -> BTreeMap<String, Vec<Route>> {
    let mut all: BTreeMap<String, Vec<Route>> = BTreeMap::new();
    for (field, words) in results.iter().flat_map(|result| &result.defaults) {
        let fields = all.entry(words.to_string()).or_default();
        if !fields.contains(field) {
            fields.push(field.clone());
        }
    }
    all
}

/// Open results, those of one rule that wait for the same things in one line.
fn open_groups(results: &[RuleResult]) -> Vec<String> {
    let mut groups: Vec<(&str, String, Vec<String>)> = Vec::new();
    for result in results.iter().filter(|result| result.verdict() == Verdict::Open) {
        let lacks = lacking_words(result) + &known_so_far(result);
        let name = one_line(&result.subject.name);
        match groups.iter_mut().find(|(rule, words, _)| *rule == &*result.rule.id && *words == lacks) {
            Some((_, _, names)) => names.push(name),
            None => groups.push((&result.rule.id, lacks, vec![name])),
        }
    }
    groups
        .into_iter()
        .map(|(rule, lacks, names)| format!("  {rule} of {}: {lacks}", names.join(", ")))
        .collect()
}

/// What an open result can tell all the same.
fn known_so_far(result: &RuleResult) -> String {
    let known: Vec<_> =
        result.marks.iter().filter(|mark| mark.known).map(|mark| one_line(&mark.says)).collect();
    if known.is_empty() { String::new() } else { format!("; known so far: {}", known.join("; ")) }
}

pub(super) fn lacking_words(result: &RuleResult) -> String {
    let missing = &result.missing;
    let mut parts: Vec<String> = Vec::new();
    let fields: Vec<_> = missing.fields.iter().map(|route| one_line(&route.to_string())).collect();
    if !fields.is_empty() {
        parts.push(format!("needs {}", fields.join(", ")));
    }
    if !missing.not_built.is_empty() {
        let facts: Vec<_> = missing.not_built.iter().copied().collect();
        parts.push(format!(
            "waits for a computation that this version does not have yet ({})",
            facts.join(", ")
        ));
    }
    parts.extend(missing.hindrances.iter().map(|words| one_line(words)));
    parts.join("; ")
}

/// Wraps a paragraph to the width, later lines under the first one's text.
pub fn wrap(out: &mut String, paragraph: &str, width: usize) {
    let indent = paragraph.len() - paragraph.trim_start().len();
    let mut column = 0;
    for word in paragraph.split_whitespace() {
        let length = word.chars().count();
        if column > 0 && column + 1 + length > width.max(20) {
            out.push('\n');
            column = 0;
        }
        if column == 0 {
            out.push_str(&" ".repeat(indent));
            column = indent;
        } else {
            out.push(' ');
            column += 1;
        }
        out.push_str(word);
        column += length;
    }
    out.push('\n');
}
