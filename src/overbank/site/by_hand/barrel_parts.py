"""The water through the parts of a barrel, line by line from the outlet up to the end of the part at the inlet."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from overbank.constants import GRAVITY
from overbank.hydraulics.barrel_parts import CHAMBER, NO_SILT, PLAIN, Part, carried_up, entered, laid, part_of
from overbank.hydraulics.outlet_control import Lay, mouth_depth
from overbank.hydraulics.sections import Section, area
from overbank.hydraulics.uniform import critical_depth
from overbank.site.barrel_parts import InParts
from overbank.site.by_hand.steps import Step, six


def below(parts: InParts, numbers: Mapping[str, float], lay: Lay) -> Lay:
    """The lay of a barrel of one part, with the parts below it and the tailwater over their outlet."""
    if not parts.joined:
        return lay
    own, outlet = (numbers[f"{path}.downstream_invert_m"] for path in (parts.path, parts.last))
    depth = lay.tailwater_depth + own - outlet
    pieces = laid([float(np.ravel(number)[0]) for number in parts.pieces(numbers, 1)])
    return lay._replace(tailwater_depth=depth, pieces=pieces)


def steps(parts: InParts, numbers: Mapping[str, float], first: Section, lay: Lay, flow: float) -> Iterator[Step]:
    """From the depth at the outlet to that in the end of the part at the inlet; `flow` of one barrel."""
    if not parts.joined:
        return
    each = [part_of(lay.pieces, place, NO_SILT) for place in range(len(parts.joined))]
    last = each[-1].section
    outlet = mouth_depth(last, flow, critical_depth(last, flow), lay)
    end, depths = carried_up(first, flow, critical_depth(first, flow), lay.pieces, NO_SILT, outlet)
    ends = [end, *(float(depth) for depth in depths[:, 1])]
    for place in range(len(each), 0, -1):
        path = parts.path_of(place)
        losses = [(words, float(np.ravel(loss)[0])) for words, loss in parts.losses(numbers, 1, place)]
        head = float(depths[place - 1, 0])
        yield from _part(place, each[place - 1], numbers[f"{path}.manning_n"], flow, head, ends[place])
        yield from _joint(place, each[place - 1], losses, flow, head)
        yield _end_above(place, each[place - 1], flow, head, ends[place - 1])


def _part(place: int, part: Part, roughness: float, flow: float, head: float, end: float) -> Iterator[Step]:
    numbers = f"L = {six(part.length)}, n = {six(roughness)}, S = {six(part.slope)}, from {six(end)}"
    formula = "water-surface profile through it, from its end upstream"
    yield Step(f"depth in the head of part {place}", f"h{place}", formula, numbers, head, "m")
    velocity = flow / area(part.section, head)
    wet = f"{six(flow)} / {six(flow / velocity)}"
    yield Step("velocity there", f"w{place}", f"q / A(h{place})", wet, velocity, "m/s")


def _joint(place: int, part: Part, losses: list[tuple[str, float]], flow: float, head: float) -> Iterator[Step]:
    named = ", ".join(f"{words} {six(loss)}" for words, loss in losses)
    yield Step(f"loss at the upper end of part {place}", f"K{place}", "the sum of its losses", named, part.loss, "")
    critical = critical_depth(part.section, flow)
    energy, velocity = entered(part, flow, head, critical), flow / area(part.section, head)
    formula = f"h{place} + (1 + K{place}) w{place}²/2g; not under that of critical depth"
    if part.joint != PLAIN:
        formula += ", D DI² and 1.6 D DI^0.67"
    numbers = (
        f"{six(head)} + {six(1.0 + part.loss)} \u00d7 {six(velocity)}² / {2.0 * GRAVITY:.6g}; yc = {six(critical)}"
    )
    yield Step("energy level before it, over its bed", f"E{place}", formula, numbers, energy, "m")


def _end_above(place: int, part: Part, flow: float, head: float, end: float) -> Step:
    """Depth in the end of the part above."""
    velocity = flow / area(part.section, head)
    fallen = f"E{place} \u2212 fall of the bed"
    formula = f"y + (V² \u2212 (V \u2212 w{place})²)/2g = {fallen}, V \u2212 w{place} not under 0; y not under critical"
    if part.joint == CHAMBER:
        formula = f"{fallen}: the water rests in the chamber; not under critical"
    numbers = f"fall {six(part.drop)}, w{place} {six(velocity)}"
    return Step("depth in the end of the part above", f"y of {place - 1}", formula, numbers, end, "m")
