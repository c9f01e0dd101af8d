"""Reading of builds for the oracles: a small YAML subset, quantities with units, tables."""

import re


def _split_top(text, mark):
    """Split at `mark` outside brackets and quotes."""
    parts, depth, quote, start = [], 0, "", 0
    for i, c in enumerate(text):
        if quote:
            quote = "" if c == quote else quote
        elif c in "\"'":
            quote = c
        elif c in "[{":
            depth += 1
        elif c in "]}":
            depth -= 1
        elif c == mark and depth == 0:
            parts.append(text[start:i])
            start = i + 1
    parts.append(text[start:])
    return [p.strip() for p in parts if p.strip()]


def _uncomment(line):
    """A line without its comment (a `#` at the start or behind a space, outside quotes)."""
    quote = ""
    for i, c in enumerate(line):
        if quote:
            quote = "" if c == quote else quote
        elif c in "\"'":
            quote = c
        elif c == "#" and (i == 0 or line[i - 1] in " \t"):
            return line[:i].rstrip()
    return line.rstrip()


def _flow(text):
    """A scalar, a flow list or a flow map."""
    text = text.strip()
    if text.startswith("["):
        return [_flow(p) for p in _split_top(text[1:-1], ",")]
    if text.startswith("{"):
        pairs = [re.split(r":(?:\s+|$)", p, maxsplit=1) for p in _split_top(text[1:-1], ",")]
        return {k.strip().strip("\"'"): _flow(v) for k, v in pairs}
    return text.strip("\"'")


def _block(lines, indent):
    """A block map or block list of the lines at one indentation; lines are consumed."""
    result = None
    while lines and lines[0][0] >= indent:
        depth, text = lines.pop(0)
        if text.startswith("- "):
            result = [] if result is None else result
            result.append(_flow(text[2:]))
            continue
        result = {} if result is None else result
        key, _, value = text.partition(":")
        if value.strip():
            result[key.strip("\"'")] = _flow(value)
        elif lines and (lines[0][0] > depth or lines[0][1].startswith("- ")):
            result[key.strip("\"'")] = _block(lines, lines[0][0])
        else:
            result[key.strip("\"'")] = {}
    return result


def read_yaml(text):
    """The YAML of the examples: block maps, lists of flow entries, flow maps, comments."""
    lines = []
    for raw in text.splitlines():
        line = _uncomment(raw)
        if line.strip():
            lines.append((len(line) - len(line.lstrip()), line.strip()))
    return _block(lines, 0)


UNITS = {
    "m": 1.0, "mm": 1e-3, "cm": 1e-2, "cm3": 1e-6, "L": 1e-3, "m3": 1.0,
    "Pa": 1.0, "kPa": 1e3, "bar": 1e5, "kPa abs": 1e3, "bar gauge": 1e5, "kg/s": 1.0, "rpm": 1.0,
    "deg": 1.0, "%": 0.01, "K": 1.0, "": 1.0,
    "ms": 1e-3, "s": 1.0, "g": 1e-3, "kg": 1.0, "N": 1.0, "N/mm": 1e3, "kg m2": 1.0,
}  # fmt: skip


def quantity(text):
    """Value in SI of a quantity such as `63.5 mm ± 0.5 mm` (the tolerance is left out)."""
    text = str(text).split("±")[0].strip()
    number, unit = re.fullmatch(r"([-+0-9.eE]+)\s*(.*)", text).groups()
    if unit == "degC":
        return float(number) + 273.15
    return float(number) * UNITS[unit.strip()]


def table(mapping):
    """A table as sorted pairs of SI values."""
    return sorted((quantity(k), quantity(v)) for k, v in mapping.items())


def linear(pairs, x):
    """Linear between entries, level beyond them."""
    if x <= pairs[0][0]:
        return pairs[0][1]
    for (x0, y0), (x1, y1) in zip(pairs, pairs[1:]):
        if x <= x1:
            return y0 + (y1 - y0) * (x - x0) / (x1 - x0)
    return pairs[-1][1]
