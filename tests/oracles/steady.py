#!/usr/bin/env python3
"""Independent steady solve of a build: an oracle for the computation in Rust.

    python3 tests/oracles/steady.py examples/hill-climb.yaml             # JSON to standard output
    python3 tests/oracles/steady.py examples/hill-climb.yaml --table     # a table for people
    python3 tests/oracles/steady.py BUILD --set 'boost.2000 rpm=1.1 bar' # with one scalar changed
    python3 tests/oracles/steady.py BUILD --unset 'boost.3250 rpm'       # or taken out

Plain Python, nothing to install; a small reader for the YAML that the examples use is included. It
shares no code with the program. Everything is in SI units: kg/s, Pa (absolute), K, rpm for shaft
speeds. `null` means that the quantity does not exist at that point.

It knows one air path in line: filter, pipes and an air meter, one compressor with a map, pipes and a
charge-air cooler, one throttle, one inlet manifold; four-stroke or two-stroke; fuel entering at or
behind the manifold. Anything else is refused with a sentence.

Conventions (a difference from the program is to be argued over one of these lines):

Gas
 1. Dry air is N2 78.084, O2 20.946, Ar 0.934, CO2 0.04 % by volume, scaled to 100 %. Thermodynamic
    properties by the seven-coefficient NASA polynomials, 200 to 1000 K (McBride, Gordon & Reno, NASA
    TM-4513, 1993). Molar gas constant 8.314462618 J/(mol K).
 2. Humidity: mole fraction of vapour = RH * e_s(T_site) / p_site, e_s by the Magnus form of WMO-No. 8
    (6.112 hPa, 17.62, 243.12 degC over water; 22.46, 272.62 degC over ice below 0 degC), without an
    enhancement factor. The moist mixture is the gas everywhere in the tract; no vapour condenses.
 3. Viscosity by Sutherland's formula of the U.S. Standard Atmosphere 1976.
 4. Site pressure from geometric altitude, ISO 2533 (earth radius 6356766 m).

Engine and points
 5. Operating points: the union of the keys of `boost` and `volumetric-efficiency`, the rev limit, and
    every multiple of 250 rpm between the lowest and the highest of them; the first boosted speed is
    computed on both sides. Tables are linear between entries and level beyond them.
 6. Manifold pressure = site pressure + boost (`boost-held: gauge`), or home pressure + boost
    (`absolute`). Off boost the compressor has ratio 1 and no loss of its own.
 7. Flow of the mixture = ve * displacement * N / 120 * p_man / (R * T_man) (N / 60 for two strokes).

Losses (all pressures are total; the manifold is a plenum)
 8. Loss of a part = C * m^2 / rho with rho = p_m / (R T_m); p_m is the mean of the part's total pressures
    at both ends and T_m the mean of its total temperatures (for the cooler the mean of inlet and
    outlet). With p_m linear in both ends this solves in closed form: p_in^2 - p_out^2 = 2 C m^2 R T_m.
 9. A given loss fixes C at its reference state, rho_ref = p_ref / (R T_ref), that state taken as the mean
    state of the part, R that of the site's moist air (so that loss ~ m^2 T / p exactly). Without a
    reference state 298.15 K and 101.325 kPa are taken.
10. Pipes and the air meter (which has no loss of its own described): Darcy-Weisbach over `length`, 64/Re
    below Re 2300, Colebrook above 4000, linear in Re between; roughness 0.0015 mm; Re = 4 m / (pi D mu)
    with mu at the part's temperature.
11. Bend of 90 degrees: K = f_T * n, n from the table of Flow of Fluids (TP-410), linear in r/D; f_T is the
    friction factor of complete turbulence in clean commercial steel of that bore (roughness 0.045 mm),
    0.25 / log10(roughness / (3.7 D))^2: the table was made for it. The bend's arc is not in `length`.
12. A step in bore is charged to the downstream part, K on the smaller bore: Borda-Carnot (1 - A1/A2)^2
    widening, 0.5 (1 - A2/A1) narrowing. No step at filter, cooler, compressor, throttle, manifold.
13. Throttle at full opening: isentropic orifice, coefficient 0.9, area = bore area - shaft * bore, from its
    total inlet state to the manifold pressure, gamma = cp/(cp - R) at the inlet total temperature. Its
    whole loss is the inlet total pressure less the manifold pressure.
14. Hence the order: upstream p1 = site - losses, downstream p2 = p_man + losses.

Cooler
15. T_man = T2 - effectiveness * (T2 - T_face), T_face the site's air temperature. Pipes are adiabatic.

Map
16. Corrected flow m * sqrt(T1/Tref) / (p1/pref) with total T1, p1 at the compressor's inlet; the map's ratio
    and efficiency are total to total. No correction for the gas constant of moist air.
17. Along a line the coordinate is x = (m - m_s) / (m_c - m_s); ratio and efficiency are monotone cubics in x
    (Fritsch-Butland slopes with three-point ends, what is widely called PCHIP); across lines monotone
    cubics in speed at equal x, likewise m_s, m_c. Outside the lines affinity: m ~ N, isentropic head
    (ratio^((1.4-1)/1.4) - 1) ~ N^2, efficiency that of the nearest line.
18. T2: isentropic outlet temperature by entropy at constant composition, then enthalpy rise / efficiency.
19. Left of the surge line: corrected speed and efficiency are those of the surge point with the same
    ratio; flow, ratio and margin stand, efficiency and T2 are marked by `status: left-of-surge-line`.
20. Surge flow at a ratio: the surge point (interpolated in speed) that has that ratio. Margin
    (m - m_s) / m at constant ratio, in corrected flows. Choke share: m / m_c of the point's speed.
21. Right of every line (`status: beyond-choke`): efficiency held at the choke point of the speed whose
    choke flow is reached, which is an arbitrary choice; such a point is not compared.
"""

import json
import math
import sys
from pathlib import Path

from compressor_map import Map
from gas import Gas, saturation_pressure, site_pressure
from losses import Part
from numerics import bracket
from reading import linear, quantity, read_yaml, table


class Build:
    def __init__(self, path, changes=(), removals=()):
        path = Path(path)
        d = self.d = read_yaml(path.read_text(encoding="utf-8"))
        for route, value in changes:
            keys = route.split(".")
            node = d
            for key in keys[:-1]:
                node = node[key]
            node[keys[-1]] = value
        for route in removals:
            keys = route.split(".")
            node = d
            for key in keys[:-1]:
                node = node[key]
            del node[keys[-1]]
        self.upstream, self.downstream, self.map, self.cooler = [], [], None, 0.0
        bore = None
        for need in ("site", "engine", "boost", "air-path"):
            if need not in d:
                raise SystemExit(f"this build has no `{need}`: nothing to solve")
        for name in d["air-path"]:
            part = d["parts"][name]
            kind = part["kind"]
            if kind == "turbocharger":
                self.map = Map(path.parent / part["compressor"]["map"])
                bore = None
            elif kind == "inlet-manifold":
                bore = None
            elif kind in ("air-filter", "pipe", "air-meter", "charge-air-cooler", "throttle"):
                p = Part(name, part, bore)
                (self.upstream if self.map is None else self.downstream).append(p)
                bore = p.bore if kind in ("pipe", "air-meter") else None
                if kind == "charge-air-cooler":
                    self.cooler = quantity(part["effectiveness"])
            else:
                raise SystemExit(f"this oracle does not know the kind `{kind}`")
        e = d["engine"]
        self.displacement = quantity(e["displacement"])
        self.revolutions = 2 if e["cycle"] == "four-stroke" else 1
        self.ve = table(e["volumetric-efficiency"])
        self.boost = table(d["boost"])
        self.rev_limit = quantity(e["rev-limit"])

    def sites(self):
        """Home and the other sites, each with everything it takes from home."""
        s = self.d["site"]
        home = {k: v for k, v in s.items() if k != "other-sites"} | {"name": "home"}
        yield home
        for other in s.get("other-sites", []):
            yield home | ({"pressure": None} if "altitude" in other else {}) | other

    def speeds(self):
        """Operating points as (speed, on boost)."""
        keys = {n for n, _ in self.ve} | {n for n, _ in self.boost} | {self.rev_limit}
        low, high = min(keys), max(keys)
        keys |= {250.0 * i for i in range(math.ceil(low / 250), math.floor(high / 250) + 1)}
        first = self.boost[0][0]
        for n in sorted(keys):
            if n <= first:
                yield n, False
            if n >= first:
                yield n, True


class SiteRun:
    """One build at one site."""

    def __init__(self, build, site, home_pressure):
        self.b = build
        self.t = quantity(site["air-temperature"])
        self.p = quantity(site["pressure"]) if site.get("pressure") else site_pressure(quantity(site["altitude"]))
        self.home_pressure = home_pressure if home_pressure is not None else self.p
        rh = quantity(site["relative-humidity"]) if "relative-humidity" in site else 0.0
        self.gas = Gas(rh * saturation_pressure(self.t) / self.p)
        self.due = site.get("filter") == "loss-when-due"

    def pull(self, parts, flow, p_in, t, losses):
        """Total pressure behind parts in suction, marching with the flow."""
        for part in parts:
            k = part.coefficient(flow, t, self.gas, self.due) * flow**2 * self.gas.r * t
            if p_in**2 <= 2 * k:
                raise ValueError("flow too large")
            p_out = math.sqrt(p_in**2 - 2 * k)
            losses[part.name] = p_in - p_out
            p_in = p_out
        return p_in

    def push(self, parts, flow, p_out, t2, t_man, losses):
        """Total pressure ahead of parts on the charge side, marching against the flow."""
        t = t_man
        for part in reversed(parts):
            if part.kind == "throttle":
                p_in = part.throttle_inlet(flow, p_out, t, self.gas)
            else:
                mean = 0.5 * (t2 + t_man) if part.kind == "charge-air-cooler" else t
                k = part.coefficient(flow, mean, self.gas, self.due) * flow**2 * self.gas.r * mean
                p_in = math.sqrt(p_out**2 + 2 * k)
            if part.kind == "charge-air-cooler":
                t = t2
            losses[part.name] = p_in - p_out
            p_out = p_in
        return p_out

    def after_cooler(self, t2):
        return t2 - self.b.cooler * (t2 - self.t)

    def engine_flow(self, speed, p_man, t_man):
        ve = linear(self.b.ve, speed)
        return ve * self.b.displacement * speed / (60 * self.b.revolutions) * p_man / (self.gas.r * t_man)

    def compressor(self, flow, p_man):
        """Everything at one flow on boost."""
        m, losses = self.b.map, {}
        p1 = self.pull(self.b.upstream, flow, self.p, self.t, losses)
        corrected = flow * math.sqrt(self.t / m.t_ref) / (p1 / m.p_ref)

        def state(t2):
            p2 = self.push(self.b.downstream, flow, p_man, t2, self.after_cooler(t2), losses)
            found = m.find(corrected, max(p2 / p1, 1.0))
            return p2, found

        def excess(t2):
            p2, found = state(t2)
            return self.gas.compress(self.t, p2 / p1, found[1]) - t2

        t2 = bracket(excess, self.t, self.t + 500, 1e-11)
        p2, found = state(t2)
        return p1, p2, t2, corrected, found, losses

    def point(self, speed, on_boost):
        """One operating point as a dictionary."""
        b, gas = self.b, self.gas
        result = {"engine_speed": speed, "on_boost": on_boost}
        if not on_boost:
            order = b.upstream + b.downstream

            def forward(flow, losses):
                p = self.pull([q for q in order if q.kind != "throttle"], flow, self.p, self.t, losses)
                throttles = [q for q in order if q.kind == "throttle"]
                for q in throttles:
                    ahead = p
                    low = ahead * 0.55
                    if q.throttle_inlet(flow, low, self.t, gas) > ahead:
                        raise ValueError("throttle chokes")
                    p = bracket(lambda x: q.throttle_inlet(flow, x, self.t, gas) - ahead, low, ahead)
                    losses[q.name] = ahead - p
                return p

            def excess(flow):
                return self.engine_flow(speed, forward(flow, {}), self.t) - flow

            losses = {}
            flow = bracket(excess, 1e-6, self.engine_flow(speed, self.p, self.t), 1e-12)
            p_man = forward(flow, losses)
            p1 = self.p - sum(losses[q.name] for q in b.upstream)
            result |= self.out(flow, p1, p1, self.t, self.t, p_man, self.t, losses, None, None)
            return result
        boost = linear(b.boost, speed)
        p_man = boost + (self.p if b.d.get("boost-held", "gauge") == "gauge" else self.home_pressure)

        def excess(flow):
            t2 = self.compressor(flow, p_man)[2]
            return self.engine_flow(speed, p_man, self.after_cooler(t2)) - flow

        flow = bracket(excess, 1e-3, self.engine_flow(speed, p_man, self.t) * 1.0001, 1e-11)
        p1, p2, t2, corrected, found, losses = self.compressor(flow, p_man)
        result |= self.out(flow, p1, p2, self.t, t2, p_man, self.after_cooler(t2), losses, corrected, found)
        return result

    def out(self, flow, p1, p2, t1, t2, p_man, t_man, losses, corrected, found):
        n, eta, surge, choke, status = found or (None, None, None, None, "off-boost")
        order = [q.name for q in self.b.upstream + self.b.downstream]
        top = self.b.map.speeds[-1]
        return {
            "status": status,
            "mass_flow": flow,
            "dry_air_flow": flow * self.gas.dry_mass_share,
            "p1": p1, "T1": t1, "p2": p2, "T2": t2, "pressure_ratio": p2 / p1,
            "corrected_flow": corrected,
            "corrected_speed": n,
            "speed_share_of_top_line": n / top if n else None,
            "efficiency": eta,
            "surge_flow_at_ratio": surge,
            "surge_margin_flow": (corrected - surge) / corrected if surge else None,
            "choke_share": choke,
            "shaft_power": flow * (self.gas.h(t2) - self.gas.h(t1)),
            "cooler_heat": flow * (self.gas.h(t2) - self.gas.h(t_man)),
            "p_manifold": p_man, "T_manifold": t_man,
            "charge_density": p_man / (self.gas.r * t_man),
            "losses": {k: losses[k] for k in order},
        }  # fmt: skip


def solve(build):
    """All sites and points, with the worst of them."""
    sites, home = [], None
    for site in build.sites():
        run = SiteRun(build, site, home)
        home = run.home_pressure if home is None else home
        points = [run.point(n, on) for n, on in build.speeds()]
        boosted = [p for p in points if p["on_boost"]]
        least = min(boosted, key=lambda p: p["surge_margin_flow"])
        hottest = max(points, key=lambda p: p["T_manifold"])
        sites.append({
            "site": site["name"], "site_pressure": run.p, "site_temperature": run.t, "gas_constant": run.gas.r,
            "surge_margin_flow_min": least["surge_margin_flow"],
            "surge_margin_flow_min_speed": least["engine_speed"],
            "manifold_temperature_max": hottest["T_manifold"],
            "manifold_temperature_max_speed": hottest["engine_speed"],
            "compressor_outlet_temperature_max": max(p["T2"] for p in points),
            "mass_flow_max": max(p["mass_flow"] for p in points),
            "choke_share_max": max(p["choke_share"] for p in boosted),
            "rotor_speed_share_max": max(p["speed_share_of_top_line"] for p in boosted),
            "points": points,
        })  # fmt: skip
    return sites


def rounded(value):
    """Numbers to nine significant digits, so that the text is the same on every machine."""
    if isinstance(value, dict):
        return {k: rounded(v) for k, v in value.items()}
    if isinstance(value, list):
        return [rounded(v) for v in value]
    return float(f"{value:.9g}") if isinstance(value, float) else value


def json_text(sites):
    """JSON with one point a line, so that a change shows where it is."""
    texts = []
    for site in sites:
        points = ",\n".join("    " + json.dumps(p) for p in site["points"])
        head = json.dumps({k: v for k, v in site.items() if k != "points"})
        texts.append(f'  {head[:-1]}, "points": [\n{points}\n  ]}}')
    return "[\n" + ",\n".join(texts) + "\n]"


def print_table(sites):
    for s in sites:
        print(f"{s['site']}: {s['site_pressure'] / 1e3:.3f} kPa, {s['site_temperature'] - 273.15:.1f} degC, "
              f"least margin {100 * s['surge_margin_flow_min']:.1f} % at {s['surge_margin_flow_min_speed']:.0f} rpm, "
              f"charge at most {s['manifold_temperature_max'] - 273.15:.1f} degC at "
              f"{s['manifold_temperature_max_speed']:.0f} rpm")  # fmt: skip
        print("  rpm    kg/s   p1 kPa p2 kPa  ratio  corr    surge   margin eta    T2    Tman  N/top choke status")
        for p in s["points"]:
            none = float("nan")
            v = {k: none if p[k] is None else p[k] for k in p}
            print(f"  {p['engine_speed']:5.0f} {v['mass_flow']:7.4f} {v['p1'] / 1e3:7.2f} {v['p2'] / 1e3:6.2f} "
                  f"{v['pressure_ratio']:6.3f} {v['corrected_flow']:7.4f} {v['surge_flow_at_ratio']:7.4f} "
                  f"{100 * v['surge_margin_flow']:6.1f} {v['efficiency']:5.3f} {v['T2'] - 273.15:6.1f} "
                  f"{v['T_manifold'] - 273.15:5.1f} {v['speed_share_of_top_line']:5.3f} {v['choke_share']:5.3f} "
                  f"{p['status']}")  # fmt: skip


def main(arguments):
    changes, removals, rest, i = [], [], [], 0
    while i < len(arguments):
        if arguments[i] == "--set":
            i += 1
            changes.append(arguments[i].split("=", 1))
        elif arguments[i] == "--unset":
            i += 1
            removals.append(arguments[i])
        else:
            rest.append(arguments[i])
        i += 1
    paths = [a for a in rest if not a.startswith("-")]
    if len(paths) != 1:
        raise SystemExit(__doc__.split("\n\n")[1])
    sites = solve(Build(paths[0], changes, removals))
    if "--table" in rest:
        print_table(sites)
    else:
        print(json_text(rounded(sites)))
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
