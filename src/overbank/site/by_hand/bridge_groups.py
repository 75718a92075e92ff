"""Several groups of openings side by side, each with a free surface: worked back from the level found to their flows.

With a free surface all groups have one velocity, so their areas say how they share the flow. A raft on a pier makes two
groups of the main openings, an opening over a surveyed bed one of every strip.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import sqrt

import numpy as np

from overbank.constants import GRAVITY
from overbank.hydraulics import bridges, rows
from overbank.hydraulics.bridges import Around, Clear, Through
from overbank.hydraulics.bridges import Bridge as Openings
from overbank.hydraulics.sections import area
from overbank.site.bridge import Bridge
from overbank.site.by_hand.steps import Case, Step, channel_area, six
from overbank.site.numbers import Water


def several(bridge: Bridge) -> bool:
    """Whether there is more than one group of openings, rafts and strips counted."""
    return len(bridge.groups) > 1 or bool(bridge.groups[0].strips) or bridge.has_raft


def openings(case: Case, bridge: Bridge) -> Openings:
    flow, below = np.array([case.flow]), np.array([case.below])
    laid = bridge.laid(flow, Water(below, below), case.numbers)
    found: Openings = rows.openings_of(np.array([float(np.ravel(each)[0]) for each in laid]), None)
    return found


def _found(case: Case, bridge: Bridge) -> tuple[Openings, Around, list[tuple[Clear, Through]]]:
    """The bridge, the channel around it, and every group that takes flow with its state."""
    b = openings(case, bridge)
    a = bridges.around(b, case.flow, case.below)
    each = [bridges.group_of(b.groups, k) for k in range(len(b.groups))]
    states = [(c, bridges.through(b, a, c, case.found["level"])) for c in each]
    return b, a, [(c, state) for c, state in states if state.flow > 0.0]


def not_free(case: Case, bridge: Bridge) -> bool:
    """Whether a group is choked or under pressure, or the channel as fast as the openings."""
    b, a, found = _found(case, bridge)
    if any(state.control != bridges.FREE for _, state in found):
        return True
    flow = case.found["opening_flow"]
    return abs(sum(_steady(b, a, c, case)[1] for c, _ in found) - flow) > 1e-4 * flow


def _steady(b: Openings, a: Around, c: Clear, case: Case) -> tuple[float, float]:
    """Area and flow of a group by the velocity that all have."""
    wet = bridges.clear_area(c, a.head - a.gained * _velocity_head(b, a, case))
    return wet, wet * sqrt(2.0 * GRAVITY * _velocity_head(b, a, case))


def _velocity_head(b: Openings, a: Around, case: Case) -> float:
    speed = case.flow / area(b.approach, case.found["level"] - b.approach_bed)
    above = case.found["level"] + a.spent * speed**2 / (2.0 * GRAVITY)
    return max(above - a.head, 0.0) / (a.spent - a.gained)


def steps(case: Case, bridge: Bridge, won: float) -> Iterator[Step]:
    """From the level found above and the head from below to the flow of each group, and their sum."""
    b, a, found = _found(case, bridge)
    level, factors = case.found["level"], f"1 + {six(b.afflux_factor)} \u00d7 {six(b.contraction)}"
    yield Step("share of velocity heads that counts above", "u", "1 + f Cc", factors, a.spent, "")
    formula, numbers = channel_area(b.approach, level - b.approach_bed)
    wet = area(b.approach, level - b.approach_bed)
    yield Step("area of the channel above", "A1", f"{formula}, y = z \u2212 bed, z as found", numbers, wet, "m²")
    speed = case.flow / wet
    yield Step("velocity there", "v1", "Q / A1", f"{six(case.flow)} / {six(wet)}", speed, "m/s")
    above = level + a.spent * speed**2 / (2.0 * GRAVITY)
    numbers = f"{six(level)} + {six(a.spent)} \u00d7 {six(speed)}^2 / {six(2.0 * GRAVITY)}"
    yield Step("head above", "E1", "z + u v1² / 2g", numbers, above, "m")
    lost = _velocity_head(b, a, case)
    numbers = f"({six(above)} \u2212 {six(a.head)}) / ({six(a.spent)} \u2212 {six(won)})"
    yield Step("velocity head in all openings", "ho", "(E1 \u2212 E0) / (u \u2212 w)", numbers, lost, "m")
    inside, velocity = a.head - a.gained * lost, sqrt(2.0 * GRAVITY * lost)
    yield Step(
        "level in them", "zo", "E0 \u2212 w ho", f"{six(a.head)} \u2212 {six(won)} \u00d7 {six(lost)}", inside, "m"
    )
    yield Step(
        "velocity in them", "vo", "\u221a(2g ho)", f"\u221a({six(2.0 * GRAVITY)} \u00d7 {six(lost)})", velocity, "m/s"
    )
    flows = []
    for place, (c, _) in enumerate(found, 1):
        own, flow = _steady(b, a, c, case)
        flows.append(flow)
        words = f"area of group {place}, its bed at {six(c.lip)}"
        yield Step(words, f"A of {place}", "clear area below zo, from the program", "", own, "m²")
        yield Step(f"flow of group {place}", f"q{place}", "A vo", f"{six(own)} \u00d7 {six(velocity)}", flow, "m³/s")
    what = "flow of all groups, to be held against Qo"
    yield Step(what, "\u03a3q", "their sum", " + ".join(map(six, flows)), sum(flows), "m³/s")
