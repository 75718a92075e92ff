"""The run at the medians through a gate, line by line: the energy of a free jet, and the level that it asks for."""

from __future__ import annotations

from collections.abc import Iterator

from overbank.constants import GRAVITY
from overbank.hydraulics import gate
from overbank.site.by_hand.steps import Case, Step, six
from overbank.site.gate import Gate

SOURCES = "energy from the channel into the jet; the contraction of the jet as the register has it"


def refusal(case: Case, _structure: Gate) -> str:
    """Why the run cannot be worked by hand with these few steps; empty where it can."""
    if case.found["over_flow"] > 0.0:
        return "water over the top of the gate takes more steps than are laid out here"
    if case.found["regime"] != gate.FREE_JET:
        return "a jet drowned from below, or a lip out of the water, takes more steps than are laid out here"
    if case.found["jet_depth"] != case.number("contraction") * _opening(case):
        return "a lip near the surface, where the jet contracts less, takes more steps than are laid out here"
    return ""


def _opening(case: Case) -> float:
    """What debris leaves of the opening [m]."""
    return case.number("opening_m") * (1.0 - case.number("blockage"))


def steps(case: Case, _structure: Gate) -> Iterator[Step]:
    """From the opening to the level upstream."""
    width, sill, opening = case.number("width_m"), case.number("sill_level_m"), _opening(case)
    channel, bed, level = (
        case.number("approach.section.width_m"),
        case.number("approach.bed_level_m"),
        case.found["level"],
    )
    yield Step("design flow", "Q", "from the study", "", case.flow, "m³/s")
    yield Step("level just downstream", "zd", "from the reach or the tailwater below", "", case.below, "m")
    left = f"{six(case.number('opening_m'))} \u00d7 (1 \u2212 {six(case.number('blockage'))})"
    yield Step("opening that debris leaves", "a", "a0 (1 \u2212 B)", left, opening, "m")
    jet = case.number("contraction") * opening
    yield Step("depth of the jet", "yj", "Cc a", f"{six(case.number('contraction'))} \u00d7 {six(opening)}", jet, "m")
    velocity = case.flow / (width * jet)
    numbers = f"{six(case.flow)} / ({six(width)} \u00d7 {six(jet)})"
    yield Step("velocity of the jet", "vj", "Q / (b yj)", numbers, velocity, "m/s")
    energy = sill + jet + velocity**2 / (2.0 * GRAVITY)
    numbers = f"{six(sill)} + {six(jet)} + {six(velocity)}^2 / {six(2.0 * GRAVITY)}"
    yield Step("energy level of the jet, which the water upstream has", "e", "zs + yj + vj² / 2g", numbers, energy, "m")
    approach = case.flow / (channel * (level - bed))
    numbers = f"{six(case.flow)} / ({six(channel)} \u00d7 ({six(level)} \u2212 {six(bed)}))"
    yield Step("velocity upstream, at the level found", "v1", "Q / (B (z \u2212 zb))", numbers, approach, "m/s")
    numbers = f"{six(energy)} \u2212 {six(approach)}^2 / {six(2.0 * GRAVITY)}"
    yield Step("level upstream", "z", "e \u2212 v1² / 2g", numbers, energy - approach**2 / (2.0 * GRAVITY), "m")
