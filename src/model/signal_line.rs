//! The line that brings a part its signal: hoses one behind the other, a chamber at the end.

use crate::build::hoses::HoseFields;
use crate::build::scalars::List;
use crate::known::{Known, Reads, State};
use crate::physics::flow::bore_area;
use crate::physics::gas::viscosity;
use crate::physics::network::{Ended, Equations, HoseLine, Network, NodeId, SimpleGas, Simulation};

use super::site::SiteState;

/// Relative tolerance, and steps tried at most, of a line by itself.
const TOLERANCE: f64 = 1e-5;
const STEPS: usize = 100_000;

/// Viscosity, Pa s, of air outside the range of Sutherland's formula.
const USUAL_VISCOSITY: f64 = 1.8e-5;

/// One hose of a line.
#[derive(Clone, Debug, PartialEq)]
pub struct HoseSize {
    /// Length, m.
    pub length: f64,
    /// Bore, m.
    pub bore: f64,
    /// Restrictors: share of the length, bore in m.
    pub restrictors: Vec<(f64, f64)>,
}

impl HoseSize {
    /// From the description.
    pub fn of(hose: &HoseFields, reads: &dyn Reads) -> Known<Self> {
        let restrictors = match hose.restrictors.state(reads) {
            State::Given(List(list)) => list
                .iter()
                .map(|one| {
                    let at = match one.at.state(reads) {
                        State::Given(at) => at.si(),
                        _ => 0.0,
                    };
                    one.bore.get(reads).map(|bore| (at, bore.si()))
                })
                .collect(),
            _ => Known::Is(Vec::new()),
        };
        let size = hose.length.get(reads).map(|l| l.si()).zip(hose.bore.get(reads).map(|b| b.si()));
        size.zip(restrictors).map(|((length, bore), restrictors): (_, Vec<(f64, f64)>)| Self {
            length,
            bore,
            restrictors: restrictors.iter().map(|(at, bore)| (at / length, *bore)).collect(),
        })
    }
}

/// Lays a line into a network from a source to the chamber that it ends in, all its air at `p` Pa and the temperature of the
/// outside. Between two hoses there is as much room as one bore of the second. `None` where a restrictor is wider than its hose.
pub(super) fn lay(
    network: &mut Network,
    hoses: &[HoseSize],
    (from, chamber): (NodeId, NodeId),
    p: f64,
    site: &SiteState,
) -> Option<()> {
    let wall = site.temperature;
    let kinematic = viscosity(wall).unwrap_or(USUAL_VISCOSITY) * site.gas.r() * wall / p;
    let mut from = from;
    for (i, HoseSize { length, bore, restrictors }) in hoses.iter().enumerate() {
        let to =
            if i + 1 == hoses.len() { chamber } else { network.volume(bore_area(*bore) * bore, p, wall) };
        let restrictors = restrictors.clone();
        let line = HoseLine { bore: *bore, length: *length, restrictors, wall, viscosity: kinematic };
        line.lay(network, from, to, p)?;
        from = to;
    }
    Some(())
}

/// A line by itself, whose source jumps from one pressure to another.
#[derive(Clone, Debug, PartialEq)]
pub struct SignalStep {
    /// Its hoses, from the source on.
    pub hoses: Vec<HoseSize>,
    /// Volume of the chamber at its end, m3.
    pub chamber: f64,
    /// Pressure before, Pa, absolute.
    pub from: f64,
    /// Pressure of the source afterwards, Pa, absolute.
    pub to: f64,
}

impl SignalStep {
    /// Time, s, until the chamber's pressure first comes to `level` Pa, between the two pressures; `until` s if it has not by
    /// then. `None` where the line has no solution.
    ///
    /// Hoses as in [`HoseLine`]: inertance, friction, and the waves that a few cells carry; the step of the source is sharp.
    pub fn time_to(&self, level: f64, until: f64, site: &SiteState) -> Option<f64> {
        let mut network = Network::new(SimpleGas::of(&site.gas));
        let source = network.reservoir(self.to, site.temperature);
        let chamber = network.volume(self.chamber, self.from, site.temperature);
        lay(&mut network, &self.hoses, (source, chamber), self.from, site)?;
        let falls = self.to < self.from;
        let mut reached = None;
        let mut last = (0.0, self.from);
        let mut simulation = Simulation::new(network, 0.0, TOLERANCE, STEPS);
        let ended = simulation.run(until, &mut |equations: &mut Equations, time, _| {
            let p = equations.pressure(chamber);
            if (falls && p <= level) || (!falls && p >= level) {
                let share = if p == last.1 { 1.0 } else { (level - last.1) / (p - last.1) };
                reached = Some(last.0 + share.clamp(0.0, 1.0) * (time - last.0));
            }
            last = (time, p);
            reached.is_none()
        });
        match ended {
            Ended::Stopped => reached,
            Ended::InTime => Some(reached.unwrap_or(until)),
            Ended::NotFinite | Ended::TooManySteps => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::physics::gas::Gas;

    fn site() -> SiteState {
        SiteState {
            name: "home".into(),
            home: true,
            pressure: 1e5,
            temperature: 293.15,
            humidity_ratio: 0.0,
            gas: Gas::dry_air(),
            filter_due: false,
        }
    }

    fn line(bore: f64, length: f64) -> SignalStep {
        let hoses = vec![HoseSize { length, bore, restrictors: Vec::new() }];
        SignalStep { hoses, chamber: 8e-6, from: 1e5, to: 1.1e5 }
    }

    /// Compressible Hagen–Poiseuille in closed form, isothermal: 106 601 Pa after 0.5 s at a viscosity of 1.9e-5 Pa s, which
    /// scales the time; a chamber that keeps its heat fills up to 1.4 times as fast.
    #[test]
    fn a_thin_hose_fills_its_chamber_as_the_closed_form_says() {
        let time = line(0.5e-3, 0.5).time_to(106_601.0, 2.0, &site()).unwrap();
        let isothermal = 0.5 * viscosity(293.15).unwrap() / 1.9e-5;
        assert!((isothermal / 1.45..isothermal * 1.05).contains(&time), "{time}, isothermal {isothermal}");
    }

    /// No signal outruns the sound: L/a, with a between its isothermal and its adiabatic value.
    #[test]
    fn a_wide_hose_is_as_quick_as_sound() {
        let wide = SignalStep { chamber: 0.2e-6, ..line(8e-3, 2.0) };
        let time = wide.time_to(1.05e5, 0.2, &site()).unwrap();
        assert!((0.7 * 2.0 / 343.0..1.3 * 2.0 / 290.0).contains(&time), "{time}");
    }

    #[test]
    fn longer_and_narrower_is_slower_whichever_way_it_goes() {
        let time = |bore, length, to: f64| {
            let level = 1e5 + 0.63 * (to - 1e5);
            SignalStep { to, ..line(bore, length) }.time_to(level, 1.0, &site()).unwrap()
        };
        for to in [1.8e5, 0.5e5] {
            assert!(time(4e-3, 0.4, to) < time(4e-3, 2.0, to));
            assert!(time(4e-3, 2.0, to) < time(2e-3, 2.0, to));
        }
        assert_eq!(line(0.5e-3, 5.0).time_to(1.09e5, 0.01, &site()), Some(0.01), "it has not come by then");
    }
}
