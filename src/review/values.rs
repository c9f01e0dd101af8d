//! The values that a rule meets while it judges one subject.

use crate::build::Build;
use crate::facts::{self, Scope, Sites};
use crate::known::{Datum, Known, Missing, Num, Reads, Setting};
use crate::rules::{Values, Whose};
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

    fn limit_override(&self, limit: &str) -> Option<Num> {
        let build: &Build = self.scope.build();
        let changed =
            build.limits.iter().find(|changed| &*changed.rule == self.rule && &*changed.limit == limit)?;
        Some(Num::new(changed.value, changed.dim))
    }
}
