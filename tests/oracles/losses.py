"""Losses of the parts of an air path (conventions 8 to 13 of steady.py)."""

import math

from gas import viscosity
from numerics import bracket
from reading import linear, quantity

ROUGHNESS = 1.5e-6
BENDS = [
    (1, 20),
    (1.5, 14),
    (2, 12),
    (3, 12),
    (4, 14),
    (6, 17),
    (8, 24),
    (10, 30),
    (12, 34),
    (14, 38),
    (16, 42),
    (20, 50),
]


def friction_factor(re_number, relative_roughness):
    """Darcy friction factor."""

    def colebrook(re_):
        f = 0.02
        for _ in range(100):
            f = (-2 * math.log10(relative_roughness / 3.7 + 2.51 / (re_ * math.sqrt(f)))) ** -2
        return f

    if re_number < 2300:
        return 64 / re_number
    if re_number > 4000:
        return colebrook(re_number)
    low, high = 64 / 2300, colebrook(4000)
    return low + (high - low) * (re_number - 2300) / 1700


def area(bore):
    return math.pi * bore**2 / 4


def step_coefficient(upstream, bore):
    """C of a step in bore, so that loss = C m^2 / rho."""
    if upstream is None or upstream == bore:
        return 0.0
    a1, a2 = area(upstream), area(bore)
    k = (1 - a1 / a2) ** 2 if a2 > a1 else 0.5 * (1 - a2 / a1)
    return k / (2 * min(a1, a2) ** 2)


class Part:
    """One part of the air path, with its loss coefficient as a function of flow, temperature and gas."""

    def __init__(self, name, description, upstream_bore):
        self.name, self.kind = name, description["kind"]
        self.d = description
        self.bore = quantity(description["bore"]) if self.kind in ("pipe", "air-meter", "throttle") else None
        self.step = step_coefficient(upstream_bore, self.bore) if self.kind in ("pipe", "air-meter") else 0.0

    def coefficient(self, flow, t, gas, due):
        """C [1/m4] in loss = C m^2 / rho."""
        d = self.d
        if self.kind in ("air-filter", "charge-air-cooler"):
            given = d["loss-when-due"] if due and self.kind == "air-filter" else d["loss"]
            at = given.get("at", {"pressure": "101.325 kPa abs", "temperature": "25 degC"})
            rho = quantity(at["pressure"]) / (gas.r * quantity(at["temperature"]))
            return quantity(given["pressure"]) * rho / quantity(given["flow"]) ** 2
        re_number = 4 * flow / (math.pi * self.bore * viscosity(t))
        k = friction_factor(re_number, ROUGHNESS / self.bore) * quantity(d["length"]) / self.bore
        for bend in d.get("bends", []):
            if quantity(bend["angle"]) != 90:
                raise SystemExit("this oracle knows bends of 90 degrees only")
            f_t = 0.25 / math.log10(0.045e-3 / (3.7 * self.bore)) ** 2
            k += f_t * linear(BENDS, quantity(bend["radius"]) / self.bore)
        return k / (2 * area(self.bore) ** 2) + self.step

    def throttle_inlet(self, flow, p_out, t, gas):
        """Total pressure [Pa] ahead of the wide-open throttle that passes `flow` to `p_out`."""
        g = gas.gamma(t)
        cda = 0.9 * (area(self.bore) - quantity(self.d["shaft"]) * self.bore)

        def passes(p):
            r = p_out / p
            return (
                cda
                * p
                / math.sqrt(gas.r * t)
                * math.sqrt(2 * g / (g - 1) * max(r ** (2 / g) - r ** ((g + 1) / g), 0.0))
            )

        critical = (2 / (g + 1)) ** (g / (g - 1))
        return bracket(lambda p: passes(p) - flow, p_out, p_out / critical)
