"""Flow over a road or crest that follows a profile, part by part; a drowned road with how much it is held back."""

from __future__ import annotations

from collections.abc import Iterator

from overbank.hydraulics.crest_line import Line, road_line_flow, wet_part
from overbank.site.by_hand.steps import Step, six


def parts(line: Line, head: float, coefficient: float) -> Iterator[Step]:
    """The flow over each part that is wet, and the sum; head over the lowest point [m], static or energy."""
    found: list[float] = []
    for part in range(line.shape[0] - 1):
        wet, low, high = (float(each) for each in wet_part(line, part, head))
        if wet <= 0.0:
            continue
        found.append(_part(coefficient * wet, low * low, high * high))
        yield _step(part, coefficient, wet, low * low, high * high, found[-1])
    yield Step("flow over all parts", "\u03a3q", "their sum", " + ".join(map(six, found)), sum(found), "m³/s")


def drowned_parts(line: Line, head: float, drowned_head: float, coefficient: float) -> Iterator[Step]:
    """The same of a road that the water below drowns in part; both heads over its lowest point [m]."""
    found: list[float] = []
    for part in range(line.shape[0] - 1):
        wet, low, high = (float(each) for each in wet_part(line, part, head))
        if wet <= 0.0:
            continue
        free = _part(coefficient * wet, low * low, high * high)
        found.append(float(road_line_flow(line[part : part + 2], head, drowned_head, coefficient)))
        yield _step(part, coefficient, wet, low * low, high * high, free)
        formula = f"kt q{part + 1}, kt the mean of the road's curve over the part, by its heads below and above"
        numbers = f"{six(found[-1] / free)} \u00d7 {six(free)}; hd from {six(drowned_head)} over the lowest point"
        yield Step("the same, drowned from below", f"d{part + 1}", formula, numbers, found[-1], "m³/s")
    yield Step("flow over all parts", "\u03a3q", "their sum", " + ".join(map(six, found)), sum(found), "m³/s")


def _part(rate: float, low: float, high: float) -> float:
    """2/5 C L (h2^2.5 - h1^2.5) / (h2 - h1), or C L h^1.5 where it is level [m3/s]."""
    if high - low < 1e-9:
        return float(rate * high**1.5)
    return float(0.4 * rate * (high**2.5 - low**2.5) / (high - low))


def _step(part: int, coefficient: float, wet: float, low: float, high: float, flow: float) -> Step:
    rate = f"{six(coefficient)} \u00d7 {six(wet)}"
    if high - low < 1e-9:
        formula, numbers = "C L h^1.5", f"{rate} \u00d7 {six(high)}^1.5"
    else:
        formula = "2/5 C L (h2^2.5 \u2212 h1^2.5) / (h2 \u2212 h1), L wet"
        rise = f"({six(high)}^2.5 \u2212 {six(low)}^2.5) / ({six(high)} \u2212 {six(low)})"
        numbers = f"0.4 \u00d7 {rate} \u00d7 {rise}"
    return Step(f"flow over part {part + 1} of the profile", f"q{part + 1}", formula, numbers, flow, "m³/s")
