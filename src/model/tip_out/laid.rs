//! The network that a tract became, with what is watched of it.

use std::sync::Arc;

use crate::physics::network::{
    DuctId, EngineId, Equations, Network, NodeId, OrificeId, PumpId, RotorId, TallyId,
};

use super::Closures;

/// What leads from one node to the next.
#[derive(Clone, Copy, Debug)]
pub(super) enum Way {
    /// A duct, with or without a wheel at its head.
    Duct(DuctId),
    /// A machine that displaces its air.
    Pump(PumpId),
}

impl Way {
    /// Its flow, kg/s.
    pub fn flow(self, equations: &Equations) -> f64 {
        match self {
            Self::Duct(duct) => equations.duct_flow(duct),
            Self::Pump(pump) => equations.pump_flow(pump),
        }
    }

    /// Flow on the surge line of a wheel in it, kg/s; none where nothing surges.
    pub fn surge_flow(self, equations: &Equations, y: &[f64]) -> Option<f64> {
        match self {
            Self::Duct(duct) => equations.surge_flow(duct, y),
            Self::Pump(_) => None,
        }
    }
}

/// A part's node with the distance of the node's middle from the part's upstream end.
#[derive(Debug)]
pub(super) struct Placed {
    pub spot: usize,
    pub at: f64,
    pub node: NodeId,
}

/// A compressor in the network.
#[derive(Debug)]
pub(super) struct Compressing {
    /// Its part's name.
    pub name: Arc<str>,
    pub spot: usize,
    pub way: Way,
    pub rotor: RotorId,
    /// Ahead of it.
    pub inlet: NodeId,
    /// Behind it.
    pub outlet: NodeId,
    /// What ran backward through it; nothing does through one that displaces its air.
    pub reversed: Option<TallyId>,
    /// Whether the engine drives it.
    pub driven: bool,
    /// What it delivers at the start above what the path takes on, kg/s.
    pub surplus: f64,
    /// Its share of the flow of the path.
    pub share: f64,
}

/// The network with what is watched of it.
#[derive(Debug)]
pub(super) struct Laid {
    pub network: Network,
    pub site: NodeId,
    /// The first compressor of the path, and the others.
    pub compressor: Compressing,
    pub others: Vec<Compressing>,
    pub ahead_of_throttle: NodeId,
    /// Right behind the throttle.
    pub behind_throttle: NodeId,
    pub manifold: NodeId,
    pub throttle: OrificeId,
    pub engine: EngineId,
    pub mouths: Vec<Way>,
    pub meter: Option<Meter>,
    pub drawn: TallyId,
    pub nodes: Vec<Placed>,
    pub closures: Closures,
    /// Time from open to shut, s.
    pub closing: f64,
}

/// The air meter's place in the network.
#[derive(Clone, Copy, Debug)]
pub(super) struct Meter {
    pub reading: TallyId,
    pub metered: TallyId,
    pub back: TallyId,
    /// Place of its spot on the path.
    pub spot: usize,
    /// Whether it knows which way the air goes.
    pub directed: bool,
}

impl Laid {
    /// All compressors, in the order of the path.
    pub fn compressors(&self) -> impl Iterator<Item = &Compressing> {
        std::iter::once(&self.compressor).chain(&self.others)
    }

    /// How many nodes a part has.
    pub fn nodes_of(&self, spot: usize) -> usize {
        self.nodes.iter().filter(|placed| placed.spot == spot).count()
    }

    /// The node in the middle of a part that has several.
    pub fn middle_of(&self, spot: usize) -> Option<NodeId> {
        let of_part: Vec<NodeId> =
            self.nodes.iter().filter(|placed| placed.spot == spot).map(|placed| placed.node).collect();
        if of_part.len() > 1 { of_part.get(of_part.len() / 2).copied() } else { None }
    }

    /// The node of a part nearest to a distance from its upstream end; of a compressor the one behind it.
    pub fn node_of(&self, spot: usize, at: f64) -> Option<NodeId> {
        if let Some(compressor) = self.compressors().find(|compressor| compressor.spot == spot) {
            return Some(compressor.outlet);
        }
        let of_part = self.nodes.iter().filter(|placed| placed.spot == spot);
        of_part.min_by(|a, b| (a.at - at).abs().total_cmp(&(b.at - at).abs())).map(|placed| placed.node)
    }
}
