//! From a rule file's text to a checked rule, with every fault at its place.

mod parts;
mod structure;

use std::sync::Arc;

use super::expression::{Expression, Names, Wrong};
use super::file::{Level, LimitEntry, RuleFile, RuleKind};
use super::limit::{Limit, LimitValue, Written};
use super::rule::{Origin, Rule};
use super::vocabulary::Vocabulary;
use crate::known::{Kind, Num, Reason};
use crate::text::{self, Dim, Fault, FaultKind, FileId, Limits, Node, Part, Route, Span, nearest};
use crate::tract::SubjectKind;

/// The most bytes of a rule file.
const MOST_BYTES: usize = 64 << 10;

/// Reads a rule file, or says everything that is wrong with it.
pub(super) fn load(
    path: &str,
    file: FileId,
    text: &str,
    vocabulary: &dyn Vocabulary,
) -> Result<Rule, Vec<Fault>> {
    // The spanned reader goes first: it alone has limits, and places for what is wrong later.
    let limits = Limits { bytes: MOST_BYTES, ..Limits::default() };
    let parsed = text::parse(file, text, &limits);
    if !parsed.faults.is_empty() {
        return Err(parsed.faults);
    }
    let Some(root) = parsed.root else {
        return Err(vec![Fault::new(
            FaultKind::Missing,
            Span::new(file, 0, text.len().min(1)),
            "the file holds no rule",
        )]);
    };
    let written: RuleFile = match serde_yaml::from_str(text) {
        Ok(written) => written,
        Err(error) => return Err(vec![structure::fault(&error, file, text, &root)]),
    };
    let root = Some(root);
    let mut loader =
        Loader { file, text, root, vocabulary, for_each: SubjectKind::Build, faults: Vec::new() };
    let rule = loader.rule(path, written);
    loader.faults.sort();
    match rule {
        Some(rule) if loader.faults.is_empty() => Ok(rule),
        _ => Err(loader.faults),
    }
}

/// Reads a rule that was lowered when the program was built, without its cases; `None` where anything is wrong with it,
/// which [`load`] then tells.
pub(super) fn load_lowered(
    path: &str,
    file: FileId,
    lowered: &str,
    vocabulary: &dyn Vocabulary,
) -> Option<Rule> {
    let written: RuleFile = serde_json::from_str(lowered).ok()?;
    let mut loader =
        Loader { file, text: "", root: None, vocabulary, for_each: SubjectKind::Build, faults: Vec::new() };
    let rule = loader.rule(path, written)?;
    loader.faults.is_empty().then_some(rule)
}

struct Loader<'a> {
    file: FileId,
    text: &'a str,
    /// Its tree; none of a lowered rule, whose faults need no places.
    root: Option<Arc<Node>>,
    vocabulary: &'a dyn Vocabulary,
    for_each: SubjectKind,
    faults: Vec<Fault>,
}

/// The limits by name; of one that is faulty the dimension is not known.
type LimitDims<'a> = [(&'a str, Option<Dim>)];

impl<'a> Loader<'a> {
    fn rule(&mut self, path: &str, written: RuleFile) -> Option<Rule> {
        self.names_match_path(path, &written);
        self.for_each = self.subject(&written.for_each)?;
        self.words_are_due(&written);

        let mut limits = Vec::new();
        let mut dims = Vec::new();
        for (name, entry) in written.limits.0 {
            let limit = self.limit(&name, entry);
            dims.push((name, limit.as_ref().map(Limit::dim)));
            limits.extend(limit);
        }
        let dims: Vec<(&str, Option<Dim>)> = dims.iter().map(|(name, dim)| (name.as_str(), *dim)).collect();

        let condition = |loader: &mut Self, key: &str, text: &str| {
            loader.is_quoted(key);
            loader.expression(&route(key), text, &dims, Expression::read_condition)
        };
        let applies_when = written.applies_when.as_deref().map(|text| condition(self, "applies-when", text));
        let fails_when = condition(self, "fails-when", &written.fails_when);
        let fallback = written.fallback.as_deref().map(|text| condition(self, "fallback", text));
        let places = self.places(&written.places, &dims);
        let cures = self.cures(&written.cures, &dims);
        let cases = self.cases(&written.cases, written.kind);

        let rule = Rule {
            id: written.id.into(),
            family: written.family.into(),
            status: written.status,
            kind: written.kind,
            level: written.level,
            title: written.title.into(),
            for_each: self.for_each,
            applies_when: applies_when.flatten(),
            does_not_apply: Reason::new(written.does_not_apply.unwrap_or_default()),
            limits,
            fails_when: fails_when?,
            fallback: fallback.flatten(),
            silences: shared(written.silences),
            places,
            cures,
            advice: written.advice.map(Arc::from),
            why: written.why.trim_end().into(),
            sources: shared(written.sources),
            cautions: shared(written.cautions),
            cases,
            origin: Origin { path: path.into(), of_house: false, file: self.file },
        };
        self.limits_are_read(&rule);
        Some(rule)
    }

    /// `family/id.yaml`, and names made of small letters, figures and hyphens.
    fn names_match_path(&mut self, path: &str, written: &RuleFile) {
        let mut folders = path.rsplit('/');
        let stem = folders.next().unwrap_or_default();
        let stem = stem.strip_suffix(".yaml").unwrap_or(stem);
        if stem != written.id {
            self.fault(
                "id",
                FaultKind::Other,
                format!("the rule is called `{}` and its file `{stem}`", written.id),
            );
        }
        if let Some(folder) = folders.next().filter(|folder| *folder != written.family) {
            let message = format!("the rule's family is `{}` and its folder `{folder}`", written.family);
            self.fault("family", FaultKind::Other, message);
        }
        for (key, name) in [("id", &written.id), ("family", &written.family)] {
            let fits = |letter: char| letter.is_ascii_lowercase() || letter.is_ascii_digit() || letter == '-';
            if name.is_empty() || !name.chars().all(fits) {
                self.fault(key, FaultKind::Other, "names are made of small letters, figures and hyphens");
            }
        }
    }

    fn subject(&mut self, word: &str) -> Option<SubjectKind> {
        let found = SubjectKind::from_word(word);
        if found.is_none() {
            let words = SubjectKind::ALL.iter().map(|kind| kind.word());
            let help = match nearest(word, words.clone()) {
                Some(near) => format!("did you mean `{near}`?"),
                None => format!("there are {}", words.collect::<Vec<_>>().join(", ")),
            };
            let message = format!("no subject is called `{word}`");
            self.push(
                Fault::new(FaultKind::UnknownWord, self.span(&route("for-each")), message).with_help(help),
            );
        }
        found
    }

    /// What keys ask of each other.
    fn words_are_due(&mut self, written: &RuleFile) {
        match (&written.applies_when, &written.does_not_apply) {
            (Some(_), None) => {
                self.fault("applies-when", FaultKind::Missing, "`applies-when` needs `does-not-apply` beside it: the reason that is given where it is not so");
            }
            (None, Some(_)) => {
                self.fault(
                    "does-not-apply",
                    FaultKind::Other,
                    "without `applies-when` the rule always applies, and this is never said",
                );
            }
            _ => {}
        }
        if written.kind == RuleKind::Review && written.level != Level::Note {
            self.fault(
                "level",
                FaultKind::Other,
                "a rule that hands the question to a person has the level `note`",
            );
        }
        if written.places.is_empty() {
            self.fault("places", FaultKind::Missing, "a finding marks at least one place");
        }
        let texts = [("title", written.title.as_str()), ("why", written.why.as_str())];
        for (key, _) in texts.into_iter().filter(|(_, text)| text.trim().is_empty()) {
            self.fault(key, FaultKind::Missing, "words are due here");
        }
    }

    fn limit(&mut self, name: &str, entry: LimitEntry) -> Option<Limit> {
        let at = route("limits").key(name);
        let value = match (entry.value, entry.by, entry.values) {
            (Some(quantity), None, None) => LimitValue::One(self.quantity(&at.key("value"), &quantity.0)?),
            (None, Some(by), Some(values)) => {
                let by = self.expression(&at.key("by"), &by, &[], Expression::read_word);
                let below = at.key("values");
                let mut read = Vec::new();
                for (key, quantity) in values.0 {
                    let written = self.quantity(&below.key(&key), &quantity.0);
                    read.extend(written.map(|written| (Arc::<str>::from(key), written)));
                }
                self.one_dimension(&below, &read);
                LimitValue::ByKey { by: by?, values: read }
            }
            _ => {
                let message = "a limit has either `value`, or `by` with `values`";
                self.push(Fault::new(FaultKind::Missing, self.key_span(&at), message));
                return None;
            }
        };
        if entry.source.trim().is_empty() {
            let span = self.span(&at.key("source"));
            self.push(Fault::new(
                FaultKind::Missing,
                span,
                "a limit names its source, or says `common practice, no source`",
            ));
        }
        Some(Limit { name: name.into(), source: entry.source.into(), value })
    }

    fn quantity(&mut self, at: &Route, written: &str) -> Option<Written> {
        match text::read_any_quantity(written) {
            Ok((si, dim, _)) => Some(Written { num: Num::new(si, dim), text: written.into() }),
            Err(wrong) => {
                let mut fault = Fault::new(wrong.kind, self.span(at), wrong.message);
                fault.help = wrong.help;
                self.push(fault);
                None
            }
        }
    }

    /// All values of a limit by key must have one dimension.
    fn one_dimension(&mut self, below: &Route, values: &[(Arc<str>, Written)]) {
        let Some((_, first)) = values.first() else {
            self.push(Fault::new(
                FaultKind::Missing,
                self.key_span(below),
                "a limit by key has at least one value",
            ));
            return;
        };
        for (key, written) in values.iter().filter(|(_, written)| written.num.dim != first.num.dim) {
            let message = format!(
                "the values of one limit are of one kind: `{}` is {}, the first is {}",
                written.text,
                Kind::Number(written.num.dim),
                Kind::Number(first.num.dim)
            );
            self.push(Fault::new(FaultKind::WrongUnit, self.span(&below.key(key)), message));
        }
    }

    /// A limit that no expression reads is a slip: changing it would change nothing.
    fn limits_are_read(&mut self, rule: &Rule) {
        for limit in &rule.limits {
            let mut read = false;
            rule.each_expression(&mut |expression| read |= expression.names_limit(&limit.name));
            // A fault elsewhere may be why it is not read.
            if !read && self.faults.is_empty() {
                let span = self.key_span(&route("limits").key(&limit.name));
                let message = format!("limit `{}` is read by no expression", limit.name);
                self.push(Fault::new(FaultKind::Other, span, message));
            }
        }
    }

    fn names<'b>(&'b self, limits: &'b LimitDims<'b>, bare: &'b [(&'b str, Option<Dim>)]) -> Names<'b> {
        Names { vocabulary: self.vocabulary, for_each: self.for_each, limits, bare }
    }

    /// Reads an expression, or notes what is wrong with it.
    fn expression(
        &mut self,
        at: &Route,
        text: &str,
        limits: &LimitDims<'_>,
        read: fn(&str, Names<'_>) -> Result<Expression, Vec<Wrong>>,
    ) -> Option<Expression> {
        let result = read(text, self.names(limits, &[]));
        self.keep(at, text, result)
    }

    /// What was read, or nothing once the faults are noted.
    fn keep<T>(&mut self, at: &Route, text: &str, result: Result<T, Vec<Wrong>>) -> Option<T> {
        match result {
            Ok(read) => Some(read),
            Err(wrongs) => {
                for wrong in wrongs {
                    let mut fault = Fault::new(wrong.kind, self.span_within(at, text, &wrong), wrong.message);
                    fault.help = wrong.help;
                    self.push(fault);
                }
                None
            }
        }
    }

    /// An unquoted condition that begins with `!` would be a tag, and one with `: ` a table: quotes keep it text.
    fn is_quoted(&mut self, key: &str) {
        let root = self.root.as_ref();
        let plain = root
            .and_then(|root| root.get(key))
            .and_then(|node| node.as_scalar())
            .is_some_and(|scalar| scalar.plain);
        if plain {
            let fault = Fault::new(FaultKind::Syntax, self.span(&route(key)), "a condition stands in quotes");
            self.push(fault.with_help("write it as \"it.distance < 3 * it.bore\""));
        }
    }

    fn fault(&mut self, key: &str, kind: FaultKind, message: impl Into<String>) {
        self.push(Fault::new(kind, self.span(&route(key)), message));
    }

    fn push(&mut self, fault: Fault) {
        self.faults.push(fault);
    }

    fn span(&self, at: &Route) -> Span {
        self.part_span(at, Part::Value)
    }

    fn key_span(&self, at: &Route) -> Span {
        self.part_span(at, Part::Key)
    }

    fn part_span(&self, at: &Route, part: Part) -> Span {
        match &self.root {
            Some(root) => text::mark(root, at, part).span,
            None => Span::new(self.file, 0, 0),
        }
    }

    /// The place within a text of the file: exact where the text stands there as it is, else the whole of it.
    fn span_within(&self, at: &Route, text: &str, wrong: &Wrong) -> Span {
        let Some(found) = self.root.as_ref().and_then(|root| text::find(root, at)) else {
            return self.span(at);
        };
        let whole = found.node.span;
        let raw = whole.slice(self.text).unwrap_or_default();
        match raw.find(text) {
            Some(offset) if !wrong.span.is_empty() => {
                let start = whole.start + offset;
                Span::new(whole.file, start + wrong.span.start, start + wrong.span.end)
            }
            _ => whole,
        }
    }
}

fn route(key: &str) -> Route {
    Route::root().key(key)
}

fn shared(texts: Vec<String>) -> Vec<Arc<str>> {
    texts.into_iter().map(Arc::from).collect()
}

#[cfg(test)]
mod tests;
