#!/usr/bin/env python3
"""How fast the tip-out run is beside SciPy's integrators with a compiled right-hand side, at the same achieved error.

    python tests/bench/race/race.py             # from the project's root; needs requirements.txt of this folder, and cargo
    python tests/bench/race/race.py --quick     # only the methods that were fastest

The equations are those of tests/oracles/tip_out.py, compiled by numba (compiled.py); first they are compared with the oracle's own at
random states. The program's side is `tip_out_runs` of tests/bench, built here.

What is asked of either side: the numbers of NUMBERS for the starter, thrown from the highest boost, without its valve and with it. The
error of a number is its distance from the same code's own answer at a tolerance of 1e-10 (SciPy: LSODA 1e-10). The
program's achieved error is the largest at five tolerances about its usual one (luck left out); times and what follows from them may
miss by the 0.1 ms at which both sides look besides. SciPy's side takes, method by method, the loosest tolerance at which this one and
all tighter ones stay within that error.

What is counted is time of the processor. SciPy's side: the integration alone, from the settled start to the last sample
(compiling, laying out, settling and reading the results off are left out). The program's side: all of these but
compiling. So the ratio is rather too small than too large. Both sides run by turns, several times; the least of each counts.
"""

import os

for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[name] = "1"

import json
import resource
import statistics
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
from numba import njit
from scipy.integrate import ode, odeint, solve_ivp

PROJECT = Path(__file__).resolve().parents[3]
sys.path.insert(0, str(PROJECT / "tests" / "oracles"))

from compiled import compile_tract  # noqa: E402
from reading import linear  # noqa: E402
from steady import Build, SiteRun  # noqa: E402
from tip_out import TERMS, crossing, settle, summarise  # noqa: E402
from tract import Tract  # noqa: E402

STARTER = "examples/hill-climb.yaml"
SECONDS, EVERY = 1.2, 1e-4
LADDER = (1e-2, 3e-3, 1e-3, 3e-4, 1e-4, 3e-5, 1e-5, 3e-6, 1e-6)
USUAL, STAGES = 1e-3, 4  # the program's tolerance, and evaluations of each of its steps
AROUND = (0.7, 0.85, 1.0, 1.2, 1.4)
# Number: whether it is a time in ms or follows from times.
NUMBERS = {
    "crossing": True,
    "opening": True,
    "half-open": True,
    "peak": False,
    "first-swing": False,
    "margin": False,
    "frequency": True,
}


class Course:
    """One start of the starter, laid out and compiled."""

    def __init__(self, valve):
        build = Build(str(PROJECT / STARTER), [], [])
        run = SiteRun(build, next(iter(build.sites())), None)
        boosted = [(n, b) for n, b in build.boost if b > 0]
        speed = min(n for n, b in boosted if b == max(b for _, b in boosted))
        self.boost = linear(build.boost, speed)
        self.tract = tract = Tract(build, run, run.point(speed, True), valve, (0.2, 0.2), dict.fromkeys(TERMS, 1.0))
        y, self.scale = tract.initial()
        self.start = settle(tract, y, self.scale)
        tract.look(0.0, self.start)
        tract.held = False
        self.rhs, self.look = compile_tract(tract)
        rhs, scale = self.rhs, self.scale
        self.scaled = njit("f8[::1](f8, f8[::1])")(lambda t, z: rhs(t, z * scale) / scale)
        # The plate stops at its last opening: slopes have a corner there.
        self.corner = tract.closing * (1.0 - tract.to)
        grid = np.arange(round(SECONDS / EVERY) + 1) * EVERY
        self.pieces = [
            np.append(grid[grid < self.corner - 1e-9], self.corner),
            np.insert(grid[grid > self.corner + 1e-9], 0, self.corner),
        ]
        self.order()

    def order(self):
        """States beside those that they act on, for matrices of a band: cell by cell, the rotor beside the compressor, the hose last."""
        n, k = self.tract.n, self.tract.compressor
        places = []
        for i in range(n):
            places += [2 * n + i] if i < n - 1 else []
            places += [3 * n - 1, 3 * n] if i == k else []
            places += [i, n + i]
        if self.tract.valve:
            at, hose = 3 * n + 1, self.tract.valve.k
            for i in range(hose):
                places += [at + hose + i, at + i]
            places += [at + 2 * hose + j for j in range(5)]
        self.places, self.back = np.array(places), np.argsort(places)

    def check(self, count=1000):
        """The largest relative difference from the oracle's slopes at random states."""
        rng, tract, worst = np.random.default_rng(1), self.tract, 0.0
        n = tract.n
        for _ in range(count):
            y = self.start * (1 + 0.2 * rng.uniform(-1, 1, len(self.start)))
            y[2 * n : 3 * n - 1] = rng.uniform(-0.2, 0.35, n - 1)
            if tract.valve:
                hose = tract.valve.k
                y[3 * n + 1 + hose : 3 * n + 2 + 2 * hose] = rng.uniform(-4e-3, 4e-3, hose + 1)
                y[-2:] = rng.uniform(-1e-3, 10e-3), rng.uniform(-1, 1)
            t = rng.uniform(0.0, 0.2)
            theirs, ours = tract.rhs(t, y), self.rhs(t, y)
            worst = max(worst, np.max(np.abs(ours - theirs) / (np.abs(theirs) + 1e-3 * self.scale)))
        return worst

    def numbers(self, times, states):
        """What is reported, from the states at the samples."""
        flow, m_s, p2, ahead, manifold, w, through, lift = self.look(times, np.ascontiguousarray(states))
        trace = {"flow": flow, "m_s": m_s, "p2": p2, "ahead": ahead, "manifold": manifold, "w": w}
        trace |= {"lift": lift, "valve": through}
        told = summarise(times, trace, self.boost, self.tract)
        first = lambda level: crossing(times, -lift, -level)  # noqa: E731
        found = {
            "crossing": told["time_to_surge_line"] and 1e3 * told["time_to_surge_line"],
            "opening": 1e3 * first(1e-4) if self.tract.valve else None,
            "half-open": 1e3 * first(0.5 * self.tract.valve.lift) if self.tract.valve else None,
            "peak": 1e-3 * told["peak_ahead_of_throttle"],
            "first-swing": 1e-3 * told["swings"][0] if told["swings"] else None,
            "margin": told["margin"],
            "frequency": told["frequency_mean"],
        }
        return found


# Each method takes a course and a tolerance and gives states at the samples, steps and evaluations.


def lsoda(course, rtol, band=None):
    """Hindmarsh and Petzold's, as odeint has it."""
    rhs, y, states, steps, calls = course.rhs, course.start, [], 0, 0
    options = {"tfirst": True, "hmax": 1e-3, "mxstep": 1000000, "full_output": True}
    scale = course.scale
    if band:
        places, back, plain = course.places, course.back, course.rhs
        y, scale, options = y[places], scale[places], options | {"ml": band, "mu": band}
        rhs = lambda t, z: plain(t, z[back])[places]  # noqa: E731
    for times in course.pieces:
        found, told = odeint(rhs, y, times, rtol=rtol, atol=rtol * scale, **options)
        y, steps, calls = found[-1], steps + told["nst"][-1], calls + told["nfe"][-1]
        states.append(found[1:] if states else found)
    states = np.vstack(states)
    return (states[:, course.back] if band else states), steps, calls


def hermite(course, times, states, wanted):
    """Cubics between the points of steps, by the slopes there."""
    slopes = np.array([course.rhs(t, y) for t, y in zip(times, states)])
    i = np.clip(np.searchsorted(times, wanted, side="right") - 1, 0, len(times) - 2)
    h = (times[i + 1] - times[i])[:, None]
    s = (wanted - times[i])[:, None] / h
    rise = states[i + 1] - states[i]
    third, fourth = h * slopes[i] - rise, rise - h * slopes[i + 1]
    return states[i] + s * (rise + (1 - s) * (third + s * (fourth - third)))


def hairer(name):
    """Hairer's codes, as `ode` has them: they take one absolute tolerance for all states, and tell the points of their steps."""

    def solve(course, rtol):
        z, states, steps = course.start / course.scale, [], 0
        for times in course.pieces:
            seen_at, seen = [], []

            def watch(t, z):
                seen_at.append(t)
                seen.append(z.copy())

            solver = ode(course.scaled).set_integrator(name, rtol=rtol, atol=rtol, nsteps=10**7)
            solver.set_solout(watch)
            solver.set_initial_value(z, times[0])
            solver._integrator.iwork[3] = -1  # its test for stiffness would end it while the throttle is open
            z = solver.integrate(times[-1])
            if not solver.successful():
                raise RuntimeError(f"{name} ended with {solver.get_return_code()}")
            found = hermite(course, np.array(seen_at), np.array(seen) * course.scale, times)
            steps += len(seen_at) - 1
            states.append(found[1:] if states else found)
        return np.vstack(states), steps, None

    return solve


def ivp(name, sparse=False):
    """A method of solve_ivp."""

    def solve(course, rtol):
        y, states, steps, calls = course.start, [], 0, 0
        options = {}
        if sparse:
            options["jac_sparsity"] = pattern(course)
        for times in course.pieces:
            ends = (times[0], times[-1])
            found = solve_ivp(course.rhs, ends, y, name, times, rtol=rtol, atol=rtol * course.scale, **options)
            if not found.success:
                raise RuntimeError(found.message)
            y, calls = np.ascontiguousarray(found.y[:, -1]), calls + found.nfev
            states.append(found.y.T[1:] if states else found.y.T)
        return np.vstack(states), steps, calls

    return solve


def pattern(course):
    """Which state acts on which slope, with all ports open and the flows of either sign."""
    if not hasattr(course, "pattern"):
        rng, size = np.random.default_rng(2), len(course.start)
        found = np.zeros((size, size))
        for _ in range(20):
            y = course.start * (1 + 0.1 * rng.uniform(-1, 1, size))
            n = course.tract.n
            y[2 * n : 3 * n - 1] = rng.uniform(-0.2, 0.35, n - 1)
            if course.tract.valve:
                y[-2] = rng.uniform(1e-3, 8e-3)
            base = course.rhs(0.05, y)
            for j in range(size):
                moved = y.copy()
                moved[j] += 1e-3 * course.scale[j]
                found[:, j] += course.rhs(0.05, moved) != base
        course.pattern = found > 0
    return course.pattern


METHODS = {
    "LSODA (odeint)": lsoda,
    "LSODA (odeint, a band of 6)": lambda course, rtol: lsoda(course, rtol, band=6),
    "dopri5 (ode)": hairer("dopri5"),
    "dop853 (ode)": hairer("dop853"),
    "RK45 (solve_ivp)": ivp("RK45"),
    "DOP853 (solve_ivp)": ivp("DOP853"),
    "LSODA (solve_ivp)": ivp("LSODA"),
    "BDF (solve_ivp)": ivp("BDF"),
    "BDF (solve_ivp, sparse)": ivp("BDF", sparse=True),
    "Radau (solve_ivp)": ivp("Radau"),
    "Radau (solve_ivp, sparse)": ivp("Radau", sparse=True),
}
QUICK = ("LSODA (odeint)", "LSODA (odeint, a band of 6)", "dopri5 (ode)", "dop853 (ode)")


class Program:
    """The program's side."""

    def __init__(self):
        built = subprocess.run(
            ["cargo", "build", "--release", "--message-format=json", "--bin", "tip_out_runs"],
            cwd=PROJECT / "tests" / "bench",
            check=True,
            stdout=subprocess.PIPE,
        )
        told = (json.loads(line) for line in built.stdout.splitlines())
        self.binary = next(m["executable"] for m in told if m.get("target", {}).get("name") == "tip_out_runs")

    def told(self, valve, rtol, count=0):
        words = [self.binary, "highest-boost", "with" if valve else "without", repr(rtol), str(count)]
        lines = subprocess.run(words, check=True, stdout=subprocess.PIPE, text=True).stdout.splitlines()
        pairs = (line.split(" ", 1) for line in lines)
        return {name: float(value) if value else None for name, value in pairs}

    def processor(self, valve, rtol, count):
        """Processor time of one run, ms."""

        def spent(count):
            before = resource.getrusage(resource.RUSAGE_CHILDREN)
            self.told(valve, rtol, count)
            after = resource.getrusage(resource.RUSAGE_CHILDREN)
            return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime

        return 1e3 * (spent(count) - spent(0)) / count


def errors(found, reference):
    """Distance of each number from its reference; infinite where a thing happens in one of them only."""
    out = {}
    for name in NUMBERS:
        a, b = found[name], reference[name]
        if a is None or b is None:
            out[name] = 0.0 if a is b else float("inf")
        else:
            out[name] = abs(a - b)
    return out


def allowed(program, valve):
    """The program's achieved errors, its numbers at the usual tolerance, and what SciPy's side may miss by."""
    reference = program.told(valve, 1e-10)
    usual = program.told(valve, USUAL)
    each = [errors(program.told(valve, USUAL * factor), reference) for factor in AROUND]
    achieved = {name: max(one[name] for one in each) for name in NUMBERS}
    limit = dict(achieved)
    for name, timed in NUMBERS.items():
        if timed and reference[name] is not None:
            # A frequency of some fifteen cycles over the second that they take.
            floor = 0.1 if name != "frequency" else reference[name] * 1e-4
            limit[name] = max(limit[name], floor)
    return achieved, usual, limit


def loosest(course, solve, reference, limit):
    """The loosest tolerance from which on all tighter ones hold the limit, and what one run there gave."""
    best, details = None, None
    for rtol in reversed(LADDER):
        try:
            states, steps, calls = solve(course, rtol)
        except (RuntimeError, ValueError, ZeroDivisionError) as error:
            print(f"      {rtol:g}: {error}", file=sys.stderr)
            break
        found = errors(course.numbers(course.times, states), reference)
        misses = [name for name in NUMBERS if not found[name] <= limit[name]]
        if misses:
            break
        best, details = rtol, (steps, calls, found)
    return best, details


def timed(solve, course, rtol):
    began = time.process_time()
    solve(course, rtol)
    return 1e3 * (time.process_time() - began)


def main(arguments):
    quick = "--quick" in arguments
    rounds = 3 if quick else 7
    program = Program()
    for valve in (False, True):
        print(f"\nThe starter from the highest boost, {'with its valve' if valve else 'without a valve'}")
        course = Course(valve)
        course.times = np.concatenate((course.pieces[0], course.pieces[1][1:]))
        print(f"  {len(course.start)} states; slopes differ from the oracle's by {course.check():.1e} at most (relative)")
        achieved, usual, limit = allowed(program, valve)
        states, *_ = lsoda(course, 1e-10)
        reference = course.numbers(course.times, states)
        for name in NUMBERS:
            if reference[name] is not None:
                told = f"program {usual[name]:.5g}, SciPy {reference[name]:.5g}; the program's error {achieved[name]:.2g}"
                print(f"  {name}: {told}, allowed {limit[name]:.2g}")
        rows = []
        for name, solve in METHODS.items():
            if quick and name not in QUICK:
                continue
            rtol, details = loosest(course, solve, reference, limit)
            if rtol is None:
                print(f"  {name}: at no tolerance within the error")
                continue
            rows.append((name, solve, rtol, details))
        ours, theirs = [], {name: [] for name, *_ in rows}
        for _ in range(rounds):
            ours.append(program.processor(valve, USUAL, 20))
            for name, solve, rtol, _ in rows:
                # The slow ones need no second look.
                if not theirs[name] or theirs[name][0] < 20 * ours[0]:
                    theirs[name].append(timed(solve, course, rtol))
        least = min(ours)
        steps = usual["steps"]
        print(f"  the program: {least:.1f} ms (median {statistics.median(ours):.1f}), {steps:.0f} steps tried, some "
              f"{STAGES * steps:.0f} evaluations, {1e3 / least:.0f} runs a second on one core")  # fmt: skip
        print("  | method | tolerance | steps | evaluations | ms, least (median) | times the program's |")
        for name, _, rtol, (steps, calls, _) in sorted(rows, key=lambda row: min(theirs[row[0]])):
            spent = theirs[name]
            print(f"  | {name} | {rtol:g} | {steps or ''} | {calls or ''} | {min(spent):.0f} "
                  f"({statistics.median(spent):.0f}) | {min(spent) / least:.1f} |")  # fmt: skip
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
