//! What joins what: every joint of the tract and every hose, as a list that a workshop can order from. What the
//! description leaves open is asked for, never assumed.

pub mod csv;
pub mod json;
pub mod text;

use std::sync::Arc;

use super::steady::{Mark, marks};
use crate::build::Build;
use crate::build::hoses::{
    Bead, Clamp, CouplerFields, End, Flange, HoseFields, Inline, JointFields, Named, NamedList,
};
use crate::build::parts::{Body, Part, PartKind};
use crate::build::scalars::{AIR, Destination, Flag, HoseName, Length, List, PartName, Q, Text};
use crate::known::{Field, Known, State, Unrecorded};
use crate::model::{Air, Outcome, Point, SiteState, Station, Steady};
use crate::text::Route;
use crate::tract::Tract;

/// Bores that differ by more than this ask for a reducer, m: less is within what a soft coupler gives (common practice,
/// no source).
pub const STEP_FOR_A_REDUCER: f64 = 1e-3;

/// The list of one build.
#[derive(Clone, Debug, PartialEq)]
pub struct JointList {
    /// Each pair of neighbours of the air path once, in its order.
    pub joints: Vec<JointLine>,
    /// The hoses in the order of the text.
    pub hoses: Vec<HoseLine>,
}

/// What an order needs and the description does not say.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct ToSay {
    /// Where it would stand.
    pub route: Route,
    /// What to measure or write down.
    pub what: String,
}

/// A detail of the description.
#[derive(Clone, Debug, PartialEq)]
pub enum Said<T> {
    /// As described.
    Is(T),
    /// Said to be none.
    None,
    /// Not described.
    Open,
}

impl<T> Said<T> {
    /// The detail, if it is described.
    pub fn given(&self) -> Option<&T> {
        match self {
            Self::Is(value) => Some(value),
            Self::None | Self::Open => None,
        }
    }
}

/// One joint. Lengths in m.
#[derive(Clone, Debug, PartialEq)]
pub struct JointLine {
    /// Where it is described, or would be.
    pub route: Route,
    /// The part ahead of it.
    pub upstream: Arc<str>,
    /// The part behind it.
    pub downstream: Arc<str>,
    /// Inside diameters of both ends that meet here.
    pub bores: [Option<f64>; 2],
    /// Their outside diameters, where a wall is given.
    pub outsides: [Option<f64>; 2],
    /// What joins them.
    pub join: Join,
    /// The highest steady pressure here above the air outside, Pa, total, over all points at full throttle and sites.
    pub pressure: Highest,
    /// The deepest steady pressure here below the air outside, Pa, total; negative where it never falls below.
    pub depression: Highest,
    /// The highest steady temperature here, K, total.
    pub temperature: Highest,
    /// What an order for it needs besides.
    pub to_say: Vec<ToSay>,
}

/// What joins two neighbours.
#[derive(Clone, Debug, PartialEq)]
pub enum Join {
    /// A soft coupler over both ends.
    Coupler(Box<CouplerLine>),
    /// One or both neighbours are soft couplers themselves.
    SoftPart,
    /// A flange.
    Flange(Flange),
    /// The description does not say.
    NotDescribed,
}

impl Join {
    /// Its word in data.
    pub fn word(&self) -> &'static str {
        match self {
            Self::Coupler(_) => "coupler",
            Self::SoftPart => "soft-part",
            Self::Flange(_) => "flange",
            Self::NotDescribed => "not-described",
        }
    }
}

/// A soft coupler. Lengths in m.
#[derive(Clone, Debug, PartialEq)]
pub struct CouplerLine {
    /// Inside diameter.
    pub bore: Said<f64>,
    /// Bare stretch between the pipe ends.
    pub gap: Said<f64>,
    /// Overlap on each side.
    pub overlap: Said<f64>,
    /// What it is made of.
    pub material: Said<Arc<str>>,
    /// Straight or with a hump.
    pub form: Said<&'static str>,
    /// The bead on the pipe ends.
    pub bead: Said<&'static str>,
    /// The kind of clamp.
    pub clamp: Said<&'static str>,
    /// Whether a tie takes the thrust.
    pub tied: Said<bool>,
}

/// Whether bores ask for a reducer.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Reducer {
    /// The bores differ: from the upstream one to the downstream one, m.
    Needed(f64, f64),
    /// The bores agree within [`STEP_FOR_A_REDUCER`].
    NotNeeded,
    /// A bore is not given.
    Unknown,
    /// A flange joins the two, which leaves a step as it is.
    Flanged,
}

impl Reducer {
    /// Its word in data.
    pub fn word(self) -> &'static str {
        match self {
            Self::Needed(..) => "needed",
            Self::NotNeeded => "not-needed",
            Self::Unknown => "unknown",
            Self::Flanged => "flanged",
        }
    }
}

/// The highest of a quantity over all operating points and sites.
#[derive(Clone, Debug, PartialEq)]
pub struct Highest {
    /// The value, and where it is reached; none where nothing is computed.
    pub value: Option<Peak>,
    /// Whether every point is computed; else it may be higher.
    pub complete: bool,
}

/// A highest value.
#[derive(Clone, Debug, PartialEq)]
pub struct Peak {
    /// In SI units.
    pub value: f64,
    /// The site.
    pub site: Arc<str>,
    /// The engine speed, rev/s.
    pub speed: f64,
}

/// One hose. Lengths in m.
#[derive(Clone, Debug, PartialEq)]
pub struct HoseLine {
    /// Where it is described.
    pub route: Route,
    /// Its name.
    pub name: Arc<str>,
    /// What its ends sit on.
    pub ends: [Said<HoseEnd>; 2],
    /// Length.
    pub length: Said<f64>,
    /// Inside diameter.
    pub bore: Said<f64>,
    /// What it is made of.
    pub material: Said<Arc<str>>,
    /// The bores of its restrictors; `None` for one whose bore is not given.
    pub restrictors: Vec<Option<f64>>,
    /// Parts that sit in it.
    pub through: Vec<Arc<str>>,
    /// Hoses that tee off it, each with the distance from this one's `from`.
    pub tees: Vec<(Arc<str>, Option<f64>)>,
    /// What an order for it needs besides.
    pub to_say: Vec<ToSay>,
}

/// An end of a hose.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum HoseEnd {
    /// A part.
    Part(Arc<str>),
    /// The open air.
    Air,
    /// A tee in another hose.
    Tee(Arc<str>),
}

impl HoseEnd {
    /// It in a word or two.
    pub fn words(&self) -> String {
        match self {
            Self::Part(name) => name.to_string(),
            Self::Air => AIR.to_owned(),
            Self::Tee(hose) => format!("tee in {hose}"),
        }
    }
}

impl JointLine {
    /// The step between both bores, m, positive where it widens.
    pub fn step(&self) -> Option<f64> {
        let [upstream, downstream] = self.bores;
        Some(downstream? - upstream?)
    }

    /// Whether it needs a reducer.
    pub fn reducer(&self) -> Reducer {
        match (&self.join, self.bores) {
            (Join::Flange(_), _) => Reducer::Flanged,
            (_, [Some(upstream), Some(downstream)]) => {
                // Diameters written in mm differ by their last digits in m.
                if (downstream - upstream).abs() > STEP_FOR_A_REDUCER + 1e-9 {
                    Reducer::Needed(upstream, downstream)
                } else {
                    Reducer::NotNeeded
                }
            }
            _ => Reducer::Unknown,
        }
    }

    /// How many clamps it takes: two a coupler, one where a neighbour is the soft piece; unknown where nothing is said.
    pub fn clamps(&self) -> Option<usize> {
        match &self.join {
            Join::Coupler(coupler) if coupler.clamp == Said::None => Some(0),
            Join::Coupler(_) => Some(2),
            Join::SoftPart => Some(1),
            Join::Flange(_) => Some(0),
            Join::NotDescribed => None,
        }
    }
}

impl JointList {
    /// The list of a build with its operating points.
    pub fn of(build: &Build, steady: &Steady) -> Self {
        let joints = Tract::new(build).joints();
        let lines = joints.iter().map(|joint| {
            let mut to_say = Vec::new();
            let ends = [(&joint.upstream, true), (&joint.downstream, false)];
            let parts = ends.map(|(name, _)| build.parts.named(name));
            let other = [&joint.downstream, &joint.upstream];
            let mut bores = [None; 2];
            for (((bore, part), (_, outlet)), other) in bores.iter_mut().zip(parts).zip(ends).zip(other) {
                *bore = part.and_then(|part| bore_of(part, outlet, other, &mut to_say));
            }
            let mut outsides = [None; 2];
            for ((outside, part), bore) in outsides.iter_mut().zip(parts).zip(bores) {
                let wall = part.and_then(|part| part.duct.as_ref()).map(|duct| length(&duct.wall));
                *outside = bore.zip(wall.and_then(|wall| wall.given().copied())).map(|(b, w)| b + 2.0 * w);
            }
            let soft = |part: Option<&Part>| part.and_then(Part::known_kind) == Some(PartKind::Coupler);
            let is_soft = parts.into_iter().any(soft);
            let join = join(build, &joint.route, is_soft);
            to_say.extend(join_to_say(&join, &joint.route, [&joint.upstream, &joint.downstream]));
            let of = |pick: fn(&SiteState, &Air) -> f64| highest(steady, &joint.upstream, pick);
            JointLine {
                route: joint.route.clone(),
                upstream: joint.upstream.clone(),
                downstream: joint.downstream.clone(),
                bores,
                outsides,
                join,
                pressure: of(|site, air| air.pressure - site.pressure),
                depression: of(|site, air| site.pressure - air.pressure),
                temperature: of(|_, air| air.temperature),
                to_say,
            }
        });
        Self { joints: lines.collect(), hoses: hoses(build) }
    }

    /// What to measure or write down, each place once, in the order of joints and hoses.
    pub fn to_say(&self) -> Vec<&ToSay> {
        let of_joints = self.joints.iter().flat_map(|joint| &joint.to_say);
        let mut all: Vec<&ToSay> = Vec::new();
        for one in of_joints.chain(self.hoses.iter().flat_map(|hose| &hose.to_say)) {
            if !all.contains(&one) {
                all.push(one);
            }
        }
        all
    }
}

/// The bore of a part at its outlet or its inlet, or what to measure.
fn bore_of(part: &Part, outlet: bool, other: &str, to_say: &mut Vec<ToSay>) -> Option<f64> {
    let end = if outlet { "outlet" } else { "inlet" };
    // The ends of a compressor differ, and of no such part the one bore says which of them it is.
    let machine = matches!(part.known_kind(), Some(PartKind::Turbocharger | PartKind::Supercharger));
    let field = match (&part.body, &part.duct) {
        (Body::Cone(cone), _) if outlet => Some(&cone.outlet_bore),
        (_, Some(duct)) if !machine => Some(&duct.bore),
        _ => None,
    };
    if let Some(bore) = field.and_then(|field| length(field).given().copied()) {
        return Some(bore);
    }
    let route = field.map_or(&part.route, Field::route).clone();
    to_say.push(ToSay { route, what: format!("inside diameter of its {end}, to {other}") });
    None
}

fn length(field: &Field<Q<Length>>) -> Said<f64> {
    said(field, |length| length.si())
}

fn said<T, U>(field: &Field<T>, pick: impl FnOnce(&T) -> U) -> Said<U> {
    match field.state(&Unrecorded) {
        State::Given(value) => Said::Is(pick(value)),
        State::SaidNone => Said::None,
        State::Absent | State::Faulty => Said::Open,
    }
}

fn described<'b>(build: &'b Build, route: &Route) -> Option<&'b JointFields> {
    let State::Given(NamedList(list)) = build.top.joints.state(&Unrecorded) else { return None };
    list.iter().find(|one| one.route == *route)?.fields.as_ref()
}

fn join(build: &Build, route: &Route, is_soft: bool) -> Join {
    let fields = described(build, route);
    if let Some(State::Given(coupler)) = fields.map(|fields| fields.coupler.state(&Unrecorded)) {
        return Join::Coupler(Box::new(CouplerLine::of(coupler)));
    }
    match fields.map(|fields| fields.flange.state(&Unrecorded)) {
        Some(State::Given(flange)) => Join::Flange(*flange),
        _ if is_soft => Join::SoftPart,
        _ => Join::NotDescribed,
    }
}

impl CouplerLine {
    fn of(coupler: &CouplerFields) -> Self {
        let bead = match said(&coupler.bead, |bead| *bead) {
            Said::Is(Bead::None) => Said::None,
            Said::Is(bead) => Said::Is(bead.word()),
            Said::None => Said::None,
            Said::Open => Said::Open,
        };
        let clamp = match said(&coupler.clamp, |clamp| *clamp) {
            Said::Is(Clamp::None) => Said::None,
            Said::Is(clamp) => Said::Is(clamp.word()),
            Said::None => Said::None,
            Said::Open => Said::Open,
        };
        Self {
            bore: length(&coupler.bore),
            gap: length(&coupler.gap),
            overlap: length(&coupler.overlap),
            material: said(&coupler.material, |Text(text)| text.clone()),
            form: said(&coupler.form, |form| form.word()),
            bead,
            clamp,
            tied: said(&coupler.tied, |Flag(tied)| *tied),
        }
    }

    fn to_say(&self, route: &Route) -> Vec<ToSay> {
        let CouplerLine { bore, gap, overlap, material, form, bead, clamp, tied } = self;
        let details = [
            (matches!(bore, Said::Open), "bore", "inside diameter"),
            (matches!(gap, Said::Open), "gap", "bare stretch between the pipe ends"),
            (matches!(overlap, Said::Open), "overlap", "overlap on each side"),
            (matches!(material, Said::Open), "material", "what it is made of"),
            (matches!(form, Said::Open), "form", "straight, or with a hump"),
            (matches!(bead, Said::Open), "bead", "the bead on the pipe ends"),
            (matches!(clamp, Said::Open), "clamp", "the kind of its clamps"),
            (matches!(tied, Said::Open), "tied", "whether a tie takes the thrust"),
        ];
        let open = details.into_iter().filter(|(open, ..)| *open);
        open.map(|(_, key, what)| ToSay { route: route.key(key), what: what.to_owned() }).collect()
    }
}

fn join_to_say(join: &Join, route: &Route, [upstream, downstream]: [&str; 2]) -> Vec<ToSay> {
    match join {
        Join::Coupler(coupler) => coupler.to_say(&route.key("coupler")),
        Join::Flange(_) => Vec::new(),
        Join::SoftPart => {
            vec![ToSay { route: route.clone(), what: "the clamp on the soft piece".to_owned() }]
        }
        Join::NotDescribed => {
            vec![ToSay { route: route.clone(), what: format!("what joins {upstream} and {downstream}") }]
        }
    }
}

/// The highest of a quantity of the air that leaves a part.
fn highest(steady: &Steady, part: &str, pick: fn(&SiteState, &Air) -> f64) -> Highest {
    let mut found = Highest { value: None, complete: true };
    for site in &steady.sites {
        let (Known::Is(state), Known::Is(points)) = (&site.state, &site.points) else {
            found.complete = false;
            continue;
        };
        for point in points {
            let Some(station) = station_of(point, part) else {
                found.complete = false;
                continue;
            };
            let value = pick(state, &station.outlet);
            if found.value.as_ref().is_none_or(|best| value > best.value) {
                found.value = Some(Peak { value, site: site.name.clone(), speed: point.speed });
            }
        }
    }
    found
}

/// The air at a part, where a point is solved and nothing surges: behind a surging compressor no state lasts.
fn station_of<'p>(point: &'p Point, part: &str) -> Option<&'p Station> {
    let Outcome::Solved(solution) = &point.outcome else { return None };
    if marks(point).contains(&Mark::LeftOfSurge) {
        return None;
    }
    solution.stations.iter().find(|station| &*station.part == part)
}

fn hoses(build: &Build) -> Vec<HoseLine> {
    let State::Given(NamedList(list)) = build.top.hoses.state(&Unrecorded) else { return Vec::new() };
    list.iter().map(|hose| hose_line(hose, list)).collect()
}

fn hose_line(hose: &Named<HoseFields>, all: &[Named<HoseFields>]) -> HoseLine {
    let Named { name, route, fields } = hose;
    let mut line = HoseLine {
        route: route.clone(),
        name: name.clone(),
        ends: [Said::Open, Said::Open],
        length: Said::Open,
        bore: Said::Open,
        material: Said::Open,
        restrictors: Vec::new(),
        through: Vec::new(),
        tees: tees(name, all),
        to_say: Vec::new(),
    };
    let Some(fields) = fields else {
        line.to_say.push(ToSay { route: route.clone(), what: "the hose".to_owned() });
        return line;
    };
    line.ends = [end(&fields.from), end(&fields.to)];
    line.length = length(&fields.length);
    line.bore = length(&fields.bore);
    line.material = said(&fields.material, |Text(text)| text.clone());
    let details = [
        (matches!(line.ends, [Said::Open, _]), &fields.from, "where one end sits"),
        (matches!(line.ends, [_, Said::Open]), &fields.to, "where the other end sits"),
    ];
    let ends = details.into_iter().filter(|(open, ..)| *open);
    line.to_say
        .extend(ends.map(|(_, field, what)| ToSay { route: field.route().clone(), what: what.to_owned() }));
    let details = [
        (matches!(line.length, Said::Open), fields.length.route(), "length"),
        (matches!(line.bore, Said::Open), fields.bore.route(), "inside diameter"),
        (matches!(line.material, Said::Open), fields.material.route(), "what it is made of"),
    ];
    let open = details.into_iter().filter(|(open, ..)| *open);
    line.to_say.extend(open.map(|(_, route, what)| ToSay { route: route.clone(), what: what.to_owned() }));
    if let State::Given(List(restrictors)) = fields.restrictors.state(&Unrecorded) {
        for restrictor in restrictors {
            let bore = length(&restrictor.bore).given().copied();
            if bore.is_none() {
                let route = restrictor.bore.route().clone();
                line.to_say.push(ToSay { route, what: "inside diameter of the restrictor".to_owned() });
            }
            line.restrictors.push(bore);
        }
    }
    if let State::Given(List(through)) = fields.through.state(&Unrecorded) {
        line.through = through
            .iter()
            .filter_map(|inline| match inline {
                Inline::Named(PartName(name)) => Some(name.clone()),
                Inline::Placed(place) => said(&place.part, |PartName(name)| name.clone()).given().cloned(),
            })
            .collect();
    }
    line
}

fn end(field: &Field<End>) -> Said<HoseEnd> {
    let named = |name: &Arc<str>| match &**name == AIR {
        true => HoseEnd::Air,
        false => HoseEnd::Part(name.clone()),
    };
    match said(field, Clone::clone) {
        Said::Is(End::Named(Destination(name))) => Said::Is(named(&name)),
        Said::Is(End::Placed(tap)) => said(&tap.part, |PartName(name)| HoseEnd::Part(name.clone())),
        Said::Is(End::Teed(tee)) => said(&tee.hose, |HoseName(name)| HoseEnd::Tee(name.clone())),
        Said::None => Said::None,
        Said::Open => Said::Open,
    }
}

/// The hoses that tee off one, by their distance along it.
fn tees(name: &str, all: &[Named<HoseFields>]) -> Vec<(Arc<str>, Option<f64>)> {
    let mut found = Vec::new();
    for other in all {
        let ends = other.fields.iter().flat_map(|fields| [&fields.from, &fields.to]);
        for end in ends {
            let State::Given(End::Teed(tee)) = end.state(&Unrecorded) else { continue };
            if said(&tee.hose, |HoseName(hose)| &**hose == name) == Said::Is(true) {
                found.push((other.name.clone(), length(&tee.at).given().copied()));
            }
        }
    }
    found
}

/// Absolute zero, degC.
const ABSOLUTE_ZERO: f64 = -273.15;

/// A temperature in degC.
fn celsius(temperature: f64) -> f64 {
    temperature + ABSOLUTE_ZERO
}

/// A length in mm, without the digits that its way through metres adds.
fn millimetres(length: f64) -> f64 {
    (length * 1e9).round() / 1e6
}
