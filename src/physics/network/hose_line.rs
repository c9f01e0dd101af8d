//! A signal hose as a chain of short stretches.

use std::sync::Arc;

use super::super::flow::bore_area;
use super::super::loss::coefficient_from_k;
use super::{Duct, DuctId, Hose, Loss, Network, Node, NodeId, Opening, Orifice, ThinPlate, Wall};

/// Loss coefficient of the hose's mouth and of its end, on its bore (Crane TP-410: sharp entry 0.5,
/// exit 1.0).
const ENDS: [f64; 2] = [0.5, 1.0];
/// Usual length of a hose's cells, m, and the most cells.
const CELL: f64 = 0.1;
const MOST_CELLS: usize = 4;

/// Share of the hose's area below which a restrictor is an orifice of its own: there the loss in a piece of hose would settle
/// faster than its waves.
const NARROW: f64 = 1.0 / 9.0;

/// Least length of hose that stands between two of them, m (choice): less room would settle faster than waves as well.
const ROOM: f64 = 0.03;

/// Nusselt number of laminar flow in a round bore at a wall of one temperature (Incropera & DeWitt,
/// Fundamentals of Heat and Mass Transfer, ch. 8), and the Prandtl number of air.
const NUSSELT: f64 = 3.66;
const PRANDTL: f64 = 0.71;

/// A hose between two nodes. Its air is drawn to the temperature of its wall with the conductance of
/// laminar flow: a slow change is isothermal, a fast one nearly adiabatic.
#[derive(Debug, Clone, PartialEq)]
pub struct HoseLine {
    /// Bore, m.
    pub bore: f64,
    /// Length, m.
    pub length: f64,
    /// Restrictors: share of the length at which each sits, bore in m.
    pub restrictors: Vec<(f64, f64)>,
    /// Temperature of the wall, K.
    pub wall: f64,
    /// Kinematic viscosity of its air, m2/s.
    pub viscosity: f64,
}

/// An orifice that a narrow restrictor counts as.
#[derive(Debug, Clone, Copy)]
struct Narrow {
    /// Share of the hose's length at which it sits.
    at: f64,
    area: f64,
    coefficient: f64,
}

/// What a hose is laid into.
struct Laying<'a> {
    network: &'a mut Network,
    ducts: Vec<DuctId>,
    /// Where the next stretch begins.
    last: NodeId,
    /// Pressure of its air at the start, Pa.
    p: f64,
    /// Restrictors that add to the loss of what they sit in: share of the length, loss coefficient.
    wide: Vec<(f64, f64)>,
}

impl HoseLine {
    /// Lays the hose from one node to another, its air at `p` Pa. `None` unless bore, length, wall
    /// temperature, viscosity and pressure are positive and no restrictor is wider than the hose.
    ///
    /// A restrictor of less than a ninth of the hose's area is an orifice of its own; a wider one adds its
    /// loss to the piece of hose in which it sits, without expansion. The less the pressure falls the more the two are the same; where
    /// a chamber empties from 2 bar the time to half of it differs by some 5 % at the border.
    pub fn lay(&self, network: &mut Network, from: NodeId, to: NodeId, p: f64) -> Option<Vec<DuctId>> {
        let sizes = [self.bore, self.length, self.wall, self.viscosity, p];
        if !super::super::all_positive(&sizes) {
            return None;
        }
        let (mut narrow, mut wide) = (Vec::new(), Vec::new());
        for (at, bore) in &self.restrictors {
            let (at, k, share) =
                (at.clamp(0.0, 1.0), restrictor_k(*bore, self.bore)?, (bore / self.bore).powi(2));
            if share < NARROW {
                narrow.push(Narrow { at, area: bore_area(*bore), coefficient: 1.0 / (share * k.sqrt()) });
            } else {
                wide.push((at, k));
            }
        }
        narrow.sort_by(|a, b| a.at.total_cmp(&b.at));
        let mut laying = Laying { network, ducts: Vec::new(), last: from, p, wide };
        let mut before = None;
        for one in narrow {
            self.stretch(&mut laying, before, Ok(one.at));
            before = Some(one);
        }
        self.stretch(&mut laying, before, Err(to));
        Some(laying.ducts)
    }

    /// Lays what lies between two narrow restrictors, or between one and a mouth of the hose: up to a share of the length, or to
    /// the node at the hose's end.
    fn stretch(&self, laying: &mut Laying<'_>, before: Option<Narrow>, until: Result<f64, NodeId>) {
        let start = before.map_or(0.0, |one| one.at);
        let (stop, end) = until.map_or_else(|to| (1.0, Some(to)), |at| (at, None));
        let length = (stop - start) * self.length;
        // A restrictor right at a mouth leaves no hose there, and its own loss counts that of the mouth.
        let here = |at: f64| at >= start && (at < stop || end.is_some());
        let wide: Vec<(f64, f64)> = laying.wide.iter().copied().filter(|(at, _)| here(*at)).collect();
        if length < self.bore && before.is_some() != end.is_none() && wide.is_empty() {
            if let (Some(one), Some(to)) = (before, end) {
                laying.orifice(&one, to);
            }
            return;
        }
        let between = before.is_some() && end.is_none();
        let length = length.max(if between { ROOM } else { self.bore });
        let area = bore_area(self.bore);
        // At a restrictor the stretch ends in the middle of a cell: the ducts that are left bear the whole length. What is short
        // between two of them is a room without friction, unless a wide one sits in it.
        let least = if between && (length >= CELL || !wide.is_empty()) { 2 } else { 1 };
        let cells = ((length / CELL).round() as usize).clamp(least, MOST_CELLS);
        let cell = length / cells as f64;
        let (head, tail) = (usize::from(before.is_some()), cells - usize::from(end.is_none()));
        let weight = |i: usize| if i == 0 || i == cells { 0.5 } else { 1.0 };
        let longer = cells as f64 / (head..=tail).map(weight).sum::<f64>();
        let gas = *laying.network.gas();
        let density = laying.p / (gas.r * self.wall);
        let conductivity = self.viscosity * density * gas.cp(self.wall) / PRANDTL;
        let conductance = NUSSELT * std::f64::consts::PI * conductivity;
        for i in 0..=cells {
            let next = match (i == cells, end) {
                (true, None) => break,
                (true, Some(to)) => to,
                (false, _) => laying.network.node(Node::Volume {
                    volume: cell * area,
                    p: laying.p,
                    t: self.wall,
                    wall: Wall::Conducting { t: self.wall, conductance: conductance * cell },
                    piston: None,
                }),
            };
            if let (0, Some(one)) = (i, &before) {
                laying.orifice(one, next);
                continue;
            }
            let (first, last) = (i == head, i == tail);
            let length = weight(i) * cell * longer;
            let k = if i == 0 { ENDS[0] } else { 0.0 } + if i == cells { ENDS[1] } else { 0.0 };
            let share = |cells_on: f64| start + (stop - start) * cells_on / cells as f64;
            let (low, high) = (share(i as f64 - 0.5), share(i as f64 + 0.5));
            let within = |at: f64| (at >= low || first) && (at < high || last);
            let of_wide = wide.iter().filter(|(at, _)| within(*at)).map(|(_, k)| k).sum::<f64>();
            let hose = Hose { bore: self.bore, length, k: k + of_wide, viscosity: self.viscosity };
            laying.duct(hose, next);
        }
    }
}

impl Laying<'_> {
    fn orifice(&mut self, one: &Narrow, to: NodeId) {
        self.network.orifice(Orifice {
            from: self.last,
            to,
            law: Arc::new(ThinPlate { coefficient: one.coefficient }),
            opening: Opening::Fixed(one.area),
        });
        self.last = to;
    }

    fn duct(&mut self, hose: Hose, to: NodeId) {
        self.ducts.push(self.network.duct(Duct {
            from: self.last,
            to,
            inertance: hose.length / bore_area(hose.bore),
            loss: Loss::Hose(hose),
            flow: 0.0,
            stage: None,
            cooling: None,
        }));
        self.last = to;
    }
}

/// Loss of a sharp-edged restrictor on the bore of its hose, (√(1 − β⁴(1 − C²))/(Cβ²) − 1)², C that of corner taps and fast
/// flow; none where it is as wide as the hose.
///
/// Source: ISO 5167-2:2003, eq. 4 and 8, for β up to 0.75; carried on to 1.
fn restrictor_k(bore: f64, hose: f64) -> Option<f64> {
    let share = (bore / hose).powi(2);
    if !(share > 0.0 && share <= 1.0) {
        return None;
    }
    let c = 0.5961 + 0.0261 * share - 0.216 * share.powi(4);
    let k = ((1.0 - share * share * (1.0 - c * c)).sqrt() / (c * share) - 1.0).powi(2);
    coefficient_from_k(k, hose).map(|_| k)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::physics::loss::smooth_hose_factor;
    use crate::physics::network::{SimpleGas, Simulation};

    fn line(restrictors: Vec<(f64, f64)>) -> HoseLine {
        HoseLine { bore: 6e-3, length: 0.25, restrictors, wall: 300.0, viscosity: 1.6e-5 }
    }

    fn laid(line: &HoseLine) -> Option<(Network, Vec<DuctId>)> {
        let mut network = Network::new(SimpleGas::perfect(287.05, 1.4));
        let from = network.reservoir(1e5, 300.0);
        let to = network.volume(2e-5, 1e5, 300.0);
        let ducts = line.lay(&mut network, from, to, 1e5)?;
        Some((network, ducts))
    }

    #[test]
    fn length_and_losses_are_all_there_whatever_the_cells() {
        let both = restrictor_k(3e-3, 6e-3).unwrap() + restrictor_k(4e-3, 6e-3).unwrap();
        // What sits in the hose; the losses of what is no orifice, mouths with it; how many are orifices.
        for (restrictors, wanted, orifices) in [
            (vec![], 1.5, 0),
            (vec![(0.0, 3e-3), (1.0, 4e-3)], 1.5 + both, 0),
            (vec![(0.5, 1e-3)], 1.5, 1),
            (vec![(1.0, 1e-3)], 0.5, 1),
            (vec![(0.0, 1e-3), (0.6, 3e-3), (1.0, 4e-3)], 1.0 + both, 1),
            (vec![(0.3, 1e-3), (0.31, 3e-3), (0.7, 1e-3), (0.71, 4e-3)], 1.5 + both, 2),
            (vec![(0.0, 3e-3), (0.01, 1e-3), (0.99, 1e-3), (1.0, 4e-3)], 1.5 + both, 2),
        ] {
            let (network, ducts) = laid(&line(restrictors.clone())).unwrap();
            let (mut length, mut k) = (0.0, 0.0);
            for id in &ducts {
                let Loss::Hose(hose) = network.ducts[id.0].loss else { panic!("a hose") };
                length += hose.length;
                k += hose.k;
            }
            // Pieces shorter than the bore count as long as it.
            assert!((0.25..0.265).contains(&(length + 1e-12)), "{restrictors:?}: {length}");
            assert!((k / wanted - 1.0).abs() < 1e-12, "{restrictors:?}: {k} of {wanted}");
            assert_eq!(network.orifices.len(), orifices, "{restrictors:?}");
        }
        assert!(restrictor_k(6e-3, 6e-3).unwrap() < 1e-9);
    }

    /// By a sum over the pressure: through the restrictor alone an adiabatic chamber fills at dp/dt = γ R T₀ ṁ/V.
    #[test]
    fn a_narrow_restrictor_fills_a_chamber_as_a_plate_does() {
        for (at, tolerance) in [(1.0, 0.01), (0.0, 0.06)] {
            let mut network = Network::new(SimpleGas::perfect(287.05, 1.4));
            let source = network.reservoir(3e5, 300.0);
            let chamber = network.volume(1e-4, 1e5, 300.0);
            // The hose is full already where the restrictor sits at its end; else it fills with the chamber.
            let (p, hose) = if at > 0.5 { (3e5, 0.0) } else { (1e5, 0.25 * bore_area(6e-3)) };
            line(vec![(at, 0.5e-3)]).lay(&mut network, source, chamber, p).unwrap();
            let mut simulation = Simulation::new(network, 0.0, 1e-6, 100_000);
            let mut reached = None;
            simulation.run(1.0, &mut |equations, time, _| {
                reached = (equations.pressure(chamber) >= 1.5e5).then_some(time);
                reached.is_none()
            });
            let flow = |p: f64| {
                let expansibility = 1.0 - 0.351 * (1.0 - (p / 3e5_f64).powf(1.0 / 1.4));
                let density = 3e5 / (287.05 * 300.0);
                0.60 * expansibility * bore_area(0.5e-3) * (2.0 * density * (3e5 - p)).sqrt()
            };
            let paces = (0..500).map(|i| 1.0 / flow(1e5 + 100.0 * (f64::from(i) + 0.5)));
            let wanted = 100.0 * paces.sum::<f64>() * (1e-4 + hose) / (1.4 * 287.05 * 300.0);
            let time = reached.unwrap();
            assert!((time / wanted - 1.0).abs() < tolerance, "{at}: {time} of {wanted}");
            assert!(simulation.steps() < 20_000, "{}", simulation.steps());
        }
    }

    /// Between what is an orifice and what is a loss little jumps where the pressure falls little, and two orifices pass as much as
    /// one of 1/√2 of the area.
    #[test]
    fn restrictors_on_both_sides_of_the_border_pass_alike() {
        let after = |restrictors: Vec<(f64, f64)>| {
            let mut network = Network::new(SimpleGas::perfect(287.05, 1.4));
            let source = network.reservoir(1.04e5, 300.0);
            let chamber = network.volume(1e-3, 1e5, 300.0);
            line(restrictors).lay(&mut network, source, chamber, 1e5).unwrap();
            let mut simulation = Simulation::new(network, 0.0, 1e-6, 100_000);
            assert_eq!(simulation.run(0.1, &mut |_, _, _| true), crate::physics::network::Ended::InTime);
            simulation.now().0.pressure(chamber) - 1e5
        };
        let (orifice, loss) = (after(vec![(0.5, 1.999e-3)]), after(vec![(0.5, 2.001e-3)]));
        assert!((orifice / loss - 1.0).abs() < 0.02, "{orifice} {loss}");
        let (one, two) = (after(vec![(0.5, 1e-3)]), after(vec![(0.3, 1e-3), (0.7, 1e-3)]));
        assert!((0.6..0.8).contains(&(two / one)), "{two} {one}");
        let at_ends = after(vec![(0.0, 1e-3), (1.0, 1e-3)]);
        assert!((at_ends / two - 1.0).abs() < 0.1, "{at_ends} {two}");
        // Close together they are two as well.
        let close = after(vec![(0.5, 1e-3), (0.505, 1e-3)]);
        assert!((close / two - 1.0).abs() < 0.1, "{close} {two}");
    }

    /// Isothermal flow with friction that chokes at its end, in closed form: f L/D = 1/(γM²) − 1 + ln(γM²) at the mouth (Shapiro,
    /// The Dynamics and Thermodynamics of Compressible Fluid Flow, vol. 1 (1953), ch. 6, from memory). The loss at the mouth counts
    /// as half a head.
    #[test]
    fn a_thin_hose_passes_no_more_than_chokes_it() {
        // Bore, length, pressure behind; and the share of the closed form.
        for (bore, length, behind, least, most) in [
            (1.5e-3, 0.3, 0.2e5, 1.10, 1.18),
            (1.5e-3, 0.3, 0.8e5, 1.10, 1.18),
            (2e-3, 0.3, 0.2e5, 1.10, 1.18),
            (4e-3, 1.0, 0.2e5, 1.08, 1.15),
            (6e-3, 0.22, 0.2e5, 0.97, 1.03),
            (6e-3, 0.22, 1e5, 0.97, 1.03),
            (6e-3, 0.05, 0.2e5, 0.80, 1.25),
        ] {
            let mut network = Network::new(SimpleGas::perfect(287.05, 1.4));
            let (from, to) = (network.reservoir(2e5, 300.0), network.reservoir(behind, 300.0));
            let hose = HoseLine { bore, length, ..line(vec![]) };
            let ducts = hose.lay(&mut network, from, to, 2e5).unwrap();
            let mut simulation = Simulation::new(network, 0.0, 1e-5, 1_000_000);
            simulation.run(0.1, &mut |_, _, _| true);
            let steps = simulation.steps();
            let (equations, ..) = simulation.now();
            let flow = equations.duct_flow(ducts[0]);
            let factor = |flow: f64| {
                let viscosity = crate::physics::gas::viscosity(300.0).unwrap();
                smooth_hose_factor(4.0 * flow / (std::f64::consts::PI * bore * viscosity)).unwrap()
            };
            // γM² at the mouth, by halving.
            let (mut low, mut high) = (1e-6, 1.0);
            let at = |square: f64| 2e5 * bore_area(bore) * f64::sqrt(square / (287.05 * 300.0));
            for _ in 0..60 {
                let square: f64 = 0.5 * (low + high);
                let needed = 1.0 / square - 1.0 + square.ln();
                if needed > factor(at(square)) * length / bore + 0.5 { low = square } else { high = square }
            }
            // A few cells, each with the density of where its air comes from, let a long thin hose pass a sixth too much.
            let share = flow / at(low);
            assert!((least..most).contains(&share), "{bore} {length} {behind}: {share}");
            // Far from what a budget of steps holds: the limit does not make the hose stiff.
            assert!(steps < 4000, "{bore} {length} {behind}: {steps}");
        }
    }

    #[test]
    fn a_restrictor_wider_than_the_hose_is_refused() {
        assert!(laid(&line(vec![(0.5, 8e-3)])).is_none());
        assert!(laid(&HoseLine { length: 0.0, ..line(vec![]) }).is_none());
    }
}
