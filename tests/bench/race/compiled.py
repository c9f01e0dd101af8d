"""The equations of tests/oracles/tip_out.py as one compiled function of time and state.

A `Tract` of the oracle lays the build out and settles it; `compile_tract` freezes what it has worked out into constants of a
function that numba compiles: the same states in the same order, the same tables, the same formulas, all factors of `--with` at 1.
"""

import math

import numpy as np
from numba import njit

EAGER = {"error_model": "numpy", "nogil": True}
# SciPy's implicit methods ask at columns of matrices too.
SIGNATURES = ["f8[::1](f8, f8[::1])", "f8[::1](f8, f8[:])"]


def gas_functions(gas):
    r, (a0, a1, a2, a3, a4, a5, _) = gas.r, gas.a

    @njit(**EAGER)
    def cp(t):
        return r * (a0 + t * (a1 + t * (a2 + t * (a3 + t * a4))))

    @njit(**EAGER)
    def enthalpy(t):
        return r * (t * (a0 + t * (a1 / 2 + t * (a2 / 3 + t * (a3 / 4 + t * a4 / 5)))) + a5)

    @njit(**EAGER)
    def entropy(t):
        return r * (a0 * math.log(t) + t * (a1 + t * (a2 / 2 + t * (a3 / 3 + t * a4 / 4))))

    return cp, enthalpy, entropy


def orifice_function(gas, cp):
    gas_r = gas.r

    @njit(**EAGER)
    def psi(r, g):
        r = max(r, (2 / (g + 1)) ** (g / (g - 1)))
        return math.sqrt(2 * g / (g - 1) * (r ** (2 / g) - r ** ((g + 1) / g)))

    @njit(**EAGER)
    def orifice(cda, p_a, t_a, p_b, t_b):
        sign = 1.0
        if p_b > p_a:
            p_a, t_a, p_b, sign = p_b, t_b, p_a, -1.0
        c = cp(t_a)
        g = c / (c - gas_r)
        r, near = p_b / p_a, 0.9995
        share = psi(r, g) if r < near else psi(near, g) * (1 - r) / (1 - near)
        return sign * cda * p_a / math.sqrt(gas_r * t_a) * share

    return orifice


def wheel_function(one, gas, cp, enthalpy, entropy):
    """`Characteristic.__call__`."""
    table_pr, table_eta = np.array(one.pr), np.array(one.eta)
    table_s, table_c = np.array(one.ms), np.array(one.mc)
    low, high, last, rate = float(one.low), float(one.high), one.last, float(one.rate)
    t_ref, p_ref, area, radii, r = one.m.t_ref, one.m.p_ref, one.a1, one.radii, gas.r

    @njit(**EAGER)
    def look_up(table, i, u, x):
        j = min(int(x * last), last - 1)
        w = x * last - j
        return (1 - u) * ((1 - w) * table[i, j] + w * table[i, j + 1]) + u * (
            (1 - w) * table[i + 1, j] + w * table[i + 1, j + 1]
        )

    @njit(**EAGER)
    def ratio(scale, i, u, x):
        pr = look_up(table_pr, i, u, x)
        if scale != 1.0:
            pr = ((pr ** (0.4 / 1.4) - 1) * scale**2 + 1) ** (1.4 / 0.4)
        return pr

    @njit(**EAGER)
    def wheel(flow, w, p1, t1, rho2):
        root = math.sqrt(t1 / t_ref)
        speed = w * 30 / math.pi / root
        inside = min(max(speed, low), high)
        i = min(int((inside - low) * rate), last - 1)
        scale, u = speed / inside, (inside - low) * rate - i
        to_flow = p1 / p_ref / root
        m_s = ((1 - u) * table_s[i] + u * table_s[i + 1]) * scale * to_flow
        m_c = ((1 - u) * table_c[i] + u * table_c[i + 1]) * scale * to_flow
        x = (flow - m_s) / (m_c - m_s)
        held = min(max(x, 0.0), 1.0)
        pr, eta = ratio(scale, i, u, held), look_up(table_eta, i, u, held)
        goal = entropy(t1) + r * math.log(pr)
        t = t1 * pr ** (r / cp(t1))
        for _ in range(3):
            t -= (entropy(t) - goal) * t / cp(t)
        work = (enthalpy(t) - enthalpy(t1)) / eta
        if x < 0.0:
            c = cp(t1)
            valley = (1 + radii * w**2 / (2 * c * t1)) ** (c / r)
            if flow < 0.0:
                return p1 * valley + 30 * flow**2 / (2 * rho2 * area**2), work, m_s
            z = flow / m_s
            pr = valley + (pr - valley) * (3 * z**2 - 2 * z**3)
        elif x > 1.0:
            pr = max(pr - 4 * (ratio(scale, i, u, 0.0) - pr) * (x - 1), 0.3)
        return p1 * pr, work, m_s

    return wheel


def friction_function(one):
    """`Friction.__call__` for one duct of several; gives the Darcy factor times the Reynolds number."""
    table, kind, low, rate = one.table, one.kind, one.low, one.rate

    @njit(**EAGER)
    def friction(duct, re):
        place = (math.log10(max(re, 101.0)) - low) * rate
        i = int(place)
        w = place - i
        return table[kind[duct], i] * (1 - w) + table[kind[duct], i + 1] * w

    return friction


def temperature_function(tract):
    """Temperature of an internal energy: between the same places of the same table as the oracle's, found from a straight guess."""
    u_grid, t_grid = tract.u_grid, tract.t_grid
    # A cubic through the table gives the place within a few rows.
    fit = np.polynomial.Polynomial.fit(u_grid, np.arange(len(u_grid)), 5).convert().coef
    b0, b1, b2, b3, b4, b5 = (float(b) for b in fit)
    most = len(u_grid) - 2

    @njit(**EAGER)
    def temperature(u):
        i = int(b0 + u * (b1 + u * (b2 + u * (b3 + u * (b4 + u * b5)))))
        i = min(max(i, 0), most)
        while i < most and u_grid[i + 1] <= u:
            i += 1
        while i > 0 and u_grid[i] > u:
            i -= 1
        if u < u_grid[0] or u > u_grid[most + 1]:
            return t_grid[0] if u < u_grid[0] else t_grid[most + 1]
        return (t_grid[i + 1] - t_grid[i]) / (u_grid[i + 1] - u_grid[i]) * (u - u_grid[i]) + t_grid[i]

    return temperature


def valve_function(tract, gas, cp, enthalpy, orifice):
    """`Valve.look`: fills the valve's own slopes, adds what it takes and gives to the tract's."""
    one = tract.valve
    k, n, r = one.k, tract.n, gas.r
    line_t, p_out, h_line = tract.run.t, tract.run.p, one.h_line
    section, bore, mu, cell_volume, lengths = one.section, one.bore, one.mu, one.cell_volume, one.lengths
    a_p, a_s, lift, seat, cd = one.a_p, one.a_s, one.lift, one.seat, one.cd
    preload, spring, damping, mass = one.preload, one.rate, one.damping, one.mass
    contact, contact_damping, tap = one.contact, one.contact_damping, one.tap
    # The outside is written as cell -1.
    port_cell = np.array([-1 if cell is None else cell for cell, _, _ in one.ports])
    port_share = np.array([share for _, share, _ in one.ports])
    port_behind = np.array([behind for _, _, behind in one.ports])
    ports = len(port_cell)
    friction = friction_function(one.friction)
    at = 3 * n + 1

    @njit(**EAGER)
    def valve(y, p, temp, h, dy):
        m, u, x, v = y[at + 2 * k + 1], y[at + 2 * k + 2], y[at + 2 * k + 3], y[at + 2 * k + 4]
        room = a_p * (lift + 0.02 - x)
        t_room = line_t
        for _ in range(3):
            t_room -= (enthalpy(t_room) - r * t_room - u / m) / (cp(t_room) - r)
        p_s = m * r * t_room / room
        before_p, before_t = p[n - 1], temp[n - 1]
        for i in range(k + 1):
            if i < k:
                behind_p, behind_t = y[at + i] * r * line_t / cell_volume, line_t
            else:
                behind_p, behind_t = p_s, t_room
            flow = y[at + k + i]
            forward = flow >= 0
            up_p = before_p if forward else behind_p
            up_t = before_t if forward else behind_t
            rho = up_p / (r * up_t)
            size = abs(flow)
            loss = friction(i, size * bore / (section * mu)) * mu * lengths[i] * flow / (2 * section * bore**2 * rho)
            entry = 0.0
            if i == 0:
                entry += 0.5 if forward else 1.0
            if i == k:
                entry += 1.0 if forward else 0.5
            loss += entry * flow * size / (2 * section**2 * rho)
            d = (before_p - behind_p - loss) * section / lengths[i]
            cap = up_p * section / math.sqrt(math.e * r * up_t)
            if size > cap:
                pull = -math.copysign(1.0, flow) * (size - cap) * 1e5
                d = pull if flow * d > 0 else d + pull
            dy[at + k + i] = d
            before_p, before_t = behind_p, behind_t
        for i in range(k):
            dy[at + i] = y[at + k + i] - y[at + k + i + 1]
        first, into = y[at + k], y[at + 2 * k]
        dy[n - 1] -= first
        dy[2 * n - 1] -= first * (h[n - 1] if first >= 0 else h_line)
        dy[at + 2 * k + 1] = into
        dy[at + 2 * k + 2] = into * (h_line if into >= 0 else u / m + r * t_room) + p_s * a_p * v
        opening = min(math.pi * seat * max(x, 0.0), a_s)
        through, p_d = 0.0, 0.0
        for i in range(ports):
            cell, share = port_cell[i], port_share[i]
            p_b, t_b, h_b = p_out, line_t, h_line
            if cell >= 0:
                p_b, t_b, h_b = p[cell], temp[cell], h[cell]
            p_d += share * p_b
            port = cd * opening * share
            if port > 0.0:
                port = 1 / math.sqrt(1 / port**2 + 1 / port_behind[i] ** 2)
                g = orifice(port, p[tap], temp[tap], p_b, t_b)
                taken = g * (h[tap] if g >= 0 else h_b)
                dy[tap] -= g
                dy[n + tap] -= taken
                if cell >= 0:
                    dy[cell] += g
                    dy[n + cell] += taken
                through += g
        force = p[tap] * a_s + p_d * (a_p - a_s) - p_s * a_p
        force -= preload + spring * x + damping * v
        if x < 0.0:
            force += max(-contact * x - contact_damping * v, 0.0)
        elif x > lift:
            force -= max(contact * (x - lift) + contact_damping * v, 0.0)
        dy[at + 2 * k + 3] = v
        dy[at + 2 * k + 4] = force / mass
        return through

    return valve


def compile_tract(tract):
    """The right-hand side of a tract that is settled and let go, and a reader of what the results need from many states."""
    gas, n, k, c = tract.gas, tract.n, tract.compressor, tract.cooler
    cp, enthalpy, entropy = gas_functions(gas)
    orifice = orifice_function(gas, cp)
    wheel = wheel_function(tract.characteristic, gas, cp, enthalpy, entropy)
    temperature = temperature_function(tract)
    (walls_0, section_0, per_wall_0), (walls_1, section_1, per_wall_1) = tract.pieces
    friction_0, friction_1 = (friction_function(one) for one in tract.friction)
    volume, inert, fixed, r = tract.v, tract.inert, tract.fixed, gas.r
    t_out, p_out, h_out = tract.run.t, tract.run.p, gas.h(tract.run.t)
    a_open, a_closed, closing, to = tract.a_open, tract.a_closed, tract.closing, tract.to
    engine_size, compression, effectiveness = tract.engine, tract.ratio, tract.effectiveness
    torque_0, engine_0, inertia, cycle = tract.torque0, tract.engine0, tract.inertia, tract.cycle
    valve, lift_at = valve_without_or_with(tract, gas, cp, enthalpy, orifice)
    length = 3 * n + 1 + (2 * tract.valve.k + 5 if tract.valve else 0)

    @njit(**EAGER)
    def slopes(t, y, dy, told):
        p, temp, h = np.empty(n), np.empty(n), np.empty(n)
        for i in range(n):
            u = y[n + i] / y[i]
            temp[i] = temperature(u)
            p[i] = y[i] * r * temp[i] / volume[i]
            h[i] = u + r * temp[i]
            dy[i] = 0.0
            dy[n + i] = 0.0
        w, turbine = y[3 * n - 1], y[3 * n]
        rho2 = p[k] / r / temp[k]
        p2, work, m_s = wheel(y[2 * n + k], w, p[k - 1], temp[k - 1], rho2)
        for i in range(n):
            before_p = p_out if i == 0 else p[i - 1]
            before_t = t_out if i == 0 else temp[i - 1]
            before_h = h_out if i == 0 else h[i - 1]
            if i < n - 1:
                flow = y[2 * n + i]
                forward = flow >= 0
                up_t = before_t if forward else temp[i]
                rho = (before_p if forward else p[i]) / (r * up_t)
                mu = 1.458e-6 * up_t * math.sqrt(up_t) / (up_t + 110.4)
                size = abs(flow)
                loss = fixed[i] * flow * size / rho
                if per_wall_0[i] > 0.0:
                    re = size * walls_0[i] / (section_0[i] * mu)
                    loss += friction_0(i, re) * mu * per_wall_0[i] * flow / rho
                if per_wall_1[i] > 0.0:
                    re = size * walls_1[i] / (section_1[i] * mu)
                    loss += friction_1(i, re) * mu * per_wall_1[i] * flow / rho
                push = p2 if i == k else before_p
                dy[2 * n + i] = (push - p[i] - loss) / inert[i]
            else:
                travel = max(1.0 - t / closing, to)
                plate = a_closed + (a_open - a_closed) * (1 - math.cos(travel * math.pi / 2))
                flow = orifice(0.9 * plate, before_p, before_t, p[i], temp[i])
                forward = flow >= 0
            carried = flow * (before_h if forward else h[i])
            dy[i] += flow
            dy[n + i] += carried
            if i > 0:
                dy[i - 1] -= flow
                dy[n + i - 1] -= carried
        share = 1.0
        if p[n - 1] < p_out:
            share = max((compression - (p_out / p[n - 1]) ** (1 / 1.3)) / (compression - 1), 0.0)
        engine = engine_size * p[n - 1] / (r * temp[n - 1]) * share
        dy[n - 1] -= engine
        dy[2 * n - 1] -= engine * h[n - 1]
        flow = y[2 * n + k]
        if flow >= 0:
            dy[n + k] += flow * work
        else:
            dy[n + k - 1] -= flow * work
        through_cooler = y[2 * n + c]
        if through_cooler >= 0:
            cooled = enthalpy(temp[c - 1] - effectiveness * (temp[c - 1] - t_out))
            dy[n + c] -= through_cooler * (h[c - 1] - cooled)
        torque = abs(flow) * work / w
        dy[3 * n - 1] = (turbine**2 * torque_0 - torque) / inertia
        dy[3 * n] = (engine / engine_0 - turbine) / cycle
        through = valve(y, p, temp, h, dy)
        told[0], told[1], told[2], told[3], told[4], told[5], told[6] = flow, m_s, p[k], p[n - 2], p[n - 1], w, through

    @njit(SIGNATURES, **EAGER)
    def rhs(t, y):
        dy = np.empty(length)
        slopes(t, y, dy, np.empty(7))
        return dy

    @njit("f8[:,::1](f8[::1], f8[:,::1])", **EAGER)
    def look(times, states):
        told = np.empty((8, len(times)))
        dy, one = np.empty(length), np.empty(7)
        for i in range(len(times)):
            slopes(times[i], states[i], dy, one)
            told[:7, i] = one
            told[7, i] = states[i, lift_at] if lift_at >= 0 else 0.0
        return told

    return rhs, look


def valve_without_or_with(tract, gas, cp, enthalpy, orifice):
    if tract.valve:
        return valve_function(tract, gas, cp, enthalpy, orifice), 3 * tract.n + 1 + tract.valve.lift_at

    @njit(**EAGER)
    def none(y, p, temp, h, dy):
        return 0.0

    return none, -1
