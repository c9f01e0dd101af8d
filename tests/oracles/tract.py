"""The air path from outside to engine as equations of change (conventions 1 to 10 of tip_out.py)."""

import math
from copy import copy

import numpy as np

from extended_map import Characteristic
from losses import ROUGHNESS, area, friction_factor
from passages import Friction, orifice
from reading import linear, quantity
from relief_valve import Valve


class Tract:
    """The whole set of equations for one start of one build at one site."""

    def __init__(self, build, run, point, valve, cells, factors):
        self.gas, self.run, self.factor = run.gas, run, factors
        d, gas = build.d, run.gas
        self.wheel = next(n for n in d["air-path"] if d["parts"][n]["kind"] == "turbocharger")
        turbo = d["parts"][self.wheel]
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
        bends, mouth = [], None
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
                cell = cells[1] if d["air-path"][d["air-path"].index(name) + 1] == self.wheel else cells[0]
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
                mouth = name
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
        half = 0.5 * np.array(length)
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
        parts = {q.name: q for q in build.upstream + build.downstream}
        if mouth:
            self.fixed[0] += parts[mouth].coefficient(1.0, run.t, gas, run.due)
        c = next(q for q in parts.values() if q.kind == "charge-air-cooler").coefficient(1.0, t_man, gas, run.due)
        self.fixed[self.cooler] += 0.5 * c
        self.fixed[self.cooler + 1] += 0.5 * c
        for edge, name in bends:
            bent, straight = copy(parts[name]), copy(parts[name])
            straight.d = {k: v for k, v in bent.d.items() if k != "bends"}
            own = [q.coefficient(0.1, run.t, gas, run.due) for q in (bent, straight)]
            self.fixed[edge] += own[0] - own[1]
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
        travel = 1.0 if self.held else max(1.0 - t / self.closing, self.to)
        return self.a_closed + (self.a_open - self.a_closed) * (1 - math.cos(travel * math.pi / 2))

    def cell_at(self, part, at):
        """The cell of a part that holds a place."""
        inside = (i for i, (name, low, high) in enumerate(self.where) if name == part and low <= at + 1e-9 <= high)
        return next(inside)

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
        p1, rho2 = float(p[k - 1]), float(p[k] / gas.r / temp[k])
        t1 = run.t + self.factor["eye-heat"] * float(temp[k - 1] - run.t)
        p2, work, m_s = self.characteristic(float(flow[k]), float(w), p1, t1, rho2)
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
        if forward[k]:
            d_u[k] += flow[k] * work
        else:
            d_u[k - 1] -= self.factor["reverse-work"] * flow[k] * work
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
        told = {"flow": flow[k], "m_s": m_s, "p2": p[k], "ahead": p[-2], "manifold": p[-1], "w": w}
        if self.valve:
            extra, through = self.valve.look(y[3 * n + 1 :], p, temp, h, d_m, d_u)
            parts.append(extra)
            told |= {"lift": y[3 * n + 1 + self.valve.lift_at], "valve": through}
        return np.concatenate(parts), told

    def rhs(self, t, y):
        return self.look(t, y)[0]
