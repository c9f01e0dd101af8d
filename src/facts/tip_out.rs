//! Facts from runs of a tip-out (throttle shut at boost).

use super::registry::{Group, Make, Row};
use super::scope::Scope;
use crate::known::{Datum, Kind, Known, Missing};
use crate::model::{Demand, Start};
use crate::tract::{Subject, SubjectKind};

/// The rows.
pub(super) static ROWS: &[Row] = &[Row {
    name: "tip_out_surges",
    kind: Kind::Bool,
    meaning: "whether the compressor surges when the throttle shuts at boost, with the relief valves as described, from any start at any site",
    group: Group::TipOut,
    on: &[SubjectKind::Compressor],
    make: Make::Plain(surges),
}];

/// The first run that surges decides; none is made in vain after it.
fn surges(scope: &Scope<'_>, subject: &Subject) -> Known<Datum> {
    let Some(part) = scope.tract().part_of(subject) else { return Known::missing(&subject.route) };
    if let Known::Is(shutting) = scope.tract().shutting_behind(part, scope)
        && shutting.is_empty()
    {
        // Where nothing shuts there is nothing to surge on.
        return Known::Is(Datum::Bool(false));
    }
    let steady = scope.steady();
    let mut missing: Option<Missing> = None;
    let mut reason = None;
    let mut any = false;
    for site in &steady.sites {
        for start in Start::ALL {
            let demand = Demand { site: site.name.clone(), start, valves: true };
            match scope.surges(&demand) {
                Known::Is(true) => return Known::Is(Datum::Bool(true)),
                Known::Is(false) => any = true,
                Known::Open(more) => missing = Some(missing.unwrap_or_default().join(more)),
                Known::Between(..) => missing = Some(missing.unwrap_or_default()),
                Known::NotApplicable(why) => reason = reason.or(Some(why)),
            }
        }
    }
    match (missing, any, reason) {
        (Some(missing), ..) => Known::Open(missing),
        (None, false, Some(reason)) => Known::NotApplicable(reason),
        (None, ..) => Known::Is(Datum::Bool(false)),
    }
}
