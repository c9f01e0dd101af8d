"""Wall friction of several ducts at once, and orifices, for tip_out.py (conventions 3, 9, 12 and 13)."""

import math

import numpy as np


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
