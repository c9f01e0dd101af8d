//! The review as JSON: our own format, versioned in its first field, every number with its unit.

use schemars::{JsonSchema, Schema};
use serde::Serialize;

use super::Reviewed;
use crate::known::{At, Datum, Known, Num};
use crate::review::{Asked, FoundCure, PlacedMark, RuleResult, Tally, Trace, Verdict};
use crate::rules::{Comparison, Outcome, Role, Side};
use crate::text::{Fault, Sources, Span};

/// The version of this format.
pub const FORMAT: &str = "tractwright-review-1";

/// All that was reviewed in one run.
#[derive(Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct Document {
    /// Name and version of the format.
    format: &'static str,
    /// Version of the program.
    program: &'static str,
    /// One entry a build, in the order of their paths.
    builds: Vec<BuildEntry>,
    /// YAML files that were found and are no builds.
    other_files: usize,
}

#[derive(Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
struct BuildEntry {
    /// Path of the file.
    file: String,
    /// Title of the build, where it has one.
    title: Option<String>,
    /// What is wrong with the text itself.
    faults: Vec<FaultEntry>,
    /// All results.
    results: Vec<ResultEntry>,
    /// The count.
    tally: TallyEntry,
    /// What would settle the open results, the most useful first.
    asking: Vec<AskedEntry>,
    /// Rules that found nothing to look at.
    unasked: Vec<UnaskedEntry>,
    /// Places of the text that this version does not read yet.
    unread: Vec<String>,
    /// Derivations that were asked for.
    traces: Vec<TraceEntry>,
}

/// One step of a derivation.
#[derive(Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
struct TraceEntry {
    /// The quantity.
    fact: String,
    /// Whose it is.
    subject: String,
    /// Its value; absent for a solve that other steps look at.
    value: Option<ValueEntry>,
    /// How it is computed.
    how: &'static str,
    /// Where that comes from.
    source: &'static str,
    /// Fields that were read and are given.
    fields: Vec<FieldEntry>,
    /// Settings that were read.
    settings: Vec<SettingEntry>,
    /// Defaults that stood in.
    defaults: Vec<DefaultEntry>,
    /// Fields that would make it exact.
    lacks: Vec<String>,
    /// Whether it is shown in full further up, and here only named.
    shown_above: bool,
    /// What it was computed from.
    below: Vec<TraceEntry>,
}

#[derive(Serialize, JsonSchema)]
struct FieldEntry {
    /// Its route.
    route: String,
    /// As written.
    written: String,
    /// Where.
    place: PlaceEntry,
}

#[derive(Serialize, JsonSchema)]
struct SettingEntry {
    /// Its name.
    name: &'static str,
    /// Its value.
    value: NumberEntry,
    /// Where its default comes from.
    source: &'static str,
}

/// A place in a text.
#[derive(Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
struct PlaceEntry {
    /// The file.
    file: String,
    /// First line, from 1.
    line: usize,
    /// First column, from 1, in characters.
    column: usize,
    /// Last line.
    end_line: usize,
    /// Column behind the last character.
    end_column: usize,
}

#[derive(Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
struct FaultEntry {
    /// Its kind, a word.
    kind: &'static str,
    /// What is wrong.
    message: String,
    /// What to do.
    help: Option<String>,
    /// Where.
    place: PlaceEntry,
    /// Further places, each with what it has to do with it.
    also: Vec<AlsoEntry>,
}

#[derive(Serialize, JsonSchema)]
struct AlsoEntry {
    /// Where.
    place: PlaceEntry,
    /// What it has to do with it.
    says: String,
}

/// A number with its unit.
#[derive(Serialize, JsonSchema)]
struct NumberEntry {
    /// The value in that unit; absent where it has no bound.
    value: Option<f64>,
    /// The SI unit; `1` for a pure number.
    unit: String,
}

/// A value as far as it is known.
#[derive(Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
enum ValueEntry {
    /// A number.
    Number(NumberEntry),
    /// Yes or no.
    Bool(bool),
    /// A word.
    Word(String),
    /// A number between two bounds.
    Between(NumberEntry, NumberEntry),
    /// Not known.
    Unknown,
    /// Does not apply, with the reason.
    NotApplicable(String),
}

#[derive(Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
struct ResultEntry {
    /// The rule's id.
    rule: String,
    /// fail, review, pass, open, notApplicable or silenced.
    kind: &'static str,
    /// error, warning or note of a finding; none of anything else.
    level: &'static str,
    /// What the rule is about.
    title: String,
    /// What it was asked of: kind of subject.
    subject_kind: &'static str,
    /// Name of the subject.
    subject: String,
    /// Where the subject stands.
    subject_route: String,
    /// The place that the result is filed under.
    place: String,
    /// Marked places, the main one first.
    marks: Vec<MarkEntry>,
    /// The comparisons that were made.
    comparisons: Vec<ComparisonEntry>,
    /// The circumstances of the worst case.
    worst_at: Option<AtEntry>,
    /// Of a finding at another site: whether it passes at home.
    passes_at_home: Option<bool>,
    /// Whether a rule of thumb spoke because the computation could not.
    rule_of_thumb: bool,
    /// Whether it lies within the solver's own error of the limit.
    at_limit: bool,
    /// The limits that were read.
    limits: Vec<LimitEntry>,
    /// Defaults that stood in for absent fields.
    defaults: Vec<DefaultEntry>,
    /// What is missing, of an open result.
    missing: Option<MissingEntry>,
    /// Why the question does not arise.
    because: Option<String>,
    /// The rule that silences it.
    silenced_by: Option<String>,
    /// Cures that were found.
    cures: Vec<CureEntry>,
    /// Whether no cure was searched, as there are too many findings.
    cure_left_out: bool,
}

#[derive(Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
struct MarkEntry {
    /// The route that is meant.
    route: String,
    /// main or also.
    role: &'static str,
    /// Whether that route is written; else the nearest thing above it is marked.
    given: bool,
    /// What it says.
    says: String,
    /// Where it is.
    place: PlaceEntry,
    /// Where it is defined, when an alias brought it.
    defined_at: Option<PlaceEntry>,
}

#[derive(Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
struct ComparisonEntry {
    /// The left side as the rule writes it.
    left: String,
    /// What it came to.
    left_value: ValueEntry,
    /// How they are compared.
    relation: String,
    /// The right side.
    right: String,
    /// What it came to.
    right_value: ValueEntry,
}

#[derive(Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
struct AtEntry {
    /// Name of the site.
    site: String,
    /// Whether it is the build's own.
    home: bool,
    /// Engine speed.
    engine_speed: Option<NumberEntry>,
}

#[derive(Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
struct LimitEntry {
    /// Its name.
    name: String,
    /// Its value.
    value: ValueEntry,
    /// The key that picked it.
    key: Option<String>,
    /// The rule's own value, where the build has put another in its place.
    instead_of: Option<ValueEntry>,
    /// Where the limit comes from.
    source: String,
}

#[derive(Serialize, JsonSchema)]
struct DefaultEntry {
    /// The absent field.
    field: String,
    /// What stood in.
    says: String,
}

#[derive(Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
struct MissingEntry {
    /// Fields that would decide it.
    fields: Vec<String>,
    /// Facts that this version does not compute yet.
    not_built: Vec<&'static str>,
    /// What stands in the way otherwise.
    hindrances: Vec<String>,
}

#[derive(Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
struct CureEntry {
    /// The field.
    field: String,
    /// The value that is proposed, as it would be written.
    to: String,
    /// That value.
    value: NumberEntry,
    /// The value now.
    now: Option<NumberEntry>,
    /// All ranges that pass within the usual range.
    passing: Vec<[NumberEntry; 2]>,
    /// In words.
    says: String,
    /// Whether the changed build, reviewed again, passes.
    passes: bool,
    /// What else changes.
    changes_too: Vec<UpsetEntry>,
}

#[derive(Serialize, JsonSchema)]
struct UpsetEntry {
    /// The rule.
    rule: String,
    /// The subject's route.
    subject: String,
    /// What it came to before.
    before: Option<&'static str>,
    /// What it comes to then.
    after: Option<&'static str>,
}

#[derive(Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
struct TallyEntry {
    /// Rules times subjects; the sum of the six below.
    results: usize,
    /// Findings.
    fail: usize,
    /// For a person to judge.
    review: usize,
    /// Checked and right.
    pass: usize,
    /// Not decided.
    open: usize,
    /// The question does not arise.
    not_applicable: usize,
    /// Silenced by a graver finding.
    silenced: usize,
    /// Rules without anything to look at; not in the sum.
    rules_without_subject: usize,
}

#[derive(Serialize, JsonSchema)]
struct AskedEntry {
    /// The field.
    field: String,
    /// Results that it settles by itself.
    settles: usize,
    /// Results that it helps to settle.
    helps: usize,
    /// The rules that wait for it.
    rules: Vec<String>,
}

#[derive(Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
struct UnaskedEntry {
    /// The rule.
    rule: String,
    /// What it would be asked of.
    for_each: &'static str,
}

/// All reviews as one document, ending in a line end.
pub fn document(reviewed: &[Reviewed], other_files: usize) -> String {
    let document = Document {
        format: FORMAT,
        program: env!("CARGO_PKG_VERSION"),
        builds: reviewed.iter().map(build_entry).collect(),
        other_files,
    };
    // A value of plain strings, numbers and lists always serialises.
    let mut text = serde_json::to_string_pretty(&document).unwrap_or_default();
    text.push('\n');
    text
}

/// The JSON Schema of the document.
pub fn schema() -> Schema {
    schemars::generate::SchemaSettings::draft2020_12().into_generator().into_root_schema_for::<Document>()
}

fn build_entry(reviewed: &Reviewed) -> BuildEntry {
    let review = &reviewed.review;
    let sources = &reviewed.sources;
    BuildEntry {
        file: reviewed.path.clone(),
        title: reviewed.title.clone(),
        faults: review.faults.iter().map(|fault| fault_entry(fault, sources)).collect(),
        results: review.results.iter().map(|result| result_entry(result, sources)).collect(),
        tally: tally_entry(&review.tally),
        asking: review.asking.iter().map(asked_entry).collect(),
        unasked: review
            .unasked
            .iter()
            .map(|unasked| UnaskedEntry { rule: unasked.rule.to_string(), for_each: unasked.for_each.word() })
            .collect(),
        unread: review.unread.iter().map(ToString::to_string).collect(),
        traces: review.traces.iter().map(|trace| trace_entry(trace, sources)).collect(),
    }
}

fn trace_entry(trace: &Trace, sources: &Sources) -> TraceEntry {
    TraceEntry {
        fact: trace.fact.to_string(),
        subject: trace.subject.to_string(),
        value: trace.value.as_ref().map(value),
        how: trace.how,
        source: trace.source,
        fields: trace
            .fields
            .iter()
            .map(|(route, written, mark)| FieldEntry {
                route: route.to_string(),
                written: written.clone(),
                place: place(mark.span, sources),
            })
            .collect(),
        settings: trace
            .settings
            .iter()
            .map(|(setting, num)| SettingEntry {
                name: setting.row().name,
                value: number(num),
                source: setting.row().source,
            })
            .collect(),
        defaults: trace
            .defaults
            .iter()
            .map(|(field, says)| DefaultEntry { field: field.to_string(), says: says.to_string() })
            .collect(),
        lacks: trace.lacks.fields.iter().map(ToString::to_string).collect(),
        shown_above: trace.shown_above,
        below: trace.below.iter().map(|below| trace_entry(below, sources)).collect(),
    }
}

fn place(span: Span, sources: &Sources) -> PlaceEntry {
    let source = sources.get(span.file);
    let (line, column) = source.line_col(span.start);
    let (end_line, end_column) = source.line_col(span.end);
    PlaceEntry { file: source.name().to_owned(), line, column, end_line, end_column }
}

fn fault_entry(fault: &Fault, sources: &Sources) -> FaultEntry {
    FaultEntry {
        kind: fault.kind.word(),
        message: fault.message.clone(),
        help: fault.help.clone(),
        place: place(fault.span, sources),
        also: fault
            .also
            .iter()
            .map(|(span, says)| AlsoEntry { place: place(*span, sources), says: says.clone() })
            .collect(),
    }
}

fn number(num: &Num) -> NumberEntry {
    si_number(num.v, num.dim)
}

fn si_number(value: f64, dim: crate::text::Dim) -> NumberEntry {
    NumberEntry { value: value.is_finite().then_some(value), unit: dim.to_string() }
}

fn datum(datum: &Datum) -> ValueEntry {
    match datum {
        Datum::Number(num) => ValueEntry::Number(number(num)),
        Datum::Bool(answer) => ValueEntry::Bool(*answer),
        Datum::Word(word) => ValueEntry::Word(word.to_string()),
    }
}

fn value(known: &Known<Datum>) -> ValueEntry {
    match known {
        Known::Is(value) => datum(value),
        Known::Between(Datum::Number(low), Datum::Number(high)) => {
            ValueEntry::Between(number(low), number(high))
        }
        Known::Between(..) | Known::Open(_) => ValueEntry::Unknown,
        Known::NotApplicable(reason) => ValueEntry::NotApplicable(reason.to_string()),
    }
}

fn limit_value(known: &Known<Num>) -> ValueEntry {
    value(&known.clone().map(Datum::Number))
}

fn result_entry(result: &RuleResult, sources: &Sources) -> ResultEntry {
    let judgement = &result.judgement;
    let missing = &result.missing;
    ResultEntry {
        rule: result.rule.id.to_string(),
        kind: result.verdict().word(),
        level: result.level_word(),
        title: result.rule.title.to_string(),
        subject_kind: result.subject.kind.word(),
        subject: result.subject.name.to_string(),
        subject_route: result.subject.route.to_string(),
        place: result.main_route().to_string(),
        marks: result.marks.iter().map(|mark| mark_entry(mark, sources)).collect(),
        comparisons: judgement.comparisons.iter().map(comparison).collect(),
        worst_at: result.worst_at.as_ref().map(at_entry),
        passes_at_home: result.passes_at_home,
        rule_of_thumb: judgement.fallback_spoke,
        at_limit: judgement.at_limit,
        limits: judgement
            .limits
            .iter()
            .map(|used| LimitEntry {
                name: used.name.to_string(),
                value: limit_value(&used.value),
                key: used.key.as_ref().map(ToString::to_string),
                instead_of: used.instead_of.as_ref().map(limit_value),
                source: result
                    .rule
                    .limit(&used.name)
                    .map_or_else(String::new, |limit| limit.source.to_string()),
            })
            .collect(),
        defaults: result
            .defaults
            .iter()
            .map(|(field, says)| DefaultEntry { field: field.to_string(), says: says.to_string() })
            .collect(),
        missing: (result.verdict() == Verdict::Open).then(|| MissingEntry {
            fields: missing.fields.iter().map(ToString::to_string).collect(),
            not_built: missing.not_built.iter().copied().collect(),
            hindrances: missing.hindrances.iter().map(ToString::to_string).collect(),
        }),
        because: match &judgement.outcome {
            Outcome::NotApplicable(reason) => Some(reason.to_string()),
            _ => None,
        },
        silenced_by: result.silenced_by.as_ref().map(ToString::to_string),
        cures: result.cures.iter().map(cure_entry).collect(),
        cure_left_out: result.cure_left_out,
    }
}

fn mark_entry(mark: &PlacedMark, sources: &Sources) -> MarkEntry {
    MarkEntry {
        route: mark.route.to_string(),
        role: if mark.role == Role::Main { "main" } else { "also" },
        given: mark.given,
        says: mark.says.clone(),
        place: place(mark.span, sources),
        defined_at: mark.defined_at.map(|span| place(span, sources)),
    }
}

fn comparison(comparison: &Comparison) -> ComparisonEntry {
    let side = |side: &Side| (side.text.to_string(), value(&side.value));
    let (left, left_value) = side(&comparison.left);
    let (right, right_value) = side(&comparison.right);
    ComparisonEntry { left, left_value, relation: comparison.relation.sign().to_owned(), right, right_value }
}

fn at_entry(at: &At) -> AtEntry {
    AtEntry {
        site: at.site.to_string(),
        home: at.home,
        engine_speed: at.speed.map(|speed| NumberEntry {
            value: Some((speed * 60.0 * 1e6).round() / 1e6),
            unit: "rpm".to_owned(),
        }),
    }
}

fn cure_entry(cure: &FoundCure) -> CureEntry {
    let dim = cure.measure.dim();
    CureEntry {
        field: cure.route.to_string(),
        to: cure.written.clone(),
        value: si_number(cure.to, dim),
        now: cure.now.map(|now| si_number(now, dim)),
        passing: cure
            .passing
            .iter()
            .map(|interval| [si_number(interval.low, dim), si_number(interval.high, dim)])
            .collect(),
        says: cure.says.clone(),
        passes: cure.proof.passes,
        changes_too: cure
            .proof
            .upsets
            .iter()
            .map(|upset| UpsetEntry {
                rule: upset.rule.to_string(),
                subject: upset.subject.to_string(),
                before: upset.before.map(Verdict::word),
                after: upset.after.map(Verdict::word),
            })
            .collect(),
    }
}

fn tally_entry(tally: &Tally) -> TallyEntry {
    TallyEntry {
        results: tally.results,
        fail: tally.fail,
        review: tally.review,
        pass: tally.pass,
        open: tally.open,
        not_applicable: tally.not_applicable,
        silenced: tally.silenced,
        rules_without_subject: tally.rules_without_subject,
    }
}

fn asked_entry(asked: &Asked) -> AskedEntry {
    AskedEntry {
        field: asked.field.to_string(),
        settles: asked.settles,
        helps: asked.helps,
        rules: asked.rules.iter().map(ToString::to_string).collect(),
    }
}
