//! The derivation of a number: from a fact down to fields, settings, equations and sources.

use std::collections::BTreeSet;
use std::rc::Rc;
use std::sync::Arc;

use crate::facts::{Companion, Scope, Sites, Trail, equation, find};
use crate::known::{Datum, Known, Missing, Num, Overridden, Read, Reads, Setting};
use crate::text::{Mark, Node, Part, Route, find as find_node, mark};
use crate::tract::{Subject, SubjectKind};

/// A setting that was read.
#[derive(Clone, Debug)]
pub struct UsedSetting {
    /// Which.
    pub setting: Setting,
    /// Its value.
    pub value: Num,
    /// Who changed it, where it is not the program's own.
    pub changed: Option<Overridden>,
}

/// One step of a derivation.
#[derive(Clone, Debug)]
pub struct Trace {
    /// Whose quantity it is ("relief", "build").
    pub subject: Arc<str>,
    /// The quantity.
    pub fact: Arc<str>,
    /// Its value; none for a solve that other steps look at.
    pub value: Option<Known<Datum>>,
    /// How it is computed.
    pub how: &'static str,
    /// Where that comes from.
    pub source: &'static str,
    /// Fields that were read and are given: route, text as written, place.
    pub fields: Vec<(Route, String, Mark)>,
    /// Tables that were read, each with its entries in a line.
    pub tables: Vec<(Route, String, Mark)>,
    /// Settings that were read.
    pub settings: Vec<UsedSetting>,
    /// Defaults that stood in.
    pub defaults: Vec<(Route, Arc<str>)>,
    /// What it lacks, where it is known between bounds only.
    pub lacks: Missing,
    /// The quantities it was computed from; one that was shown above is named alone.
    pub below: Vec<Trace>,
    /// Whether it was shown in full before.
    pub shown_above: bool,
}

/// The derivations of a fact, of every subject that has it.
pub fn trace(scope: &Scope<'_>, fact: &str) -> Vec<Trace> {
    let mut traces = Vec::new();
    let mut seen = BTreeSet::new();
    for kind in SubjectKind::ALL {
        let own = find(*kind, fact).filter(|(row, _)| row.on.contains(kind));
        let Some((row, companion)) = own else { continue };
        let name = if companion == Companion::Itself { fact } else { row.name };
        for subject in scope.tract().subjects(*kind) {
            traces.extend(trace_of(scope, &subject, name, &mut seen));
        }
    }
    traces
}

/// Steps that were shown, by subject and fact.
pub type Seen = BTreeSet<(Arc<str>, Arc<str>)>;

/// The derivation of a fact of one subject, after those that were shown already.
pub fn trace_of(scope: &Scope<'_>, subject: &Subject, fact: &str, seen: &mut Seen) -> Vec<Trace> {
    let (_, trail) = scope.recorded(|| scope.fact(subject, fact, Sites::All));
    let steps = trail.facts.iter();
    steps
        .map(|step| step_down(scope, &step.subject, &step.fact, step.value.clone(), &step.trail, seen))
        .collect()
}

fn step_down(
    scope: &Scope<'_>,
    subject: &Arc<str>,
    fact: &Arc<str>,
    value: Option<Known<Datum>>,
    trail: &Rc<Trail>,
    seen: &mut Seen,
) -> Trace {
    let build = scope.build();
    let equation = equation(fact);
    let mut step = Trace {
        subject: subject.clone(),
        fact: fact.clone(),
        value,
        how: equation.map_or("", |equation| equation.how),
        source: equation.map_or("", |equation| equation.source),
        fields: Vec::new(),
        tables: Vec::new(),
        settings: Vec::new(),
        defaults: Vec::new(),
        lacks: Missing::default(),
        below: Vec::new(),
        shown_above: !seen.insert((subject.clone(), fact.clone())),
    };
    if step.shown_above {
        return step;
    }
    for read in &trail.reads {
        match read {
            Read::Field(route) => {
                let Some(found) = find_node(&build.root, route) else { continue };
                let place = || mark(&build.root, route, Part::Value);
                if let Some(written) = found.node.as_text() {
                    step.fields.push((route.clone(), written.to_owned(), place()));
                } else if let Some(entries) = entries(found.node) {
                    step.tables.push((route.clone(), entries, place()));
                }
            }
            Read::Setting(setting) => step.settings.push(UsedSetting {
                setting: *setting,
                value: scope.setting(*setting),
                changed: build.settings.get(setting).cloned(),
            }),
            Read::Default { field, words } => step.defaults.push((field.clone(), words.clone())),
            Read::Lacking(missing) => step.lacks = step.lacks.clone().join(missing.clone()),
        }
    }
    step.below = trail
        .facts
        .iter()
        .map(|below| step_down(scope, &below.subject, &below.fact, below.value.clone(), &below.trail, seen))
        .collect();
    step
}

/// The entries of a table of numbers in a line; of nothing else.
fn entries(node: &Node) -> Option<String> {
    let entries = node.as_map()?.iter().map(|entry| {
        let begins = entry.key.text.starts_with(|first: char| first.is_ascii_digit());
        begins.then_some(format!("{} at {}", entry.value.as_text()?, entry.key.text))
    });
    entries.collect::<Option<Vec<_>>>().map(|entries| entries.join(", "))
}
