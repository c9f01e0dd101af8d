"""Root finding and monotone cubic interpolation for the oracles, in plain Python."""


def bracket(f, low, high, tolerance=1e-13):
    """Root of `f` between two places of different sign: regula falsi (Illinois) kept inside by bisection."""
    a, b, fa, fb = low, high, f(low), f(high)
    if fa == 0.0:
        return a
    if fb == 0.0:
        return b
    if (fa > 0) == (fb > 0):
        raise ValueError("no change of sign")
    for step in range(300):
        c = (a * fb - b * fa) / (fb - fa) if step % 4 < 3 else 0.5 * (a + b)
        fc = f(c)
        if fc == 0.0 or abs(b - a) <= tolerance * max(abs(a), abs(b)):
            return c
        if (fc > 0) == (fb > 0):
            b, fb = c, fc
            fa *= 0.5 if step % 4 < 3 else 1.0
        else:
            a, fa, b, fb = b, fb, c, fc
    return 0.5 * (a + b)


class Pchip:
    """Monotone cubic: Fritsch & Butland (1984) slopes inside, three-point formula kept monotone at the ends."""

    def __init__(self, xs, ys):
        self.xs, self.ys = xs, ys
        h = [b - a for a, b in zip(xs, xs[1:])]
        d = [(b - a) / k for a, b, k in zip(ys, ys[1:], h)]
        n = len(xs)
        if n == 2:
            self.m, self.h = [d[0], d[0]], h
            return
        m = [0.0] * n
        for i in range(1, n - 1):
            if d[i - 1] * d[i] > 0.0:
                w1, w2 = 2 * h[i] + h[i - 1], h[i] + 2 * h[i - 1]
                m[i] = (w1 + w2) / (w1 / d[i - 1] + w2 / d[i])
        m[0] = self._end(h[0], h[1], d[0], d[1])
        m[-1] = self._end(h[-1], h[-2], d[-1], d[-2])
        self.m, self.h = m, h

    @staticmethod
    def _end(h0, h1, d0, d1):
        m = ((2 * h0 + h1) * d0 - h0 * d1) / (h0 + h1)
        if m * d0 <= 0.0:
            return 0.0
        if d0 * d1 < 0.0 and abs(m) > 3 * abs(d0):
            return 3 * d0
        return m

    def __call__(self, x):
        i = 0
        while i < len(self.xs) - 2 and x > self.xs[i + 1]:
            i += 1
        h, s = self.h[i], (x - self.xs[i]) / self.h[i]
        return (
            (2 * s**3 - 3 * s**2 + 1) * self.ys[i]
            + (s**3 - 2 * s**2 + s) * h * self.m[i]
            + (3 * s**2 - 2 * s**3) * self.ys[i + 1]
            + (s**3 - s**2) * h * self.m[i + 1]
        )
