//! The values that a rule meets while it judges one subject.

use crate::build::Build;
use crate::facts::{self, Scope, Sites};
use crate::known::{Datum, Known, Missing, Num, Reads, Setting};
use crate::rules::{Override, Values, Whose};
use crate::text::Route;
use crate::tract::Subject;

/// The values of one subject for one rule.
pub struct SubjectValues<'a, 'b> {
    /// The facts of the build.
    pub scope: &'a Scope<'b>,
    /// The subject.
    pub subject: &'a Subject,
    /// The rule that asks.
    pub rule: &'a str,
    /// Which sites worst cases cover.
    pub sites: Sites,
    /// A limit of the rule that is taken as the rule writes it, whatever house and build say.
    pub undone: Option<&'a str>,
}

impl<'a, 'b> SubjectValues<'a, 'b> {
    /// The values of a subject as house and build have them.
    pub fn new(scope: &'a Scope<'b>, subject: &'a Subject, rule: &'a str, sites: Sites) -> Self {
        Self { scope, subject, rule, sites, undone: None }
    }
}

impl SubjectValues<'_, '_> {
    fn owner(&self, whose: Whose) -> Subject {
        match whose {
            Whose::It => self.subject.clone(),
            Whose::Build => self.scope.whole_build(),
        }
    }

    /// Where a link leads.
    pub fn follow(&self, whose: Whose, link: &str) -> Known<Route> {
        facts::link(self.scope, &self.owner(whose), link)
    }
}

impl Values for SubjectValues<'_, '_> {
    fn fact(&self, whose: Whose, name: &str) -> Known<Datum> {
        self.scope.fact(&self.owner(whose), name, self.sites)
    }

    fn setting(&self, name: &str) -> Known<Datum> {
        match Setting::named(&name.replace('_', "-")) {
            Some(row) => Known::Is(Datum::Number(self.scope.setting(row.setting))),
            None => Known::Open(Missing::hindrance(format!("there is no setting `{name}`"))),
        }
    }

    fn limit_override(&self, limit: &str) -> Option<Override> {
        if self.undone == Some(limit) {
            return None;
        }
        let build: &Build = self.scope.build();
        let changed =
            build.limits.iter().find(|changed| &*changed.rule == self.rule && &*changed.limit == limit)?;
        Some(Override {
            num: Num::new(changed.value, changed.dim),
            written: changed.written.clone(),
            by: changed.by,
            because: changed.because.clone(),
        })
    }
}
