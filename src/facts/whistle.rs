//! Facts on shut valves at the end of a stub, across whose mouth the air blows.

use super::graph::with_part;
use super::points::over_stations;
use super::registry::{Group, Make, Row};
use super::scope::Scope;
use crate::build::parts::{Body, Part};
use crate::known::{Datum, Kind, Known, Missing, Num, Read, Reads, State};
use crate::text::Dim;
use crate::tract::{Subject, SubjectKind};

/// Strouhal number in the middle of those at which stubs are known to sound, in ratio: nearest to it is worst.
const MIDDLE: f64 = 0.33;

/// The rows.
pub(super) static ROWS: &[Row] = &[Row {
    name: "strouhal_at_quarter_wave",
    kind: Kind::Number(Dim::ONE),
    meaning: "pitch of the stub below the shut valve, a quarter wave long, times the valve's seat over the air's speed across its mouth; of all points and sites the one nearest to 0.33",
    group: Group::Steady,
    on: &[SubjectKind::ReliefValve],
    make: Make::Plain(|scope, subject| with_part(scope, subject, |part| strouhal(scope, subject, part))),
}];

/// a/(4 L) d/u: the stub is open at its mouth and shut at the valve.
fn strouhal(scope: &Scope<'_>, subject: &Subject, part: &Part) -> Known<Datum> {
    let Body::ReliefValve(valve) = &part.body else { return Known::missing(&subject.route) };
    let stub = part.common.tap.get(scope).and_then(|tap| {
        if let State::Absent = tap.stub.state(scope) {
            let words = "the valve is taken to sit flush, as no stub is given";
            scope.note(Read::Default { field: tap.stub.route().clone(), words: words.into() });
            return Known::Is(0.0);
        }
        tap.stub.get(scope).map(|stub| stub.si())
    });
    let stub = stub.and_then(|stub| {
        if stub > 0.0 { Known::Is(stub) } else { Known::not_applicable("it sits flush, without a stub") }
    });
    let sizes = stub.zip(valve.seat.get(scope).map(|seat| seat.si()));
    let (length, mouth) = match sizes {
        Known::Is(sizes) => sizes,
        other => return other.and_then(|_| Known::missing(&subject.route)),
    };
    scope.tract().host_of(part, scope).and_then(|host| {
        let each = over_stations(scope, &host.name, |here| {
            let (speed, _) = here.station.speed?;
            let sound = here.station.gas.sound_speed(here.station.outlet.temperature)?;
            (speed > 0.0).then(|| here.num(sound / (4.0 * length) * mouth / speed, Dim::ONE))
        });
        let mut nearest: Option<Num> = None;
        let mut missing: Option<Missing> = None;
        for one in each {
            match one {
                Known::Is(number) => {
                    let off = |number: &Num| (number.v / MIDDLE).ln().abs();
                    if nearest.as_ref().is_none_or(|nearest| off(&number) < off(nearest)) {
                        nearest = Some(number);
                    }
                }
                Known::Open(more) => missing = Some(missing.unwrap_or_default().join(more)),
                Known::NotApplicable(_) | Known::Between(..) => {}
            }
        }
        match (nearest, missing) {
            (_, Some(missing)) => Known::Open(missing),
            (Some(number), None) => Known::Is(Datum::Number(number)),
            (None, None) => Known::not_applicable("no air of known speed blows across its mouth"),
        }
    })
}
