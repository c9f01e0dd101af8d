//! Findings for a person at a terminal: the frame is drawn by the diagnostics library, the words are ours.

use std::fmt::{self, Write as _};

use miette::{
    Diagnostic, GraphicalReportHandler, GraphicalTheme, LabeledSpan, NamedSource, Severity, SourceCode, SourceSpan,
};

use super::Reviewed;
use super::safe_text::{one_line, visible};
use crate::known::{Datum, Known, Num};
use crate::review::{FoundCure, PlacedMark, RuleResult, Tally, Verdict};
use crate::rules::Level;
use crate::text::{Fault, FileId, Sources, Span, format_in};

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
    source: NamedSource<String>,
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

/// The whole review of one build as text.
pub fn review(reviewed: &Reviewed, style: Style) -> String {
    let mut out = String::new();
    let handler = handler(style);
    for fault in &reviewed.review.faults {
        draw(&mut out, &handler, &drawn_fault(fault, &reviewed.sources));
    }
    let of = |verdict: Verdict| reviewed.review.results.iter().filter(move |result| result.verdict() == verdict);
    for result in of(Verdict::Fail).chain(of(Verdict::Review)) {
        draw(&mut out, &handler, &drawn_result(result, reviewed));
    }
    summary(&mut out, reviewed, style);
    out
}

/// Faults of texts that are no builds, such as rule files.
pub fn faults(faults: &[Fault], sources: &Sources, style: Style) -> String {
    let mut out = String::new();
    let handler = handler(style);
    for fault in faults {
        draw(&mut out, &handler, &drawn_fault(fault, sources));
    }
    out
}

fn handler(style: Style) -> GraphicalReportHandler {
    let theme = if style.colour { GraphicalTheme::unicode() } else { GraphicalTheme::unicode_nocolor() };
    GraphicalReportHandler::new_themed(theme).with_width(style.width).with_links(false).with_context_lines(0)
}

fn draw(out: &mut String, handler: &GraphicalReportHandler, drawn: &Drawn) {
    // Writing to a string cannot fail; a frame that cannot be drawn still leaves its message.
    if handler.render_report(out, drawn).is_err() {
        out.push_str(&drawn.message);
    }
    out.push('\n');
}

fn source(file: FileId, sources: &Sources) -> NamedSource<String> {
    let source = sources.get(file);
    NamedSource::new(one_line(source.name()), visible(source.text()))
}

fn label(span: Span, says: &str, main: bool) -> LabeledSpan {
    let place = SourceSpan::new(span.start.into(), span.end - span.start);
    let says = Some(one_line(says));
    if main { LabeledSpan::new_primary_with_span(says, place) } else { LabeledSpan::new_with_span(says, place) }
}

fn drawn_fault(fault: &Fault, sources: &Sources) -> Drawn {
    let mut labels = vec![label(fault.span, "here", true)];
    let mut notes: Vec<String> = fault.help.iter().map(|help| one_line(help)).collect();
    for (span, says) in &fault.also {
        if span.file == fault.span.file {
            labels.push(label(*span, says, false));
        } else {
            notes.push(format!("{} at {}", one_line(says), place_words(*span, sources)));
        }
    }
    Drawn {
        code: fault.kind.word().to_owned(),
        message: one_line(&fault.message),
        severity: Severity::Error,
        labels,
        help: (!notes.is_empty()).then(|| notes.join("\n")),
        source: source(fault.span.file, sources),
    }
}

/// `file:line:column` of a place.
pub fn place_words(span: Span, sources: &Sources) -> String {
    let source = sources.get(span.file);
    let (line, column) = source.line_col(span.start);
    format!("{}:{line}:{column}", one_line(source.name()))
}

fn drawn_result(result: &RuleResult, reviewed: &Reviewed) -> Drawn {
    let severity = match (result.verdict(), result.rule.level) {
        (Verdict::Fail, Level::Error) => Severity::Error,
        (Verdict::Fail, Level::Warning) => Severity::Warning,
        _ => Severity::Advice,
    };
    let main_file = result.marks.first().map_or(FileId(0), |mark| mark.span.file);
    let mut labels = Vec::new();
    let mut elsewhere = Vec::new();
    for (i, mark) in result.marks.iter().enumerate() {
        let says = mark_words(mark);
        if mark.span.file == main_file {
            labels.push(label(mark.span, &says, i == 0));
        } else {
            elsewhere.push(format!("{}: {says}", place_words(mark.span, &reviewed.sources)));
        }
    }
    let mut lines = elsewhere;
    lines.extend(circumstances(result));
    lines.extend(result.cures.iter().map(cure_words));
    if result.cures.is_empty() {
        lines.extend(result.rule.advice.iter().map(|advice| format!("cure: {}", one_line(advice))));
    }
    lines.push(format!("why:  tractwright explain {}", result.rule.id));
    let kind = match result.verdict() {
        Verdict::Review => "for a person to judge: ",
        _ => "",
    };
    Drawn {
        code: result.rule.id.to_string(),
        message: format!("{kind}{} ({})", one_line(&result.rule.title), result.subject.name),
        severity,
        labels,
        help: Some(lines.join("\n")),
        source: source(main_file, &reviewed.sources),
    }
}

fn mark_words(mark: &PlacedMark) -> String {
    if mark.given { mark.says.clone() } else { format!("{} ({} is not given)", mark.says, mark.route) }
}

/// What a reader must know beside the number: the rule of thumb, the site, defaults, nearness to the limit.
fn circumstances(result: &RuleResult) -> Vec<String> {
    let mut lines = Vec::new();
    for comparison in &result.judgement.comparisons {
        if let Some(words) = comparison_words(comparison) {
            lines.push(words);
        }
    }
    if result.judgement.fallback_spoke {
        lines.push("a rule of thumb speaks here, as the computation cannot be made yet".to_owned());
    }
    if result.judgement.at_limit {
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
    for used in result.judgement.limits.iter().filter(|used| used.instead_of.is_some()) {
        lines.push(format!("the build itself changes the limit {}", used.name));
    }
    for (field, words) in &result.defaults {
        lines.push(format!("taken for {field}: {}", one_line(words)));
    }
    lines
}

/// "0.060 m, limit 0.306 m": the numbers of a comparison that speaks for the finding.
fn comparison_words(comparison: &crate::rules::Comparison) -> Option<String> {
    let (Known::Is(Datum::Number(left)), Known::Is(Datum::Number(right))) =
        (&comparison.left.value, &comparison.right.value)
    else {
        return None;
    };
    if comparison.truth != crate::known::Truth::Yes {
        return None;
    }
    Some(format!(
        "{} = {}, {} = {}",
        comparison.left.text,
        plain_number(left),
        comparison.right.text,
        plain_number(right)
    ))
}

/// A number in the unit that the trade reads it in.
pub fn plain_number(number: &Num) -> String {
    use crate::text::Dim;
    let (unit, digits) = match number.dim {
        Dim::LENGTH => ("mm", 0),
        Dim::TEMPERATURE => ("degC", 1),
        Dim::PRESSURE => ("kPa", 1),
        Dim::MASS_FLOW => ("kg/s", 4),
        Dim::FREQUENCY => ("rpm", 0),
        Dim::FORCE => ("N", 1),
        Dim::TIME => ("ms", 0),
        _ => ("1", 3),
    };
    format_in(number.v, number.dim, unit, digits)
        .map(|text| text.strip_suffix(" 1").map(str::to_owned).unwrap_or(text))
        .unwrap_or_else(|| format!("{:.4} {}", number.v, number.dim))
}

fn cure_words(cure: &FoundCure) -> String {
    let proof = match (cure.proof.passes, cure.proof.upsets.as_slice()) {
        (false, _) => "reviewed again: does not pass after all".to_owned(),
        (true, []) => "checked: passes, nothing else changes".to_owned(),
        (true, upsets) => {
            let each = upsets.iter().map(|upset| {
                let word = |verdict: Option<Verdict>| verdict.map_or("not asked", Verdict::word);
                format!("{} of {}: {} -> {}", upset.rule, upset.subject, word(upset.before), word(upset.after))
            });
            format!("checked: passes, but this changes too: {}", each.collect::<Vec<_>>().join(", "))
        }
    };
    format!("cure: {} ({}: {}; {proof})", one_line(&cure.says), cure.route, cure.written)
}

fn plural(count: usize, one: &str, many: &str) -> String {
    if count == 1 { format!("1 {one}") } else { format!("{count} {many}") }
}

/// What came of it all: the count that adds up, what was not asked, what is missing.
fn summary(out: &mut String, reviewed: &Reviewed, style: Style) {
    let review = &reviewed.review;
    let title = reviewed.title.as_ref().map_or(String::new(), |title| format!(" ({})", one_line(title)));
    let mut paragraphs = vec![format!("{}{title}", one_line(&reviewed.path)), headline(reviewed)];
    paragraphs.push(tally_words(&review.tally));
    if !review.unasked.is_empty() {
        let list: Vec<_> =
            review.unasked.iter().map(|unasked| format!("{} (no {})", unasked.rule, unasked.for_each.word())).collect();
        let count = plural(review.unasked.len(), "rule found", "rules found");
        paragraphs.push(format!("{count} nothing to look at: {}", list.join(", ")));
    }
    let open: Vec<_> = review.results.iter().filter(|result| result.verdict() == Verdict::Open).collect();
    if !open.is_empty() {
        paragraphs.push("Undecided:".to_owned());
        paragraphs.extend(open.iter().map(|result| format!("  {}", open_words(result))));
    }
    if !review.asking.is_empty() {
        paragraphs.push("To measure or write down next, the most useful first:".to_owned());
        let shown = review.asking.iter().take(8).map(|asked| {
            let settles = match (asked.settles, asked.helps) {
                (0, helps) => format!("helps to settle {}", plural(helps, "result", "results")),
                (settles, helps) if settles == helps => format!("settles {}", plural(settles, "result", "results")),
                (settles, helps) => {
                    format!("settles {} and helps with {}", plural(settles, "result", "results"), helps - settles)
                }
            };
            format!("  {}: {settles}", one_line(&asked.field.to_string()))
        });
        paragraphs.extend(shown);
        if review.asking.len() > 8 {
            paragraphs.push(format!("  and {} more", review.asking.len() - 8));
        }
    }
    if !review.unread.is_empty() {
        let list: Vec<_> = review.unread.iter().map(|route| one_line(&route.to_string())).collect();
        paragraphs.push(format!("Kept, but not read yet by this version: {}", list.join(", ")));
    }
    for paragraph in paragraphs {
        wrap(out, &paragraph, style.width);
    }
}

fn headline(reviewed: &Reviewed) -> String {
    let review = &reviewed.review;
    let count = |level: Level| {
        review.results.iter().filter(|r| r.verdict() == Verdict::Fail && r.rule.level == level).count()
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
    if review.tally.review > 0 {
        parts.push(format!("{} for a person to judge", review.tally.review));
    }
    if !review.faults.is_empty() {
        parts.push(format!("{} in the text itself", plural(review.faults.len(), "fault", "faults")));
    }
    if parts.is_empty() { "No finding.".to_owned() } else { format!("{}.", parts.join(", ")) }
}

fn tally_words(tally: &Tally) -> String {
    format!(
        "{} = {} passed + {} + {} undecided + {} + {} to be judged + {} silenced",
        plural(tally.results, "result", "results"),
        tally.pass,
        plural(tally.fail, "finding", "findings"),
        tally.open,
        if tally.not_applicable == 1 { "1 does not apply".to_owned() } else { format!("{} do not apply", tally.not_applicable) },
        tally.review,
        tally.silenced
    )
}

fn open_words(result: &RuleResult) -> String {
    let missing = &result.missing;
    let mut parts: Vec<String> = Vec::new();
    let fields: Vec<_> = missing.fields.iter().map(|route| one_line(&route.to_string())).collect();
    if !fields.is_empty() {
        parts.push(format!("needs {}", fields.join(", ")));
    }
    if !missing.not_built.is_empty() {
        let facts: Vec<_> = missing.not_built.iter().copied().collect();
        parts.push(format!("waits for a computation that this version does not have yet ({})", facts.join(", ")));
    }
    parts.extend(missing.hindrances.iter().map(|words| one_line(words)));
    let mut words = String::new();
    let _ = write!(words, "{} of {}: ", result.rule.id, result.subject.name);
    words.push_str(&parts.join("; "));
    words
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
