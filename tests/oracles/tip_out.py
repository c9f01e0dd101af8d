#!/usr/bin/env python3
"""Independent tip-out run of a build: what happens in the tract when the throttle snaps shut at boost.

    python tests/oracles/tip_out.py examples/hill-climb.yaml                       # every start, with and without valve
    python tests/oracles/tip_out.py BUILD --start highest-boost --valve without    # one run
    python tests/oracles/tip_out.py BUILD --cell 0.1 --rtol 1e-8 --seconds 0.4     # other steps
    python tests/oracles/tip_out.py BUILD --with inertance=1.1                     # a term made 10 % larger

It needs numpy and SciPy (requirements.txt) and takes the start from steady.py, whose conventions hold here too.
It shares no code with the program. Everything is in SI units, rotor speeds in rpm; times count from the moment
the throttle begins to close. `null` means that the thing does not happen in the run. It knows the air paths
that steady.py knows, one relief valve behind the compressor with a pneumatic signal from the manifold, and
`--set`, `--unset` as steady.py has them. `--inlet-cell` sets the longest cell of the pipe that leads to the
compressor apart from that of all others.

Conventions (a difference from the program is to be argued over one of these lines):

Tract
 1. Cells hold mass and internal energy of moist air, p = m R T / V, velocity heads left out. Pipes and the air
    meter are cut into equal cells of at most 0.2 m, the arcs of bends included; the cooler and the manifold are
    one cell each; the filter has no volume.
 2. Edges between cells: dm/dt = (p_u - p_d - loss) / sum(L/A) over half a cell on either side. The cooler is a
    duct of its length and of section volume/length. Ahead of the filter is the air outside at rest.
 3. Losses by C m |m| / rho of the upwind cell; friction factor of the present Reynolds number with the upwind
    viscosity; filter, cooler and bends keep the coefficient of steady.py in both directions. Half of the
    cooler's loss on either side. A bend sits on the edge nearest to its `at`.
 4. Enthalpy is carried upwind. Forward flow enters the cooler at T - effectiveness (T - T_outside), reverse
    flow unchanged.

Compressor
 5. An edge with 3 D2/A1 of inertance on top of its half cells; A1 the inducer's area between hub (0.3 of the
    tip) and tip, D2 the exducer. p1, T1 are those of the last suction cell, p2 that of the first cell behind.
 6. Between surge and choke the map of steady.py, ratio and efficiency looked up in a fine table. 0 <= m < m_s:
    PR0 + (PR_s - PR0)(3 z^2 - 2 z^3), z = m/m_s (Moore & Greitzer 1986), PR0 = [1 + (r2^2 - r1^2) w^2 / (2 cp
    T1)]^(g/(g-1)), r1^2 the mean of the squares of the inducer's tip and hub (Gravdahl & Egeland 1999). m < 0:
    p1 PR0 + 30 m^2 / (2 rho2 A1^2). Beyond choke: PR_c - 4 (PR_s - PR_c)(x - 1), not below 0.3.
 7. Work per kg: isentropic by the entropy of the gas from T1, over the efficiency; left of the surge point and
    in reverse that of the surge point, beyond choke that of the choke point. Torque |m| work / w. All of the
    work goes into the gas, in reverse into that which leaves for the suction side.
 8. Rotor: inertia dw/dt = y^2 torque_0 - torque, y' = (m_engine/m_engine_0 - y) / working cycle.

Throttle and engine
 9. Isentropic orifice without inertance, 0.9, A = A_closed + (A_open - A_closed)(1 - cos a), A_open the bore
    less the shaft, a falling from 90 degrees as if to 0 in the closing time, but staying at `to` of them;
    linear in the pressure difference above a ratio of 0.9995. A_closed passes the engine's idle flow from site
    pressure to the idle manifold pressure.
10. Engine speed held; flow ve V N/(60 n) rho f, f = 1 above site pressure, else (r - (p_site/p)^(1/1.3))/(r -
    1).

Relief valve
11. m x'' = p_c A_s + p_d (A_p - A_s) - p_s A_p - F0 - k x - 2*0.2 sqrt(k m) x' + contact; pressures of the
    cells; contact a spring of m (3000/s)^2 with half of critical damping, never pulling.
12. Flow: discharge coefficient on min(pi D x, seat area), isentropic; a return's bore in series by 1/A^2 =
    1/A_v^2 + 1/A_r^2.
13. Signal hose: isothermal at site temperature, cells of at most 0.11 m, 64/Re below 2300, Blasius above 4000,
    linear between; entry 0.5 and exit 1.0 by direction; flow at most p A / sqrt(e R T) of the upwind side.
    Chamber with energy, V = A_p (lift + 20 mm - x).

Start and results
14. The steady point with rotor speed held and throttle open, moved to where nothing moves. Light boost: the
    smallest boost above 0 in the table, the throttle taking twice its closing time.
15. Surge line crossed: m below m_s of the present corrected speed. Cycle: m falls below half m_s, 0.25 m_s or
    more below its last peak, then rises by 0.25 m_s; swing: highest p2 between those two extremes less the next
    lowest, from which p2 rises by 10 % of the start's boost before the next dip; counted from 10 % of that
    boost. Frequencies from the times of lowest flow (`lows`).
"""

import json
import math
import sys

import numpy as np
from scipy.integrate import odeint
from scipy.optimize import root

from reading import linear
from steady import Build, SiteRun
from tract import Tract

STARTS = ("highest-boost", "highest-speed", "light-boost")
# What `--with NAME=FACTOR` multiplies, to see what a difference of that size in one term would do. `eye-heat` is how much
# warmer than the outside the map takes its inlet to be.
TERMS = (
    "inertance",
    "reverse",
    "reverse-work",
    "eye-heat",
    "valley",
    "cooler-volume",
    "manifold-volume",
    "closed-area",
    "rotor",
    "return",
    "preload",
)


def settle(tract, y, scale):
    """The state at which nothing moves, rotor speed held, throttle open."""
    free = np.delete(np.arange(len(y)), [3 * tract.n - 1, 3 * tract.n])

    def rates(z):
        full = y.copy()
        full[free] += z * scale[free]
        return tract.rhs(0.0, full)[free] / scale[free]

    found = root(rates, np.zeros(len(free)), tol=1e-10, options={"factor": 0.1})
    full = y.copy()
    full[free] += found.x * scale[free]
    left = np.abs(rates(found.x)).max()
    if left > 1e-3:
        raise SystemExit(f"the start does not settle: {left:.2g} 1/s")
    return full


def integrate(tract, y, scale, t0, t1, rtol, every):
    """States at every step of output from t0 to t1, both included."""
    inner = np.arange(math.floor(t0 / every + 1e-9) + 1, math.ceil(t1 / every - 1e-9)) * every
    times = np.concatenate(([t0], inner, [t1]))
    options = {"tfirst": True, "hmax": 1e-3, "mxstep": 100000, "full_output": True}
    states, told = odeint(tract.rhs, y, times, rtol=rtol, atol=rtol * scale, **options)
    if told["message"] != "Integration successful.":
        raise SystemExit(told["message"])
    return times, states, int(told["nfe"][-1])


def tip_out(build, site_run, start, valve, options, factors):
    """One run as a dictionary of results."""
    boosted = [(n, b) for n, b in build.boost if b > 0]
    most = max(b for _, b in boosted)
    speed = {
        "highest-boost": min(n for n, b in boosted if b == most),
        "highest-speed": max(n for n, on in build.speeds() if on),
        "light-boost": min(boosted, key=lambda e: e[1])[0],
    }[start]
    point = site_run.point(speed, True)
    tract = Tract(build, site_run, point, valve, (options["cell"], options["inlet-cell"] or options["cell"]), factors)
    if start == "light-boost":
        tract.closing *= 2.0
    y, scale = tract.initial()
    y = settle(tract, y, scale)
    _, at_rest = tract.look(0.0, y)
    tract.held = False
    every, seconds = 1e-4, options["seconds"]
    times, states, calls = integrate(tract, y, scale, 0.0, min(tract.closing, seconds), options["rtol"], every)
    if seconds > tract.closing:
        after, more, further = integrate(tract, states[-1], scale, tract.closing, seconds, options["rtol"], every)
        times, states, calls = np.concatenate((times, after[1:])), np.vstack((states, more[1:])), calls + further
    told = [tract.look(t, s)[1] for t, s in zip(times, states)]
    trace = {k: np.array([row[k] for row in told]) for k in told[0]}
    result = summarise(times, trace, linear(build.boost, speed), tract)
    moved = {k: at_rest[k] / point[p] - 1 for k, p in (("flow", "mass_flow"), ("p2", "p2"), ("manifold", "p_manifold"))}
    head = {"site": options["site"], "start": start, "valve": valve, "engine_speed": speed, "start_moved": moved,
            "start_p2": at_rest["p2"], "start_flow": at_rest["flow"], "states": len(y), "calls": calls}  # fmt: skip
    if options["trace"]:
        with open(options["trace"], "w", encoding="utf-8") as out:
            out.write("t," + ",".join(trace) + "\n")
            for i, t in enumerate(times):
                out.write(f"{t:.5f}," + ",".join(f"{trace[k][i]:.7g}" for k in trace) + "\n")
    return head | result


def first_time(t, condition):
    hit = np.flatnonzero(condition)
    return None if len(hit) == 0 else float(t[hit[0]])


def crossing(t, values, level):
    """First time at which values fall below a level, linear between samples."""
    hit = np.flatnonzero(values < level)
    if len(hit) == 0 or hit[0] == 0:
        return None
    i = hit[0]
    return float(t[i - 1] + (t[i] - t[i - 1]) * (values[i - 1] - level) / (values[i - 1] - values[i]))


def dips(share):
    """Places of flow peaks and of the minimum after each (convention 15), from flow as a share of the surge flow."""
    found, peak, low, falling = [], 0, 0, False
    for i, z in enumerate(share):
        if not falling:
            if z > share[peak]:
                peak = i
            elif z < 0.5 and share[peak] - z >= 0.25:
                falling, low = True, i
        elif z < share[low]:
            low = i
        elif z - share[low] >= 0.25:
            found.append((peak, low))
            falling, peak = False, i
    return found


def summarise(t, trace, boost, tract):
    share = trace["flow"] / trace["m_s"]
    p2 = trace["p2"]
    swings, lows, places = [], [], dips(share)
    for (peak, low), after in zip(places, places[1:] + [(len(t) - 1, None)]):
        high = p2[peak : low + 1].max()
        behind = p2[low : after[0] + 1]
        risen = np.flatnonzero(behind - np.minimum.accumulate(behind) >= 0.1 * boost)
        swing = float(high - behind[: risen[0] if len(risen) else None].min())
        if swing >= 0.1 * boost:
            swings.append(swing)
            lows.append(float(t[low]))
    reversed_at = first_time(t, trace["flow"] < 0)
    before = share if reversed_at is None else share[t <= reversed_at]
    periods = np.diff(lows)
    result = {
        "time_to_surge_line": crossing(t, share, 1.0),
        "cycles": len(swings),
        "swings": swings,
        "lows": lows,
        "deep": reversed_at is not None,
        "first_reversal": reversed_at,
        "frequency_first": float(1 / periods[0]) if len(periods) else None,
        "frequency_mean": float(1 / periods.mean()) if len(periods) else None,
        "frequency_last": float(1 / periods[-1]) if len(periods) else None,
        "margin": max(float(before.min()), 0.0),
        "lowest_flow": float(trace["flow"].min()),
        "reversed_mass": float(np.trapezoid(np.maximum(-trace["flow"], 0.0), t)),
        "peak_ahead_of_throttle": float(trace["ahead"].max()),
        "peak_p2": float(p2.max()),
        "rotor_speed_800_ms": float(np.interp(0.8, t, trace["w"])) * 30 / math.pi if t[-1] >= 0.8 else None,
        "rotor_speed_start": float(trace["w"][0]) * 30 / math.pi,
        "rotor_speed_end": float(trace["w"][-1]) * 30 / math.pi,
        "manifold_end": float(trace["manifold"][-1]),
    }
    if tract.valve:
        lift = np.minimum(trace["lift"], tract.valve.lift)
        result |= {
            "valve_opens": first_time(t, lift > 1e-4),
            "valve_half_open": first_time(t, lift > 0.5 * tract.valve.lift),
            "peak_lift": float(lift.max()),
            "relieved_mass": float(np.trapezoid(trace["valve"], t)),
        }
    return result


def main(arguments):
    options = {"cell": 0.2, "inlet-cell": 0.0, "rtol": 1e-6, "seconds": 1.2, "site": "home"}
    options |= dict.fromkeys(("start", "valve", "trace"))
    factors = dict.fromkeys(TERMS, 1.0)
    changes, removals, paths, i = [], [], [], 0
    while i < len(arguments):
        word = arguments[i]
        if word.startswith("--"):
            i += 1
            value = arguments[i]
            if word == "--set":
                changes.append(value.split("=", 1))
            elif word == "--unset":
                removals.append(value)
            elif word == "--with":
                name, factor = value.split("=")
                if name not in factors:
                    raise SystemExit(f"no term `{name}`; there are {', '.join(TERMS)}")
                factors[name] = float(factor)
            else:
                kind = type(options[word[2:]])
                options[word[2:]] = float(value) if kind is float else value
        else:
            paths.append(word)
        i += 1
    if len(paths) != 1:
        raise SystemExit(__doc__.split("\n\n")[1])
    build = Build(paths[0], changes, removals)
    home = None
    for site in build.sites():
        run = SiteRun(build, site, home)
        home = run.home_pressure
        if site["name"] == options["site"]:
            break
    else:
        raise SystemExit(f"no site `{options['site']}`")
    starts = [options["start"]] if options["start"] else STARTS
    valves = {None: (False, True), "with": (True,), "without": (False,)}[options["valve"]]
    results = [tip_out(build, run, start, valve, options, factors) for start in starts for valve in valves]
    print("[\n" + ",\n".join(json.dumps(to_five(r)) for r in results) + "\n]")
    return 0


def to_five(value):
    """Numbers to five significant digits: more than the integration holds."""
    if isinstance(value, dict):
        return {k: to_five(v) for k, v in value.items()}
    if isinstance(value, list):
        return [to_five(v) for v in value]
    return float(f"{value:.5g}") if isinstance(value, float) else value


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
