"""The run at the medians along a side weir, line by line, after De Marchi: the length that the level found takes."""

from __future__ import annotations

from collections.abc import Iterator
from math import sqrt

from overbank.constants import GRAVITY
from overbank.hydraulics import side_weir
from overbank.site.by_hand.steps import Case, Step, six
from overbank.site.side_weir import SideWeir

SOURCES = "De Marchi's profile along a side weir, whose energy level stays; the coefficient as the register has it"


def refusal(case: Case, weir: SideWeir) -> str:
    """Why the run cannot be worked by hand with these few steps; empty where it can."""
    if case.found["regime"] != side_weir.OVER_SIDE:
        return "De Marchi's profile holds for water that falls freely over a side crest; at the medians it does not"
    if weir.approach_shape != "rectangle":
        return "a side weir along a channel that is no rectangle has no closed form"
    if case.found["flow_below"] <= 0.0:
        return "a side weir over which everything leaves takes more steps than are laid out here"
    return ""


def steps(case: Case, _weir: SideWeir) -> Iterator[Step]:
    """From the flow that stays to the levels at both ends."""
    found, bed, width = case.found, case.number("bed_level_m"), case.number("section.width_m")
    above, below, depth = found["flow_above"], found["flow_below"], found["depth_below"]
    yield Step("flow that comes from above", "Q1", "with what joins above", "", above, "m³/s")
    yield Step("flow that stays, found by trial over all below", "Q2", "from the run", "", below, "m³/s")
    yield Step("depth at the lower end", "y2", "from the run", "", depth, "m")
    height = case.number("crest_level_m") - bed
    numbers = f"{six(case.number('crest_level_m'))} \u2212 {six(bed)}"
    yield Step("height of the crest above the bed", "P", "zw \u2212 zb", numbers, height, "m")
    energy = depth + (below / (width * depth)) ** 2 / (2.0 * GRAVITY)
    numbers = f"{six(depth)} + ({six(below)} / ({six(width)} \u00d7 {six(depth)}))^2 / {six(2.0 * GRAVITY)}"
    yield Step("energy above the bed, the same along the crest", "E", "y2 + (Q2 / (B y2))² / 2g", numbers, energy, "m")
    upper = found["depth"]
    yield from _length(case, (upper, depth), energy, height)
    swift = above / (width * upper) / sqrt(GRAVITY * upper)
    known = 2.0 / 3.0 * side_weir.subramanya_awasthy(swift) * sqrt(2.0 * GRAVITY)
    words = "for comparison: coefficient of a sharp side crest at this Froude number"
    formula = "2/3 0.611 (1 \u2212 3F² / (F² + 2))^0.5 (2g)^0.5"
    yield Step(words, "C'", formula, f"F = {six(swift)}", known, "m^0.5/s")
    head = (above / (width * upper)) ** 2 / (2.0 * GRAVITY)
    numbers = f"({six(above)} / ({six(width)} \u00d7 {six(upper)}))^2 / {six(2.0 * GRAVITY)}"
    yield Step(
        "velocity head at the upper end, at the level found", "v1²/2g", "(Q1 / (B y1))² / 2g", numbers, head, "m"
    )
    numbers = f"{six(bed)} + {six(energy)} \u2212 {six(head)}"
    yield Step("level at the upper end", "z1", "zb + E \u2212 v1² / 2g", numbers, bed + energy - head, "m")
    numbers = f"{six(bed)} + {six(depth)}"
    yield Step("highest level along the crest, at its lower end", "z2", "zb + y2", numbers, bed + depth, "m")


def _length(case: Case, depths: tuple[float, float], energy: float, height: float) -> Iterator[Step]:
    """The length of crest along which the water rises from one depth to the other."""
    width, c = case.number("section.width_m"), case.number("coefficient")
    formula = "(2E \u2212 3P)/(E \u2212 P) ((E \u2212 y)/(y \u2212 P))^0.5"
    formula += " \u2212 3 asin ((E \u2212 y)/(E \u2212 P))^0.5"
    functions = []
    for place, symbol, y in zip(("upper", "lower"), ("F1", "F2"), depths, strict=True):
        functions.append(side_weir.de_marchi(y, energy, height))
        numbers = f"E = {six(energy)}, P = {six(height)}, y = {six(y)}"
        yield Step(f"De Marchi's function at the {place} end", symbol, formula, numbers, functions[-1], "")
    strength = 1.5 * c / sqrt(2.0 * GRAVITY)
    numbers = f"1.5 \u00d7 {six(c)} / {six(2.0 * GRAVITY)}^0.5"
    yield Step("coefficient after De Marchi", "Cm", "3/2 C / (2g)^0.5", numbers, strength, "")
    length = 1.5 * width / strength * (functions[1] - functions[0])
    numbers = f"1.5 \u00d7 {six(width)} / {six(strength)} \u00d7 ({six(functions[1])} \u2212 {six(functions[0])})"
    words = f"length of crest that this takes; the study has {six(case.number('length_m'))} m"
    yield Step(words, "L", "3/2 B / Cm (F2 \u2212 F1)", numbers, length, "m")
