//! How each fact is computed and where its equation comes from, in words, for those who trace a number.

/// The equation behind a fact.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Equation {
    /// The fact, or `steady operating points` for the solve that several facts look at.
    pub of: &'static str,
    /// How it is computed.
    pub how: &'static str,
    /// Where that comes from.
    pub source: &'static str,
}

/// Name under which the steady solve stands in a trace.
pub const STEADY: &str = "steady operating points";

const DESCRIBED: &str = "the description itself";
const GRAPH: &str = "the order of the air path, taps and hoses as described";

const fn described(of: &'static str, how: &'static str) -> Equation {
    Equation { of, how, source: DESCRIBED }
}

const fn drawn(of: &'static str, how: &'static str) -> Equation {
    Equation { of, how, source: GRAPH }
}

/// All equations.
static EQUATIONS: &[Equation] = &[
    Equation {
        of: STEADY,
        how: "at each engine speed: flow = ve x displacement x speed / 2 (four-stroke) x p_manifold/(R T_manifold), p_manifold = site + boost; \
              losses C m^2/rho, so that p_in^2 - p_out^2 = 2 C m^2 R T; ratio and flow give the efficiency on the map, enthalpy the outlet \
              temperature, effectiveness the charge temperature; closed by a bracketed root of the outlet temperature",
        source: "Heywood, Internal Combustion Engine Fundamentals (1988), eq. 2.27; NASA polynomials (TM-4513); ISO 2533; WMO-No. 8; \
                 Colebrook 1939; Flow of Fluids (TP-410) for bends; Borda-Carnot; map corrected as in SAE J1826",
    },
    Equation {
        of: "surge_margin_flow_min",
        how: "(m - m_s)/m, both corrected flows at the point's pressure ratio; the smallest over boosted points and sites",
        source: "definition at constant pressure ratio; common practice, no source",
    },
    Equation {
        of: "surge_point_flow",
        how: "m sqrt(T1/T_ref)/(p1/p_ref) at the point of the smallest surge margin",
        source: "similarity as in SAE J1826 and ISO 5389",
    },
    Equation {
        of: "surge_point_ratio",
        how: "p2/p1, total pressures, at the point of the smallest surge margin",
        source: "definition",
    },
    Equation {
        of: "surge_point_surge_flow",
        how: "corrected flow of the map's surge line at that pressure ratio, a monotone curve through the lines' lowest points",
        source: "Fritsch and Carlson, SIAM J. Numer. Anal. 17 (1980), for the curve",
    },
    Equation {
        of: "manifold_temperature_max",
        how: "T2 - effectiveness (T2 - T_coolant); the highest over points and sites, those left of the surge line passed over",
        source: "definition of effectiveness: Kays and London, Compact Heat Exchangers (1984)",
    },
    Equation {
        of: "distance_from_compressor_outlet",
        how: "sum of the lengths of the parts between outlet and tap, and the tap's own place; a part without a length leaves a least distance",
        source: GRAPH,
    },
    Equation {
        of: "vent_share",
        how: "sum of the shares of the ports that lead to the air",
        source: DESCRIBED,
    },
    Equation { of: "return_share", how: "sum of the shares of the ports that lead back", source: DESCRIBED },
    described("use", "as described"),
    described("fuel", "as described"),
    described("ignition", "as described"),
    described("metering", "as described, else inferred from the parts"),
    described("purpose", "as described"),
    described("actuation", "as described"),
    described("host_bore", "bore of the part that carries the tap"),
    described("has_surge_line", "by the kind of machine"),
    drawn("in_tract", "the part's name stands in the air path"),
    drawn("attached", "a tap, a hose or a discharge reaches the part, or it sits in a hose"),
    drawn("tap_region", "walk along the air path"),
    drawn("air_meter_ahead_of_tap", "the meter's place on the air path is ahead of the tap's"),
    drawn("return_upstream_of_air_meter", "the place of a return on the air path is not behind the meter's"),
    drawn("signal_connected", "a hose ends at the valve"),
    drawn("signal_region", "region of the other end of the signal hose"),
    drawn("throttle_downstream", "walk down the air path to a part that can shut"),
    drawn(
        "relief_before_throttle",
        "a relief valve's tap lies between compressor and the first part that can shut",
    ),
    drawn("sees_boost", "region of what the consumer hangs on"),
    drawn("passes_backwards", "each check valve in the hose lets air pass towards the consumer"),
];

/// The equation of a fact.
pub fn equation(of: &str) -> Option<&'static Equation> {
    EQUATIONS.iter().find(|equation| equation.of == of)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::facts::{Make, rows};

    #[test]
    fn every_fact_that_is_computed_has_its_equation() {
        for row in rows().filter(|row| !matches!(row.make, Make::NotBuilt)) {
            assert!(equation(row.name).is_some(), "{} has no equation", row.name);
        }
    }

    #[test]
    fn every_equation_is_of_a_fact() {
        for equation in EQUATIONS.iter().filter(|equation| equation.of != STEADY) {
            assert!(rows().any(|row| row.name == equation.of), "{} is no fact", equation.of);
        }
    }
}
