//! Promise: order, regions, distances, joints and hoses of the layouts that the trade builds: one compressor, several in
//! series or side by side, throttles ahead of the compressor or one a cylinder.

use tractwright::build::Build;
use tractwright::build::files::{DiskLoader, Files};
use tractwright::build::parts::Part;
use tractwright::known::{Known, Unrecorded};
use tractwright::text::{Limits, parse};
use tractwright::tract::{Connection, Subject, SubjectKind, Tract};

fn build(text: &str) -> Build {
    let loader =
        DiskLoader::new(std::path::Path::new("."), std::path::Path::new("."), 1 << 20).expect("here");
    let files = Files::new(Box::new(loader), Limits::default());
    let text = format!("format: 1\n{text}");
    let file = files.add("build.yaml", &text);
    let parsed = parse(file, &text, files.limits());
    assert_eq!(parsed.faults, [], "{text}");
    let build = Build::read(file, &parsed.root.expect("a tree"), &files);
    assert_eq!(build.faults, [], "{text}");
    build
}

fn part<'b>(build: &'b Build, name: &str) -> &'b Part {
    build.parts.named(name).expect("a test's own part")
}

/// Each part with its region.
fn regions(build: &Build, names: &[&str]) -> Vec<&'static str> {
    let tract = Tract::new(build);
    let region = |name: &&str| match tract.region_of(name, &Unrecorded) {
        Known::Is(region) => region.word(),
        other => panic!("{name}: {other:?}"),
    };
    names.iter().map(region).collect()
}

fn subjects(build: &Build, kind: SubjectKind) -> Vec<(String, String)> {
    let told = |subject: Subject| (subject.route.to_string(), subject.name.to_string());
    Tract::new(build).subjects(kind).into_iter().map(told).collect()
}

fn names(pairs: &[(String, String)]) -> Vec<&str> {
    pairs.iter().map(|(_, name)| &**name).collect()
}

const PARTS: &str = "
parts:
  filter: { kind: air-filter }
  filter-2: { kind: air-filter }
  inlet: { kind: pipe, bore: 76 mm, length: 400 mm }
  turbo: { kind: turbocharger }
  turbo-2: { kind: turbocharger }
  hot: { kind: pipe, bore: 50 mm, length: 700 mm }
  hot-2: { kind: pipe, bore: 50 mm, length: 300 mm }
  cooler: { kind: charge-air-cooler, length: 600 mm }
  cold: { kind: pipe, bore: 60 mm, length: 900 mm }
  carburettor: { kind: carburettor }
  blower: { kind: supercharger, displacement: 1 L }
  throttle: { kind: throttle }
  throttle-2: { kind: throttle }
  runner: { kind: pipe, length: 100 mm }
  runner-2: { kind: pipe, length: 100 mm }
  plenum: { kind: plenum }
  manifold: { kind: inlet-manifold }
  relief: { kind: relief-valve, purpose: tip-out, tap: { part: cold, at: 250 mm } }
";

fn laid(path: &str) -> Build {
    build(&format!("{PARTS}air-path: {path}\n"))
}

fn distance(build: &Build) -> Known<f64> {
    Tract::new(build).distance_from_compressor(part(build, "relief"), &Unrecorded)
}

#[track_caller]
fn near(found: &Known<f64>, expected: f64) {
    assert!(matches!(found, Known::Is(v) if (v - expected).abs() < 1e-12), "{found:?} is not {expected}");
}

#[test]
fn one_compressor_and_a_throttle_behind_it() {
    let build = laid("[ filter, inlet, turbo, hot, cooler, cold, throttle, manifold ]");
    let expected = ["suction", "suction", "charge", "charge", "charge", "charge", "manifold"];
    assert_eq!(
        regions(&build, &["filter", "inlet", "turbo", "hot", "cold", "throttle", "manifold"]),
        expected
    );
    near(&distance(&build), 0.7 + 0.6 + 0.25);
    assert_eq!(names(&subjects(&build, SubjectKind::Joint)).len(), 7);
    let between =
        Tract::new(&build).distance_between(part(&build, "turbo"), part(&build, "throttle"), &Unrecorded);
    near(&between, 0.7 + 0.6 + 0.9);
}

#[test]
fn two_compressors_in_series() {
    let build = laid("[ filter, inlet, turbo, hot, turbo-2, hot-2, cooler, cold, manifold ]");
    let expected = ["suction", "between-stages", "between-stages", "charge", "charge", "charge"];
    assert_eq!(regions(&build, &["inlet", "turbo", "hot", "turbo-2", "cold", "manifold"]), expected);
    // From the outlet of the second wheel, not of the first.
    near(&distance(&build), 0.3 + 0.6 + 0.25);
    assert_eq!(
        subjects(&build, SubjectKind::Series),
        [("air-path[2]".to_owned(), "turbo, turbo-2".to_owned())]
    );
    let nothing_shuts = Tract::new(&build).shutting_behind(part(&build, "turbo"), &Unrecorded);
    assert!(matches!(nothing_shuts, Known::Is(found) if found.is_empty()));
}

#[test]
fn a_carburettor_ahead_of_the_compressor() {
    let build = laid("[ filter, carburettor, inlet, turbo, cold, manifold ]");
    let expected = ["suction", "suction", "throttled-suction", "manifold", "manifold", "manifold"];
    assert_eq!(regions(&build, &["filter", "carburettor", "inlet", "turbo", "cold", "manifold"]), expected);
}

#[test]
fn a_blower_behind_the_throttle_or_ahead_of_it() {
    let ahead = laid("[ filter, throttle, inlet, blower, cold, manifold ]");
    assert_eq!(regions(&ahead, &["inlet", "blower", "cold"]), ["throttled-suction", "manifold", "manifold"]);
    let behind = laid("[ filter, inlet, blower, cold, throttle, manifold ]");
    assert_eq!(regions(&behind, &["inlet", "blower", "cold"]), ["suction", "charge", "charge"]);
}

const TWIN: &str = "[ parallel: { left: [ filter, turbo, hot ], right: [ filter-2, turbo-2, hot-2 ] }, cooler, cold, throttle, manifold ]";

#[test]
fn twin_compressors_joined_ahead_of_one_throttle() {
    let build = laid(TWIN);
    let all = ["filter", "turbo", "hot", "filter-2", "turbo-2", "hot-2", "cooler", "cold", "manifold"];
    let expected =
        ["suction", "charge", "charge", "suction", "charge", "charge", "charge", "charge", "manifold"];
    assert_eq!(regions(&build, &all), expected);
    // The shorter of the two ways counts.
    near(&distance(&build), 0.3 + 0.6 + 0.25);
    let parallel = subjects(&build, SubjectKind::Parallel);
    assert_eq!(parallel, [("air-path[0].parallel".to_owned(), "left, right".to_owned())]);
    assert_eq!(subjects(&build, SubjectKind::Series), []);
    assert_eq!(
        names(&subjects(&build, SubjectKind::Joint)),
        ["filter", "turbo", "filter-2", "turbo-2", "hot", "hot-2", "cooler", "cold", "throttle"]
    );
    let tract = Tract::new(&build);
    for turbo in ["turbo", "turbo-2"] {
        let shutting = tract.shutting_behind(part(&build, turbo), &Unrecorded);
        assert!(
            matches!(shutting, Known::Is(found) if found.len() == 1 && &*found[0].part.name == "throttle")
        );
    }
    let path = tract.path(&Unrecorded);
    let Known::Is(path) = path else { panic!("{path:?}") };
    let at = |name: &str| path.spot(name).expect("on the path").index;
    assert!(path.is_ahead(at("hot"), at("cold")) && path.is_ahead(at("hot-2"), at("cold")));
    assert!(!path.is_ahead(at("hot"), at("hot-2")) && !path.is_ahead(at("turbo"), at("hot-2")));
}

#[test]
fn every_way_must_lead_past_the_valve() {
    let build = laid(TWIN);
    let tract = Tract::new(&build);
    let passes = |turbo: &str, host: &str| {
        tract.every_way_passes(part(&build, turbo), |spot| &*spot.part.name == host, &Unrecorded)
    };
    for (turbo, host, expected) in [
        ("turbo", "cold", true),
        ("turbo-2", "cold", true),
        ("turbo", "hot", true),
        ("turbo-2", "hot", false),
        ("turbo", "manifold", false),
    ] {
        assert_eq!(passes(turbo, host), Known::Is(expected), "{turbo} past {host}");
    }
}

#[test]
fn individual_throttles() {
    let each = "parallel: { one: [ throttle, runner ], two: [ throttle-2, runner-2 ] }";
    let build = laid(&format!("[ filter, turbo, hot, plenum, {{ {each} }} ]"));
    let expected = ["charge", "charge", "charge", "runner", "runner"];
    assert_eq!(regions(&build, &["hot", "plenum", "throttle", "runner", "runner-2"]), expected);
    let shutting = Tract::new(&build).shutting_behind(part(&build, "turbo"), &Unrecorded);
    assert!(matches!(shutting, Known::Is(found) if found.len() == 2));
    assert_eq!(
        subjects(&build, SubjectKind::Joint).iter().map(|(route, _)| &**route).collect::<Vec<_>>(),
        [
            "joints.filter",
            "joints.turbo",
            "joints.hot",
            "joints.\"plenum > throttle\"",
            "joints.throttle",
            "joints.\"plenum > throttle-2\"",
            "joints.throttle-2",
        ]
    );
    // Joined again behind the throttles it is one manifold.
    let joined = laid(&format!("[ filter, turbo, hot, plenum, {{ {each} }}, manifold ]"));
    assert_eq!(regions(&joined, &["runner", "manifold"]), ["manifold", "manifold"]);
    // Banks with a manifold each have manifolds, not runners.
    let banks = "parallel: { left: [ throttle, runner, manifold ], right: [ throttle-2, runner-2, plenum ] }";
    let banked = laid(&format!("[ filter, turbo, hot, {{ {banks} }} ]"));
    assert_eq!(regions(&banked, &["runner", "manifold", "runner-2", "plenum"]), ["manifold"; 4]);
}

#[test]
fn where_branches_join_the_unhindered_one_counts() {
    let build =
        laid("[ filter, turbo, parallel: { shut: [ throttle, hot ], open: [ hot-2 ] }, cold, manifold ]");
    assert_eq!(regions(&build, &["hot", "hot-2", "cold"]), ["manifold", "charge", "charge"]);
}

#[test]
fn gaps_and_wrong_orders_are_told_at_their_places() {
    let faults = |path: &str| {
        let build = laid(path);
        let tract = Tract::new(&build);
        let told = |faults: Known<Vec<tractwright::tract::PathFault>>| match faults {
            Known::Is(faults) => faults.iter().map(|fault| fault.route.to_string()).collect::<Vec<_>>(),
            other => panic!("{other:?}"),
        };
        (told(tract.path_gaps(&Unrecorded)), told(tract.path_order_faults(&Unrecorded)))
    };
    let none: Vec<String> = Vec::new();
    assert_eq!(faults("[ filter, turbo, cooler, cold, throttle, manifold ]"), (none.clone(), none.clone()));
    // The path leaves out the pipe that the relief valve taps.
    assert_eq!(faults("[ filter, turbo, cooler, throttle, manifold ]").0, ["parts.relief.tap"]);
    assert_eq!(faults("[ filter, turbo, cold, cooler ]").0, ["air-path[3]"]);
    assert_eq!(faults("[]").0[0], "air-path");
    assert_eq!(faults("[ turbo, filter, cold, manifold ]").1, ["air-path[1]"]);
    assert_eq!(faults("[ filter, cooler, turbo, cold, manifold ]").1, ["air-path[1]"]);
    assert_eq!(faults("[ filter, turbo, cold, cold, manifold ]").1, ["air-path[3]"]);
    assert_eq!(faults("[ filter, turbo, cold, relief, manifold ]").1, ["air-path[3]"]);
    assert_eq!(faults("[ filter, cold, manifold, turbo, hot ]").1, ["air-path[3]"]);
    let twice = "[ filter, parallel: { left: [ turbo, hot ], right: [ turbo-2, hot ] }, cold, manifold ]";
    assert_eq!(faults(twice).1, ["air-path[1].parallel.right[1]"]);
}

#[test]
fn the_subjects_of_taps_openings_and_measurements() {
    let build = build(
        "
parts:
  cold: { kind: pipe, length: 900 mm }
  inlet: { kind: pipe, length: 400 mm }
  manifold: { kind: inlet-manifold }
  relief:
    kind: relief-valve
    tap: { part: cold, at: 1 m }
    discharge: [ { to: inlet, at: 200 mm, share: 70 % }, { to: air, share: 30 % } ]
  idle: { kind: idle-air-valve, from: air, to: manifold }
  breather: { kind: breather }
  sensor: { kind: pressure-sensor, tap: { part: manifold } }
  carburettor: { kind: carburettor, float-vent: { part: cold, at: 100 mm } }
  open-carburettor: { kind: carburettor, float-vent: none }
air-path: [ inlet, cold, manifold ]
hoses:
  signal: { from: { part: manifold, at: 10 mm }, to: relief }
  crankcase: { from: breather, to: air }
measurements: [ { part: cold, quantity: pressure-loss, value: 1 kPa } ]
",
    );
    let routes = |kind| subjects(&build, kind).into_iter().map(|(route, _)| route).collect::<Vec<_>>();
    assert_eq!(
        routes(SubjectKind::Tap),
        [
            "parts.relief.tap",
            "parts.relief.discharge[0]",
            "parts.sensor.tap",
            "parts.carburettor.float-vent",
            "hoses.signal.from",
        ]
    );
    assert_eq!(
        routes(SubjectKind::Opening),
        ["parts.relief.discharge[1]", "parts.idle.from", "hoses.crankcase.to"]
    );
    assert_eq!(routes(SubjectKind::Measurement), ["measurements[0]"]);
    assert_eq!(routes(SubjectKind::ReferencedPart), ["parts.sensor", "parts.carburettor"]);
    assert_eq!(routes(SubjectKind::Consumer), ["parts.idle", "parts.breather"]);
}

const HOSES: &str = "
describes: [ air-path, signals ]
parts:
  inlet: { kind: pipe }
  hot: { kind: pipe }
  manifold: { kind: inlet-manifold }
  relief: { kind: relief-valve }
  servo: { kind: brake-servo }
  check: { kind: check-valve, flows: { from: servo, to: manifold } }
  solenoid: { kind: boost-solenoid }
  actuator: { kind: actuator }
  breather: { kind: breather }
  catch: { kind: catch-tank }
  balance: { kind: plenum }
air-path: [ inlet, hot, manifold ]
";

fn sources(build: &Build, name: &str) -> Vec<String> {
    match Tract::new(build).signal_sources(part(build, name), &Unrecorded) {
        Known::Is(sources) => sources.found.into_iter().map(|(_, source)| source.to_string()).collect(),
        other => panic!("{other:?}"),
    }
}

#[test]
fn signals_come_through_tees_solenoids_and_balance_chambers() {
    let build = build(&format!(
        "{HOSES}
hoses:
  servo-hose: {{ from: servo, to: manifold, through: [ {{ part: check, at: 100 mm }} ] }}
  signal: {{ from: {{ hose: servo-hose, at: 300 mm }}, to: relief }}
  feed: {{ from: hot, to: solenoid }}
  vent: {{ from: solenoid, to: inlet }}
  to-actuator: {{ from: solenoid, to: actuator }}
  gas: {{ from: breather, to: catch }}
  gas-out: {{ from: catch, to: inlet }}
"
    ));
    // The servo hangs on the same hose, but it feeds nothing.
    assert_eq!(sources(&build, "relief"), ["manifold"]);
    assert_eq!(sources(&build, "actuator"), ["hot", "inlet"]);
    let tract = Tract::new(&build);
    let Known::Is(ways) = tract.connections(part(&build, "breather"), &Unrecorded) else { panic!("known") };
    let [Connection::Hose(way, far)] = ways.found.as_slice() else { panic!("{ways:?}") };
    assert_eq!((&**far, way.hoses().len()), ("inlet", 2));
    assert_eq!(way.far.to_string(), "hoses.gas-out.to");
}

#[test]
fn a_check_valve_counts_on_the_side_of_the_tee_that_it_sits_on() {
    let passes = |at: &str, into: &str, flows: &str| {
        let text = HOSES.replace("{ from: servo, to: manifold }", flows);
        let build = build(&format!(
            "{text}
hoses:
  servo-hose: {{ from: servo, to: manifold, through: [ {at} ] }}
  signal: {{ from: {{ hose: servo-hose, at: 300 mm }}, to: relief }}
"
        ));
        let tract = Tract::new(&build);
        let Known::Is(ways) = tract.signal_sources(part(&build, into), &Unrecorded) else { panic!("known") };
        let [(way, _)] = ways.found.as_slice() else { panic!("{ways:?}") };
        tract.passes_towards(way, into, &Unrecorded)
    };
    let out = "{ from: servo, to: manifold }";
    let back = "{ from: manifold, to: servo }";
    // Between the servo and the tee.
    assert_eq!(passes("{ part: check, at: 100 mm }", "servo", out), Known::Is(false));
    assert_eq!(passes("{ part: check, at: 100 mm }", "servo", back), Known::Is(true));
    assert_eq!(passes("{ part: check, at: 100 mm }", "relief", out), Known::Is(true));
    // Between the tee and the manifold.
    assert_eq!(passes("{ part: check, at: 500 mm }", "relief", out), Known::Is(false));
    assert_eq!(passes("{ part: check, at: 500 mm }", "relief", back), Known::Is(true));
    // Somewhere: on the servo's way it is in any case, on the valve's perhaps.
    assert!(matches!(passes("check", "relief", out), Known::Open(_)));
}

#[test]
fn no_is_no_answer_while_a_further_hose_may_lead_elsewhere() {
    let build = build(&format!(
        "{HOSES}
hoses:
  signal: {{ from: manifold, to: relief }}
  second: {{ to: relief }}
"
    ));
    let tract = Tract::new(&build);
    let Known::Is(ways) = tract.signal_sources(part(&build, "relief"), &Unrecorded) else { panic!("known") };
    assert_eq!(ways.found.len(), 1);
    let from = |wanted: &str| ways.any(|(_, source)| Known::Is(**source == *wanted));
    assert_eq!(from("manifold"), Known::Is(true));
    let Known::Open(missing) = from("hot") else { panic!("it may come from there as well") };
    let missing: Vec<String> = missing.fields.iter().map(ToString::to_string).collect();
    assert_eq!(missing, ["hoses.second.from"]);
    assert!(matches!(ways.each(|_| Known::Is(())), Known::Open(_)));
}

#[test]
fn hoses_in_a_ring_come_to_an_end() {
    let build = build(&format!(
        "{HOSES}
hoses:
  one: {{ from: {{ hose: two, at: 10 mm }}, to: {{ hose: two, at: 20 mm }} }}
  two: {{ from: {{ hose: one, at: 10 mm }}, to: relief }}
"
    ));
    assert_eq!(sources(&build, "relief"), [] as [String; 0]);
}
