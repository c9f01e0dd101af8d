//! The review as JSON: our own format, versioned in its first field, every number with its unit.

mod entries;

use schemars::Schema;

use super::Reviewed;
use crate::known::{At, Datum, Decider, Known, Num, Overridden, Setting};
use crate::review::{Asked, FoundCure, FoundNumber, Notice, PlacedMark, RuleResult, Tally, Trace, Verdict};
use crate::rules::{Comparison, Outcome, Role, Side};
use crate::text::{Fault, Op, Sources, Span};
use entries::*;
pub use entries::{Document, NumberEntry};

/// The version of this format.
pub const FORMAT: &str = "tractwright-review-1";

/// A house file in which something is wrong.
pub struct FaultyHouse<'a> {
    /// Its path.
    pub path: &'a str,
    /// The faults, each with the texts that their places point into.
    pub faults: Vec<(&'a [Fault], &'a Sources)>,
}

/// All reviews as one document, ending in a line end.
pub fn document(reviewed: &[Reviewed], other_files: usize, houses: &[FaultyHouse<'_>]) -> String {
    let document = Document {
        format: FORMAT,
        program: env!("CARGO_PKG_VERSION"),
        builds: reviewed.iter().map(build_entry).collect(),
        other_files,
        houses: houses
            .iter()
            .map(|house| HouseEntry {
                file: house.path.to_owned(),
                faults: house
                    .faults
                    .iter()
                    .flat_map(|(faults, sources)| faults.iter().map(|fault| fault_entry(fault, sources)))
                    .collect(),
            })
            .collect(),
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
        switched_off: review
            .switched_off
            .iter()
            .map(|one| SwitchedOffEntry {
                rule: one.rule.to_string(),
                because: one.because.as_ref().map(ToString::to_string),
            })
            .collect(),
        notices: review.notices.iter().map(|notice| notice_entry(notice, sources)).collect(),
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
            .map(|used| setting_entry(used.setting, &used.value, used.changed.as_ref()))
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

fn setting_entry(setting: Setting, value: &Num, changed: Option<&Overridden>) -> SettingEntry {
    SettingEntry {
        name: setting.row().name,
        value: number(value),
        source: setting.row().source,
        decided_by: changed.map_or(Decider::Rule, |changed| changed.by).word(),
        because: changed.map(|changed| changed.because.to_string()),
    }
}

fn notice_entry(notice: &Notice, sources: &Sources) -> NoticeEntry {
    NoticeEntry {
        kind: notice.kind.word(),
        level: "note",
        message: notice.message.clone(),
        place: place(notice.span, sources),
        hides: notice
            .hides
            .iter()
            .map(|hidden| HiddenEntry {
                rule: hidden.rule.to_string(),
                subject_route: hidden.subject.to_string(),
                kind: hidden.was.word(),
            })
            .collect(),
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

pub(super) fn si_number(value: f64, dim: crate::text::Dim) -> NumberEntry {
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
        level_decided_by: result.level_change.as_ref().map_or(Decider::Rule, |_| Decider::House).word(),
        own_level: result.level_change.as_ref().map_or(result.rule.level, |changed| changed.own).word(),
        accepted: result.accepted.as_ref().map(|accepted| AcceptedEntry {
            because: accepted.because.to_string(),
            by: accepted.by.to_string(),
            until: accepted.until.as_ref().map(ToString::to_string),
        }),
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
                decided_by: used.changed.as_ref().map_or(Decider::Rule, |changed| changed.by).word(),
                because: used.changed.as_ref().map(|changed| changed.because.to_string()),
            })
            .collect(),
        settings: result
            .settings
            .iter()
            .map(|(setting, changed)| setting_entry(*setting, &changed.value, Some(changed)))
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
    let number = cure.number.as_ref();
    let si = |number: &FoundNumber, si: f64| si_number(si, number.measure.dim());
    let ends = |number: &FoundNumber| {
        let ends =
            number.passing.iter().map(|interval| [si(number, interval.low), si(number, interval.high)]);
        ends.collect()
    };
    let set = |op: &Op| match op {
        Op::Set(route, node) => {
            Some(ChangeEntry { field: route.to_string(), to: node.as_text().unwrap_or_default().to_owned() })
        }
        Op::Remove(_) => None,
    };
    CureEntry {
        field: cure.route.to_string(),
        to: cure.written.clone(),
        value: number.map(|number| si(number, number.to)),
        now: number.and_then(|number| Some(si(number, number.now?))),
        passing: number.map(ends).unwrap_or_default(),
        changes: cure.change.0.iter().filter_map(set).collect(),
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
                worse: upset.is_worse(),
            })
            .collect(),
    }
}

fn tally_entry(tally: &Tally) -> TallyEntry {
    TallyEntry {
        results: tally.results,
        fail: tally.fail,
        accepted: tally.accepted,
        review: tally.review,
        judged: tally.judged,
        pass: tally.pass,
        open: tally.open,
        not_applicable: tally.not_applicable,
        silenced: tally.silenced,
        rules_without_subject: tally.rules_without_subject,
        rules_switched_off: tally.rules_switched_off,
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
