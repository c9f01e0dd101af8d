//! A signal hose as a chain of short stretches.

use super::super::flow::bore_area;
use super::super::loss::coefficient_from_k;
use super::{Duct, DuctId, Hose, Loss, Network, Node, NodeId, Wall};

/// Loss coefficient of the hose's mouth and of its end, on its bore (Crane TP-410: sharp entry 0.5,
/// exit 1.0).
const ENDS: [f64; 2] = [0.5, 1.0];
/// Longest cell of a hose, m, and the most cells.
const CELL: f64 = 0.1;
const MOST_CELLS: usize = 4;

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

impl HoseLine {
    /// Lays the hose from one node to another, its air at `p` Pa. `None` unless bore, length, wall
    /// temperature, viscosity and pressure are positive and no restrictor is wider than the hose.
    pub fn lay(&self, network: &mut Network, from: NodeId, to: NodeId, p: f64) -> Option<Vec<DuctId>> {
        let sizes = [self.bore, self.length, self.wall, self.viscosity, p];
        if !super::super::all_positive(&sizes) {
            return None;
        }
        let cells = ((self.length / CELL).ceil() as usize).clamp(1, MOST_CELLS);
        let area = bore_area(self.bore);
        let cell = self.length / cells as f64;
        let gas = *network.gas();
        let density = p / (gas.r * self.wall);
        let conductivity = self.viscosity * density * gas.cp(self.wall) / PRANDTL;
        let conductance = NUSSELT * std::f64::consts::PI * conductivity;
        let mut ducts = Vec::with_capacity(cells + 1);
        let mut before = from;
        for i in 0..=cells {
            let (start, end) = (i == 0, i == cells);
            let length = if start || end { 0.5 * cell } else { cell };
            let mut k = if start { ENDS[0] } else { 0.0 } + if end { ENDS[1] } else { 0.0 };
            let (low, high) = ((i as f64 - 0.5) / cells as f64, (i as f64 + 0.5) / cells as f64);
            for (at, bore) in &self.restrictors {
                if (*at >= low || start) && (*at < high || end) {
                    k += restrictor_k(*bore, self.bore)?;
                }
            }
            let behind = if end {
                to
            } else {
                network.node(Node::Volume {
                    volume: cell * area,
                    p,
                    t: self.wall,
                    wall: Wall::Conducting { t: self.wall, conductance: conductance * cell },
                    piston: None,
                })
            };
            let hose = Hose { bore: self.bore, length, k, viscosity: self.viscosity };
            ducts.push(network.duct(Duct {
                from: before,
                to: behind,
                inertance: length / area,
                loss: Loss::Hose(hose),
                flow: 0.0,
                stage: None,
                cooling: None,
            }));
            before = behind;
        }
        Some(ducts)
    }
}

/// Loss of a sharp-edged restrictor on the bore of its hose: the jet's contraction and its
/// spreading, (A/(0.61 a) − 1)² (Borda–Carnot with the contraction of a sharp edge).
fn restrictor_k(bore: f64, hose: f64) -> Option<f64> {
    let share = (bore / hose).powi(2);
    if !(share > 0.0 && share <= 1.0) {
        return None;
    }
    // A restrictor as wide as the hose is none.
    let contraction = 0.61 + 0.39 * share.powi(3);
    let k = (1.0 / (contraction * share) - 1.0).powi(2);
    coefficient_from_k(k, hose).map(|_| k)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::physics::network::SimpleGas;

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
        let (network, ducts) = laid(&line(vec![(0.0, 1e-3), (1.0, 2e-3)])).unwrap();
        let mut length = 0.0;
        let mut k = 0.0;
        for id in &ducts {
            let Loss::Hose(hose) = network.ducts[id.0].loss else { panic!("a hose") };
            length += hose.length;
            k += hose.k;
        }
        assert!((length - 0.25).abs() < 1e-12);
        let wanted = 1.5 + restrictor_k(1e-3, 6e-3).unwrap() + restrictor_k(2e-3, 6e-3).unwrap();
        assert!((k / wanted - 1.0).abs() < 1e-12);
        assert!(restrictor_k(6e-3, 6e-3).unwrap() < 1e-9);
    }

    #[test]
    fn a_restrictor_wider_than_the_hose_is_refused() {
        assert!(laid(&line(vec![(0.5, 8e-3)])).is_none());
        assert!(laid(&HoseLine { length: 0.0, ..line(vec![]) }).is_none());
    }
}
