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

/// Name under which a tip-out run stands in a trace.
pub const TIP_OUT: &str = "tip-out run";

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
        of: TIP_OUT,
        how: "volumes with mass and energy, ducts dm/dt = (p_u - p_d - C m|m|/rho)/(sum of L/A), pipes in cells of at most 0.2 m, the map carried on \
              left of its surge line and into reverse flow, throttle and ports as nozzles, relief valves as masses on springs behind their hoses, \
              I dw/dt = turbine less compressor torque; Dormand and Prince's pair with events",
        source: "Greitzer, J. Eng. Power 98 (1976) 190; Moore and Greitzer, J. Eng. Gas Turb. Power 108 (1986) 68; Gravdahl and Egeland, IEEE \
                 Trans. Control Syst. Technol. 7 (1999) 567; Fink, Cumpsty and Greitzer, J. Turbomach. 114 (1992) 321",
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
    drawn(
        "path_connected",
        "no end that a cylinder cannot follow, and nothing that something sits on left out",
    ),
    drawn("path_order_faults", "each part of the path held against what may stand ahead of it"),
    described("map_reference_known", "temperature and pressure stand in the map's file or in the build"),
    Equation {
        of: "map_faults",
        how: "flow rises along each line but for a measuring scatter of 0.3 %, ratio falls right of its peak, efficiency lies between 0 and 1, \
              lines do not cross, at least two lines of three places",
        source: "what a characteristic can be; scatter of measured maps: NASA Glenn HECC data archive",
    },
    described("tap_at", "as described"),
    described("host_length", "as described"),
    described("table_gap_speed", "the tables' ends held against the first boosted speed and the rev limit"),
    described("implausible_fields", "each field held against its usual range in the schema"),
    drawn("filter_upstream", "every way from the site to the compressor passes an air filter"),
    described("boost_limiting_parts", "the wastegate that the turbocharger names, and a variable nozzle"),
    described("charge_temperature_sensors", "temperature sensors whose purpose is density"),
    described("breather_paths", "parts of kind breather"),
    described("air_counted", "as described, else inferred from the parts"),
    described("share_sum", "sum of the ports' shares"),
    drawn("return_region", "walk along the air path to each part that air is led back to"),
    drawn("carries_fuel", "the part lies at or behind the place where fuel enters"),
    drawn("reference_region", "region of the part that tap or hose leads to"),
    described(
        "needed_region",
        "by purpose: density needs the manifold, boost control the charge side, a float chamber its carburettor's own inlet",
    ),
    described("purpose_is_density", "as described"),
    described("reads_as", "as described"),
    described("serves_density", "as described"),
    drawn("upstream_of_last_cooler", "a cooler lies behind the part that carries the sensor"),
    drawn("passes_against_need", "the valve's way leads into a consumer"),
    drawn("signal_one_way", "a check valve of the signal's way stops one direction"),
    drawn("actuator_signal_region", "region of the part that the signal hose leads to"),
    drawn("throttle_after_compressor", "a part that can shut lies behind a compressor"),
    drawn("enters_upstream_of_air_meter", "the part that the breather leads to lies at or ahead of a meter"),
    Equation {
        of: "bore_error_share",
        how: "(bore/calibrated bore)^2 - 1: the element measures mass flux, the rest is area",
        source: "continuity",
    },
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
    drawn(
        "path_connected",
        "the air path leaves out no part that something sits on, and ends at one that cylinders can follow",
    ),
    drawn("path_order_faults", "count of entries of the air path that stand where they cannot"),
    drawn("signal_connected", "a hose ends at the valve"),
    drawn("signal_region", "region of the other end of the signal hose"),
    drawn("throttle_downstream", "walk down every branch of the air path to a part that can shut"),
    drawn(
        "relief_before_throttle",
        "every way from the compressor to the first part that can shut leads past a relief valve's tap",
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
        for equation in EQUATIONS.iter().filter(|equation| ![STEADY, TIP_OUT].contains(&equation.of)) {
            assert!(rows().any(|row| row.name == equation.of), "{} is no fact", equation.of);
        }
    }
}
