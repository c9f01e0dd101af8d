#!/usr/bin/env python3
"""Independent tip-out run of a build: what happens in the tract when the throttle snaps shut at boost.

    python tests/oracles/tip_out.py examples/hill-climb.yaml                       # every start, with and without valve
    python tests/oracles/tip_out.py BUILD --start highest-boost --valve without    # one run
    python tests/oracles/tip_out.py BUILD --cell 0.1 --rtol 1e-8 --seconds 0.4     # other steps
    python tests/oracles/tip_out.py BUILD --with inertance=1.1                     # a term made 10 % larger

It needs numpy and SciPy (requirements.txt) and takes the start from steady.py, whose conventions hold here too. It shares
no code with the program. Everything is in SI units; times count from the moment the throttle begins to close. `null`
means that the thing does not happen in the run. It knows the air paths that steady.py knows, one relief valve behind the
compressor with a pneumatic signal from the manifold, and `--set`, `--unset` as steady.py has them.

Conventions (a difference from the program is to be argued over one of these lines):

Tract
 1. Cells hold mass and internal energy of moist air, p = m R T / V, velocity heads left out. Pipes and the air meter are cut
    into equal cells of at most 0.2 m, the arcs of bends included; the cooler and the manifold are one cell each; the filter
    has no volume.
 2. Edges between cells: dm/dt = (p_u - p_d - loss) / sum(L/A) over half a cell on either side. The cooler is a duct of its
    length and of section volume/length. The mouth of the filter is the air outside at rest.
 3. Losses by C m |m| / rho of the upwind cell; friction factor of the present Reynolds number with the upwind viscosity;
    filter, cooler and bends keep the coefficient of steady.py in both directions. Half of the cooler's loss on either side.
    A bend sits on the edge nearest to its `at`.
 4. Enthalpy is carried upwind. Forward flow enters the cooler at T - effectiveness (T - T_air outside), reverse unchanged.

Compressor
 5. An edge with 3 D2/A1 of inertance on top of its half cells; A1 the inducer's area between hub (0.3 of the tip) and tip, D2 the exducer. p1, T1 are those
    of the last suction cell, p2 that of the first cell behind it.
 6. Between surge and choke the map of steady.py, its ratio and efficiency looked up in a fine table. 0 <= m < m_s: PR0 + (PR_s -
    PR0)(3 z^2 - 2 z^3), z = m/m_s (Moore & Greitzer 1986), PR0 = [1 + (r2^2 - r1^2) w^2 / (2 cp T1)]^(g/(g-1)), r1^2 the mean
    of the squares of the inducer's tip and hub, hub 0.3 of the tip (Gravdahl & Egeland 1999). m < 0: p1 PR0 + 30 m^2 / (2 rho2
    A1^2). Beyond choke: PR_c - 4 (PR_s - PR_c)(x - 1), not below 0.3.
 7. Work per kg: isentropic by the entropy of the gas from T1, over the efficiency; left of the surge point and in reverse that of the surge point,
    beyond choke that of the choke point. Torque |m| work / w; the work goes into the gas in either direction.
 8. Rotor: inertia dw/dt = y^2 torque_0 - torque, y' = (m_engine/m_engine_0 - y) / working cycle.

Throttle and engine
 9. Isentropic orifice without inertance, 0.9, A = A_closed + (A_open - A_closed)(1 - cos a), A_open the bore less the shaft, a falling
    from 90 degrees as if to 0 in the closing time, but staying at `to` of them; linear in the pressure difference above a ratio of 0.9995. A_closed passes
    the engine's idle flow from site pressure to the idle manifold pressure, at a = 0.
10. Engine speed held; flow ve V N/(60 n) rho f, f = 1 above site pressure, else (r - (p_site/p)^(1/1.3))/(r - 1).

Relief valve
11. m x'' = p_c A_s + p_d (A_p - A_s) - p_s A_p - F0 - k x - 2*0.2 sqrt(k m) x' + contact; pressures of the cells; contact a spring of
    m (3000/s)^2 with half of critical damping, never pulling.
12. Flow: discharge coefficient on min(pi D x, seat area), isentropic; a return's bore in series by 1/A^2 = 1/A_v^2 + 1/A_r^2.
13. Signal hose: isothermal at site temperature, cells of at most 0.11 m, 64/Re below 2300, Blasius above 4000, linear
    between; entry 0.5 and exit 1.0 by direction; flow at most p A / sqrt(e R T) of the upwind side. Chamber with energy, V = A_p (lift + 20 mm - x).

Start and results
14. The steady point with rotor speed held and throttle open until nothing moves. Light boost: the smallest boost above 0 in
    the table, the throttle taking twice its closing time.
15. Surge line crossed: m below m_s of the present corrected speed. Cycle: m falls below half m_s, 0.25 m_s or more below
    its last peak, then rises by 0.25 m_s; swing: highest p2 between those two extremes less the next lowest,
    from which p2 rises by 10 % of the start's boost before the next dip; counted from 10 % of that boost. Frequencies from the times of lowest flow.
"""

import json
import math
import sys

import numpy as np
from scipy.integrate import odeint
from scipy.interpolate import PchipInterpolator
from scipy.optimize import root

from gas import viscosity
from losses import ROUGHNESS, area, friction_factor
from reading import linear, quantity
from steady import Build, SiteRun, rounded

HUB = 0.3  # of the inducer's tip
STARTS = ("highest-boost", "highest-speed", "light-boost")
# What `--with NAME=FACTOR` multiplies, to see what a difference of that size in one term would do.
TERMS = ("inertance", "reverse", "cooler-volume", "manifold-volume", "valley", "return", "rotor", "closed-area")


class Characteristic:
    """Extended compressor map (conventions 6 and 7)."""

    def __init__(self, m, gas, inducer, exducer, factors):
        self.m, self.gas = m, gas
        self.a1 = area(inducer) * (1 - HUB**2)
        self.factor = factors
        self.radii = (exducer / 2) ** 2 - (1 + HUB**2) / 2 * (inducer / 2) ** 2
        self.low, self.high, count = m.speeds[0], m.speeds[-1], 400
        speeds, x = np.linspace(self.low, self.high, count), np.linspace(0, 1, count)
        self.step = (count - 1, (count - 1) / (self.high - self.low))
        lines = zip((m.pr_lines, m.eta_lines, None), range(3))
        tables = []
        for curves, _ in lines:
            if curves:
                along = np.array([PchipInterpolator(c.xs, c.ys)(x) for c in curves])
                tables.append(PchipInterpolator(m.speeds, along, axis=0)(speeds).tolist())
        self.pr, self.eta = tables
        self.ms = [m.ms_at(n) for n in speeds]
        self.mc = [m.mc_at(n) for n in speeds]

    def _speed(self, speed):
        inside = min(max(speed, self.low), self.high)
        i = min(int((inside - self.low) * self.step[1]), self.step[0] - 1)
        return speed / inside, i, (inside - self.low) * self.step[1] - i

    def _at(self, table, i, u, x):
        j = min(int(x * self.step[0]), self.step[0] - 1)
        w = x * self.step[0] - j
        a, b = table[i], table[i + 1]
        return (1 - u) * ((1 - w) * a[j] + w * a[j + 1]) + u * ((1 - w) * b[j] + w * b[j + 1])

    def __call__(self, flow, w, p1, t1, rho2):
        """Pressure behind, work per kg, surge flow [kg/s] at this inlet and shaft speed [rad/s]."""
        m, gas = self.m, self.gas
        root = math.sqrt(t1 / m.t_ref)
        scale, i, u = self._speed(w * 30 / math.pi / root)
        to_flow = p1 / m.p_ref / root
        m_s = ((1 - u) * self.ms[i] + u * self.ms[i + 1]) * scale * to_flow
        m_c = ((1 - u) * self.mc[i] + u * self.mc[i + 1]) * scale * to_flow

        def on_line(x):
            pr = self._at(self.pr, i, u, x)
            if scale != 1.0:
                pr = ((pr ** (0.4 / 1.4) - 1) * scale**2 + 1) ** (1.4 / 0.4)
            return pr, self._at(self.eta, i, u, x)

        x = (flow - m_s) / (m_c - m_s)
        held = min(max(x, 0.0), 1.0)
        pr, eta = on_line(held)
        work = self._isentropic(t1, pr) / eta
        if x < 0.0:
            cp = gas.cp(t1)
            k = cp / gas.r
            valley = (1 + self.factor["valley"] * self.radii * w**2 / (2 * cp * t1)) ** k
            if flow < 0.0:
                return p1 * valley + self.factor["reverse"] * 30 * flow**2 / (2 * rho2 * self.a1**2), work, m_s
            z = flow / m_s
            pr = valley + (pr - valley) * (3 * z**2 - 2 * z**3)
        elif x > 1.0:
            pr = max(pr - 4 * (on_line(0.0)[0] - pr) * (x - 1), 0.3)
        return p1 * pr, work, m_s

    def _isentropic(self, t1, ratio):
        """Isentropic enthalpy rise, by Newton's method on entropy."""
        gas = self.gas
        goal = gas.s0(t1) + gas.r * math.log(ratio)
        t = t1 * ratio ** (gas.r / gas.cp(t1))
        for _ in range(3):
            t -= (gas.s0(t) - goal) * t / gas.cp(t)
        return gas.h(t) - gas.h(t1)


class Friction:
    """Darcy factor times Reynolds number, tabulated over log10 Re for several pipes at once."""

    def __init__(self, factor, relative):
        self.low, self.rate = 2.0, 400.0
        grid = 10 ** np.arange(self.low, 7.5, 1 / self.rate)
        kinds = sorted(set(relative))
        self.table = np.array([[factor(re, kind) * re for re in grid] for kind in kinds])
        self.kind = np.array([kinds.index(k) for k in relative])

    def __call__(self, re):
        place = (np.log10(np.maximum(re, 101.0)) - self.low) * self.rate
        i = place.astype(int)
        w = place - i
        return self.table[self.kind, i] * (1 - w) + self.table[self.kind, i + 1] * w


def blasius(re, _):
    """Smooth-hose factor with the same blend as in the pipes."""
    if re < 2300:
        return 64 / re
    if re > 4000:
        return 0.3164 / re**0.25
    return 64 / 2300 + (0.3164 / 4000**0.25 - 64 / 2300) * (re - 2300) / 1700


def orifice(cda, p_a, t_a, p_b, t_b, gas):
    """Isentropic nozzle flow [kg/s] from a to b, either way; linear near equal pressures."""
    sign = 1.0
    if p_b > p_a:
        p_a, t_a, p_b, sign = p_b, t_b, p_a, -1.0
    g = gas.gamma(t_a)

    def psi(r):
        r = max(r, (2 / (g + 1)) ** (g / (g - 1)))
        return math.sqrt(2 * g / (g - 1) * (r ** (2 / g) - r ** ((g + 1) / g)))

    r, near = p_b / p_a, 0.9995
    share = psi(r) if r < near else psi(near) * (1 - r) / (1 - near)
    return sign * cda * p_a / math.sqrt(gas.r * t_a) * share


def half_loss_pieces(lengths):
    """Pieces of duct on each edge: half of the cell before it and half of the cell behind it."""
    return 0.5 * lengths


class Tract:
    """The whole set of equations for one start of one build at one site."""

    def __init__(self, build, run, point, valve, cell, factors):
        self.gas, self.run, self.factor = run.gas, run, factors
        d, gas = build.d, run.gas
        turbo = next(p for p in d["parts"].values() if isinstance(p, dict) and p["kind"] == "turbocharger")
        inducer, exducer = (quantity(turbo["compressor"][k]) for k in ("inducer", "exducer"))
        self.inertia = factors["rotor"] * quantity(turbo["rotor-inertia"])
        self.characteristic = Characteristic(build.map, gas, inducer, exducer, factors)
        self.speed = point["engine_speed"]
        self.point = point
        self.engine = linear(build.ve, self.speed) * build.displacement * self.speed / (60 * build.revolutions)
        self.cycle = 60 * build.revolutions / self.speed
        self.ratio = quantity(d["engine"]["compression-ratio"])

        # Cells in the order of the flow: volume, length, bore (0 where no wall friction is counted), start state.
        volume, length, bore, section, where, kelvin, pascal = [], [], [], [], [], [], []
        given, bends = {}, []
        p, behind = run.p, False
        t2, t_man = point["T2"], point["T_manifold"]
        t = run.t
        for name in d["air-path"]:
            part = d["parts"][name]
            kind = part["kind"]
            if kind == "turbocharger":
                self.compressor, behind, p, t = len(volume), True, point["p2"], t2
                continue
            loss = point["losses"].get(name, 0.0)
            p -= loss
            if kind in ("pipe", "air-meter"):
                total, b = quantity(part["length"]), quantity(part["bore"])
                for bend in part.get("bends", []):
                    total += math.radians(quantity(bend["angle"])) * quantity(bend["radius"])
                count = math.ceil(total / cell - 1e-9)
                for bend in part.get("bends", []):
                    bends.append((len(volume) + round(quantity(bend["at"]) / total * count), name))
                for i in range(count):
                    where.append((name, i * total / count, (i + 1) * total / count))
                    volume.append(area(b) * total / count)
                    length.append(total / count)
                    bore.append(b)
                    section.append(area(b))
                    kelvin.append(t)
                    pascal.append(p)
            elif kind == "charge-air-cooler":
                self.cooler, t = len(volume), t_man
                total, v = quantity(part["length"]), factors["cooler-volume"] * quantity(part["volume"])
                where.append((name, 0.0, total))
                volume.append(v)
                length.append(total)
                bore.append(0.0)
                section.append(v / total)
                kelvin.append(t)
                pascal.append(p + 0.5 * loss)
            elif kind == "air-filter":
                given[0] = name
            elif kind == "throttle":
                self.throttle = part
            elif kind == "inlet-manifold":
                where.append((name, 0.0, 0.0))
                volume.append(factors["manifold-volume"] * quantity(part["volume"]))
                kelvin.append(t)
                pascal.append(point["p_manifold"])
        self.where, self.v = where, np.array(volume)
        self.start = np.array(kelvin), np.array(pascal)
        self.n = n = len(volume)

        # Edge i feeds cell i; the last one is the throttle and has no inertance. Two half pieces of duct on each.
        half = half_loss_pieces(np.array(length))
        bore, section = np.array(bore), np.array(section)
        self.inert = half / section
        self.inert[1:] += (half / section)[:-1]
        self.inert[self.compressor] += factors["inertance"] * 3 * exducer / self.characteristic.a1
        walls = np.where(bore > 0, bore, 1.0)
        per_wall = np.where(bore > 0, half / (2 * section * walls**2), 0.0)
        self.pieces = [(walls, section, per_wall)]
        shifted = [np.concatenate(([1.0 if k < 2 else 0.0], a[:-1])) for k, a in enumerate(self.pieces[0])]
        self.pieces.append(shifted)
        self.friction = [Friction(friction_factor, (ROUGHNESS / piece[0]).tolist()) for piece in self.pieces]
        # Fixed coefficients: filter, half of the cooler on either side, bends.
        self.fixed = np.zeros(n - 1)
        due = run.due
        parts = {q.name: q for q in build.upstream + build.downstream}
        for edge, name in given.items():
            self.fixed[edge] += parts[name].coefficient(1.0, run.t, gas, due)
        c = next(q for q in parts.values() if q.kind == "charge-air-cooler").coefficient(1.0, t_man, gas, due)
        self.fixed[self.cooler] += 0.5 * c
        self.fixed[self.cooler + 1] += 0.5 * c
        for edge, name in bends:
            q = parts[name]
            with_bend = q.coefficient(0.1, run.t, gas, due)
            straight = dict(q.d)
            bent, q.d = q.d, {k: v for k, v in straight.items() if k != "bends"}
            self.fixed[edge] += with_bend - q.coefficient(0.1, run.t, gas, due)
            q.d = bent
        self.effectiveness = build.cooler

        # Throttle: areas and closing.
        b = quantity(self.throttle["bore"])
        self.a_open = area(b) - quantity(self.throttle["shaft"]) * b
        idle = d["engine"]["idle"]
        n_idle, p_idle = quantity(idle["speed"]), quantity(idle["manifold-pressure"])
        flow = linear(build.ve, n_idle) * build.displacement * n_idle / (60 * build.revolutions)
        flow *= p_idle / (gas.r * run.t) * self.share(p_idle)
        self.a_closed = factors["closed-area"] * flow / orifice(0.9, run.p, run.t, p_idle, run.t, gas)
        self.closing = quantity(self.throttle["closing"]["time"])
        self.to = quantity(self.throttle["closing"]["to"])
        self.begins = None

        # Internal energy to temperature.
        self.t_grid = np.linspace(120.0, 1000.0, 17601)
        self.u_grid = np.array([gas.h(x) - gas.r * x for x in self.t_grid])
        self.valve = Valve(d, run, self, factors) if valve else None
        self.w0 = point["corrected_speed"] * math.sqrt(run.t / build.map.t_ref) * math.pi / 30
        self.held = True

    def share(self, p):
        """The engine's charge below site pressure as a share of that by density alone."""
        if p >= self.run.p:
            return 1.0
        return max((self.ratio - (self.run.p / p) ** (1 / 1.3)) / (self.ratio - 1), 0.0)

    def throttle_area(self, t):
        """Area [m2] at a time [s] after the throttle begins to close."""
        travel = 1.0 if self.begins is None else max(1.0 - max(t - self.begins, 0.0) / self.closing, self.to)
        return self.a_closed + (self.a_open - self.a_closed) * (1 - math.cos(travel * math.pi / 2))

    def cell_at(self, part, at):
        """The cell of a part that holds a place."""
        cells = [i for i, (name, low, high) in enumerate(self.where) if name == part and low - 1e-9 <= at <= high + 1e-9]
        return cells[0]

    def initial(self):
        """State and its scale, from the steady point."""
        t, p = self.start
        m = p * self.v / (self.gas.r * t)
        u = m * np.interp(t, self.t_grid, self.u_grid)
        flow = np.full(self.n - 1, self.point["mass_flow"])
        y = [m, u, flow, [self.w0, 1.0]]
        scale = [m, m * 3e5, flow, [self.w0, 1.0]]
        if self.valve:
            extra, sizes = self.valve.initial(p[-1])
            y.append(extra)
            scale.append(sizes)
        return np.concatenate(y), np.concatenate(scale)

    def look(self, t, y):
        """Derivatives and what else is of interest."""
        n, gas = self.n, self.gas
        m, u = y[:n], y[n : 2 * n] / y[:n]
        temp = np.interp(u, self.u_grid, self.t_grid)
        p = m * gas.r * temp / self.v
        h = u + gas.r * temp
        w, turbine = y[3 * n - 1], y[3 * n]
        run, k = self.run, self.compressor
        flow = np.empty(n)
        flow[:-1] = y[2 * n : 3 * n - 1]
        flow[-1] = orifice(0.9 * self.throttle_area(t), p[-2], temp[-2], p[-1], temp[-1], gas)

        forward = flow >= 0
        h_out = gas.h(run.t)
        before_t = np.concatenate(([run.t], temp[:-1]))
        before_p = np.concatenate(([run.p], p[:-1]))
        up_t = np.where(forward, before_t, temp)
        rho = np.where(forward, before_p, p)[:-1] / (gas.r * up_t[:-1])
        mu = 1.458e-6 * up_t[:-1] ** 1.5 / (up_t[:-1] + 110.4)
        line = flow[:-1]
        size = np.abs(line)
        loss = self.fixed * line * size / rho
        for (walls, section, per_wall), factor in zip(self.pieces, self.friction):
            loss += factor(size * walls / (section * mu)) * mu * per_wall * line / rho
        p2, work, m_s = self.characteristic(float(flow[k]), float(w), float(p[k - 1]), float(temp[k - 1]), float(p[k] / gas.r / temp[k]))
        push = before_p[:-1].copy()
        push[k] = p2
        d_flow = (push - p[:-1] - loss) / self.inert

        before_h = np.concatenate(([h_out], h[:-1]))
        carried = flow * np.where(forward, before_h, h)
        engine = self.engine * p[-1] / (gas.r * temp[-1]) * self.share(p[-1])
        d_m, d_u = flow.copy(), carried.copy()
        d_m[:-1] -= flow[1:]
        d_u[:-1] -= carried[1:]
        d_m[-1] -= engine
        d_u[-1] -= engine * h[-1]
        # Work goes into the cell that receives the flow; the cooler's heat is taken from what enters it.
        d_u[k if forward[k] else k - 1] += abs(flow[k]) * work
        c = self.cooler
        if forward[c]:
            d_u[c] -= flow[c] * (h[c - 1] - gas.h(temp[c - 1] - self.effectiveness * (temp[c - 1] - run.t)))
        torque = abs(flow[k]) * work / w
        if self.held:
            d_w, d_y = 0.0, 0.0
            self.torque0, self.engine0 = torque, engine
        else:
            d_w = (turbine**2 * self.torque0 - torque) / self.inertia
            d_y = (engine / self.engine0 - turbine) / self.cycle
        parts = [d_m, d_u, d_flow, [d_w, d_y]]
        told = {"flow": flow[k], "m_s": m_s, "p2": p[k], "ahead": p[-2], "manifold": p[-1], "w": w, "engine": engine, "t_man": temp[-1]}
        if self.valve:
            extra, through = self.valve.look(y[3 * n + 1 :], p, temp, h, d_m, d_u, self.held)
            parts.append(extra)
            told |= {"lift": y[3 * n + 1 + self.valve.lift_at], "valve": through}
        return np.concatenate(parts), told

    def rhs(self, t, y):
        return self.look(t, y)[0]


class Valve:
    """Relief valve, its returns and its signal hose (conventions 11 to 13)."""

    def __init__(self, d, run, tract, factors):
        name, part = next((k, v) for k, v in d["parts"].items() if isinstance(v, dict) and v["kind"] == "relief-valve")
        hose = next(h for h in d["hoses"].values() if h["to"] == name)
        if d["parts"][hose["from"]]["kind"] != "inlet-manifold" or part["actuation"] != "pneumatic":
            raise SystemExit("this oracle knows a pneumatic signal from the manifold only")
        self.gas, self.run = run.gas, run
        self.seat, self.a_s, self.a_p = quantity(part["seat"]), area(quantity(part["seat"])), area(quantity(part["piston"]))
        self.rate, self.preload = quantity(part["spring"]["rate"]), quantity(part["spring"]["preload"])
        self.lift, self.mass = quantity(part["lift"]), quantity(part["moving-mass"])
        self.damping = 2 * 0.2 * math.sqrt(self.rate * self.mass)
        self.contact = self.mass * 3000.0**2
        self.contact_damping = math.sqrt(self.contact * self.mass)
        self.cd = quantity(part["flow"]["discharge-coefficient"])
        self.tap = tract.cell_at(part["tap"]["part"], quantity(part["tap"]["at"]))
        self.ports = []
        for port in part["discharge"]:
            cell = None if port["to"] == "air" else tract.cell_at(port["to"], quantity(port["at"]))
            behind = area(quantity(port["bore"])) * factors["return"] if "bore" in port else math.inf
            self.ports.append((cell, quantity(port["share"]), behind))
        # Hose.
        self.bore, total = quantity(hose["bore"]), quantity(hose["length"])
        self.k = k = min(max(math.ceil(total / 0.11 - 1e-9), 1), 4)
        self.section, self.cell = area(self.bore), total / k
        lengths = np.full(k + 1, self.cell)
        lengths[[0, -1]] *= 0.5
        self.lengths = lengths
        self.cell_volume = self.section * self.cell
        self.friction = Friction(blasius, [0.0] * (k + 1))
        self.mu = viscosity(run.t)
        self.h_line = run.gas.h(run.t)
        self.lift_at = 2 * k + 3

    def initial(self, p):
        r, t, k = self.gas.r, self.run.t, self.k
        cell = p * self.cell_volume / (r * t)
        room = self.a_p * (self.lift + 0.02)
        m = p * room / (r * t)
        u = m * (self.h_line - r * t)
        y = [cell] * k + [0.0] * (k + 1) + [m, u, 0.0, 0.0]
        scale = [cell] * k + [1e-2] * (k + 1) + [m, m * 3e5, 1e-2, 1.0]
        return np.array(y), np.array(scale)

    def look(self, y, p, temp, h, d_m, d_u, held):
        """Derivatives of the valve's own states; adds what it takes and gives to the tract's cells."""
        k, gas, run = self.k, self.gas, self.run
        r, line_t = gas.r, run.t
        cells, flow = y[:k], y[k : 2 * k + 1]
        m, u, x, v = (float(a) for a in y[2 * k + 1 :])
        room = self.a_p * (self.lift + 0.02 - x)
        t_room = self._temperature(u / m)
        p_s = m * r * t_room / room

        ends_p = np.concatenate(([p[-1]], cells * r * line_t / self.cell_volume, [p_s]))
        ends_t = np.concatenate(([temp[-1]], np.full(k, line_t), [t_room]))
        forward = flow >= 0
        up_p = np.where(forward, ends_p[:-1], ends_p[1:])
        up_t = np.where(forward, ends_t[:-1], ends_t[1:])
        rho = up_p / (r * up_t)
        size = np.abs(flow)
        loss = self.friction(size * self.bore / (self.section * self.mu)) * self.mu * self.lengths * flow / (2 * self.section * self.bore**2 * rho)
        entry = np.zeros(k + 1)
        entry[0] = 0.5 if forward[0] else 1.0
        entry[-1] += 1.0 if forward[-1] else 0.5
        loss += entry * flow * size / (2 * self.section**2 * rho)
        d_flow = (ends_p[:-1] - ends_p[1:] - loss) * self.section / self.lengths
        # At the cap the flow follows it: no growth beyond, and a quick return to it.
        cap = up_p * self.section / np.sqrt(math.e * r * up_t)
        beyond = size > cap
        if beyond.any():
            pull = -np.sign(flow) * (size - cap) * 1e5
            d_flow = np.where(beyond, np.where(flow * d_flow > 0, pull, d_flow + pull), d_flow)
        d_cells = flow[:-1] - flow[1:]
        d_m[-1] -= flow[0]
        d_u[-1] -= flow[0] * (h[-1] if forward[0] else self.h_line)
        into = float(flow[-1])
        h_room = u / m + r * t_room
        d_room = into * (self.h_line if into >= 0 else h_room) + p_s * self.a_p * v

        opening = min(math.pi * self.seat * max(x, 0.0), self.a_s)
        p_c, through, p_d = float(p[self.tap]), 0.0, 0.0
        for cell, share, behind in self.ports:
            p_b, t_b, h_b = (run.p, run.t, self.h_line) if cell is None else (float(p[cell]), float(temp[cell]), h[cell])
            p_d += share * p_b
            port = self.cd * opening * share
            if port > 0.0:
                port = 1 / math.sqrt(1 / port**2 + 1 / behind**2)
                g = orifice(port, p_c, float(temp[self.tap]), p_b, t_b, gas)
                taken = g * (h[self.tap] if g >= 0 else h_b)
                d_m[self.tap] -= g
                d_u[self.tap] -= taken
                if cell is not None:
                    d_m[cell] += g
                    d_u[cell] += taken
                through += g
        force = p_c * self.a_s + p_d * (self.a_p - self.a_s) - p_s * self.a_p - self.preload - self.rate * x - self.damping * v
        if x < 0.0:
            force += max(-self.contact * x - self.contact_damping * v, 0.0)
        elif x > self.lift:
            force -= max(self.contact * (x - self.lift) + self.contact_damping * v, 0.0)
        d = np.concatenate((d_cells, d_flow, [into, d_room, v, force / self.mass]))
        return d, through

    def _temperature(self, u):
        gas, t = self.gas, self.run.t
        for _ in range(3):
            t -= (gas.h(t) - gas.r * t - u) / (gas.cp(t) - gas.r)
        return t


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
    states, told = odeint(tract.rhs, y, times, tfirst=True, rtol=rtol, atol=rtol * scale, hmax=1e-3, mxstep=100000, full_output=True)
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
    tract = Tract(build, site_run, point, valve, options["cell"], factors)
    if start == "light-boost":
        tract.closing *= options["light"]
    y, scale = tract.initial()
    y = settle(tract, y, scale)
    _, at_rest = tract.look(0.0, y)
    tract.held, tract.begins = False, 0.0
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
    """Pairs of places of a flow peak and the flow minimum after it (convention 15); flow as a share of the surge flow."""
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
    options = {"cell": 0.2, "rtol": 1e-6, "seconds": 1.2, "site": "home", "start": None, "valve": None, "trace": None, "light": 2.0}
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
    print("[\n" + ",\n".join(json.dumps(rounded(to_five(r))) for r in results) + "\n]")
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
