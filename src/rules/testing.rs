//! A small vocabulary and made-up values, for the tests of this room.

use std::collections::BTreeMap;

use super::expression::Names;
use super::vocabulary::{Override, Values, Vocabulary, Whose};
use crate::known::{Datum, Decider, Kind, Known, Missing, Num};
use crate::text::{Dim, Route};
use crate::tract::SubjectKind;

/// Facts by what they are on; a part's are those of every kind of part.
pub(super) const FACTS: &[(SubjectKind, &str, Kind)] = &[
    (SubjectKind::Part, "in_tract", Kind::Bool),
    (SubjectKind::Part, "attached", Kind::Bool),
    (SubjectKind::ReliefValve, "purpose", Kind::Word),
    (SubjectKind::ReliefValve, "actuation", Kind::Word),
    (SubjectKind::ReliefValve, "distance_from_compressor_outlet", Kind::Number(Dim::LENGTH)),
    (SubjectKind::ReliefValve, "host_bore", Kind::Number(Dim::LENGTH)),
    (SubjectKind::ReliefValve, "vent_share", Kind::Number(Dim::ONE)),
    (SubjectKind::ReliefValve, "air_meter_ahead_of_tap", Kind::Bool),
    (SubjectKind::ReliefValve, "signal_region", Kind::Word),
    (SubjectKind::ReliefValve, "signal_connected", Kind::Bool),
    (SubjectKind::ReliefValve, "return_upstream_of_air_meter", Kind::Bool),
    (SubjectKind::Compressor, "has_surge_line", Kind::Bool),
    (SubjectKind::Compressor, "surge_margin_flow_min", Kind::Number(Dim::ONE)),
    (SubjectKind::Compressor, "surge_margin_flow_min_speed", Kind::Number(Dim::FREQUENCY)),
    (SubjectKind::Compressor, "surge_margin_flow_min_site", Kind::Word),
    (SubjectKind::Compressor, "surge_point_flow", Kind::Number(Dim::MASS_FLOW)),
    (SubjectKind::Compressor, "surge_point_ratio", Kind::Number(Dim::ONE)),
    (SubjectKind::Compressor, "surge_point_surge_flow", Kind::Number(Dim::MASS_FLOW)),
    (SubjectKind::Compressor, "throttle_downstream", Kind::Bool),
    (SubjectKind::Compressor, "relief_before_throttle", Kind::Bool),
    (SubjectKind::Compressor, "tip_out_surge_cycles", Kind::Number(Dim::ONE)),
    (SubjectKind::Consumer, "sees_boost", Kind::Bool),
    (SubjectKind::Consumer, "passes_backwards", Kind::Bool),
    (SubjectKind::Build, "manifold_temperature_max", Kind::Number(Dim::TEMPERATURE)),
    (SubjectKind::Build, "fuel", Kind::Word),
    (SubjectKind::Build, "use", Kind::Word),
];

const LINKS: &[(SubjectKind, &str)] = &[
    (SubjectKind::ReliefValve, "host"),
    (SubjectKind::ReliefValve, "signal-hose"),
    (SubjectKind::ReliefValve, "signal-source"),
    (SubjectKind::Consumer, "hose"),
    (SubjectKind::Build, "last-cooler"),
];

const SETTING: &str = "light_boost";

/// The first step of what may stand below a subject or a link.
const BELOW: &[&str] =
    &["tap", "discharge", "boost", "engine", "use", "air-path", "hoses", "from", "effectiveness"];

pub(super) struct Fake;

impl Vocabulary for Fake {
    fn fact(&self, on: SubjectKind, name: &str) -> Option<Kind> {
        let mut all = FACTS.iter();
        all.find(|(kind, fact, _)| on.lineage().contains(kind) && *fact == name).map(|(_, _, kind)| *kind)
    }

    fn facts(&self, on: SubjectKind) -> Vec<&'static str> {
        FACTS.iter().filter(|(kind, _, _)| on.lineage().contains(kind)).map(|(_, fact, _)| *fact).collect()
    }

    fn setting(&self, name: &str) -> Option<Kind> {
        (name == SETTING).then_some(Kind::Number(Dim::PRESSURE))
    }

    fn settings(&self) -> Vec<&'static str> {
        vec![SETTING]
    }

    fn link(&self, on: SubjectKind, name: &str) -> bool {
        LINKS.contains(&(on, name))
    }

    fn links(&self, on: SubjectKind) -> Vec<&'static str> {
        LINKS.iter().filter(|(kind, _)| *kind == on).map(|(_, link)| *link).collect()
    }

    fn route_ok(&self, _: SubjectKind, _: Option<&str>, below: &Route) -> bool {
        let first = below.steps().iter().find_map(|step| match step {
            crate::text::Step::Key(key) => Some(&**key),
            crate::text::Step::Index(_) => None,
        });
        first.is_some_and(|first| BELOW.contains(&first))
    }

    fn route_dim(&self, _: SubjectKind, _: Option<&str>, below: &Route) -> Option<Dim> {
        match below.last_key()? {
            "at" => Some(Dim::LENGTH),
            "effectiveness" => Some(Dim::ONE),
            _ => None,
        }
    }
}

/// Names of a relief valve, with one limit of each kind.
pub(super) fn names() -> Names<'static> {
    Names {
        vocabulary: &Fake,
        for_each: SubjectKind::ReliefValve,
        limits: &[("clear-length", Some(Dim::ONE)), ("lag", Some(Dim::TIME))],
        bare: &[],
    }
}

/// Facts with values; any other is open for want of a field of its name.
#[derive(Default)]
pub(super) struct Made {
    facts: BTreeMap<String, Known<Datum>>,
    overrides: BTreeMap<String, Num>,
}

impl Made {
    pub(super) fn with(mut self, fact: &str, value: Known<Datum>) -> Self {
        self.facts.insert(fact.to_owned(), value);
        self
    }

    pub(super) fn number(self, fact: &str, v: f64, dim: Dim) -> Self {
        self.with(fact, Known::Is(Datum::Number(Num::new(v, dim))))
    }

    pub(super) fn between(self, fact: &str, low: f64, high: f64, dim: Dim) -> Self {
        let bound = |v| Datum::Number(Num::new(v, dim));
        self.with(fact, Known::Between(bound(low), bound(high)))
    }

    pub(super) fn word(self, fact: &str, word: &str) -> Self {
        self.with(fact, Known::Is(Datum::word(word)))
    }

    pub(super) fn is(self, fact: &str, truth: bool) -> Self {
        self.with(fact, Known::Is(Datum::Bool(truth)))
    }

    pub(super) fn never(self, fact: &str) -> Self {
        self.with(fact, Known::not_applicable("never"))
    }

    pub(super) fn limit(mut self, limit: &str, num: Num) -> Self {
        self.overrides.insert(limit.to_owned(), num);
        self
    }
}

impl Values for Made {
    fn fact(&self, _: Whose, name: &str) -> Known<Datum> {
        let missing = || Known::Open(Missing::field(&Route::root().key(name)));
        self.facts.get(name).cloned().unwrap_or_else(missing)
    }

    fn setting(&self, name: &str) -> Known<Datum> {
        Known::Open(Missing::hindrance(name))
    }

    fn limit_override(&self, limit: &str) -> Option<Override> {
        let num = self.overrides.get(limit)?.clone();
        Some(Override { num, written: "as made".into(), by: Decider::House, because: "a test".into() })
    }
}
