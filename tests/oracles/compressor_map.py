"""A compressor map in corrected quantities (conventions 16 to 20 of steady.py)."""

import csv
import re
from pathlib import Path

from numerics import Pchip, bracket
from reading import quantity


class Map:
    """Compressor map in corrected quantities."""

    def __init__(self, path):
        text = Path(path).read_text(encoding="utf-8").splitlines()
        notes = dict(re.findall(r"#\s*(reference-\w+):\s*(.*)", "\n".join(text)))
        self.t_ref = quantity(notes["reference-temperature"])
        self.p_ref = quantity(notes["reference-pressure"])
        rows = csv.DictReader(l for l in text if not l.startswith("#"))
        lines = {}
        for row in rows:
            n, m, pr, eta = (
                float(row[k])
                for k in ("corrected-speed [rpm]", "corrected-flow [kg/s]", "pressure-ratio", "efficiency")
            )
            lines.setdefault(n, []).append((m, pr, eta))
        self.speeds = sorted(lines)
        self.ms_at = Pchip(self.speeds, [lines[n][0][0] for n in self.speeds])
        self.mc_at = Pchip(self.speeds, [lines[n][-1][0] for n in self.speeds])
        self.pr_lines, self.eta_lines = [], []
        for n in self.speeds:
            ms, mc = lines[n][0][0], lines[n][-1][0]
            x = [(m - ms) / (mc - ms) for m, _, _ in lines[n]]
            self.pr_lines.append(Pchip(x, [p for _, p, _ in lines[n]]))
            self.eta_lines.append(Pchip(x, [e for _, _, e in lines[n]]))

    def ends(self, speed):
        """Surge and choke flow at a corrected speed."""
        inside = min(max(speed, self.speeds[0]), self.speeds[-1])
        scale = speed / inside
        return self.ms_at(inside) * scale, self.mc_at(inside) * scale

    def at(self, speed, x):
        """Ratio and efficiency at a corrected speed and place between surge (0) and choke (1)."""
        inside = min(max(speed, self.speeds[0]), self.speeds[-1])
        pr = Pchip(self.speeds, [line(x) for line in self.pr_lines])(inside)
        eta = Pchip(self.speeds, [line(x) for line in self.eta_lines])(inside)
        if inside != speed:
            head = (pr ** (0.4 / 1.4) - 1) * (speed / inside) ** 2
            pr = (head + 1) ** (1.4 / 0.4)
        return pr, eta

    def surge_speed(self, ratio):
        """Corrected speed whose surge point has this ratio."""
        return bracket(lambda n: self.at(n, 0.0)[0] - ratio, 0.05 * self.speeds[0], 2 * self.speeds[-1])

    def find(self, flow, ratio):
        """Corrected speed, efficiency, surge flow at this ratio, choke share, status."""
        n_s = self.surge_speed(ratio)
        surge = self.ends(n_s)[0]
        if flow < surge:
            return n_s, self.at(n_s, 0.0)[1], surge, flow / self.ends(n_s)[1], "left-of-surge-line"
        low, high = 0.05 * self.speeds[0], 3 * self.speeds[-1]
        n_choke = bracket(lambda n: self.ends(n)[1] - flow, low, high)
        if self.at(n_choke, 1.0)[0] > ratio:
            return n_choke, self.at(n_choke, 1.0)[1], surge, 1.0, "beyond-choke"
        n_surge = bracket(lambda n: self.ends(n)[0] - flow, low, high)

        def excess(n):
            ms, mc = self.ends(n)
            return self.at(n, (flow - ms) / (mc - ms))[0] - ratio

        n = bracket(excess, n_choke, n_surge)
        ms, mc = self.ends(n)
        eta = self.at(n, (flow - ms) / (mc - ms))[1]
        status = "above-top-line" if n > self.speeds[-1] else "below-lowest-line" if n < self.speeds[0] else "on-map"
        return n, eta, surge, flow / mc, status
