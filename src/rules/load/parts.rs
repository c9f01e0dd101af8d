//! Places, cures and cases of a rule file.

use std::sync::Arc;

use super::{LimitDims, Loader, route};
use crate::rules::case::Case;
use crate::rules::cure::{Among, BY, Cure, TO};
use crate::rules::expression::Expression;
use crate::rules::file::{
    AmongEntry, CaseEntry, CureEntry, Expect, PartWord, PlaceEntry, RoleWord, RuleKind,
};
use crate::rules::place::{Place, Role, RouteExpr};
use crate::rules::template::Template;
use crate::rules::vocabulary::Whose;
use crate::text::{Change, Dim, Fault, FaultKind, Op, Part, Route, RouteFault, Span, Step, nearest, quoted};
use crate::tract::Region;

/// How a set of parts is written in a cure.
const PARTS_IN_REGION: &str = "parts in region ";

impl Loader<'_> {
    pub(super) fn places(&mut self, written: &[PlaceEntry], limits: &LimitDims<'_>) -> Vec<Place> {
        let mut places = Vec::new();
        for (index, entry) in written.iter().enumerate() {
            let here = route("places").index(index);
            let at = self.route_expr(&here.key("at"), &entry.at);
            let entry_for = entry.entry_for.as_deref().map(|text| {
                let fact = self.expression(&here.key("entry-for"), text, limits, Expression::read_number)?;
                if fact.as_fact().is_none() {
                    let span = self.span(&here.key("entry-for"));
                    self.push(Fault::new(
                        FaultKind::WrongKind,
                        span,
                        "this names one fact, as `it.surge_margin`",
                    ));
                }
                Some(fact)
            });
            let says = self.template(&here.key("says"), &entry.says, limits, &[]);
            let role = match entry.role {
                Some(RoleWord::Main) => Role::Main,
                Some(RoleWord::Also) => Role::Also,
                None if index == 0 => Role::Main,
                None => Role::Also,
            };
            let part = match entry.part {
                Some(PartWord::Key) => Part::Key,
                Some(PartWord::Whole) => Part::Whole,
                Some(PartWord::Value) | None => Part::Value,
            };
            if let (Some(at), Some(says)) = (at, says) {
                places.push(Place { at, part, entry_for: entry_for.flatten(), says, role });
            }
        }
        let mains = places.iter().filter(|place| place.role == Role::Main).count();
        if mains != 1 && places.len() == written.len() && !places.is_empty() {
            self.fault(
                "places",
                FaultKind::Other,
                format!("one place is the main one, and here {mains} are"),
            );
        }
        places
    }

    pub(super) fn cures(&mut self, written: &[CureEntry], limits: &LimitDims<'_>) -> Vec<Cure> {
        let cures = written.iter().enumerate().map(|(index, entry)| self.cure(index, entry, limits));
        cures.collect::<Vec<_>>().into_iter().flatten().collect()
    }

    fn cure(&mut self, index: usize, entry: &CureEntry, limits: &LimitDims<'_>) -> Option<Cure> {
        let here = route("cures").index(index);
        let (key, at) = match (&entry.vary, &entry.set, &entry.cap) {
            (Some(at), None, None) => ("vary", at),
            (None, Some(at), None) => ("set", at),
            (None, None, Some(at)) => ("cap", at),
            _ => return self.refuse(&here, FaultKind::Missing, "a cure has one of `vary`, `set` and `cap`"),
        };
        if entry.among.is_some() != (key == "set") || entry.below.is_some() != (key == "cap") {
            return self.refuse(&here, FaultKind::Missing, "`among` goes with `set`, and `below` with `cap`");
        }
        let at = self.route_expr(&here.key(key), at);
        let dim = at.as_ref().and_then(|at| {
            self.vocabulary.route_dim(at.from.kind(self.for_each), at.link.as_deref(), &at.below)
        });
        let bare = [(BY, dim), (TO, dim)];
        let bare = if key == "set" { &[][..] } else { &bare[..] };
        let says = self.template(&here.key("says"), &entry.says, limits, bare);
        match key {
            "vary" => Some(Cure::Vary { route: at?, says: says?, another_part: entry.another_part }),
            "set" => {
                let among = self.among(&here.key("among"), entry.among.as_ref()?);
                Some(Cure::Set { route: at?, among: among?, says: says? })
            }
            _ => {
                let below = entry.below.as_deref()?;
                let below = self.expression(&here.key("below"), below, limits, Expression::read_number);
                Some(Cure::Cap { route: at?, below: below?, says: says? })
            }
        }
    }

    fn among(&mut self, at: &Route, entry: &AmongEntry) -> Option<Among> {
        match entry {
            AmongEntry::Words(words) if !words.is_empty() => {
                Some(Among::Words(words.iter().map(|word| Arc::from(word.as_str())).collect()))
            }
            AmongEntry::Parts(text) if text.starts_with(PARTS_IN_REGION) => {
                let region = text.get(PARTS_IN_REGION.len()..).unwrap_or_default().trim();
                let words = || Region::ALL.iter().map(|region| region.word());
                if words().any(|word| word == region) {
                    return Some(Among::PartsInRegion(region.into()));
                }
                let fault = Fault::new(
                    FaultKind::UnknownWord,
                    self.span(at),
                    format!("there is no region {}", quoted(region)),
                );
                self.push(fault.with_help(match nearest(region, words()) {
                    Some(near) => format!("did you mean `{near}`?"),
                    None => format!("regions: {}", words().collect::<Vec<_>>().join(", ")),
                }));
                None
            }
            AmongEntry::Words(_) | AmongEntry::Parts(_) => self.refuse(
                at,
                FaultKind::WrongKind,
                "a list of words, or `parts in region charge`, is due here",
            ),
        }
    }

    pub(super) fn cases(&mut self, written: &[CaseEntry], kind: RuleKind) -> Vec<Case> {
        let cases = written.iter().enumerate().map(|(index, entry)| self.case(index, entry, kind));
        cases.collect::<Vec<_>>().into_iter().flatten().collect()
    }

    fn case(&mut self, index: usize, entry: &CaseEntry, kind: RuleKind) -> Option<Case> {
        let here = route("cases").index(index);
        let mut ops = Vec::new();
        for changed in self.entries(&here.key("change")) {
            let (key, span, value) = changed;
            let at = self.whole_route(&key, span)?;
            ops.push(Op::Set(at, value));
        }
        for (number, text) in entry.remove.iter().enumerate() {
            let span = self.span(&here.key("remove").index(number));
            ops.push(Op::Remove(self.whole_route(text, span)?));
        }
        let map_flow = entry.map_adjust.map(|adjust| adjust.flow);
        if map_flow.is_some_and(|flow| !(0.01..=100.0).contains(&flow)) {
            let at = here.key("map-adjust").key("flow");
            return self.refuse(&at, FaultKind::OutOfRange, "a flow is taken 0.01 to 100 times");
        }
        let impossible = match entry.expect {
            Expect::Fail => kind == RuleKind::Review,
            Expect::Review => kind == RuleKind::Fail,
            _ => false,
        };
        if impossible {
            let message = "a rule of kind `fail` fails, and one of kind `review` comes to `review`";
            return self.refuse(&here.key("expect"), FaultKind::UnknownWord, message);
        }
        Some(Case {
            name: entry.name.as_str().into(),
            base: entry.base.as_deref().map(Arc::from),
            change: Change(ops),
            map_flow,
            expect: entry.expect,
        })
    }

    /// The entries of a table of the file, in their order.
    fn entries(&self, at: &Route) -> Vec<(Arc<str>, Span, Arc<crate::text::Node>)> {
        let found = self.root.as_ref().and_then(|root| crate::text::find(root, at));
        let map = found.and_then(|found| found.node.as_map());
        let entries = map.into_iter().flatten();
        entries.map(|entry| (Arc::clone(&entry.key.text), entry.key.span, Arc::clone(&entry.value))).collect()
    }

    /// A route from the root of a build, which begins with no `it` or `build`.
    fn whole_route(&mut self, text: &str, span: Span) -> Option<Route> {
        let read: Result<Route, RouteFault> = text.parse();
        match read {
            Ok(at) if !at.is_root() => Some(at),
            Ok(_) => {
                self.push(Fault::new(
                    FaultKind::Missing,
                    span,
                    "a whole route is due here, as `parts.relief.tap.at`",
                ));
                None
            }
            Err(wrong) => {
                self.push(Fault::new(FaultKind::Syntax, span, wrong.message));
                None
            }
        }
    }

    fn template(
        &mut self,
        at: &Route,
        text: &str,
        limits: &LimitDims<'_>,
        bare: &[(&str, Option<Dim>)],
    ) -> Option<Template> {
        let result = Template::read(text, self.names(limits, bare));
        self.keep(at, text, result)
    }

    /// `it.tap.at`, `build.boost`, `it.signal-hose.from`
    fn route_expr(&mut self, at: &Route, text: &str) -> Option<RouteExpr> {
        let whole: Route = match text.parse() {
            Ok(whole) => whole,
            Err(wrong) => return self.refuse(at, FaultKind::Syntax, RouteFault::to_string(&wrong)),
        };
        let from = match whole.steps().first() {
            Some(Step::Key(root)) if &**root == Whose::It.word() => Whose::It,
            Some(Step::Key(root)) if &**root == Whose::Build.word() => Whose::Build,
            _ => {
                let message = "a place begins with `it` or `build`, as `it.tap.at`";
                return self.refuse(at, FaultKind::DanglingName, message);
            }
        };
        let on = from.kind(self.for_each);
        let steps = whole.steps().get(1..).unwrap_or_default();
        let (link, rest) = match steps.split_first() {
            Some((Step::Key(first), rest)) if self.vocabulary.link(on, first) => {
                (Some(Arc::clone(first)), rest)
            }
            _ => (None, steps),
        };
        let below: Route = rest.iter().cloned().collect();
        if !below.is_root() && !self.vocabulary.route_ok(on, link.as_deref(), &below) {
            let message =
                format!("a {} has no place `{}`", on.word(), steps.iter().cloned().collect::<Route>());
            let mut fault = Fault::new(FaultKind::DanglingName, self.span(at), message);
            if let Some(Step::Key(first)) = steps.first()
                && let Some(near) = nearest(first, self.vocabulary.links(on))
            {
                fault = fault.with_help(format!("did you mean `{}.{near}`?", from.word()));
            }
            self.push(fault);
            return None;
        }
        Some(RouteExpr { from, link, below })
    }

    /// Notes a fault at a place, and gives nothing.
    fn refuse<T>(&mut self, at: &Route, kind: FaultKind, message: impl Into<String>) -> Option<T> {
        self.push(Fault::new(kind, self.span(at), message));
        None
    }
}
