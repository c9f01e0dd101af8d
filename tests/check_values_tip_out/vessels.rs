//! Resonances, vessels that empty and fill, a rotor that is drained.

use std::sync::Arc;

use tractwright::physics::network::{
    Characteristic, Duct, Ended, Equations, Isentropic, Loss, Network, Node, Opening, Orifice, Rotor,
    SimpleGas, Simulation, Stage, StageFlow, StageState, Wall,
};

fn air() -> SimpleGas {
    SimpleGas::perfect(287.05, 1.4)
}

fn near(value: f64, wanted: f64, relative: f64, id: &str) {
    assert!((value / wanted - 1.0).abs() <= relative, "{id}: {value}, wanted {wanted}");
}

/// Frequency, Hz, from the upward crossings of a signal's mean.
fn frequency(samples: &[(f64, f64)]) -> f64 {
    let mean = samples.iter().map(|(_, v)| v).sum::<f64>() / samples.len() as f64;
    let up: Vec<f64> = samples
        .windows(2)
        .filter(|w| w[0].1 < mean && w[1].1 >= mean)
        .map(|w| w[0].0 + (w[1].0 - w[0].0) * (mean - w[0].1) / (w[1].1 - w[0].1))
        .collect();
    (up.len() - 1) as f64 / (up[up.len() - 1] - up[0])
}

/// One volume and one inertance, plucked a little.
fn helmholtz(a: f64, area: f64, volume: f64, length: f64) -> f64 {
    let t = a * a / (1.4 * 287.05);
    let mut network = Network::new(air());
    let outside = network.reservoir(1e5, t);
    let vessel = network.volume(volume, 1e5 * 1.0001, t);
    network.plain_duct(outside, vessel, length / area, 0.0, 0.0);
    let mut simulation = Simulation::new(network, 0.0, 1e-9, 1_000_000);
    let mut samples = Vec::new();
    let ended = simulation.run(1.0, &mut |eq: &mut Equations, t, _| {
        samples.push((t, eq.pressure(vessel)));
        true
    });
    assert_eq!(ended, Ended::InTime);
    frequency(&samples)
}

/// Kinsler & Frey, Fundamentals of Acoustics, ch. 10: f = a/2π √(A/(V L)).
#[test]
fn transient_02_and_03_helmholtz() {
    near(helmholtz(340.0, 0.00204, 0.0095, 1.1), 23.908_701_35, 1e-3, "transient-02");
    near(helmholtz(343.0, 5e-5, 0.001, 0.06), 49.833_756_83, 1e-3, "transient-03");
}

/// A pipe of cells of 50 mm, closed at one end and open at the other, rings at a quarter of its wave's length: Kinsler &
/// Frey, ch. 10, a/(4 L).
#[test]
fn transient_19_quarter_wave_of_a_pipe_in_cells() {
    let (length, a, area, cells) = (0.9, 358.0, 0.002, 18);
    let t = a * a / (1.4 * 287.05);
    let mut network = Network::new(air());
    let outside = network.reservoir(1e5, t);
    let cell = length / f64::from(cells);
    let (mut before, mut half) = (outside, 0.5 * cell / area);
    let mut end = outside;
    for i in 0..cells {
        // Plucked in the shape of its lowest tone.
        let shape = (std::f64::consts::FRAC_PI_2 * (f64::from(i) + 0.5) / f64::from(cells)).sin();
        end = network.volume(cell * area, 1e5 * (1.0 + 1e-4 * shape), t);
        network.plain_duct(before, end, half, 0.0, 0.0);
        (before, half) = (end, cell / area);
    }
    let mut simulation = Simulation::new(network, 0.0, 1e-8, 1_000_000);
    let mut samples = Vec::new();
    simulation.run(0.3, &mut |eq: &mut Equations, t, _| {
        samples.push((t, eq.pressure(end)));
        true
    });
    near(frequency(&samples), 99.444_444_4, 2e-3, "transient-19");
}

fn emptied(wall: Wall) -> (f64, f64) {
    let mut network = Network::new(air());
    let outside = network.reservoir(1e5, 300.0);
    let vessel = network.node(Node::Volume { volume: 0.0105, p: 3e5, t: 330.0, wall, piston: None });
    let law = Arc::new(Isentropic { coefficient: 1.0 });
    network.orifice(Orifice { from: vessel, to: outside, law, opening: Opening::Fixed(2e-4) });
    let mut simulation = Simulation::new(network, 0.0, 1e-10, 1_000_000);
    simulation.run(0.05, &mut |_: &mut Equations, _, _| true);
    let (eq, ..) = simulation.now();
    (eq.pressure(vessel), eq.temperature(vessel))
}

/// Moran & Shapiro, Fundamentals of Engineering Thermodynamics, unsteady flow; Saad, Compressible Fluid Flow: closed forms
/// of choked emptying.
#[test]
fn transient_15_and_16_a_vessel_empties() {
    let (p, t) = emptied(Wall::Adiabatic);
    near(p, 227_757.894_8, 1e-6, "transient-15");
    near(t, 305.0204, 1e-6, "transient-15, temperature");
    near(emptied(Wall::Isothermal).0, 245_445.157_3, 1e-6, "transient-16");
}

/// Çengel & Boles, Thermodynamics: an evacuated tank filled from a line ends at γ times the line's temperature.
#[test]
fn transient_17_and_18_a_vessel_fills() {
    let fill = |p0: f64, supply: (f64, f64), volume: f64, area: f64, until: f64| {
        let mut network = Network::new(air());
        let line = network.reservoir(supply.0, supply.1);
        let tank = network.volume(volume, p0, supply.1);
        let law = Arc::new(Isentropic { coefficient: 1.0 });
        network.orifice(Orifice { from: line, to: tank, law, opening: Opening::Fixed(area) });
        let mut simulation = Simulation::new(network, 0.0, 1e-9, 1_000_000);
        simulation.run(until, &mut |_: &mut Equations, _, _| true);
        let (eq, ..) = simulation.now();
        (eq.pressure(tank), eq.temperature(tank))
    };
    near(fill(0.01, (1e5, 290.0), 1e-3, 1e-4, 0.2).1, 406.0, 1e-6, "transient-17");
    let short = 1e-5;
    let rate = (fill(1e5, (3e5, 320.0), 0.0035, 5e-5, short).0 - 1e5) / short;
    near(rate, 1_245_160.384, 1e-6, "transient-18");
}

/// The plate shut at once on a stream: the network has no momentum of its own in the cells, so that it gives the acoustic
/// rise p + ρ a u (the shock relation of Toro, Riemann Solvers, eq. 4.6 says 251 883 Pa, acoustics 246 927 Pa).
#[test]
fn transient_20_a_plate_shut_at_once() {
    let (u, a, p, area, cells) = (60.0, 358.0, 2e5, 0.002, 40);
    let t = a * a / (1.4 * 287.05);
    let flow = p / (287.05 * t) * u * area;
    let mut network = Network::new(air());
    let mut before = network.reservoir(p, t);
    let cell = 0.05;
    let mut end = before;
    for _ in 0..cells {
        end = network.volume(cell * area, p, t);
        network.plain_duct(before, end, cell / area, 0.0, flow);
        before = end;
    }
    let mut simulation = Simulation::new(network, 0.0, 1e-7, 1_000_000);
    let mut samples = Vec::new();
    // Before the wave is back from the open end.
    simulation.run(2.0 * cell * f64::from(cells) / a * 0.9, &mut |eq: &mut Equations, t, _| {
        samples.push((t, eq.pressure(end)));
        true
    });
    // A steep wave rings over some cells: the mean behind it counts.
    let late: Vec<f64> = samples.iter().filter(|(t, _)| *t > 2e-3).map(|(_, p)| *p).collect();
    let mean = late.iter().sum::<f64>() / late.len() as f64;
    near(mean - p, 51_883.0, 0.12, "transient-20, of the rise");
}

/// A drain of constant power: I ω²/2 falls by P t.
#[test]
fn transient_22_a_rotor_is_drained() {
    /// A compressor that takes 5 kW whatever its flow.
    #[derive(Debug)]
    struct Drain;
    impl Characteristic for Drain {
        fn at(&self, s: &StageState, _: &SimpleGas) -> StageFlow {
            StageFlow { outlet: s.p1, work: 5000.0 / s.flow }
        }
        fn surge_flow(&self, _: f64, _: f64, _: f64) -> f64 {
            0.0
        }
    }
    let mut network = Network::new(air());
    let (a, b) = (network.reservoir(1e5, 300.0), network.reservoir(1e5, 300.0));
    let rotor = network.rotor(Rotor {
        inertia: 2.6e-5,
        speed: 120_000.0 * std::f64::consts::PI / 30.0,
        held: false,
        torque: 0.0,
        lag: 1.0,
        follows: None,
        geared: None,
    });
    network.duct(Duct {
        from: a,
        to: b,
        inertance: 100.0,
        loss: Loss::Quadratic(0.0),
        flow: 0.1,
        stage: Some(Stage { characteristic: Arc::new(Drain), rotor }),
        cooling: None,
    });
    let mut simulation = Simulation::new(network, 0.0, 1e-9, 100_000);
    simulation.run(0.05, &mut |_: &mut Equations, _, _| true);
    let (eq, _, y) = simulation.now();
    let _ = y;
    let y = y.to_vec();
    near(eq.rotor_speed(rotor, &y) * 30.0 / std::f64::consts::PI, 112_456.054_2, 1e-6, "transient-22");
}
