//! The one table of facts.

use std::collections::HashMap;
use std::sync::LazyLock;

use super::scope::Scope;
use super::{
    flow, graph, guards, heat, idle_leak, injection, joints, knock, machines, measured, placement, recovery,
    shared, signal_lag, sizing, soundness, statics, steady, strength, surroundings, tip_out, turbine,
    whistle,
};
use crate::known::{Datum, Kind, Known, Num};
use crate::text::Dim;
use crate::tract::{Subject, SubjectKind};

/// Groups of facts, by what it costs to know them.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Group {
    /// From the description and the tract's graph alone.
    Graph,
    /// From the steady operating points.
    Steady,
    /// From balances of forces and areas.
    Statics,
    /// From the run of a tip-out (throttle shut at boost).
    TipOut,
}

impl Group {
    /// Its word.
    pub fn word(self) -> &'static str {
        match self {
            Self::Graph => "graph",
            Self::Steady => "steady",
            Self::Statics => "statics",
            Self::TipOut => "tip-out",
        }
    }
}

/// Values over sites and points, each with its circumstances.
pub type Series = Vec<Known<Num>>;

/// How a fact over points becomes one value.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fold {
    /// The largest.
    Max,
    /// The smallest.
    Min,
}

/// How a fact is made.
#[derive(Clone, Copy)]
pub enum Make {
    /// From one function.
    Plain(fn(&Scope<'_>, &Subject) -> Known<Datum>),
    /// As the worst of a series over sites and points.
    Worst(Fold, fn(&Scope<'_>, &Subject) -> Series),
    /// It is registered, but its computation does not exist yet: it is open, and says so.
    NotBuilt,
}

/// One fact.
#[derive(Clone, Copy)]
pub struct Row {
    /// Its name in expressions.
    pub name: &'static str,
    /// Its kind.
    pub kind: Kind,
    /// What it means, and what it is computed from.
    pub meaning: &'static str,
    /// Its group.
    pub group: Group,
    /// What it is on.
    pub on: &'static [SubjectKind],
    /// How it is made.
    pub make: Make,
}

/// What a name asks of a row: its value, or the circumstances of its worst case.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Companion {
    /// The value.
    Itself,
    /// The engine speed of the worst case: the name with `_speed` behind it.
    Speed,
    /// The site of the worst case: the name with `_site` behind it.
    Site,
}

/// All facts.
pub fn rows() -> impl Iterator<Item = &'static Row> {
    let described = [graph::ROWS, soundness::ROWS, placement::ROWS, guards::ROWS, joints::ROWS, shared::ROWS];
    let steady = [
        surroundings::ROWS,
        steady::ROWS,
        flow::ROWS,
        heat::ROWS,
        strength::ROWS,
        whistle::ROWS,
        knock::ROWS,
    ];
    let computed = [
        injection::ROWS,
        statics::ROWS,
        sizing::ROWS,
        idle_leak::ROWS,
        machines::ROWS,
        turbine::ROWS,
        tip_out::ROWS,
        signal_lag::ROWS,
        recovery::ROWS,
        measured::ROWS,
    ];
    described.into_iter().chain(steady).chain(computed).flatten()
}

/// Rows by name. What is looked up are names that the program or a rule file gives, so the hash need not withstand an attack.
type Named = HashMap<&'static str, Vec<&'static Row>, foldhash::fast::RandomState>;

/// The rows of each name: one name may mean a row on one kind of subject and another on another.
static BY_NAME: LazyLock<Named> = LazyLock::new(|| {
    let mut named = Named::default();
    for row in rows() {
        named.entry(row.name).or_default().push(row);
    }
    named
});

/// The row that a name means on a kind of subject, and what it asks of it.
pub fn find(on: SubjectKind, name: &str) -> Option<(&'static Row, Companion)> {
    let named = |name: &str| {
        let rows = BY_NAME.get(name).map(Vec::as_slice).unwrap_or_default();
        rows.iter().copied().find(|row| on.lineage().iter().any(|kind| row.on.contains(kind)))
    };
    if let Some(row) = named(name) {
        return Some((row, Companion::Itself));
    }
    let worst = |stem: &str| named(stem).filter(|row| matches!(row.make, Make::Worst(..)));
    let speed = name.strip_suffix("_speed").and_then(worst).map(|row| (row, Companion::Speed));
    speed.or_else(|| name.strip_suffix("_site").and_then(worst).map(|row| (row, Companion::Site)))
}

/// The kind of what a name means.
pub fn kind(row: &Row, companion: Companion) -> Kind {
    match companion {
        Companion::Itself => row.kind,
        Companion::Speed => Kind::Number(Dim::FREQUENCY),
        Companion::Site => Kind::Word,
    }
}

/// The names of companions, by the name of the worst case that they stand beside.
static COMPANIONS: LazyLock<Vec<(&'static str, [String; 2])>> = LazyLock::new(|| {
    rows()
        .filter(|row| matches!(row.make, Make::Worst(..)))
        .map(|row| (row.name, [format!("{}_speed", row.name), format!("{}_site", row.name)]))
        .collect()
});

/// All names that a kind of subject has, those of companions too.
pub fn names(on: SubjectKind) -> Vec<&'static str> {
    let own = rows().filter(|row| on.lineage().iter().any(|kind| row.on.contains(kind)));
    let with_companions = own.flat_map(|row| {
        let beside = COMPANIONS.iter().find(|(name, _)| *name == row.name);
        let beside = beside.into_iter().flat_map(|(_, names)| names.iter().map(String::as_str));
        std::iter::once(row.name).chain(beside)
    });
    with_companions.collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_subject_has_two_facts_of_one_name() {
        for kind in SubjectKind::ALL {
            let mut all = names(*kind);
            let count = all.len();
            all.sort_unstable();
            all.dedup();
            assert_eq!(all.len(), count, "{}", kind.word());
        }
    }

    #[test]
    fn only_worst_cases_have_companions() {
        assert!(find(SubjectKind::Compressor, "surge_margin_flow_min_speed").is_some());
        assert!(find(SubjectKind::ReliefValve, "vent_share_speed").is_none());
    }
}
