#!/usr/bin/env python3
"""Make the invented compressor map `examples/maps/invented-a.csv`.

The map belongs to no product. It is computed from a mean-line model of a
radial compressor stage of made-up geometry, in plain Python, without a clock
and without chance, so that every run writes the same bytes.

    python3 tests/oracles/invented_map.py            # writes the CSV
    python3 tests/oracles/invented_map.py --check    # compares with the CSV on file
    python3 tests/oracles/invented_map.py --print    # CSV to standard output

The model, station 1 ahead of the inducer, 2 behind the wheel, 3 behind the
vaneless diffuser (dry air, gamma 1.4; all energies per kilogram):

* Work: Euler's equation without pre-swirl, `U2 * Ctheta2`, with
  `Ctheta2 = slip * U2 - Cm2 * tan(backsweep)`. Slip after Wiesner (1967, J. Eng.
  Power 89:558): `1 - sqrt(cos(backsweep)) / Z**0.7`.
* Internal losses, taken off the useful head:
    - incidence at the root-mean-square radius of the inducer, a share of the kinetic
      energy of the turned-away velocity (Gravdahl & Egeland 1999, IEEE Trans. Control
      Systems Technology 7:567, give the form);
    - skin friction in the blade passages, `2 * Cf * (L/Dh) * W**2` (Jansen's form);
    - blade loading `0.05 * Df**2 * U2**2` (Coppage's form) and tip clearance, in
      proportion to clearance over blade height;
    - vaneless diffuser: friction along the spiral path (Jansen's form);
    - volute: the radial speed is lost, and so is a share of the mismatch between the
      swirl that arrives and the speed that the volute's throat asks for;
    - choking: a loss that sets in above a share of the throat's choking flow and grows
      steeply, standing for the shock in the inducer throat.
* Parasitic work, added to the shaft but lost to the head: disc friction
  (Daily & Nece's form) and recirculation at the wheel's outlet (Coppage's form).
* Choking flow of the rotating throat:
  `A * rho01 * a01 * ((2 + (g-1) * (U1/a01)**2) / (g+1)) ** ((g+1) / (2*(g-1)))`.

The formulas are from memory of the turbomachinery literature; their
coefficients and the geometry are invented, chosen to give a map of
ordinary look. The surge line is chosen too (`SURGE_LINE`): a steady mean-line
model cannot know it. Each speed line starts where the model meets the surge line and ends
where the throat is choked or where efficiency has fallen to `END_EFFICIENCY`.
"""

import math
import sys
from pathlib import Path

from numerics import Pchip, bracket

# Reference state of the map: inlet total temperature [K] and pressure [Pa].
T_REF = 298.15
P_REF = 101325.0

GAMMA = 1.4
R = 287.05
CP = GAMMA * R / (GAMMA - 1.0)
VISCOSITY = 1.85e-5  # Pa s, air near the reference temperature

# Geometry of the invented stage [m].
INDUCER_TIP = 0.0455 / 2
INDUCER_HUB = 0.30 * INDUCER_TIP
EXDUCER = 0.0615 / 2
TIP_WIDTH = 0.0047
BLADES = 12  # full blades and splitters
BACKSWEEP = math.radians(34.0)
INDUCER_ANGLE = math.radians(57.5)  # blade against the axis, at the rms radius
THROAT_AREA = 10.8e-4  # m2, of the inducer passages
DIFFUSER_RADIUS = 0.0500
CLEARANCE = 0.00060
VOLUTE_AREA = 9.4e-4  # m2, throat of the volute
PASSAGE_LENGTH_RATIO = 8.5  # length over hydraulic diameter of a blade passage

# Coefficients.
SKIN_FRICTION = 0.0090
INCIDENCE_SHARE = 0.50
CLEARANCE_FACTOR = 0.60
VOLUTE_SHARE = 0.80
CHOKE_ONSET = 0.78  # share of the throat's choking flow
CHOKE_FACTOR = 3.2
CHOKE_POWER = 3.0
CHOKE_END = 0.995
END_EFFICIENCY = 0.45

# The chosen surge line: corrected flow [kg/s] against pressure ratio.
SURGE_LINE = [
    (1.00, 0.0200),
    (1.15, 0.0425),
    (1.28, 0.0560),
    (1.45, 0.0700),
    (1.59, 0.0800),
    (1.98, 0.1000),
    (2.53, 0.1200),
    (3.20, 0.1390),
    (3.60, 0.1480),
]

SPEEDS = [50000, 65000, 79000, 91000, 102000, 112000, 122000, 131000, 140000, 148000]
POINTS = 12


def surge_flow(ratio):
    """Corrected flow [kg/s] of the chosen surge line at a pressure ratio."""
    return Pchip([p for p, _ in SURGE_LINE], [f for _, f in SURGE_LINE])(ratio)


def inlet_state(flow, area):
    """Static density [kg/m3] and speed [m/s] from total state, flow and area (subsonic)."""

    def excess(speed):
        t = T_REF - speed**2 / (2 * CP)
        rho = P_REF / (R * T_REF) * (t / T_REF) ** (1 / (GAMMA - 1))
        return rho * speed * area - flow

    sonic = math.sqrt(2 * GAMMA * R * T_REF / (GAMMA + 1))
    speed = bracket(excess, 0.0, sonic)
    return flow / (speed * area), speed


def choke_flow(area, u1):
    """Choking flow [kg/s] of an area [m2] that turns at blade speed `u1` [m/s]."""
    a01 = math.sqrt(GAMMA * R * T_REF)
    rho01 = P_REF / (R * T_REF)
    g = GAMMA
    factor = ((2 + (g - 1) * (u1 / a01) ** 2) / (g + 1)) ** ((g + 1) / (2 * (g - 1)))
    return area * rho01 * a01 * factor


def stage(rpm, flow):
    """Pressure ratio and isentropic efficiency (total to total) at one point."""
    u2 = rpm * 2 * math.pi / 60 * EXDUCER
    rms = math.sqrt((INDUCER_TIP**2 + INDUCER_HUB**2) / 2)
    u1 = u2 * rms / EXDUCER
    _, c1 = inlet_state(flow, math.pi * (INDUCER_TIP**2 - INDUCER_HUB**2))
    w1 = math.hypot(c1, u1)

    slip = 1 - math.sqrt(math.cos(BACKSWEEP)) / BLADES**0.7
    area2 = 2 * math.pi * EXDUCER * TIP_WIDTH * 0.93  # blade blockage 7 %
    cm2 = 0.25 * u2
    for _ in range(200):
        ct2 = slip * u2 - cm2 * math.tan(BACKSWEEP)
        t02 = T_REF + u2 * ct2 / CP
        t2 = t02 - (cm2**2 + ct2**2) / (2 * CP)
        if ct2 <= 0.0 or t2 <= 0.5 * T_REF:
            return 1.0, 0.0  # the wheel does no work at so large a flow
        # density behind the wheel with a wheel efficiency of 0.88 (closes the loop only)
        p2 = P_REF * (1 + 0.88 * (t02 - T_REF) / T_REF) ** 3.5 * (t2 / t02) ** 3.5
        rho2 = p2 / (R * t2)
        cm2 += 0.5 * (flow / (rho2 * area2) - cm2)
    c2 = math.hypot(cm2, ct2)
    w2 = math.hypot(cm2, u2 - ct2)
    euler = u2 * ct2

    # internal losses
    incidence = INCIDENCE_SHARE * 0.5 * (u1 - c1 * math.tan(INDUCER_ANGLE)) ** 2
    friction = 2 * SKIN_FRICTION * PASSAGE_LENGTH_RATIO * 0.5 * (w1**2 + w2**2)
    tip = INDUCER_TIP / EXDUCER
    diffusion = 1 - w2 / w1 + 0.75 * (euler / u2**2) * w2 / w1 / (BLADES / math.pi * (1 - tip) + 2 * tip)
    loading = 0.05 * diffusion**2 * u2**2
    clearance = CLEARANCE_FACTOR * CLEARANCE / TIP_WIDTH * ct2 * c2
    cos2 = cm2 / c2
    ratio = EXDUCER / DIFFUSER_RADIUS
    diffuser = SKIN_FRICTION * EXDUCER * (1 - ratio**1.5) * c2**2 / (1.5 * TIP_WIDTH * cos2)
    cm3, ct3 = cm2 * ratio, ct2 * ratio
    volute_speed = flow / (rho2 * 1.15 * VOLUTE_AREA)
    volute = 0.5 * cm3**2 + VOLUTE_SHARE * 0.5 * (ct3 - volute_speed) ** 2
    share = flow / choke_flow(THROAT_AREA, u1)
    choke = 0.0
    if share > CHOKE_ONSET:
        z = (share - CHOKE_ONSET) / (1 - CHOKE_ONSET)
        choke = CHOKE_FACTOR * 0.05 * w1**2 * z**CHOKE_POWER / (1.06 - z)
    internal = incidence + friction + loading + clearance + diffuser + volute + choke

    # parasitic work
    rho_mean = 0.5 * (rho2 + P_REF / (R * T_REF))
    reynolds = rho2 * u2 * EXDUCER / VISCOSITY
    disc = 0.0622 / reynolds**0.2 * rho_mean * EXDUCER**2 * u2**3 / (4 * flow)
    recirculation = 0.030 * math.sqrt(ct2 / cm2) * diffusion**2 * u2**2

    useful = euler - internal
    work = euler + disc + recirculation
    return (1 + max(useful, 0.0) / (CP * T_REF)) ** 3.5, useful / work


def speed_line(rpm):
    """Points (flow, ratio, efficiency) of one line, from surge to choke."""
    u1 = rpm * 2 * math.pi / 60 * math.sqrt((INDUCER_TIP**2 + INDUCER_HUB**2) / 2)
    throat = choke_flow(THROAT_AREA, u1)
    surge = bracket(lambda f: surge_flow(stage(rpm, f)[0]) - f, 0.01, 0.6 * throat)
    annulus = choke_flow(math.pi * (INDUCER_TIP**2 - INDUCER_HUB**2), 0.0)
    end = CHOKE_END * min(throat, annulus)
    if stage(rpm, end)[1] < END_EFFICIENCY:
        best = max((surge + (end - surge) * i / 400 for i in range(401)), key=lambda f: stage(rpm, f)[1])
        end = bracket(lambda f: stage(rpm, f)[1] - END_EFFICIENCY, best, end)
    points = []
    for i in range(POINTS):
        # closer together towards choke, where the line falls steeply
        x = math.sin(0.5 * math.pi * i / (POINTS - 1)) ** 0.9
        flow = surge + (end - surge) * x
        points.append((flow, *stage(rpm, flow)))
    return points


def csv_text():
    """The whole CSV file as text."""
    lines = [
        "# Invented compressor map: it belongs to no product.",
        "# Made by tests/oracles/invented_map.py, a mean-line model of a made-up radial stage:",
        "# Euler work with slip, incidence, skin friction, blade loading, clearance, diffuser, volute,",
        "# choking of the inducer throat; the surge line is chosen. Inducer 45.5 mm, exducer 61.5 mm.",
        "# reference-temperature: 298.15 K",
        "# reference-pressure: 101.325 kPa abs",
        "# pressures: total to total",
        "corrected-speed [rpm],corrected-flow [kg/s],pressure-ratio,efficiency",
    ]
    for rpm in SPEEDS:
        for flow, ratio, efficiency in speed_line(rpm):
            lines.append(f"{rpm},{flow:.5f},{ratio:.4f},{efficiency:.4f}")
    return "\n".join(lines) + "\n"


def main(arguments):
    path = Path(__file__).resolve().parents[2] / "examples" / "maps" / "invented-a.csv"
    text = csv_text()
    if "--print" in arguments:
        sys.stdout.write(text)
        return 0
    if "--check" in arguments:
        same = path.read_text(encoding="utf-8") == text
        print("the map on file is the computed one" if same else "the map on file differs")
        return 0 if same else 1
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8", newline="\n")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
