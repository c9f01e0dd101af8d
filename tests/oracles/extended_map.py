"""A compressor map carried on to the left of surge, into reverse and past choke (conventions 5 to 7 of tip_out.py)."""

import math

import numpy as np
from scipy.interpolate import PchipInterpolator

from losses import area

HUB = 0.3  # of the inducer's tip


class Characteristic:
    """Extended compressor map (conventions 6 and 7)."""

    def __init__(self, m, gas, inducer, exducer, factors):
        self.m, self.gas = m, gas
        self.a1 = area(inducer) * (1 - HUB**2)
        self.factor = factors
        self.radii = (exducer / 2) ** 2 - (1 + HUB**2) / 2 * (inducer / 2) ** 2
        self.low, self.high, count = m.speeds[0], m.speeds[-1], 400
        speeds, x = np.linspace(self.low, self.high, count), np.linspace(0, 1, count)
        self.last, self.rate = count - 1, (count - 1) / (self.high - self.low)

        def fine(curves):
            along = np.array([PchipInterpolator(c.xs, c.ys)(x) for c in curves])
            return PchipInterpolator(m.speeds, along, axis=0)(speeds).tolist()

        self.pr, self.eta = fine(m.pr_lines), fine(m.eta_lines)
        self.ms = [m.ms_at(n) for n in speeds]
        self.mc = [m.mc_at(n) for n in speeds]

    def _speed(self, speed):
        inside = min(max(speed, self.low), self.high)
        i = min(int((inside - self.low) * self.rate), self.last - 1)
        return speed / inside, i, (inside - self.low) * self.rate - i

    def _at(self, table, i, u, x):
        j = min(int(x * self.last), self.last - 1)
        w = x * self.last - j
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
