//! What rules may name: the registry of facts, the settings, the links, and the shapes of the description.

use crate::build::describe::{Described, Shape};
use crate::build::hoses::{HoseFields, JointFields};
use crate::build::parts::{Discharge, PartKind, Tap, part_shape};
use crate::build::{Measurement, Top};
use crate::facts::{self, LINKS, Target};
use crate::known::{Kind, SETTINGS, Setting};
use crate::rules::Vocabulary;
use crate::text::{Dim, Route, Step};
use crate::tract::SubjectKind;

/// The vocabulary of builds.
#[derive(Clone, Copy, Debug, Default)]
pub struct BuildVocabulary;

impl Vocabulary for BuildVocabulary {
    fn fact(&self, on: SubjectKind, name: &str) -> Option<Kind> {
        facts::find(on, name).map(|(row, companion)| facts::kind(row, companion))
    }

    fn facts(&self, on: SubjectKind) -> Vec<&'static str> {
        facts::names(on)
    }

    fn setting(&self, name: &str) -> Option<Kind> {
        Setting::named(&name.replace('_', "-")).map(|row| Kind::Number(row.dim))
    }

    fn settings(&self) -> Vec<&'static str> {
        SETTINGS.iter().map(|row| row.name).collect()
    }

    fn link(&self, on: SubjectKind, name: &str) -> bool {
        LINKS.iter().any(|row| on.lineage().contains(&row.on) && row.name == name)
    }

    fn links(&self, on: SubjectKind) -> Vec<&'static str> {
        LINKS.iter().filter(|row| on.lineage().contains(&row.on)).map(|row| row.name).collect()
    }

    fn route_ok(&self, on: SubjectKind, link: Option<&str>, below: &Route) -> bool {
        shape(on, link, below).is_some()
    }

    fn route_dim(&self, on: SubjectKind, link: Option<&str>, below: &Route) -> Option<Dim> {
        shape(on, link, below)?.measure.map(|measure| measure.dim())
    }
}

/// The shape of a place below a subject, or below where its link leads.
fn shape(on: SubjectKind, link: Option<&str>, below: &Route) -> Option<Shape> {
    let steps = below.steps();
    if let Some(name) = link {
        let row = LINKS.iter().find(|row| on.lineage().contains(&row.on) && row.name == name)?;
        return match row.target {
            Target::PathPart => of_parts(&|kind| kind.on_path(), steps),
            Target::Kind(wanted) => of_parts(&|kind| kind == wanted, steps),
            Target::Hose => HoseFields::shape(steps, None),
            Target::Port => Discharge::shape(steps, None),
            Target::HoseEnd | Target::Place => steps.is_empty().then_some(Shape::OTHER),
        };
    }
    if let Some(kinds) = on.part_kinds() {
        return of_parts(&|kind| kinds.contains(&kind), steps);
    }
    let here = || steps.is_empty().then_some(Shape::OTHER);
    match on {
        SubjectKind::Build => of_build(steps),
        SubjectKind::Hose => HoseFields::shape(steps, None),
        SubjectKind::Joint => JointFields::shape(steps, None),
        SubjectKind::Tap => Tap::shape(steps, None).or_else(|| Discharge::shape(steps, None)),
        SubjectKind::Opening => here().or_else(|| Discharge::shape(steps, None)),
        SubjectKind::Measurement => Measurement::shape(steps, None),
        SubjectKind::Parallel | SubjectKind::Series => here(),
        _ => of_parts(&|_| true, steps),
    }
}

fn of_parts(wanted: &dyn Fn(PartKind) -> bool, steps: &[Step]) -> Option<Shape> {
    let common = [Step::Key("kind".into())];
    if steps.is_empty() || steps == common {
        return Some(Shape::OTHER);
    }
    PartKind::ALL.iter().filter(|kind| wanted(**kind)).find_map(|kind| part_shape(Some(*kind), steps))
}

fn of_build(steps: &[Step]) -> Option<Shape> {
    match steps.split_first() {
        Some((Step::Key(first), rest)) if &**first == "parts" => match rest.split_first() {
            None => Some(Shape::OTHER),
            Some((_, below)) => of_parts(&|_| true, below),
        },
        _ => Top::shape(steps, None),
    }
}
