//! The scope through which facts read fields, settings and other facts; it records each look and remembers each value.

use std::cell::RefCell;
use std::collections::{BTreeMap, BTreeSet, HashMap, HashSet};
use std::rc::Rc;
use std::sync::Arc;

use rayon::prelude::*;

use super::equations::{STEADY, TIP_OUT};
use super::registry::{Companion, Fold, Make, Row, Series, find};
use crate::build::Build;
use crate::known::{At, Datum, Known, Missing, Num, Overridden, Read, Reads, Setting};
use crate::model::{Demand, Precision, Prepared, Start, Steady, TipOut, TipOutResults, tip_out};
use crate::text::{Change, Route};
use crate::tract::{Subject, SubjectKind, Tract};

/// Which sites a worst case covers.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Sites {
    /// All of them.
    All,
    /// The build's own alone: to say whether it passes at home.
    Home,
}

/// What names an entry of the memory.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
struct Key {
    fact: &'static str,
    subject: Subject,
    sites: Sites,
}

/// Everything that was looked at on the way to a value.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Trail {
    /// Fields, defaults and settings that were read directly.
    pub reads: BTreeSet<Read>,
    /// Facts that were read, with their own trails.
    pub facts: Vec<Step>,
}

/// A fact, or a whole solve, that was looked at.
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    /// Whose it is.
    pub subject: Arc<str>,
    /// Its name.
    pub fact: Arc<str>,
    /// What it came to; none for a solve.
    pub value: Option<Known<Datum>>,
    /// What was looked at on the way to it.
    pub trail: Rc<Trail>,
}

impl Trail {
    /// Every look, of the facts below too, each once.
    pub fn all(&self) -> BTreeSet<&Read> {
        self.picked(Some)
    }

    /// What `pick` makes of the looks, of the facts below too, in order and each once.
    fn picked<'t, T: Ord>(&'t self, pick: impl Fn(&'t Read) -> Option<T>) -> BTreeSet<T> {
        let (mut all, mut trails, mut gone_over) = (BTreeSet::new(), vec![self], HashSet::new());
        while let Some(trail) = trails.pop() {
            all.extend(trail.reads.iter().filter_map(&pick));
            // Facts share what lies below them: a trail that was gone over is not gone over again.
            let below = trail.facts.iter().filter(|step| gone_over.insert(Rc::as_ptr(&step.trail)));
            trails.extend(below.map(|step| &*step.trail));
        }
        all
    }

    /// Whether anything that was looked at lies at one of these places of the description, above it or below it.
    pub fn touches(&self, places: &[&Route]) -> bool {
        let near =
            |field: &Route| places.iter().any(|place| field.starts_with(place) || place.starts_with(field));
        let touched = self.reads.iter().any(|read| match read {
            Read::Field(field) | Read::Default { field, .. } => near(field),
            Read::Setting(_) => places.iter().any(|place| place.starts_with(&Route::root().key("settings"))),
            Read::Lacking(_) => false,
        });
        touched || self.facts.iter().any(|step| step.trail.touches(places))
    }

    /// What values known only between bounds lack.
    pub fn lacking(&self) -> Missing {
        let each = self.picked(|read| match read {
            Read::Lacking(missing) => Some(missing),
            _ => None,
        });
        each.into_iter().cloned().fold(Missing::default(), Missing::join)
    }

    /// The defaults that stood in for absent fields: field and words.
    pub fn defaults(&self) -> BTreeMap<Route, Arc<str>> {
        let each = self.picked(|read| match read {
            Read::Default { field, words } => Some((field, words)),
            Read::Field(_) | Read::Setting(_) | Read::Lacking(_) => None,
        });
        each.into_iter().map(|(field, words)| (field.clone(), words.clone())).collect()
    }
}

#[derive(Clone)]
struct Entry {
    value: Known<Datum>,
    trail: Rc<Trail>,
}

/// Whether a run surges, and what was looked at on the way to it.
type Surging = (Known<bool>, Rc<Trail>);

/// A tip-out run and what was looked at on the way to it.
type Made = (Rc<Known<TipOut>>, Rc<Trail>);

/// What came of a run of a tip-out.
#[derive(Clone, Debug)]
pub struct Ran {
    /// From where: site and engine speed.
    pub at: At,
    /// What came of it.
    pub results: TipOutResults,
}

/// What came of a run, and what was looked at on the way to it.
type Outcome = (Rc<Known<Ran>>, Rc<Trail>);

/// Facts of one build. One thread uses one scope; builds go in parallel.
pub struct Scope<'b> {
    tract: Tract<'b>,
    memo: RefCell<HashMap<Key, Entry, foldhash::fast::RandomState>>,
    steady: RefCell<Option<(Rc<Steady>, Rc<Trail>)>>,
    tip_outs: RefCell<BTreeMap<Demand, Made>>,
    surges: RefCell<BTreeMap<Demand, Surging>>,
    ran: RefCell<BTreeMap<Demand, Outcome>>,
    frames: RefCell<Vec<Trail>>,
    /// The starts from which tip-out runs are made; all, where empty.
    starts: Vec<(Arc<str>, Start)>,
}

impl<'b> Scope<'b> {
    /// A scope over a build; nothing is computed until it is asked for.
    pub fn new(build: &'b Build) -> Self {
        Self {
            tract: Tract::new(build),
            memo: RefCell::default(),
            steady: RefCell::default(),
            tip_outs: RefCell::default(),
            surges: RefCell::default(),
            ran: RefCell::default(),
            frames: RefCell::default(),
            starts: Vec::new(),
        }
    }

    /// A scope over the build that a change made of this one's: whole solves that looked at nothing of what was changed are
    /// taken over, facts are looked at anew.
    pub fn fork<'n>(&self, changed: &'n Build, change: &Change) -> Scope<'n> {
        let places: Vec<&Route> = change.0.iter().map(|op| op.route()).collect();
        let kept = self.steady.borrow().clone().filter(|(_, trail)| !trail.touches(&places));
        let untouched = |trail: &Rc<Trail>| !trail.touches(&places);
        let keep = |known: &BTreeMap<Demand, Surging>| -> BTreeMap<Demand, Surging> {
            let kept = known.iter().filter(|(_, (_, trail))| untouched(trail));
            kept.map(|(demand, entry)| (demand.clone(), entry.clone())).collect()
        };
        let surges = keep(&self.surges.borrow());
        let ran = self.ran.borrow();
        let ran = ran.iter().filter(|(_, (_, trail))| untouched(trail));
        let ran = ran.map(|(demand, entry)| (demand.clone(), entry.clone())).collect();
        Scope {
            steady: RefCell::new(kept),
            surges: RefCell::new(surges),
            ran: RefCell::new(ran),
            ..Scope::new(changed)
        }
    }

    /// The build.
    pub fn build(&self) -> &'b Build {
        self.tract.build()
    }

    /// The build's tract.
    pub fn tract(&self) -> Tract<'b> {
        self.tract
    }

    /// Runs something and tells what it looked at.
    pub fn recorded<T>(&self, run: impl FnOnce() -> T) -> (T, Trail) {
        self.frames.borrow_mut().push(Trail::default());
        let value = run();
        let trail = self.frames.borrow_mut().pop().unwrap_or_default();
        (value, trail)
    }

    /// The value of a fact of a subject, or of the circumstances of its worst case.
    pub fn fact(&self, subject: &Subject, name: &str, sites: Sites) -> Known<Datum> {
        let Some((row, companion)) = find(subject.kind, name) else {
            return Known::Open(Missing::hindrance(format!("there is no fact `{name}`")));
        };
        let value = self.value(row, subject, sites);
        match companion {
            Companion::Itself => value,
            Companion::Speed => circumstance(value, |at| {
                at.speed.map(|speed| Datum::Number(Num::new(speed, crate::text::Dim::FREQUENCY)))
            }),
            Companion::Site => circumstance(value, |at| Some(Datum::word(&at.site))),
        }
    }

    fn value(&self, row: &'static Row, subject: &Subject, sites: Sites) -> Known<Datum> {
        let key = Key { fact: row.name, subject: subject.clone(), sites };
        let known = self.memo.borrow().get(&key).cloned();
        let entry = known.unwrap_or_else(|| {
            let (value, trail) = self.recorded(|| self.make(row, subject, sites));
            let entry = Entry { value, trail: Rc::new(trail) };
            self.memo.borrow_mut().insert(key, entry.clone());
            entry
        });
        self.remember(&subject.name, row.name, Some(entry.value.clone()), &entry.trail);
        entry.value
    }

    fn remember(&self, subject: &str, fact: &str, value: Option<Known<Datum>>, trail: &Rc<Trail>) {
        if let Some(frame) = self.frames.borrow_mut().last_mut() {
            frame.facts.push(Step {
                subject: subject.into(),
                fact: fact.into(),
                value,
                trail: trail.clone(),
            });
        }
    }

    fn make(&self, row: &'static Row, subject: &Subject, sites: Sites) -> Known<Datum> {
        match row.make {
            Make::Plain(make) => make(self, subject),
            Make::Worst(fold, make) => {
                let (worst, lacking) = worst(fold, make(self, subject), sites);
                if let (Known::Between(..), Some(missing)) = (&worst, lacking) {
                    self.note(Read::Lacking(missing));
                }
                worst.map(Datum::Number)
            }
            Make::NotBuilt => Known::Open(Missing::not_built(row.name)),
        }
    }

    /// The steady operating points, solved once.
    pub fn steady(&self) -> Rc<Steady> {
        let known = self.steady.borrow().clone();
        let (steady, trail) = known.unwrap_or_else(|| {
            let (steady, trail) = self.recorded(|| Rc::new(Steady::solve(self.build(), self)));
            let entry = (steady, Rc::new(trail));
            *self.steady.borrow_mut() = Some(entry.clone());
            entry
        });
        self.remember("build", STEADY, None, &trail);
        steady
    }

    fn prepared(&self, demand: &Demand) -> Known<(Prepared, bool)> {
        let steady = self.steady();
        Prepared::of(self.build(), &steady, demand, Precision::default(), self)
    }

    /// The same scope with tip-out runs from some starts at some sites alone; from all, where none is named. Facts that hold for
    /// the worst of all starts then hold for the worst of these.
    #[must_use]
    pub fn from_starts(self, starts: &[(Arc<str>, Start)]) -> Self {
        Self { starts: starts.to_vec(), ..self }
    }

    /// Site and start of the tip-out runs that were made and begin there: two starts may lie at one point.
    pub fn starts_at(&self, at: &At) -> Vec<(Arc<str>, Start)> {
        let known = self.ran.borrow();
        let from = |run: &Known<Ran>| run.exact().is_some_and(|ran| ran.at == *at);
        let found = known.iter().filter(|(_, (run, _))| from(run));
        found.map(|(demand, _)| (demand.site.clone(), demand.start)).collect()
    }

    /// The tip-out runs of this scope, in the order of [`Self::tip_outs`].
    pub fn demands(&self, valves: bool) -> Vec<Demand> {
        let steady = self.steady();
        let all = steady
            .sites
            .iter()
            .flat_map(|site| Start::ALL.map(|start| Demand { site: site.name.clone(), start, valves }));
        let wanted = |demand: &Demand| {
            let same = |(site, start): &(Arc<str>, Start)| *site == demand.site && *start == demand.start;
            self.starts.is_empty() || self.starts.iter().any(same)
        };
        all.filter(wanted).collect()
    }

    /// What comes of the tip-out runs from all starts at all sites, with relief valves or without; each made once. What is
    /// not known yet is read one after the other, so that each look is recorded, and then run side by side.
    pub fn tip_outs(&self, valves: bool) -> Vec<Rc<Known<Ran>>> {
        let demands = self.demands(valves);
        let wanted: Vec<Demand> =
            demands.iter().filter(|demand| !self.ran.borrow().contains_key(demand)).cloned().collect();
        let (prepared, trails): (Vec<_>, Vec<_>) =
            wanted.iter().map(|demand| self.recorded(|| self.prepared(demand))).unzip();
        let results: Vec<Known<Ran>> = wanted
            .par_iter()
            .zip(prepared)
            .map(|(demand, prepared)| {
                prepared.and_then(|(prepared, home)| {
                    let speed = Some(prepared.engine_speed());
                    let at = At { site: demand.site.clone(), home, speed };
                    prepared.results().map(|results| Ran { at: at.clone(), results })
                })
            })
            .collect();
        for ((demand, results), trail) in wanted.into_iter().zip(results).zip(trails) {
            self.ran.borrow_mut().insert(demand, (Rc::new(results), Rc::new(trail)));
        }
        let known = self.ran.borrow();
        let all: Vec<Outcome> = demands.iter().filter_map(|demand| known.get(demand).cloned()).collect();
        drop(known);
        for (_, trail) in &all {
            self.remember("build", TIP_OUT, None, trail);
        }
        all.into_iter().map(|(results, _)| results).collect()
    }

    /// Whether the compressor surges in a tip-out run; made once.
    pub fn surges(&self, demand: &Demand) -> Known<bool> {
        let known = self.surges.borrow().get(demand).cloned();
        let (surges, trail) = known.unwrap_or_else(|| {
            let (surges, trail) =
                self.recorded(|| self.prepared(demand).and_then(|(prepared, _)| prepared.surges()));
            let entry = (surges, Rc::new(trail));
            self.surges.borrow_mut().insert(demand.clone(), entry.clone());
            entry
        });
        self.remember("build", TIP_OUT, None, &trail);
        surges
    }

    /// A tip-out run, made once.
    pub fn tip_out(&self, demand: &Demand) -> Rc<Known<TipOut>> {
        let known = self.tip_outs.borrow().get(demand).cloned();
        let (run, trail) = known.unwrap_or_else(|| {
            let (run, trail) = self.recorded(|| {
                let steady = self.steady();
                Rc::new(tip_out(self.build(), &steady, demand, Precision::default(), self))
            });
            let entry = (run, Rc::new(trail));
            self.tip_outs.borrow_mut().insert(demand.clone(), entry.clone());
            entry
        });
        self.remember("build", TIP_OUT, None, &trail);
        run
    }

    /// The subject of the build itself.
    pub fn whole_build(&self) -> Subject {
        Subject { kind: SubjectKind::Build, route: Route::root(), name: "build".into() }
    }
}

impl Reads for Scope<'_> {
    fn note(&self, read: Read) {
        if let Some(frame) = self.frames.borrow_mut().last_mut() {
            frame.reads.insert(read);
        }
    }

    fn setting(&self, setting: Setting) -> Num {
        self.note(Read::Setting(setting));
        match self.build().settings.get(&setting) {
            Some(Overridden { value, .. }) => value.clone(),
            None => setting.default_value(),
        }
    }
}

fn circumstance(value: Known<Datum>, pick: impl Fn(&At) -> Option<Datum>) -> Known<Datum> {
    value.and_then(|datum| {
        let found = datum.as_number().and_then(|number| number.at.as_ref()).and_then(&pick);
        found.map_or_else(|| Known::not_applicable("it is no worst case over points"), Known::Is)
    })
}

/// The worst of a series. Values that do not apply are passed over unless none applies; when some are unknown, the worst
/// lies between the worst known one and no bound; what they lack is given beside it.
fn worst(fold: Fold, series: Series, sites: Sites) -> (Known<Num>, Option<Missing>) {
    let worse = |a: &Num, b: &Num| match fold {
        Fold::Max => a.v > b.v,
        Fold::Min => a.v < b.v,
    };
    let limitless = match fold {
        Fold::Max => f64::INFINITY,
        Fold::Min => f64::NEG_INFINITY,
    };
    let at_home = |number: &Num| number.at.as_ref().is_none_or(|at| at.home);
    let mut found: Option<Num> = None;
    let mut missing: Option<Missing> = None;
    let mut reason = None;
    for item in series {
        let candidates = match item {
            Known::Is(number) => vec![number],
            // What is only known between bounds is at least as bad as its better end.
            Known::Between(low, high) => {
                missing = Some(missing.unwrap_or_default());
                match fold {
                    Fold::Max => vec![low],
                    Fold::Min => vec![high],
                }
            }
            Known::Open(more) => {
                missing = Some(missing.unwrap_or_default().join(more));
                continue;
            }
            Known::NotApplicable(why) => {
                reason = reason.or(Some(why));
                continue;
            }
        };
        for number in candidates {
            if sites == Sites::Home && !at_home(&number) {
                continue;
            }
            if found.as_ref().is_none_or(|worst| worse(&number, worst)) {
                found = Some(number);
            }
        }
    }
    let folded = match (found, &missing, reason) {
        (Some(worst), None, _) => Known::Is(worst),
        (Some(worst), Some(_), _) => {
            let open_end = Num { v: limitless, ..worst.clone() };
            match fold {
                Fold::Max => Known::Between(worst, open_end),
                Fold::Min => Known::Between(open_end, worst),
            }
        }
        (None, Some(missing), _) => Known::Open(missing.clone()),
        (None, None, Some(reason)) => Known::NotApplicable(reason),
        (None, None, None) => Known::not_applicable("there is no operating point to look at"),
    };
    (folded, missing)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn number(v: f64, home: bool) -> Num {
        Num::pure(v).at(At { site: "s".into(), home, speed: None })
    }

    #[test]
    fn the_worst_is_found_and_keeps_its_circumstances() {
        let series = vec![Known::Is(number(1.0, true)), Known::Is(number(3.0, false))];
        let Known::Is(all) = worst(Fold::Max, series.clone(), Sites::All).0 else { panic!("known") };
        assert_eq!(all.v, 3.0);
        let Known::Is(home) = worst(Fold::Max, series, Sites::Home).0 else { panic!("known") };
        assert_eq!(home.v, 1.0);
    }

    #[test]
    fn an_unknown_point_leaves_no_bound_on_the_worse_side() {
        let series = vec![Known::Is(number(1.0, true)), Known::Open(Missing::hindrance("x"))];
        assert_eq!(
            worst(Fold::Min, series, Sites::All).0.map(|n| n.v),
            Known::Between(f64::NEG_INFINITY, 1.0)
        );
    }

    #[test]
    fn a_value_between_bounds_counts_with_its_better_end() {
        let between = vec![Known::Between(number(1.0, true), number(f64::INFINITY, true))];
        assert_eq!(worst(Fold::Max, between, Sites::All).0.map(|n| n.v), Known::Between(1.0, f64::INFINITY));
    }

    #[test]
    fn what_does_not_apply_is_passed_over_unless_nothing_applies() {
        let never = || Known::not_applicable("off boost");
        assert_eq!(
            worst(Fold::Max, vec![never(), Known::Is(number(2.0, true))], Sites::All).0.map(|n| n.v),
            Known::Is(2.0)
        );
        assert!(matches!(worst(Fold::Max, vec![never()], Sites::All).0, Known::NotApplicable(_)));
    }
}
