#!/usr/bin/env python3
"""Independent solve of the steady points of any path: stages, branches, drawn-through mixtures.

    python3 tests/oracles/network.py tests/data/steady/twin.yaml
    python3 tests/oracles/network.py BUILD --speed 5000 --mutate friction,bend   # one term after the other 2 % too large

Written from the equations alone; it shares no code with the program and works another way: the whole path is marched
forwards from the site for assumed flow, ratio and shares, and SciPy drives what is left over to zero. Properties come from
CoolProp (ideal-gas heat capacity of the reference equations of air, water and fuels), losses of pipes, steps, entries and
bends from `fluids`, effectiveness by transfer units from `ht`. The packages are pinned in requirements.txt. Conventions are
those of steady.py, and:

 - Stages make one pressure ratio each. Parallel compressors take up the same power, and share the flow so that their pressures
   agree where they join; the join has the mean enthalpy.
 - A pipe that ends in a chamber loses its dynamic pressure; one that begins at a chamber or in the open air has a sharp
   entry, 0.5. Cones by TP-410.
 - A carburettor: 0.2 of the pressure difference from inlet to throat, and the plate's orifice as a throttle.
 - Drawn-through fuel: excess-air ratio 0.9; it evaporates behind the carburettor, and the rest behind the compressor, as far
   as saturation at the place leaves room (at the site's pressure, and at the manifold's).
"""

import json
import math
import sys
from pathlib import Path

import fluids
import ht
import numpy as np
import yaml
from CoolProp.CoolProp import PropsSI
from scipy.interpolate import CubicSpline
from scipy.optimize import brentq, fsolve

from compressor_map import Map
from gas import saturation_pressure, site_pressure, viscosity
from reading import linear, quantity, table

ROUGHNESS = 1.5e-6
LAMBDA = 0.9
GRID = np.arange(150.0, 1001.0, 5.0)
R = 8.314462618
# Name in CoolProp, stoichiometric ratio, heat of evaporation [J/kg] (Heywood 1988, table D.4), whether it comes as liquid.
FUELS = {
    "petrol": ("n-Octane", 14.6, 305e3, True),
    "ethanol": ("Ethanol", 9.0, 840e3, True),
    "methanol": ("Methanol", 6.47, 1103e3, True),
    "natural-gas": ("Methane", 17.23, 0.0, False),
}


MUTATED = None


def term(name, value):
    """A term of the equations; the one that is mutated comes out 2 % too large."""
    return value * 1.02 if name == MUTATED else value


class Vapour:
    """Ideal-gas heat capacity, enthalpy and entropy of one fluid."""

    def __init__(self, name):
        self.name = name
        self.r = R / PropsSI("MOLARMASS", name)
        low = max(PropsSI("TMIN", name) + 0.5, 150.0)
        self.cp = CubicSpline(GRID, [PropsSI("CP0MASS", "T", max(t, low), "P", 100.0, name) for t in GRID])
        self.h = self.cp.antiderivative()
        self.s = CubicSpline(GRID, [self.cp(t) / t for t in GRID]).antiderivative()


AIR, WATER = Vapour("Air"), Vapour("Water")


class Mixture:
    """Air with water vapour and fuel vapour; `mass` is its mass to a mass of moist air."""

    def __init__(self, w, fuel=None, x=0.0):
        parts = [(AIR, 1 / (1 + w)), (WATER, w / (1 + w))] + ([(fuel, x)] if fuel else [])
        self.mass = 1.0 + x
        self.parts = [(v, share / self.mass) for v, share in parts]
        self.r = term("gas-constant", sum(v.r * share for v, share in self.parts))

    def cp(self, t):
        return float(sum(v.cp(t) * share for v, share in self.parts))

    def h(self, t):
        return term("heat-capacity", float(sum(v.h(t) * share for v, share in self.parts)))

    def gamma(self, t):
        return self.cp(t) / (self.cp(t) - self.r)

    def at_h(self, h):
        return brentq(lambda t: self.h(t) - h, 151, 999, xtol=1e-11)

    def compress(self, t1, ratio, efficiency):
        s = lambda t: float(sum(v.s(t) * share for v, share in self.parts))  # noqa: E731
        ideal = brentq(lambda t: s(t) - s(t1) - self.r * math.log(ratio), 151, 999, xtol=1e-11)
        return self.at_h(self.h(t1) + (self.h(ideal) - self.h(t1)) / efficiency)


def area(d):
    return math.pi * d * d / 4


def c_of(k, d):
    return k / (2 * area(d) ** 2)


def litres_per_minute(text):
    number, unit = text.split()
    assert unit == "L/min"
    return float(number) / 60e3


class Path_:
    """One build at one site, marched forwards."""

    def __init__(self, file, site):
        self.file, self.d = file, yaml.safe_load(file.read_text(encoding="utf-8"))
        self.t0 = quantity(site["air-temperature"])
        self.p0 = site_pressure(quantity(site["altitude"]))
        e = saturation_pressure(self.t0) * quantity(site.get("relative-humidity", "0"))
        self.w = term("humidity", WATER_RATIO * e / (self.p0 - e))
        engine = self.d["engine"]
        self.volume = quantity(engine["displacement"])
        self.turns = 2 if engine["cycle"] == "four-stroke" else 1
        self.ve, self.boost = table(engine["volumetric-efficiency"]), table(self.d["boost"])
        self.maps = {}
        for name, part in self.d["parts"].items():
            if part["kind"] == "turbocharger":
                self.maps[name] = Map(file.parent / part["compressor"]["map"])
        self.stages = sum(1 for leg in self.d["air-path"] if self.holds(leg))
        self.fuel = None
        air = Mixture(self.w)
        self.gases = [air, air, air]
        if engine.get("fuel-enters") == "ahead-of-compressor":
            name, stoichiometric, self.latent, liquid = FUELS[engine["fuel"]]
            self.fuel, self.liquid = Vapour(name), liquid
            self.whole = term("fuel-share", 1 / (LAMBDA * stoichiometric))
            self.latent = term("heat-of-evaporation", self.latent)
            self.at_once = self.evaporated(self.t0, self.p0)
            self.gases[1] = Mixture(self.w, self.fuel, self.at_once)

    def holds(self, leg):
        if isinstance(leg, dict):
            return any(name in self.maps for branch in leg["parallel"].values() for name in branch)
        return leg in self.maps

    def room(self, t, p):
        """Most fuel vapour to a kg of air."""
        if not self.liquid:
            return math.inf
        e = term("fuel-saturation", PropsSI("P", "T", t, "Q", 1, self.fuel.name))
        return math.inf if e >= p else self.gases[0].r / self.fuel.r * e / (p - e)

    def evaporated(self, t, p):
        air = self.gases[0]
        after = lambda x: air.at_h(air.h(t) - x * self.latent)  # noqa: E731
        left = lambda x: min(self.room(after(x), p), 1e3) - x  # noqa: E731
        # Cold ends would leave the range of the equations: the whole amount is tried in steps.
        steps = np.linspace(0, self.whole, 200)
        for low, high in zip(steps, steps[1:]):
            if left(high) < 0:
                return brentq(left, low, high, xtol=1e-13)
        return self.whole

    def coefficient(self, name, flow, t, gas, inlet):
        """C of a part, and the effective area of an orifice behind it."""
        part = self.d["parts"][name]
        kind = part["kind"]
        if kind in ("inlet-manifold", "plenum"):
            pipes = [self.d["parts"][n] for n in inlet if self.d["parts"][n]["kind"] == "pipe"]
            return term("exit", 1.0) * sum(c_of(1.0, quantity(p["bore"])) for p in pipes) / max(len(inlet), 1) ** 3, None
        if kind in ("throttle", "carburettor"):
            bore = quantity(part["bore"])
            c = 0.0
            if kind == "carburettor":
                throat = quantity(part["venturi"])
                c = c_of(term("venturi", 0.2) * (1 - (throat / bore) ** 4), throat)
            return c, term("orifice", 0.9) * (area(bore) - quantity(part["shaft"]) * bore)
        if "loss" in part:
            loss, at = part["loss"], part["loss"].get("at", {"pressure": "101.325 kPa abs", "temperature": "25 degC"})
            rho = quantity(at["pressure"]) / (self.gases[0].r * quantity(at["temperature"]))
            return term("given-loss", quantity(loss["pressure"])) * rho / quantity(loss["flow"]) ** 2, None
        bore = quantity(part["bore"])
        k_cone, length = 0.0, quantity(part["length"])
        if kind == "cone":
            outlet = quantity(part["outlet-bore"])
            narrow = min(bore, outlet)
            angle = 2 * math.atan(abs(bore - outlet) / 2 / length)
            beta = narrow / max(bore, outlet)
            k = 2.6 * math.sin(angle / 2) * (1 - beta**2) ** 2 if outlet > bore else 0.8 * math.sin(angle / 2) * (1 - beta**2)
            k_cone = c_of(term("cone", k), narrow)
        d = (bore + outlet) / 2 if kind == "cone" else bore
        re_number = 4 * flow / (math.pi * d * term("viscosity", viscosity(t)))
        rough = term("roughness", quantity(part["roughness"]) if "roughness" in part else ROUGHNESS)
        f = term("friction", fluids.friction_factor(Re=re_number, eD=rough / d, Method="Colebrook"))
        k = f * length / d
        for bend in part.get("bends", []):
            f_t = 0.25 / math.log10(0.045e-3 / (3.7 * bore)) ** 2
            share = quantity(bend["radius"]) / bore
            table_ = [(1, 20), (1.5, 14), (2, 12), (3, 12), (4, 14)]
            k += term("bend", f_t * linear(table_, share))
        before = self.d["parts"][inlet[0]] if len(inlet) == 1 else None
        c = c_of(k, d) + k_cone
        if before is None and not inlet or before is not None and before["kind"] == "plenum":
            c += c_of(term("entry", 0.5), bore)
        elif before is not None and before["kind"] in ("pipe", "cone", "air-meter"):
            other = quantity(before.get("outlet-bore", before["bore"]))
            if other < bore:
                c += term("step", c_of(fluids.diffuser_sharp(other, bore), other))
            elif other > bore:
                c += term("step", c_of(0.5 * (1 - area(bore) / area(other)), bore))
        return c, None

    def orifice(self, flow, p, t, gas, effective):
        g = gas.gamma(t)

        def passes(out):
            r = out / p
            return effective * p * math.sqrt(2 * g / ((g - 1) * gas.r * t) * (r ** (2 / g) - r ** ((g + 1) / g)))

        critical = p * (2 / (g + 1)) ** (g / (g - 1))
        return brentq(lambda out: passes(out) - flow, critical, p * (1 - 1e-12), xtol=1e-9)

    def march(self, names, state, air, ratio, inlet, log):
        """Walks over a list of parts; `state` is (p, t, phase)."""
        for name in names:
            p, t, phase = state
            part, gas = self.d["parts"][name], self.gases[phase]
            flow = air * gas.mass
            if name in self.maps:
                m = self.maps[name]
                corrected = term("corrected-flow", flow * math.sqrt(t / m.t_ref) / (p / m.p_ref))
                speed, eta, surge, choke, status = m.find(corrected, ratio)
                eta, surge = term("efficiency", eta), term("surge-line", surge)
                t2 = gas.compress(t, ratio, eta)
                log[name] = {"flow": flow, "p1": p, "T1": t, "p2": p * ratio, "T2": t2, "ratio": ratio, "corrected_flow": corrected,
                             "efficiency": eta, "margin": (corrected - surge) / corrected, "speed": speed, "status": status,
                             "power": flow * (gas.h(t2) - gas.h(t))}  # fmt: skip
                state = (p * ratio, t2, phase)
            else:
                t += term("warmer-by", quantity(part.get("draws-from", {}).get("warmer-by", "0 K")))
                t_in, heat = t, None
                if part["kind"] == "charge-air-cooler":
                    cold = quantity(part["coolant-temperature"]) if "coolant-temperature" in part else self.t0
                    t = t - self.effectiveness(part, flow, gas.cp(t)) * (t - cold)
                    heat = flow * (gas.h(t_in) - gas.h(t))
                c, effective = self.coefficient(name, flow, (t + t_in) / 2, gas, inlet)
                mean = gas.r * (t + t_in) / 2
                out = brentq(lambda q: p - q - c * flow**2 * mean / ((p + q) / 2), p * 0.3, p * (1 + 1e-9), xtol=1e-9)
                if effective is not None:
                    out = self.orifice(flow, out, t, gas, effective)
                cooling = {} if heat is None else {"heat": heat, "coolant_rise": self.coolant_rise(part, heat)}
                log[name] = {"flow": flow, "loss": p - out, "p_out": out, "T_out": t, "warmed": t - self.t0} | cooling
                state = (out, t, phase)
                if part["kind"] == "carburettor" and self.fuel:
                    cold = gas.at_h(gas.h(t) - self.at_once * self.latent)
                    log[name] |= {"vapour": self.at_once, "vapour_cools": t - cold}
                    state = (out, cold, 1)
            inlet = [name]
        return state, inlet

    def effectiveness(self, part, flow, cp):
        if "effectiveness" in part:
            return term("effectiveness", quantity(part["effectiveness"]))
        if "effectiveness-over-flow" in part:
            return term("effectiveness-over-flow", linear(table(part["effectiveness-over-flow"]), flow))
        charge = flow * cp
        water = self.coolant_capacity(part)
        assert part["arrangement"] == "crossflow-unmixed"
        small = min(charge, water)
        return ht.effectiveness_from_NTU(term("transfer-units", quantity(part["transfer-units"])), small / max(charge, water), "crossflow") * small / charge

    def coolant_capacity(self, part):
        return term("coolant-capacity", litres_per_minute(part["coolant-flow"]) * 998.2 * 4182)

    def coolant_rise(self, part, heat):
        return heat / self.coolant_capacity(part) if "coolant-flow" in part else None

    def walk(self, air, ratio, share, skew, p_man, log):
        """The whole path: end state, and by how much two branches miss each other in pressure and in power."""
        state, inlet, misses, seen = (self.p0, self.t0, 0), [], [0.0, 0.0], 0
        for leg in self.d["air-path"]:
            if isinstance(leg, dict):
                ends, inlet_, flows = [], [], [air * share, air * (1 - share)]
                assert len(leg["parallel"]) == 2
                for names, flow, made in zip(leg["parallel"].values(), flows, (ratio * skew, ratio / skew)):
                    end, last = self.march(names, state, flow, made, inlet, log)
                    ends.append(end)
                    inlet_ += last
                gas = self.gases[ends[0][2]]
                h = sum(gas.h(e[1]) * f for e, f in zip(ends, flows)) / air
                taken = [sum(log[name].get("power", 0.0) for name in names) for names in leg["parallel"].values()]
                misses = [(ends[0][0] - ends[1][0]) / self.p0, math.log(taken[0] / taken[1]) if all(taken) else math.log(skew)]
                state, inlet = ((ends[0][0] + ends[1][0]) / 2, gas.at_h(h), ends[0][2]), inlet_
            else:
                state, inlet = self.march([leg], state, air, ratio, inlet, log)
            if self.holds(leg):
                seen += 1
                if seen == self.stages and self.fuel:
                    state = self.rest(state, p_man)
        return state, misses

    def rest(self, state, p_man):
        """What is left of the fuel evaporates behind the last compressor, as far as there is room."""
        p, t, phase = state
        first = self.gases[1]
        more = lambda x: first.at_h(first.h(t) - (x - self.at_once) * self.latent / first.mass)  # noqa: E731
        x = self.whole
        if self.room(more(x), p_man) < x:
            x = brentq(lambda y: min(self.room(more(y), p_man), 1e3) - y, self.at_once, self.whole, xtol=1e-13)
        self.gases[2] = Mixture(self.w, self.fuel, x)
        return p, more(x), 2

    def point(self, rpm):
        p_man = self.p0 + term("boost", linear(self.boost, rpm))
        ve, forks = linear(self.ve, rpm), any(isinstance(leg, dict) for leg in self.d["air-path"])

        def unknowns(x, log):
            air, ratio, (share, skew) = x[0], x[1], (x[2:] if forks else (0.5, 1.0))
            (p, t, phase), misses = self.walk(air, ratio, share, skew, p_man, log)
            gas = self.gases[phase]
            asks = term("swallowed", ve) * self.volume * rpm / 60 / self.turns * p_man / (gas.r * t)
            return [asks / (air * gas.mass) - 1, p / p_man - 1] + (misses if forks else []), t

        guess = [ve * self.volume * rpm / 60 / self.turns * p_man / (287 * 330), (p_man * 1.05 / self.p0) ** (1 / self.stages)]
        x, _, ok, why = fsolve(lambda x: unknowns(x, {})[0], guess + ([0.5, 1.0] if forks else []), xtol=1e-11, full_output=True)
        log = {}
        left, t = unknowns(x, log)
        assert max(map(abs, left)) < 1e-7, (rpm, why, left)
        flow = x[0] * self.gases[2 if self.fuel else 0].mass
        vapour = self.gases[2].mass - 1 if self.fuel else 0.0
        return {"engine_speed": rpm, "air": x[0], "flow": flow, "p_manifold": p_man, "T_manifold": t, "vapour": vapour,
                "moist_to_dry": self.gases[0].r / AIR.r, "parts": log}  # fmt: skip


WATER_RATIO = AIR.r / WATER.r


def solve(file, speed):
    """The site and the points of a build; of one speed only where one is asked for."""
    d = yaml.safe_load(file.read_text(encoding="utf-8"))
    path = Path_(file, d["site"])
    first, last = path.boost[0][0], quantity(d["engine"]["rev-limit"])
    speeds = [n for n in np.arange(0.0, 20001.0, 250.0) if first <= n <= last] if speed is None else [float(speed)]
    return {"site_pressure": path.p0, "gas_constant": path.gases[0].r, "points": [path.point(n) for n in speeds]}


def main(arguments):
    global MUTATED
    options = dict(zip(arguments[1::2], arguments[2::2]))
    file, speed = Path(arguments[0]), options.get("--speed")
    if "--mutate" not in options:
        print(json.dumps(solve(file, speed)))
        return
    answers = {}
    for MUTATED in options["--mutate"].split(","):
        answers[MUTATED] = solve(file, speed)
    print(json.dumps(answers))


if __name__ == "__main__":
    main(sys.argv[1:])
