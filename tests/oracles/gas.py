"""Moist air, viscosity and site pressure for the oracles (conventions 1 to 4 of steady.py)."""

import math

from numerics import bracket

R_MOLAR = 8.314462618
# molar mass [kg/mol]; a1..a5 of cp/R, a6 of h/(RT), a7 of s/R, 200 to 1000 K
SPECIES = {
    "N2": (28.0134e-3, 3.53100528, -1.23660987e-4, -5.02999437e-7, 2.43530612e-9, -1.40881235e-12,
           -1046.97628, 2.96747468),
    "O2": (31.9988e-3, 3.78245636, -2.99673415e-3, 9.84730200e-6, -9.68129508e-9, 3.24372836e-12,
           -1063.94356, 3.65767573),
    "Ar": (39.948e-3, 2.5, 0.0, 0.0, 0.0, 0.0, -745.375, 4.37967491),
    "CO2": (44.0095e-3, 2.35677352, 8.98459677e-3, -7.12356269e-6, 2.45919022e-9, -1.43699548e-13,
            -48371.9697, 9.90105222),
    "H2O": (18.01528e-3, 4.19864056, -2.03643410e-3, 6.52040211e-6, -5.48797062e-9, 1.77197817e-12,
            -30293.7267, -0.849032208),
}  # fmt: skip
DRY = {"N2": 0.78084, "O2": 0.20946, "Ar": 0.00934, "CO2": 0.0004}


def saturation_pressure(t):
    """Magnus form [Pa], over ice below 0 degC."""
    c = t - 273.15
    return 611.2 * math.exp(17.62 * c / (243.12 + c) if c >= 0 else 22.46 * c / (272.62 + c))


class Gas:
    """Moist air of one composition."""

    def __init__(self, vapour_share):
        total = sum(DRY.values())
        x = {k: v / total * (1 - vapour_share) for k, v in DRY.items()}
        x["H2O"] = vapour_share
        mass = sum(x[k] * SPECIES[k][0] for k in x)
        self.r = R_MOLAR / mass
        self.dry_mass_share = 1 - vapour_share * SPECIES["H2O"][0] / mass
        self.a = [sum(x[k] * SPECIES[k][i] for k in x) for i in range(1, 8)]

    def cp(self, t):
        a = self.a
        return self.r * (a[0] + t * (a[1] + t * (a[2] + t * (a[3] + t * a[4]))))

    def h(self, t):
        a = self.a
        return self.r * (t * (a[0] + t * (a[1] / 2 + t * (a[2] / 3 + t * (a[3] / 4 + t * a[4] / 5)))) + a[5])

    def s0(self, t):
        a = self.a
        return self.r * (a[0] * math.log(t) + t * (a[1] + t * (a[2] / 2 + t * (a[3] / 3 + t * a[4] / 4))))

    def gamma(self, t):
        return self.cp(t) / (self.cp(t) - self.r)

    def compress(self, t1, ratio, efficiency):
        """Outlet total temperature [K] behind a compression of given isentropic efficiency."""
        if ratio <= 1.0:
            return t1
        goal = self.s0(t1) + self.r * math.log(ratio)
        t_s = bracket(lambda t: self.s0(t) - goal, t1, 4 * t1)
        goal = self.h(t1) + (self.h(t_s) - self.h(t1)) / efficiency
        return bracket(lambda t: self.h(t) - goal, t1, 6 * t1)


def viscosity(t):
    """Sutherland [Pa s]."""
    return 1.458e-6 * t**1.5 / (t + 110.4)


def site_pressure(altitude):
    """ISO 2533 [Pa], geometric altitude [m], up to 11 km."""
    geopotential = 6356766.0 * altitude / (6356766.0 + altitude)
    return 101325.0 * (1 - 0.0065 * geopotential / 288.15) ** (9.80665 / (287.05287 * 0.0065))
