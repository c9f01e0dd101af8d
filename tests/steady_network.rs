//! Promise: stages, branches and drawn-through mixtures are solved as an independent program solves them (within 0.3 %), mass
//! and energy balance at every junction and machine, and what has no solution says how much boost would have one.
//!
//! The independent program is `tests/oracles/network.py`: CoolProp for properties, `fluids` for losses, `ht` for
//! transfer units, SciPy for the solve. Where its packages are not installed the comparison is skipped with a reason,
//! unless TRACTWRIGHT_ORACLES says `required`, as `.ci/run` does.

mod common;

use std::fs;
use std::path::PathBuf;

use serde_json::Value;
use tractwright::build::Build;
use tractwright::build::files::{DiskLoader, Files};
use tractwright::known::{Known, Unrecorded};
use tractwright::model::{MachinePoint, Outcome, Solution, Station, Steady};
use tractwright::physics::gas::Gas;
use tractwright::physics::map::{Across, Along};
use tractwright::text::{FileId, Limits, parse};

const TOLERANCE: f64 = 0.003;

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

/// Solves a build in a folder of the project, its text changed first.
fn solve_changed(folder: &str, name: &str, change: impl Fn(String) -> String) -> Steady {
    let loader = DiskLoader::new(&root(), folder.as_ref(), 1 << 20).expect("the project's folder");
    let files = Files::new(Box::new(loader), Limits::default());
    let text = change(fs::read_to_string(root().join(folder).join(name)).expect("the build"));
    let parsed = parse(FileId(0), &text, files.limits());
    let tree = parsed.root.expect("a tree");
    let build = Build::read(FileId(0), &tree, &files);
    assert!(build.faults.is_empty(), "{:?}", build.faults);
    Steady::solve(&build, &Unrecorded)
}

fn solve(name: &str) -> Steady {
    solve_changed("tests/data/steady", name, |text| text)
}

/// The boosted solutions at home, each with its engine speed in rpm.
fn boosted(steady: &Steady) -> Vec<(f64, &Solution)> {
    let Known::Is(points) = &steady.sites[0].points else { panic!("{:?}", steady.sites[0].points) };
    let solved = points.iter().filter(|point| !point.off_boost).map(|point| match &point.outcome {
        Outcome::Solved(solution) => (point.speed * 60.0, &**solution),
        other => panic!("{:.0} rpm: {other:?}", point.speed * 60.0),
    });
    solved.collect()
}

/// The oracle's answer; `None` where it cannot run.
fn oracle(build: &str, options: &[&str]) -> Option<Value> {
    let path = format!("tests/data/steady/{build}");
    let options = [&[path.as_str()], options].concat();
    common::oracle::answer("CoolProp fluids ht scipy yaml", "network.py", &options)
}

/// Whether a part stands ahead of every machine, where only the air drawn in and the fuel make its temperature.
fn ahead_of_machines(solution: &Solution, name: &str) -> bool {
    let first = solution.stations.iter().position(|station| solution.machine(&station.part).is_some());
    let here = solution.stations.iter().position(|station| &*station.part == name);
    here < first
}

struct Compared {
    what: String,
    count: usize,
    points: usize,
    misses: Vec<String>,
}

impl Compared {
    fn near(&mut self, ours: f64, theirs: &Value, name: &str) {
        self.within(ours, theirs, TOLERANCE * theirs.as_f64().expect("a number").abs(), name);
    }

    /// Within a share of a number that may be nought.
    fn share(&mut self, ours: f64, theirs: &Value, share: f64, name: &str) {
        let slack = share * theirs.as_f64().expect("a number").abs() + 1e-6;
        self.within(ours, theirs, slack, name);
    }

    fn within(&mut self, ours: f64, theirs: &Value, slack: f64, name: &str) {
        let theirs = theirs.as_f64().expect("a number");
        if (ours - theirs).abs() > slack {
            self.misses.push(format!("{}: {name}: {ours} against {theirs}", self.what));
        }
        self.count += 1;
    }
}

fn compare_with_oracle(build: &str) {
    let Some(theirs) = oracle(build, &[]) else { return };
    let compared = compare(build, &solve(build), &theirs);
    assert!(compared.misses.is_empty(), "{:#?}", compared.misses);
    assert!(
        compared.points >= 5 && compared.count > 150,
        "only {} points, {} numbers",
        compared.points,
        compared.count
    );
}

fn compare(build: &str, steady: &Steady, theirs: &Value) -> Compared {
    let ours = boosted(steady);
    let Known::Is(site) = &steady.sites[0].state else { panic!("no site") };
    let mut compared = Compared { what: String::new(), count: 0, points: 0, misses: Vec::new() };
    for point in theirs["points"].as_array().expect("points") {
        let rpm = point["engine_speed"].as_f64().expect("a speed");
        let (_, solution) =
            ours.iter().find(|(speed, _)| (speed - rpm).abs() < 0.5).expect("the same points");
        let parts = point["parts"].as_object().expect("parts");
        // Beside the map both hold what they have, each in its own way.
        if parts.values().any(|part| part.get("status").is_some_and(|status| status != "on-map")) {
            continue;
        }
        compared.points += 1;
        compared.what = format!("{build} {rpm:.0} rpm");
        compared.near(solution.flow, &point["flow"], "flow");
        compared.near(solution.air, &point["air"], "air");
        compared.near(solution.p_manifold, &point["p_manifold"], "manifold pressure");
        compared.near(solution.t_manifold, &point["T_manifold"], "manifold temperature");
        compared.share(solution.flow / solution.air - 1.0, &point["vapour"], 0.012, "fuel vapour");
        let site_gas = solution.stations[0].gas.r() / Gas::dry_air().r();
        // The two gas constants of dry air differ; what humidity adds is compared.
        let adds = 0.01 * (point["moist_to_dry"].as_f64().expect("a ratio") - 1.0);
        compared.within(site_gas, &point["moist_to_dry"], adds, "what humidity adds");
        for (name, theirs) in parts {
            compared.what = format!("{build} {rpm:.0} rpm {name}");
            if let Some(machine) = solution.machine(name) {
                compared.near(machine.flow, &theirs["flow"], "flow");
                compared.near(machine.p1, &theirs["p1"], "p1");
                compared.near(machine.t1, &theirs["T1"], "T1");
                compared.near(machine.p2, &theirs["p2"], "p2");
                compared.near(machine.t2, &theirs["T2"], "T2");
                compared.near(machine.corrected_flow, &theirs["corrected_flow"], "corrected flow");
                let working = machine.working.expect("on boost");
                assert_eq!((working.along, working.across), (Along::OnLine, Across::BetweenLines));
                compared.within(working.efficiency, &theirs["efficiency"], 0.005, "efficiency");
                compared.within(
                    machine.surge_margin().expect("a margin"),
                    &theirs["margin"],
                    0.005,
                    "margin",
                );
                let power = 0.01 * theirs["power"].as_f64().expect("a power");
                compared.within(machine.power, &theirs["power"], power, "power");
                continue;
            }
            let part = solution.part(name).expect("the same parts");
            compared.near(part.flow, &theirs["flow"], "flow");
            compared.near(part.outlet.pressure, &theirs["p_out"], "pressure");
            compared.near(part.outlet.temperature, &theirs["T_out"], "temperature");
            let loss = theirs["loss"].as_f64().expect("a loss");
            compared.within(
                part.inlet.pressure - part.outlet.pressure,
                &theirs["loss"],
                (0.002 * loss).max(0.1),
                "loss",
            );
            if ahead_of_machines(solution, name) {
                let warmed = part.outlet.temperature - site.temperature;
                compared.share(warmed, &theirs["warmed"], 0.01, "warmth");
            }
            if let Some(cooler) = solution.coolers.iter().find(|cooler| &*cooler.name == name) {
                compared.share(cooler.heat, &theirs["heat"], 0.006, "heat");
                if let Some(out) = cooler.coolant_out {
                    compared.share(out - cooler.coolant, &theirs["coolant_rise"], 0.01, "coolant's rise");
                }
            }
            if !theirs["vapour"].is_null() {
                let at = solution.stations.iter().position(|station| &*station.part == name).expect("it");
                let behind = &solution.stations[at + 1];
                compared.share(behind.flow / part.flow - 1.0, &theirs["vapour"], 0.012, "vapour at once");
                let cools = part.outlet.temperature - behind.inlet.temperature;
                compared.share(cools, &theirs["vapour_cools"], 0.012, "cooling by evaporation");
            }
        }
    }
    compared
}

#[test]
fn two_stages_agree_with_the_independent_solve() {
    compare_with_oracle("two-stage.yaml");
}

#[test]
fn twins_of_unequal_inlets_agree_with_the_independent_solve() {
    compare_with_oracle("twin.yaml");
}

#[test]
fn a_drawn_through_mixture_agrees_with_the_independent_solve() {
    compare_with_oracle("draw-through.yaml");
}

#[test]
fn small_terms_made_large_agree_with_the_independent_solve() {
    compare_with_oracle("terms.yaml");
}

/// Terms of the equations, by a build in which they matter.
const TERMS: &[(&str, &[&str])] = &[
    (
        "two-stage.yaml",
        &[
            "gas-constant",
            "heat-capacity",
            "swallowed",
            "boost",
            "given-loss",
            "friction",
            "bend",
            "step",
            "cone",
            "orifice",
            "effectiveness-over-flow",
            "corrected-flow",
            "efficiency",
            "surge-line",
        ],
    ),
    ("twin.yaml", &["effectiveness", "exit", "entry"]),
    (
        "terms.yaml",
        &[
            "transfer-units",
            "coolant-capacity",
            "warmer-by",
            "venturi",
            "fuel-share",
            "viscosity",
            "humidity",
            "roughness",
        ],
    ),
    ("draw-through.yaml", &["heat-of-evaporation", "fuel-saturation"]),
];

/// Whether a term 2 % too large in one of the two programs is noticed: the comparison sees it in either.
#[test]
fn every_term_two_per_cent_off_is_seen() {
    let mut unseen = Vec::new();
    for (build, terms) in TERMS {
        let Some(answers) = oracle(build, &["--speed", "5000", "--mutate", &terms.join(",")]) else { return };
        let steady = solve(build);
        for term in *terms {
            let compared = compare(build, &steady, &answers[term]);
            assert!(compared.points == 1, "{build} is not on the map with {term} mutated");
            if compared.misses.is_empty() {
                unseen.push(term);
            }
        }
    }
    assert!(unseen.is_empty(), "nothing sees {unseen:?}");
}

/// Every solution of the builds here and of the starter at all its sites.
fn all_solutions(check: impl Fn(&str, &Solution)) {
    let builds = [
        ("tests/data/steady", "two-stage.yaml"),
        ("tests/data/steady", "twin.yaml"),
        ("tests/data/steady", "draw-through.yaml"),
        ("examples", "hill-climb.yaml"),
    ];
    for (folder, name) in builds {
        let steady = solve_changed(folder, name, |text| text);
        let mut seen = 0;
        for site in &steady.sites {
            let Known::Is(points) = &site.points else { panic!("{name} is not solved") };
            for point in points {
                let Outcome::Solved(solution) = &point.outcome else { panic!("{name}: no solution") };
                check(&format!("{name} {} {:.0} rpm", site.name, point.speed * 60.0), solution);
                seen += 1;
            }
        }
        assert!(seen > 10, "{name}");
    }
}

#[test]
fn mass_balances_at_every_junction() {
    let flow = |solution: &Solution, name: &str| solution.part(name).expect("a part").flow;
    let steady = solve("twin.yaml");
    let mut uneven: f64 = 0.0;
    for (rpm, solution) in boosted(&steady) {
        let branches = flow(solution, "hot-left") + flow(solution, "hot-right");
        assert!((branches / flow(solution, "join") - 1.0).abs() < 1e-9, "{rpm}");
        assert!((branches / solution.flow - 1.0).abs() < 1e-9, "{rpm}");
        let one =
            |names: [&str; 2]| (flow(solution, names[0]) / flow(solution, names[1]) - 1.0).abs() < 1e-12;
        assert!(one(["filter-left", "hot-left"]) && one(["filter-right", "turbo-right"]), "{rpm}");
        // The pressures of the branches agree where they join.
        let ends = ["hot-left", "hot-right"].map(|name| solution.part(name).expect("a part").outlet.pressure);
        assert!((ends[0] / ends[1] - 1.0).abs() < 1e-9, "{rpm}");
        // Turbochargers side by side take up the same power.
        let powers: Vec<f64> = solution.machines.iter().map(|machine| machine.power).collect();
        assert!((powers[0] / powers[1] - 1.0).abs() < 1e-9, "{rpm}: {powers:?}");
        uneven = uneven.max(flow(solution, "hot-left") / flow(solution, "hot-right"));
    }
    assert!(uneven > 1.03, "the branches are unlike, so that an even split would be an error: {uneven}");
    all_solutions(|what, solution| {
        let last = solution.stations.last().expect("parts");
        assert!((last.flow / solution.flow - 1.0).abs() < 1e-9, "{what}");
    });
}

#[test]
fn pressures_and_temperatures_go_on_from_part_to_part() {
    all_solutions(|what, solution| {
        let branches = solution.part("hot-left").is_some();
        for pair in solution.stations.windows(2) {
            let leaves_a_branch = branches && (&*pair[1].part == "filter-right" || &*pair[1].part == "join");
            // Where fuel evaporates the temperature falls between two parts.
            let fuel = solution.part("carburettor").is_some();
            if leaves_a_branch {
                continue;
            }
            assert!(
                (pair[0].outlet.pressure / pair[1].inlet.pressure - 1.0).abs() < 1e-9,
                "{what}: {}",
                pair[1].part
            );
            let warmed = &*pair[1].part == "filter-right";
            if !fuel && !warmed {
                // The solver leaves this much in a temperature.
                assert!(
                    (pair[0].outlet.temperature - pair[1].inlet.temperature).abs() < 1e-6,
                    "{what}: {}",
                    pair[1].part
                );
            }
        }
    });
}

#[test]
fn energy_balances_over_every_machine_and_cooler() {
    all_solutions(|what, solution| {
        for machine in &solution.machines {
            let part = solution.part(&machine.name).expect("its part");
            let rise = part.gas.h(machine.t2) - part.gas.h(machine.t1);
            assert!(
                (machine.power - machine.flow * rise).abs() <= 1e-9 * machine.power.abs().max(1.0),
                "{what}"
            );
            if let Some(working) = machine.working {
                // The rise is that of the isentropic compression over the efficiency.
                let ideal =
                    part.gas.isentropic_temperature(machine.t1, machine.ratio()).expect("a temperature");
                let wanted = (part.gas.h(ideal) - part.gas.h(machine.t1)) / working.efficiency;
                assert!((rise / wanted - 1.0).abs() < 1e-9, "{what}: {rise} {wanted}");
            }
        }
        for cooler in &solution.coolers {
            let part = solution.part(&cooler.name).expect("its part");
            let heat = part.flow * (part.gas.h(part.inlet.temperature) - part.gas.h(part.outlet.temperature));
            assert!((cooler.heat - heat).abs() <= 1e-9 * heat.abs().max(1.0), "{what}");
            let effectiveness = (part.inlet.temperature - part.outlet.temperature)
                / (part.inlet.temperature - cooler.coolant);
            // Off boost the charge may be as warm as the coolant.
            if (part.inlet.temperature - cooler.coolant).abs() > 1.0 {
                assert!((effectiveness / cooler.effectiveness - 1.0).abs() < 1e-9, "{what}");
            }
        }
    });
}

fn no_solutions(steady: &Steady) -> Vec<(f64, Option<f64>)> {
    let Known::Is(points) = &steady.sites[0].points else { panic!("not set up") };
    let none = points.iter().filter(|point| matches!(point.outcome, Outcome::NoSolution));
    none.map(|point| (point.speed * 60.0, point.largest_boost)).collect()
}

#[test]
fn what_has_no_solution_says_the_largest_boost_that_has_one() {
    // A filter that the wanted flow cannot pass, however deep the compressor sucks.
    let narrow = |text: String| {
        let sound = "loss: { pressure: 1.2 kPa, flow: 0.18 kg/s }";
        assert!(text.contains(sound));
        text.replace(sound, "loss: { pressure: 50 kPa, flow: 0.18 kg/s }")
    };
    let steady = solve_changed("examples", "hill-climb.yaml", narrow);
    let none = no_solutions(&steady);
    assert!(!none.is_empty(), "every point has a solution");
    for (rpm, largest) in none {
        let Some(largest) = largest else { continue };
        assert!(largest > 0.0 && largest < 1e5, "{rpm} {largest}");
        // Held below it, the point has a solution; above it, none.
        for (share, has) in [(0.99, true), (1.01, false)] {
            let held = |text: String| {
                let flat = format!("boost:\n  1000 rpm: {} Pa\n  7000 rpm: {0} Pa\n", largest * share);
                let start = text.find("\nboost:").expect("boost") + 1;
                let end = text.find("gear-change:").expect("the next table");
                narrow(format!("{}{flat}{}", &text[..start], &text[end..]))
            };
            let again = solve_changed("examples", "hill-climb.yaml", held);
            let missed = no_solutions(&again).iter().any(|(speed, _)| (speed - rpm).abs() < 0.5);
            assert_eq!(missed, !has, "{rpm} rpm at {share} of {largest} Pa");
        }
    }
}

/// A build with a machine that displaces its air, throttle ahead of it.
fn blower(drive: f64) -> Steady {
    solve_changed("tests/data/steady", "draw-through.yaml", move |text| {
        let turbo =
            "turbo: { kind: turbocharger, compressor: { map: ../../../examples/maps/invented-a.csv } }";
        let machine = format!(
            "turbo: {{ kind: supercharger, displacement: 0.9 L, drive-ratio: {drive}, volumetric-efficiency: 90 %, isentropic-efficiency: 58 % }}"
        );
        assert!(text.contains(turbo));
        text.replace(turbo, &machine).replace("ahead-of-compressor", "port")
    })
}

#[test]
fn a_displacement_machine_delivers_what_it_displaces() {
    let steady = blower(2.0);
    let Known::Is(points) = &steady.sites[0].points else { panic!("{:?}", steady.sites[0].points) };
    let mut seen = 0;
    for point in points.iter().filter(|point| !point.off_boost) {
        let Outcome::Solved(solution) = &point.outcome else { panic!("{:?}", point.outcome) };
        let machine: &MachinePoint = solution.machine("turbo").expect("the machine");
        assert!(!machine.surges() && machine.surge_margin().is_none());
        let inlet: &Station = solution.part("inlet-pipe").expect("the pipe ahead");
        let density = machine.p1 / (inlet.gas.r() * machine.t1);
        let displaced = 0.9e-3 * 0.9 * 2.0 * point.speed * density;
        let delivers = machine.delivers.expect("it is driven");
        assert!((delivers / displaced - 1.0).abs() < 1e-9);
        assert!(delivers > machine.flow);
        // Of itself it would make more boost than wanted, as much of its air must go round it.
        let made = point.drive_boost.expect("a boost");
        assert!(made > solution.p_manifold - 100_129.0, "{made}");
        seen += 1;
    }
    assert!(seen > 5);
    // Less than half the drive cannot make the boost; what it makes is the largest that has a solution.
    let slow = blower(0.85);
    let Known::Is(points) = &slow.sites[0].points else { panic!("not set up") };
    let missed: Vec<_> = points.iter().filter(|point| matches!(point.outcome, Outcome::NoSolution)).collect();
    assert!(!missed.is_empty());
    for point in missed {
        let (Some(largest), Some(made)) = (point.largest_boost, point.drive_boost) else { continue };
        assert!((largest / made - 1.0).abs() < 1e-2, "{largest} {made}");
    }
}

#[test]
fn part_throttle_points_lie_left_of_full_throttle_at_their_ratio() {
    let steady = solve_changed("examples", "hill-climb.yaml", |text| {
        let points = "  part-throttle: [ { engine-speed: 3500 rpm, boost: 0.6 bar, flow-share: 40 % }, { engine-speed: 3500 rpm, boost: 0.6 bar, flow-share: 90 % } ]\n";
        let at = text.find("  rev-limit:").expect("the engine");
        format!("{}{points}{}", &text[..at], &text[at..])
    });
    let site = &steady.sites[0];
    let Known::Is(part) = &site.part_throttle else { panic!("{:?}", site.part_throttle) };
    let full = boosted(&steady).into_iter().find(|(rpm, _)| (rpm - 3500.0).abs() < 0.5).expect("3500 rpm").1;
    let margins: Vec<f64> = part
        .iter()
        .map(|point| {
            let Outcome::Solved(solution) = &point.outcome else { panic!("{:?}", point.outcome) };
            assert!((solution.air / (full.air * point.flow_share) - 1.0).abs() < 1e-9);
            let site_pressure = solution.stations[0].inlet.pressure;
            assert!((solution.p_manifold - site_pressure - point.boost).abs() < 1e-6);
            solution.machines[0].surge_margin().expect("a margin")
        })
        .collect();
    assert!(margins[0] < 0.0 && margins[1] > margins[0], "{margins:?}");
}

#[test]
fn a_stage_that_holds_a_boost_of_its_own_makes_it() {
    let steady = solve_changed("tests/data/steady", "two-stage.yaml", |text| {
        text.replace(
            "low: { kind: turbocharger,",
            "low: { kind: turbocharger, outlet-boost: { 3000 rpm: 0.9 bar, 6000 rpm: 0.9 bar },",
        )
    });
    for (rpm, solution) in boosted(&steady) {
        let low = solution.machine("low").expect("the low stage");
        assert!((low.p2 - solution.stations[0].inlet.pressure - 0.9e5).abs() < 1e-3, "{rpm}");
    }
    let even = solve("two-stage.yaml");
    for (rpm, solution) in boosted(&even) {
        let (low, high) = (solution.machine("low").expect("low"), solution.machine("high").expect("high"));
        assert!((low.ratio() / high.ratio() - 1.0).abs() < 1e-9, "{rpm}");
    }
}

/// The starter with its exhaust described.
fn with_turbine(capacity: &str) -> Steady {
    solve_changed("examples", "hill-climb.yaml", |text| {
        let turbine = format!("    turbine: {{ flow-capacity: {capacity}, efficiency: 65 % }}\n");
        let at = text.find("    rotor-inertia:").expect("the turbocharger");
        let with = format!("{}{turbine}{}", &text[..at], &text[at..]);
        with.replacen("\nboost:", "\nexhaust: { temperature: 900 degC }\nboost:", 1)
    })
}

#[test]
fn a_turbine_gives_what_its_compressor_takes_up_from_what_it_swallows() {
    let plain = solve_changed("examples", "hill-climb.yaml", |text| text);
    let steady = with_turbine("0.11 kg/s");
    let mut gated = 0;
    for ((rpm, solution), (_, before)) in boosted(&steady).into_iter().zip(boosted(&plain)) {
        let [turbine] = solution.turbines.as_slice() else { panic!("one turbine at {rpm}") };
        // Written out again: exhaust, power, capacity.
        let exhaust = solution.air * (1.0 + 1.0 / (0.85 * 14.6));
        assert!((turbine.exhaust / exhaust - 1.0).abs() < 1e-9, "{rpm}: {} {exhaust}", turbine.exhaust);
        let machine = &solution.machines[0];
        let (gamma, cp, p4): (f64, f64, f64) = (1.333, 1148.0, solution.stations[0].inlet.pressure);
        let expansion = 1.0 - (p4 / turbine.p3).powf((gamma - 1.0) / gamma);
        let power = turbine.flow * cp * 0.65 * 1173.15 * expansion;
        assert!((power / machine.power - 1.0).abs() < 1e-5, "{rpm}: {power} {}", machine.power);
        let choked = |p: f64, t: f64| p / t.sqrt();
        let pressure_ratio = (p4 / turbine.p3).max((2.0 / (gamma + 1.0)).powf(gamma / (gamma - 1.0)));
        let share = |x: f64| (x.powf(2.0 / gamma) - x.powf((gamma + 1.0) / gamma)).sqrt();
        let full = share((2.0_f64 / (gamma + 1.0)).powf(gamma / (gamma - 1.0)));
        let flow =
            0.11 * choked(turbine.p3, 1173.15) / choked(101_325.0, 288.15) * share(pressure_ratio) / full;
        assert!((turbine.flow / flow - 1.0).abs() < 1e-5, "{rpm}: {} {flow}", turbine.flow);
        gated += i32::from(turbine.flow < 0.9 * turbine.exhaust);
        // What the engine takes falls by the ideal cycle's factor, at the pressure found with it.
        let factor = 1.0 - (turbine.p3 / solution.p_manifold - 1.0) / (gamma * (9.5 - 1.0));
        let charge = |s: &Solution| s.flow * s.t_manifold;
        assert!((charge(solution) / charge(before) / factor - 1.0).abs() < 1e-7, "{rpm}");
    }
    assert!(gated > 3, "the gate has work to do");
    // A turbine that swallows too much does not get there at low speed.
    let large = with_turbine("0.25 kg/s");
    let short = boosted(&large).iter().filter(|(_, s)| !s.turbines[0].is_balanced()).count();
    assert!(short > 2, "{short}");
}
