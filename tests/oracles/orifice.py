"""Orifice plates of ISO 5167-2:2003 by the library fluids, over a grid: discharge coefficient, expansibility, share of the
pressure difference that is lost. Prints JSON: one object a case, with its inputs (SI).

Nothing here is computed by hand: what the tests write from the standard is held against someone else's reading of it.
"""

import json
import math

from fluids.flow_meter import C_Reader_Harris_Gallagher, dP_orifice, orifice_expansibility

KAPPA, DENSITY, VISCOSITY, AHEAD = 1.4, 1.165, 1.85e-5, 2e5

cases = []
for pipe in (0.05, 0.07391, 0.15, 0.4):
    for beta in (0.25, 0.3, 0.5, 0.6, 0.75):
        for reynolds in (2e4, 1e5, 1e6):
            for taps in ("corner", "flange"):
                for ratio in (0.99, 0.8):
                    bore = beta * pipe
                    flow = reynolds * math.pi / 4 * pipe * VISCOSITY
                    c = C_Reader_Harris_Gallagher(pipe, bore, DENSITY, VISCOSITY, flow, taps)
                    behind = ratio * AHEAD
                    lost = dP_orifice(pipe, bore, AHEAD, behind, c) / (AHEAD - behind)
                    cases.append(
                        {
                            "pipe": pipe,
                            "bore": bore,
                            "reynolds": reynolds,
                            "taps": taps,
                            "ratio": ratio,
                            "coefficient": c,
                            "expansibility": orifice_expansibility(pipe, bore, AHEAD, behind, KAPPA),
                            "lost": lost,
                        }
                    )
print(json.dumps(cases))
