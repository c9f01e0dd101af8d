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

const BALANCE_IDLE: &str = "p_site (A_inlet + A_outlet) - p_idle A_signal - preload - rate x the lift from which it vents; friction is not counted on";
const BALANCE_OVERRUN: &str = "p_site (A_inlet + A_outlet) - p_overrun A_signal - preload - rate x the lift from which it vents; friction is not counted on";
const BALANCE_SOURCE: &str = "force balance";
const SHUT_SOURCE: &str = "force balance; engine flow by Heywood 1988, eq. 2.27, with residual gas as in ch. 5; orifice of the shut plate from the idle figures; \
     flow force on the plate left out";
const RETURN_SOURCE: &str = "entry 0.5, exit 1.0 (Borda-Carnot): White, Fluid Mechanics, ch. 6, from memory; friction by Colebrook 1939 at a Reynolds \
     number of 100,000";

const TURBINE_SOURCE: &str = "power balance: Watson and Janota, Turbocharging the Internal Combustion Engine (1982), ch. 2; exhaust of cp 1148 J/(kg K) and \
     gamma 1.333: Cohen, Rogers and Saravanamuttoo, Gas Turbine Theory, ch. 2";
const GATE_SOURCE: &str = "Saint-Venant and Wantzel 1839, with a discharge coefficient";
const SURGE_SOURCE: &str = "Greitzer, J. Eng. Power 98 (1976), for surge as an oscillation of the network; what counts as a cycle is a choice, no source";
const VALVE_SOURCE: &str = "Newton's law for the moving mass; pressures of the run over time";
const METERED_SOURCE: &str = "continuity; lag of a metering element: common practice, no source";

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
              I dw/dt = turbine less compressor torque; Runge and Kutta's method of order 4 with events",
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
    described("measured", "as written"),
    described("measured_kind", "what was measured, by its sort"),
    Equation {
        of: "computed",
        how: "the operating point at that engine speed and site, at the part: pressure ahead, behind or lost, flow, temperature ahead or behind",
        source: "the steady operating points",
    },
    Equation {
        of: "disagreement",
        how: "|measured - computed|/|computed|, pressures absolute",
        source: "definition of a relative error",
    },
    Equation {
        of: "measurement_tolerance",
        how: "the tolerance behind the measured value over |computed|",
        source: "definition of a relative error",
    },
    Equation {
        of: "temperature_disagreement",
        how: "|measured - computed|",
        source: "definition of an absolute error",
    },
    described("temperature_tolerance", "the tolerance behind the measured value"),
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
    described("boost_target_max", "the highest entry of the boost table"),
    described("boost_cut", "as described"),
    described(
        "weakest_rating_gauge",
        "the lowest of the ratings of what stands under boost; an absolute one less the pressure outside",
    ),
    described("overboost_guards", "a boost cut, and relief valves whose purpose is ceiling"),
    described("turbochargers", "parts of kind turbocharger"),
    drawn("flame_arrester", "every way from the site to the engine passes a flame arrester"),
    described("rulebook_named", "as described"),
    described(
        "emission_relevant_changes",
        "breathers whose hose ends in the open air, purges that hang on nothing, metering and boost held against `as-built`",
    ),
    described("rests_venting", "as described"),
    described("rest_said", "as described"),
    Equation {
        of: "joint_boost",
        how: "the highest entry of the boost table where the joint lies behind the last compressor, 0 on the suction side",
        source: "the boost table; losses up to the manifold are left out",
    },
    described("beaded", "as described"),
    described("coupler_gap", "as described"),
    described("coupler_bore", "as described"),
    described("coupler_overlap", "as described"),
    described(
        "crosses_mounts",
        "what both neighbours are fixed to; compressors and manifolds to the engine, unless said",
    ),
    described("flexible", "a hump, or a neighbour of kind coupler"),
    drawn("runners", "ends of the air path behind a throttle of their own"),
    drawn("source_runners", "runners at the far ends of the hoses, tees and chambers followed"),
    drawn(
        "shares_with_consumer",
        "pieces of hose up to the first part or chamber, held against those of servo, breather, purge and idle air valve",
    ),
    drawn(
        "enters_behind_air_meter",
        "the part that the opening leads to lies behind the meter, and no check valve stops the air",
    ),
    drawn(
        "beside_exhaust",
        "a distance to the exhaust is given, or a neighbour on the path is a turbocharger",
    ),
    described("exhaust_gap", "as described"),
    described("shielded", "as described; bare, unless said"),
    drawn(
        "emits_vapour",
        "the opening ends a breather's or a purge's hose, or vents charge behind a breather's entry",
    ),
    Equation {
        of: "medium_conflicts",
        how: "oil mist is behind a breather's entry, behind a compressor and where air is led back; fuel behind the place where it enters; alcohol with such a fuel or behind a nozzle that sprays it; each held against the material",
        source: "common practice, no source; swelling of elastomers in oil by class: ASTM D2000",
    },
    described("bore", "as described"),
    described("calibrated_in", "as described"),
    drawn("straight_upstream", "lengths of pipes of one bore, back to the nearest bend, step or other part"),
    drawn("straight_downstream", "lengths of pipes of one bore, to the nearest bend, step or other part"),
    drawn("parts_wetted", "coolers, meters, temperature sensors and relief valves behind the nozzle"),
    described("stop_valve", "as described"),
    Equation {
        of: "siphon_head",
        how: "density of water x g x (height of the tank - height of the nozzle), and behind the throttle the pressure outside less the lower of the idle and overrun pressures",
        source: "hydrostatics; g of ISO 80000-3",
    },
    described("drain_slope", "as described"),
    described("drain_bore", "as described"),
    described("oil_is_pumped_off", "as described; not, unless said"),
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
    drawn(
        "relief_hears_throttle",
        "whether signal_region of some relief valve is the manifold or a runner, or it has no hose to hear by",
    ),
    drawn("signal_region", "region of the other end of the signal hose"),
    drawn("throttle_downstream", "walk down every branch of the air path to a part that can shut"),
    drawn(
        "relief_before_throttle",
        "every way from the compressor to the first part that can shut leads past a relief valve's tap",
    ),
    drawn("sees_boost", "region of what the consumer hangs on"),
    drawn("passes_backwards", "each check valve in the hose lets air pass towards the consumer"),
    described("idle_air_counts", "the engine goes by an air meter"),
    Equation { of: "opening_force_idle", how: BALANCE_IDLE, source: BALANCE_SOURCE },
    Equation { of: "opening_force_overrun", how: BALANCE_OVERRUN, source: BALANCE_SOURCE },
    Equation {
        of: "opening_force_full_throttle_max",
        how: "p_c A_inlet + p_d A_outlet - p_s A_signal - preload, with the static pressures at tap, destination and signal source at each \
              steady point: p (1 + (gamma - 1)/2 M^2)^(-gamma/(gamma - 1)) in a bore, total in a plenum",
        source: "force balance; Shapiro, Compressible Fluid Flow vol. 1, ch. 4",
    },
    Equation {
        of: "opening_force_gentle_tip_out",
        how: "p_c A_inlet + p_d A_outlet - p_s A_signal - preload - friction, p_c the surge line's ratio at the shaft speed of light boost, p_s what the \
              engine draws the manifold down to behind the shut plate",
        source: SHUT_SOURCE,
    },
    Equation {
        of: "preload_window_low",
        how: "the largest p_c A_inlet + p_d A_outlet - p_s A_signal over the full-throttle points, and at idle, less rate x the lift from which it vents, where that air would count",
        source: "force balance",
    },
    Equation {
        of: "preload_window_high",
        how: "the smallest p_c A_inlet + p_d A_outlet - p_s A_signal - k x - friction over the starts of a tip-out, p_c the surge line's ratio at the \
              shaft's speed, p_s the shut-throttle manifold, x the lift whose area passes the surge line's flow",
        source: SHUT_SOURCE,
    },
    Equation {
        of: "relief_area_installed",
        how: "discharge coefficient x the smaller of pi D x and pi D^2/4 at full lift, of staged ports each its share as far as it is open; or sonic conductance over that of an ideal nozzle of unit area",
        source: "ISO 6358-1:2013; geometry; coefficient 0.7 where none is given: common practice, no source",
    },
    Equation {
        of: "relief_area_needed",
        how: "flow of the surge line at the shaft's speed over the flow that an ideal nozzle of unit area passes from the charge to where the air goes, less what \
              other relief valves have",
        source: "Saint-Venant and Wantzel 1839; White, Fluid Mechanics, ch. 9",
    },
    Equation {
        of: "seat_needed",
        how: "the seat whose area times the discharge coefficient is the effective area needed: (4 A / (pi C_d))^(1/2)",
        source: "geometry; coefficient 0.7 where none is given: common practice, no source",
    },
    described("outlet_bore_ahead_of_tap", "bore of the first part behind the last compressor that has one"),
    described("seat_diameter", "as given"),
    described("lift", "as given"),
    Equation {
        of: "spring_travel_left",
        how: "free length - solid length - preload/rate",
        source: "geometry of a linear spring",
    },
    Equation {
        of: "return_area",
        how: "sum over the returns of pi D^2/4 / sqrt(0.5 + 1.0 + f L/D)",
        source: RETURN_SOURCE,
    },
    Equation {
        of: "return_area_needed",
        how: "share / sqrt(1/A_needed^2 - 1/A_valve^2): effective areas in a row",
        source: "losses of incompressible flow add up",
    },
    Equation {
        of: "return_bore_needed",
        how: "the bore whose pi D^2/4 / sqrt(1.5 + f L/D) is the area needed",
        source: RETURN_SOURCE,
    },
    Equation {
        of: "points_without_solution",
        how: "count of the points of a site at which no bracket closes",
        source: "definition",
    },
    Equation {
        of: "choke_share_max",
        how: "corrected flow over that at the choke end of the speed line through the point",
        source: "definition; common practice, no source",
    },
    Equation {
        of: "rotor_speed_share_max",
        how: "N = N_corr sqrt(T1/T_ref) over the stated limit, else N_corr over the map's top line; engine-driven: drive ratio times rev limit over the stated limit",
        source: "similarity as in SAE J1826 and ISO 5389",
    },
    Equation { of: "tip_speed_max", how: "pi x exducer x rotor speed", source: "kinematics" },
    Equation {
        of: "efficiency_mean_upper",
        how: "mean of the map's efficiency over boosted points from the middle of the engine speeds up",
        source: "definition",
    },
    Equation {
        of: "surge_margin_part_throttle_min",
        how: "(m - m_s)/m, corrected flows at equal pressure ratio, with the boost ahead of the throttle and the share of the full flow as described",
        source: "definition",
    },
    Equation {
        of: "stage_ratio_skew_max",
        how: "largest ratio of a stage / (product of the ratios)^(1/n)",
        source: "definition",
    },
    described("displaces", "whether a displacement or a compressor wheel is described"),
    Equation {
        of: "drive_boost_off_max",
        how: "|boost made / wanted - 1|; made: the boost at which the engine swallows just what displacement x drive x speed x filling delivers",
        source: "conservation of mass",
    },
    Equation {
        of: "drive_boost_there",
        how: "the boost made, at the same point",
        source: "conservation of mass",
    },
    described("boost_wanted_there", "the boost table, at the same point"),
    Equation {
        of: "closed_throttle_pressure_max",
        how: "pressure at which the open ways round pass, back to an inlet at the site's pressure, what displacement x drive x rev limit x filling x \
              density delivers; outlet temperature by enthalpy at its efficiency",
        source: "Saint-Venant and Wantzel 1839; conservation of mass",
    },
    Equation { of: "weakest_rating_between", how: "the lowest pressure_rating of them", source: GRAPH },
    Equation {
        of: "bypass_area",
        how: "sum of the valves' effective areas at full lift",
        source: "ISO 6358-1, or a discharge coefficient on the smaller of curtain and seat",
    },
    Equation {
        of: "bypass_area_needed",
        how: "delivered flow over the flow through 1 m2 from the weakest rating to the site's pressure",
        source: "Saint-Venant and Wantzel 1839; conservation of mass",
    },
    described(
        "turbine_described",
        "the fields of exhaust and turbine that are given, and the areas claimed complete",
    ),
    Equation {
        of: "balance_failures",
        how: "points at which turbine power with all of the exhaust, flow x cp x efficiency x T3 (1 - (p4/p3)^((g-1)/g)), is below flow x rise of \
              enthalpy over the compressor; p3 from the turbine's capacity taken as one choked nozzle; exhaust = air (1 + 1/(lambda L))",
        source: TURBINE_SOURCE,
    },
    Equation {
        of: "power_short_max",
        how: "1 - turbine power with all of the exhaust / compressor power",
        source: TURBINE_SOURCE,
    },
    Equation {
        of: "boost_from_speed",
        how: "lowest point from which all above balance; the highest of the sites",
        source: TURBINE_SOURCE,
    },
    Equation {
        of: "exhaust_to_manifold_ratio_max",
        how: "pressure ahead of the turbine, where turbine and compressor power agree, over the manifold's",
        source: TURBINE_SOURCE,
    },
    Equation {
        of: "exhaust_pressure_max",
        how: "pressure ahead of the turbine, where turbine and compressor power agree",
        source: TURBINE_SOURCE,
    },
    described("ignition", "as described"),
    Equation {
        of: "wastegate_use_max",
        how: "exhaust that the turbine must not get, over the choked or unchoked flow through the gate's effective area from p3 to p4",
        source: GATE_SOURCE,
    },
    Equation {
        of: "wastegate_share_needed",
        how: "1 - turbine flow / exhaust, at the same point",
        source: TURBINE_SOURCE,
    },
    Equation {
        of: "wastegate_share_possible",
        how: "gate flow / exhaust, at the same point",
        source: GATE_SOURCE,
    },
    Equation {
        of: "wastegate_seat_needed",
        how: "diameter whose area is the open area times wastegate_use_max",
        source: GATE_SOURCE,
    },
    Equation {
        of: "base_pressure",
        how: "as given, else preload / (pi/4 x diaphragm^2)",
        source: "force balance",
    },
    described("boost_target_at_top_speed", "the boost table at the rev limit; of a stage its own"),
    Equation {
        of: "off_map_max",
        how: "each boosted point's place along and across the speed lines",
        source: "definition",
    },
    Equation { of: "flow_max", how: "mass flow of each point, shared among branches", source: "continuity" },
    Equation {
        of: "mach_max",
        how: "subsonic root of m sqrt(R T0)/(A p0) = sqrt(gamma) M (1 + (gamma - 1)/2 M^2)^(-(gamma + 1)/(2(gamma - 1))), at the thinner end of the pipe",
        source: "Shapiro, Compressible Fluid Flow vol. 1 (1953), ch. 4",
    },
    Equation {
        of: "suction_loss_max",
        how: "site pressure less total pressure at the first compressor's inlet",
        source: "definition",
    },
    Equation {
        of: "charge_loss_share_max",
        how: "(p2 - p_manifold)/p2, total pressures",
        source: "definition",
    },
    Equation {
        of: "full_throttle_loss_max",
        how: "total pressure ahead of the throttle less that behind it",
        source: "nozzle of the free area: Saint-Venant and Wantzel 1839",
    },
    Equation {
        of: "step_loss_max",
        how: "K rho u^2/2 on the smaller bore; K = (1 - A1/A2)^2 widening, 0.5 (1 - A2/A1) narrowing",
        source: "Borda-Carnot; Flow of Fluids (TP-410)",
    },
    Equation {
        of: "charge_volume",
        how: "volumes as described, else bore area times length with the arcs of bends",
        source: "geometry",
    },
    Equation {
        of: "fill_time_max",
        how: "V dp/(R T m), dp the highest boost, T and m at the first point at which half of it is asked for",
        source: "ideal gas",
    },
    Equation {
        of: "temperature_max",
        how: "the higher of the temperatures at both ends of the part",
        source: "the steady operating points",
    },
    Equation {
        of: "temperature_rating",
        how: "as described, else by material",
        source: "ASTM D2000 / SAE J200 type letters; SAE J20; common practice",
    },
    Equation { of: "density_gain_min", how: "(p_out/T_out)/(p_in/T_in)", source: "ideal gas" },
    Equation {
        of: "heat_max",
        how: "flow x (h_in - h_out)",
        source: "energy balance; NASA polynomials (TM-4513)",
    },
    Equation {
        of: "coolant_rise_max",
        how: "heat over flow of the water x 4186 J/(kg K) x 1000 kg/m3",
        source: "energy balance; properties of water: IAPWS",
    },
    Equation {
        of: "condensate_rate_max",
        how: "dry air x (humidity ratio - that at saturation behind the cooler)",
        source: "WMO-No. 8; IAPWS R7-97",
    },
    Equation {
        of: "knock_delay_ratio",
        how: "tau = 17.68 ms (ON/100)^3.402 (p/1 atm)^-1.7 exp(3800 K/T) with p = p_manifold r^1.3 and T = T_manifold r^0.3, over the same with ON 95, r 10, \
              1 atm and 15 degC; burning, which squeezes the last of the mixture further, is left out of both",
        source: "Douaud and Eyzat, SAE 780080 (1978), from memory; exponent of compression: Heywood 1988, ch. 9, from memory; the ordinary engine \
                 is a choice, no source",
    },
    Equation {
        of: "icing_margin",
        how: "larger of plate - 0 degC and plate - dew point, plate = site's air - drop by fuel and venturi",
        source: "CAA, Safety Sense Leaflet 14 (2013); dew point: WMO-No. 8",
    },
    Equation {
        of: "pressure_max_gauge",
        how: "the higher total pressure at both ends of the part less the site's",
        source: "the steady operating points",
    },
    Equation {
        of: "pressure_rating",
        how: "as described, else 2 t sigma/D with a third of the proof stress",
        source: "statics of a thin cylinder",
    },
    Equation {
        of: "pipe_growth_max",
        how: "alpha L (T - T_fitting) of each stiff pipe beside the coupler, added up; L with the arcs of bends, so that of a bent pipe it is the most; \
              the wall as hot as the air inside",
        source: "definition of linear expansion; coefficients by material: CRC Handbook of Chemistry and Physics, and from memory",
    },
    Equation { of: "end_thrust_max", how: "p pi D^2/4, D the bore of the coupler", source: "statics" },
    Equation {
        of: "depression_max",
        how: "site pressure less total pressure inside; with a flap ahead also less the overrun's manifold pressure",
        source: "definition",
    },
    Equation {
        of: "collapse_pressure",
        how: "larger of 2E/(1 - nu^2) (t/D)^3 and 2.42 E (t/D)^2.5/((1 - nu^2)^0.75 (L/D - 0.45 sqrt(t/D)))",
        source: "Bryan 1889; Saunders and Windenberg, Trans. ASME 53 (1931); Windenberg and Trilling, Trans. ASME 56 (1934), from memory",
    },
    Equation {
        of: "sensed_pressure_max",
        how: "the higher total pressure where the sensor sits, absolute or above the site as it reads",
        source: "the steady operating points",
    },
    Equation {
        of: "depression_idle",
        how: "site pressure less manifold pressure at idle",
        source: "definition",
    },
    Equation {
        of: "inlet_depression_shut_max",
        how: "site pressure less the lower manifold pressure of idle and overrun",
        source: "definition",
    },
    Equation { of: "inlet_air_rise", how: "as described", source: "the description itself" },
    described("flow_rating", "as described"),
    drawn("branches_compress", "kinds of the parts in the branches"),
    Equation {
        of: "branch_flow_spread_max",
        how: "(largest - smallest)/mean of the mass flows of the branches at one point, where all compressors take up the same power",
        source: "definition; common practice, no source",
    },
    described("flow_is_limited", "kind of the part, and whether a highest flow is stated"),
    described("meter_purpose", "as described"),
    described("knows_direction", "as described"),
    described("wheel_material", "as described"),
    described("cooled_by", "as described"),
    described("retention", "as described"),
    described("full_scale", "as described"),
    described("servo_supply", "as described"),
    described("oil_seal", "as described"),
    drawn("meets_tract_air", "the part, or the part of its tap, stands on the air path"),
    drawn("meets_boost", "region of the part, or of the part of its tap"),
    drawn("pipe_region", "the part's place on the air path"),
    drawn("wetted_by_fuel", "kind of the part, and where fuel enters"),
    drawn("shuts_ahead", "walk up the air path to a part that can shut"),
    Equation {
        of: "tip_out_surges",
        how: "in the run over time a cycle counts when the flow falls below half the surge flow from at least a quarter of it higher, rises by a quarter \
              again, and the pressure behind the compressor swings by a tenth of the boost; the first cycle of any start at any site decides",
        source: "Greitzer, J. Eng. Power 98 (1976), for surge as an oscillation of the network; what counts as a cycle is a choice, no source",
    },
    Equation {
        of: "tip_out_surge_cycles",
        how: "in the run over time a cycle counts when the flow falls below half the surge flow from at least a quarter of it higher, rises by a quarter \
              again, and the pressure behind the compressor swings by a tenth of the boost; the most of any start at any site",
        source: SURGE_SOURCE,
    },
    Equation {
        of: "tip_out_swing_max",
        how: "fall of the pressure behind the compressor in a cycle that counts, from its highest before to its lowest after; the largest of any start \
              at any site",
        source: SURGE_SOURCE,
    },
    Equation {
        of: "tip_out_margin_min",
        how: "m/m_s, m_s the flow of the surge line at the present speed and inlet; its lowest before the flow first reverses, none after",
        source: SURGE_SOURCE,
    },
    Equation {
        of: "reversed_mass",
        how: "integral of the flow through the compressor while it is negative",
        source: SURGE_SOURCE,
    },
    drawn("listener", "the relief valve, actuator or pressure sensor at an end of the hose"),
    Equation {
        of: "signal_lag_threshold",
        how: "hoses in up to four cells each with inertance L/A, friction and the wall's heat, chamber at the end; the source jumps, and the time is \
              read at which the chamber comes to (force without signal - preload - k x - friction)/A_signal, x the lift for the flow of the surge \
              line, or to 63 % of the jump",
        source: "momentum and continuity; friction by Hagen-Poiseuille and Blasius 1913; checked against Bergh and Tijdeman, NLR-TR F.238 (1965)",
    },
    Equation {
        of: "recovery_time",
        how: "time to fill the charge volume to the pressure that the rotor makes at once, then the sum of (J w + dm/dw dh) dw/(P_turbine - P_compressor) \
              up to nine tenths of the boost; head as speed squared, gate shut, exhaust as the manifold's pressure",
        source: TURBINE_SOURCE,
    },
    Equation {
        of: "strouhal_at_quarter_wave",
        how: "a/(4 stub) x seat/u, a and u those of the air in the part that carries the valve; the value nearest to 0.33",
        source: "quarter wave of a pipe shut at one end; Strouhal, Ann. Phys. 241 (1878), from memory",
    },
    Equation {
        of: "lambda_idle",
        how: "1 + A √(2 ρ Δp/m²): A the effective area of the vents, each in a row with its pipe, at the lift (force - preload)/rate, Δp what m kg/s off boost lose between outside and the tap, \
              ρ outside; both ways into the pipe drop the same pressure",
        source: VALVE_SOURCE,
    },
    Equation {
        of: "usual_spring_least",
        how: "largest force of the pressures at full throttle: charge on the seat, signal on the piston, discharge on the ring between",
        source: VALVE_SOURCE,
    },
    Equation {
        of: "usual_spring_most",
        how: "smallest force of the pressures with the charge at the surge line's ratio and the manifold as low as the shut plate leaves it",
        source: VALVE_SOURCE,
    },
    Equation {
        of: "usual_hose_longest",
        how: "length at which, after a sharp fall of the manifold from boost at home, 63 % of it has come to the chamber by a tenth of time_to_surge_line",
        source: VALVE_SOURCE,
    },
    Equation {
        of: "late_in_the_run",
        how: "whether opening_lead_min of the relief valve is below nothing",
        source: SURGE_SOURCE,
    },
    Equation {
        of: "time_to_surge_line",
        how: "in the run without relief valves, when m/m_s first falls below 1",
        source: SURGE_SOURCE,
    },
    Equation { of: "open_delay", how: "in the run, when the lift first passes 0.1 mm", source: VALVE_SOURCE },
    Equation {
        of: "opening_lead_min",
        how: "time to the surge line of the run without relief valves, less the time at which the valves together first pass the flow of the surge line; \
              the whole of the run where they never do",
        source: VALVE_SOURCE,
    },
    Equation {
        of: "valve_reopenings",
        how: "in the run, times that the lift passes 0.1 mm after the valve was back on its seat",
        source: VALVE_SOURCE,
    },
    Equation {
        of: "lambda_tip_out_min",
        how: "m_engine/(m_engine + metered flow that is vented, read 20 ms late), moment by moment from the throttle's closing to the fuel cut, else until \
              the idle flow has settled, at least 0.5 s",
        source: METERED_SOURCE,
    },
    Equation {
        of: "lambda_low_time",
        how: "for how long that ratio is below the setting",
        source: METERED_SOURCE,
    },
    Equation {
        of: "vent_share_high",
        how: "(lambda_asked/lambda_limit - 1) x air that the engine takes/air that is let out, until the idle flow has settled, at least 0.5 s; \
              lambda_asked 1",
        source: METERED_SOURCE,
    },
    Equation {
        of: "vent_share_low",
        how: "1 - effective area of the returns/effective area that all of the air would need; or the present share and, for each gram that ran back over \
              the meter, a gram more",
        source: METERED_SOURCE,
    },
    Equation {
        of: "reversed_mass_at_meter",
        how: "integral of the flow over the air meter while it is negative",
        source: "continuity",
    },
    Equation {
        of: "injected_after_tip_out",
        how: "density x flow at full load x the time, after the throttle is shut and within 1.2 s of where it began to shut, in which the pressure \
              at the trigger's place is above the trigger's",
        source: "the run over time; densities: CRC Handbook of Chemistry and Physics, from memory; petrol: common practice",
    },
    Equation {
        of: "branch_blown_back",
        how: "integral of the flow through a branch's compressor while it is negative and that of another branch is positive",
        source: "continuity",
    },
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
