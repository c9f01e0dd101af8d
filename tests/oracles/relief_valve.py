"""Relief valve, its returns and its signal hose as equations of change (conventions 11 to 13 of tip_out.py)."""

import math

import numpy as np

from gas import viscosity
from losses import area
from passages import Friction, blasius, orifice
from reading import quantity


class Valve:
    """Relief valve, its returns and its signal hose (conventions 11 to 13)."""

    def __init__(self, d, run, tract, factors):
        name, part = next((k, v) for k, v in d["parts"].items() if isinstance(v, dict) and v["kind"] == "relief-valve")
        hose = next(h for h in d["hoses"].values() if h["to"] == name)
        if d["parts"][hose["from"]]["kind"] != "inlet-manifold" or part["actuation"] != "pneumatic":
            raise SystemExit("this oracle knows a pneumatic signal from the manifold only")
        self.gas, self.run = run.gas, run
        self.seat, piston = quantity(part["seat"]), quantity(part["piston"])
        self.a_s, self.a_p = area(self.seat), area(piston)
        self.rate = quantity(part["spring"]["rate"])
        self.preload = factors["preload"] * quantity(part["spring"]["preload"])
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

    def look(self, y, p, temp, h, d_m, d_u):
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
        factor = self.friction(size * self.bore / (self.section * self.mu))
        loss = factor * self.mu * self.lengths * flow / (2 * self.section * self.bore**2 * rho)
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
            p_b, t_b, h_b = run.p, run.t, self.h_line
            if cell is not None:
                p_b, t_b, h_b = float(p[cell]), float(temp[cell]), h[cell]
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
        force = p_c * self.a_s + p_d * (self.a_p - self.a_s) - p_s * self.a_p
        force -= self.preload + self.rate * x + self.damping * v
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
