"""The run at the medians over a weir, line by line: from the head that was found back to the flow."""

from __future__ import annotations

from collections.abc import Iterator
from math import cos, radians, sqrt

import numpy as np

from overbank.constants import GRAVITY
from overbank.hydraulics import crests, oblique
from overbank.hydraulics.crests import KINDS, PlateRow
from overbank.hydraulics.sections import Section, area, top_width
from overbank.hydraulics.weir_level import APPROACH_CRITICAL, DROWNED, LOW_SILL, NO_CREST
from overbank.site.by_hand import crest_line
from overbank.site.by_hand.steps import Case, Step, channel_area, six
from overbank.site.sections import approach_parts, certain_section
from overbank.site.weir import Weir

SOURCES = (
    "ISO 3846, ISO 4374, ISO 1438 and ISO 4360 for the kinds of crest, from memory, unverified; the share of an "
    "oblique crest that counts, and how a crest other than a thin plate drowns, are proposals of our own"
)


def refusal(case: Case, weir: Weir) -> str:
    """Why there is nothing to work; empty where there is."""
    if weir.survey is not None:
        return "a surveyed approach takes more steps than are laid out here"
    if weir.line is not None and case.found["regime"] == DROWNED:
        return "a drowned uneven crest takes more steps than are laid out here"
    if case.found["regime"] == NO_CREST:
        return "with every number at its median there is no crest to flow over, so there is nothing to work"
    if case.found["regime"] == APPROACH_CRITICAL:
        return "critical depth upstream of the crest governs, which takes more steps than are laid out here"
    return ""


def steps(case: Case, weir: Weir) -> Iterator[Step]:
    """From the flow and the level found to the flow that the crest lets pass."""
    section = certain_section(approach_parts(case.numbers, weir.approach, weir.approach_shape))
    crest, level = case.number("crest.level_m"), case.found["level"]
    head, depth = level - crest, level - case.number("approach.bed_level_m")
    yield Step("design flow", "Q", "from the study", "", case.flow, "m³/s")
    yield Step("level just downstream", "zd", "from the reach or the tailwater below", "", case.below, "m")
    yield Step(
        "head over the crest", "h", "z \u2212 zc, with the level z that was found", _less(level, crest), head, "m"
    )
    yield from _approach(case, section, head, depth)
    counted = _counted(case, section, head, depth)
    energy = head + counted
    yield Step("energy head", "H", "h + hv", f"{six(head)} + {six(counted)}", energy, "m")
    if weir.line is not None:
        yield from crest_line.parts(
            weir.line.points, energy, case.number("crest.flow_factor") * case.number("crest.coefficient")
        )
    else:
        yield from _width(case, head)
        yield from _crest(case, weir, head, energy)
        yield from _drowned(case, weir, head, energy)
    yield Step("level upstream", "z", "zc + h", f"{six(crest)} + {six(head)}", level, "m")


def _less(one: float, other: float) -> str:
    return f"{six(one)} \u2212 {six(other)}"


def _approach(case: Case, section: Section, head: float, depth: float) -> Iterator[Step]:
    """Area, velocity and as much of its head as counts."""
    wet = area(section, depth)
    formula, numbers = channel_area(section, depth)
    yield Step("area of the approach", "A", f"{formula}, y above its bed", numbers, wet, "m²")
    velocity = case.flow / wet
    yield Step("velocity of approach", "v", "Q / A", f"{six(case.flow)} / {six(wet)}", velocity, "m/s")
    own, counted = velocity**2 / (2.0 * GRAVITY), _counted(case, section, head, depth)
    formula, numbers = "v² / 2g", f"{six(velocity)}^2 / {six(2.0 * GRAVITY)}"
    if counted < own:
        halved = min(head, wet / top_width(section, depth))
        formula, numbers = "no more than half of h and of A / width at the surface", f"{six(halved)} / 2"
    yield Step("velocity head that counts", "hv", formula, numbers, counted, "m")


def _counted(case: Case, section: Section, head: float, depth: float) -> float:
    """As much of the velocity head of the approach as counts [m]."""
    wet = area(section, depth)
    return min((case.flow / wet) ** 2 / (2.0 * GRAVITY), 0.5 * head, 0.5 * wet / top_width(section, depth))


def _width(case: Case, head: float) -> Iterator[Step]:
    """The crest's width, or the straight crest that an oblique one is worth."""
    width, angle = case.number("crest.width_m"), case.number("crest.angle_deg")
    if angle == 0.0:
        yield Step("width of the crest", "b", "from the study", "", width, "m")
        return
    height, gain = case.number("crest.level_m") - case.number("approach.bed_level_m"), case.number("crest.oblique_gain")
    share = min(1.0, max(0.0, gain * oblique.oblique_gain(head / height)))
    yield Step(
        "share of the extra length that counts",
        "k",
        "0.8 up to h/P = 0.2, 0.3 from 0.6, smooth between, times the study's gain",
        "" if 0.2 < head / height < 0.6 else f"{six(gain)} \u00d7 {'0.8' if head / height <= 0.2 else '0.3'}",
        share,
        "",
    )
    yield Step(
        "width of the straight crest worth as much",
        "b",
        "B (1 + k (1/cos \u03b1 \u2212 1))",
        f"{six(width)} \u00d7 (1 + {six(share)} \u00d7 (1/{six(cos(radians(angle)))} \u2212 1))",
        case.found["effective_width"],
        "m",
    )


def _crest(case: Case, weir: Weir, head: float, energy: float) -> Iterator[Step]:
    """The coefficient, and the flow were the crest not drowned."""
    width, factor = case.found["effective_width"], case.number("crest.flow_factor")
    crest = case.number("crest.level_m") - case.number("approach.bed_level_m")
    constant = crests.CRITICAL_CREST
    if weir.crest == "thin_plate":
        yield from _plate(case, weir, head, crest)
        return
    if weir.crest == "given":
        coefficient, said = case.number("crest.coefficient"), "f C b H^1.5"
        numbers = f"{six(factor)} \u00d7 {six(coefficient)} \u00d7 {six(width)} \u00d7 {six(energy)}^1.5"
        yield Step("free flow over the crest", "Qf", said, numbers, factor * coefficient * width * energy**1.5, "m³/s")
        return
    step = _coefficient(case, weir, head, width)
    yield step
    yield Step(
        "free flow over the crest",
        "Qf",
        "f (2/3)^1.5 √g C b H^1.5",
        f"{six(factor)} \u00d7 {six(constant)} \u00d7 {six(step.result)} \u00d7 {six(width)} \u00d7 {six(energy)}^1.5",
        factor * constant * step.result * width * energy**1.5,
        "m³/s",
    )


def _coefficient(case: Case, weir: Weir, head: float, width: float) -> Step:
    """C of a broad, round-nosed or triangular crest."""
    if weir.crest == "triangular":
        offset = crests.TRIANGULAR_OFFSET
        value = 1.163 * (1.0 - offset / head) ** 1.5
        return Step(
            "coefficient",
            "C",
            "1.163 (1 \u2212 k/h)^1.5",
            f"1.163 \u00d7 (1 \u2212 {offset}/{six(head)})^1.5",
            value,
            "",
        )
    breadth = case.number("crest.breadth_m")
    if weir.crest == "round_nosed":
        value = crests.round_nosed_coefficient(head, width, breadth)
        numbers = (
            f"(1 \u2212 0.006 \u00d7 {six(breadth)}/{six(width)}) \u00d7 "
            f"(1 \u2212 0.003 \u00d7 {six(breadth)}/{six(head)})^1.5"
        )
        return Step("coefficient", "C", "(1 \u2212 0.006 L/b) (1 \u2212 0.003 L/h)^1.5", numbers, value, "")
    held = crests.square_edge_coefficient(head / breadth)
    short = min(head / breadth, crests.SHORT_CREST_TO)
    numbers = "0.864" if held == 0.864 else f"(0.191 \u00d7 {six(short)} + 0.782)"
    formula = "0.848/0.864 times the greater of 0.864 and 0.191 h/L + 0.782, h/L no more than 1.6"
    return Step("coefficient", "C", formula, f"0.848 / 0.864 \u00d7 {numbers}", 0.848 / 0.864 * held, "")


def _plate(case: Case, weir: Weir, head: float, height: float) -> Iterator[Step]:
    """A thin plate: from the gauged head."""
    channel = "width_m" if weir.approach_shape == "rectangle" else "bed_width_m"
    ratio = case.number("crest.width_m") / case.number(f"approach.section.{channel}")
    row = PlateRow(*(float(column) for column in crests.plate_constants(np.asarray(ratio))))
    share = min(head / height, crests.PLATE_HEIGHTS_TO) if height > 0.0 else crests.PLATE_HEIGHTS_TO
    coefficient, width = row.a + row.c * share, case.found["effective_width"]
    yield Step(
        "coefficient",
        "Ce",
        "a + c h/p, h/p no more than 2.5",
        f"{six(row.a)} + {six(row.c)} \u00d7 {six(share)}",
        coefficient,
        "",
    )
    factor = case.number("crest.flow_factor")
    yield Step(
        "free flow over the crest",
        "Qf",
        "f Ce ⅔ √2g (b + kb) (h + kh)^1.5",
        f"{six(factor)} \u00d7 {six(coefficient)} \u00d7 2/3 \u00d7 √{six(2.0 * GRAVITY)} "
        f"\u00d7 ({six(width)} + {six(row.width_shift)}) \u00d7 ({six(head)} + {six(row.head_shift)})^1.5",
        factor
        * coefficient
        * 2.0
        / 3.0
        * sqrt(2.0 * GRAVITY)
        * (width + row.width_shift)
        * (head + row.head_shift) ** 1.5,
        "m³/s",
    )


def _drowned(case: Case, weir: Weir, head: float, energy: float) -> Iterator[Step]:
    """How far the level below is felt, and the flow that is left."""
    ratio, left, crest = case.found["drowned_ratio"], case.found["drowned_factor"], case.number("crest.level_m")
    if ratio == (case.below - crest) / head:
        formula, numbers = "(zd \u2212 zc) / h", f"({six(case.below)} \u2212 {six(crest)}) / {six(head)}"
    else:
        formula = "(ed \u2212 zc) / H, with the energy level ed below, where that is more than (zd \u2212 zc) / h"
        numbers = f"({six(crest + ratio * energy)} \u2212 {six(crest)}) / {six(energy)}"
    yield Step("drowned over upstream head", "r", formula, numbers, ratio, "")
    step = list(_crest(case, weir, head, energy))[-1]
    share = _share(case, weir, ratio)
    if case.found["regime"] == LOW_SILL:
        words = "Q / Qf at the level of the energy balance over the bump, the crest being low and drowned"
        share = (words, f"{six(case.flow)} / {six(step.result)}")
    yield Step("share of the free flow that is left", "k", *share, left, "")
    numbers = f"{six(left)} \u00d7 {six(step.result)}"
    yield Step("flow over the crest, to be held against Q", "k Qf", "k Qf", numbers, left * step.result, "m³/s")


def _share(case: Case, weir: Weir, ratio: float) -> tuple[str, str]:
    """Formula and numbers of the share that is left."""
    if weir.crest == KINDS[crests.TRIANGULAR]:
        return "1, 1.035 (0.817 \u2212 r^4)^0.0647 or 8.686 \u2212 8.403 r, the least", ""
    limit = case.number("crest.modular_limit")
    if ratio <= limit:
        return f"1, as r is below the modular limit {limit:.4g}", ""
    past = f"(({six(ratio)} \u2212 {six(limit)}) / (1 \u2212 {six(limit)}))"
    return "(1 \u2212 r'^1.5)^0.385, r' = (r \u2212 limit) / (1 \u2212 limit)", f"(1 \u2212 {past}^1.5)^0.385"
