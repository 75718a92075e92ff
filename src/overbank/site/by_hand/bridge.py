"""The run at the medians through a bridge, line by line: energy from below into the openings and on upstream."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import nan

import numpy as np

from overbank.constants import GRAVITY
from overbank.hydraulics import bridges, weirs
from overbank.hydraulics.approach import approach_level
from overbank.hydraulics.bridge_flow import well_drowned
from overbank.hydraulics.bridge_openings import JET_CONTRACTION
from overbank.hydraulics.bridges import Bridge as Openings
from overbank.hydraulics.bridges import Clear
from overbank.hydraulics.sections import area
from overbank.hydraulics.uniform import critical_depth
from overbank.site.bridge import Bridge
from overbank.site.by_hand import bridge_groups, crest_line
from overbank.site.by_hand.steps import Case, Step, channel_area, six
from overbank.site.sections import approach_parts, certain_section, opening_parts

SOURCES = (
    "energy with expansion and contraction losses as in common practice, coefficients as the register has them; sluice "
    "and orifice flow after TxDOT, Hydraulic Design Manual, chapter 9 section 4"
)


@dataclass(frozen=True)
class _Levels:
    """The case with its openings, and the levels that the program has found in them.

    through : flow through the openings [m3/s]
    inside : level in the openings; above : level upstream with a free surface [m]; choked : critical flow in them;
        not asked for of several groups
    """

    case: Case
    bridge: Bridge
    openings: Openings
    clear: Clear
    through: float
    inside: float
    above: float
    choked: bool


def _what_takes_more(case: Case, bridge: Bridge) -> str:
    """What the few steps do not cover; empty where they cover all."""
    if not bridge_groups.several(bridge):
        return ""
    if bridge_groups.not_free(case, bridge):
        return "several groups of openings, choked, under pressure or as wide as the channel,"
    return ""


def refusal(case: Case, bridge: Bridge) -> str:
    """Why the bridge cannot be worked by hand with these few steps; empty where it can."""
    if case.found["regime"] == bridges.SHUT_BRIDGE or case.found["opening_flow"] <= 0.0:
        return "with every number at its median nothing flows through the openings, so there is nothing to work"
    if bridge.survey is not None:
        return "a surveyed approach takes more steps than are laid out here"
    if more := _what_takes_more(case, bridge):
        return f"{more} take more steps than are laid out here"
    if bridge_groups.several(bridge):
        return ""
    held = _levels(case, bridge)
    depths = held.openings.approach_bed
    for level in (max(case.below, depths + 1e-9), held.above):
        if bridges.clear_area(held.clear, held.inside) > area(held.openings.approach, level - depths):
            return "the openings are wider than the channel, which takes more steps than are laid out here"
    return ""


def _levels(case: Case, bridge: Bridge) -> _Levels:
    through = case.found["opening_flow"]
    if bridge_groups.several(bridge):
        openings = bridge_groups.openings(case, bridge)
        return _Levels(case, bridge, openings, bridges.group_of(openings.groups, 0), through, nan, nan, False)
    group = bridge.groups[0]
    section = certain_section(opening_parts(case.numbers, f"{bridge.id}.opening", group.shape))
    factor = float(bridge.width_factor(case.numbers, f"{bridge.id}.opening", group.shape))
    main = bridges.Openings(section, case.number("opening.count"), factor, case.number("opening.bed_level_m"))
    factors = {name: float(np.asarray(value)) for name, value in bridge.coefficients(case.numbers).items()}
    blockage, pattern = case.number("blockage"), case.number("pattern")
    clear = bridges.cleared(main, blockage, pattern)
    openings = Openings(
        groups=bridges.side_by_side(clear),
        approach=certain_section(approach_parts(case.numbers, bridge.approach, bridge.approach_shape)),
        approach_bed=case.number("approach.bed_level_m"),
        contraction=factors["contraction"],
        expansion=case.number("expansion_loss"),
        sluice=factors["sluice"],
        orifice=factors["orifice"],
        afflux_factor=case.number("afflux_factor"),
    )
    around = bridges.around(openings, case.flow, case.below)
    alone = bridges.free_state(openings, around, clear, through, case.found["level"])
    return _Levels(case, bridge, openings, clear, through, alone.inside, alone.free, alone.control == bridges.CHOKED)


def steps(case: Case, bridge: Bridge) -> Iterator[Step]:
    """From the level below to the level upstream."""
    held = _levels(case, bridge)
    yield Step("design flow", "Q", "from the study", "", case.flow, "m³/s")
    yield Step("level just downstream", "zd", "from the reach or the tailwater below", "", case.below, "m")
    over = case.found["deck_flow"]
    formula = (
        "all of Q"
        if over == 0.0
        else "Q less what goes over deck and approaches, split at which both ask for one level"
    )
    yield Step("flow through the openings", "Qo", formula, f"{six(case.flow)} \u2212 {six(over)}", held.through, "m³/s")
    yield from _below(held)
    if bridge_groups.several(bridge):
        yield from bridge_groups.steps(case, bridge, _won(held))
    else:
        yield from _inside(held)
        yield from _upstream(held)
        yield from _pressure(held)
    yield from _deck(held)
    yield Step("level upstream", "z", "the level at which these flows pass", "", case.found["level"], "m")


def _start(held: _Levels) -> float:
    """The channel below is at critical depth at least."""
    b = held.openings
    return max(held.case.below, b.approach_bed + critical_depth(b.approach, held.case.flow))


def _won(held: _Levels) -> float:
    return max(1.0 - held.openings.afflux_factor * held.openings.expansion, 0.0)


def _below(held: _Levels) -> Iterator[Step]:
    """The channel below, and what of its energy is found in the openings."""
    b, start = held.openings, _start(held)
    depth = start - b.approach_bed
    yield Step("level that counts below", "z0", "zd, or critical depth in the channel if higher", "", start, "m")
    formula, numbers = channel_area(b.approach, depth)
    wet = area(b.approach, depth)
    yield Step("area of the channel below", "A0", f"{formula}, y = z0 \u2212 bed", numbers, wet, "m²")
    velocity = held.case.flow / wet
    yield Step("velocity there", "v0", "Q / A0", f"{six(held.case.flow)} / {six(wet)}", velocity, "m/s")
    expansion = f"1 \u2212 {six(b.afflux_factor)} \u00d7 {six(b.expansion)}"
    yield Step("share of velocity heads that counts below", "w", "1 \u2212 f Ce", expansion, _won(held), "")
    yield _head("head below", "E0", "z0 + w v0² / 2g", start, _won(held), velocity)


def _head(what: str, symbol: str, formula: str, level: float, share: float, velocity: float) -> Step:
    """A level and the share of the velocity head that counts there."""
    numbers = f"{six(level)} + {six(share)} \u00d7 {six(velocity)}^2 / {six(2.0 * GRAVITY)}"
    return Step(what, symbol, formula, numbers, level + share * velocity**2 / (2.0 * GRAVITY), "m")


def _inside(held: _Levels) -> Iterator[Step]:
    """The openings: the level that was found, and the head that it has."""
    c, inside = held.clear, held.inside
    wet = bridges.clear_area(c, inside)
    formula, numbers = "clear area of all openings below zo, from the program", ""
    if held.bridge.shapes[0] == "box":
        formula = "N s w y, y from bed to zo as far as debris and soffit leave it open, s for skew and debris"
        height = min(inside, c.soffit) - c.lip
        numbers = f"{six(c.many)} \u00d7 {six(c.section.width)} \u00d7 {six(height)}"
    how = "critical flow in the openings" if held.choked else "the higher of the two levels whose head is E0"
    yield Step("level in the openings", "zo", how, "", inside, "m")
    yield Step("area of the openings", "Ao", formula, numbers, wet, "m²")
    velocity = held.through / wet
    yield Step("velocity in them", "vo", "Qo / Ao", f"{six(held.through)} / {six(wet)}", velocity, "m/s")
    what = "the same head, asked for by critical flow" if held.choked else "the same head, to be held against E0"
    yield _head(what, "Eo", "zo + w vo² / 2g", inside, _won(held), velocity)


def _upstream(held: _Levels) -> Iterator[Step]:
    """From the openings into the channel above, with a free surface."""
    b, share = held.openings, 1.0 + held.openings.afflux_factor * held.openings.contraction
    velocity = held.through / bridges.clear_area(held.clear, held.inside)
    wet = area(b.approach, held.above - b.approach_bed)
    above = held.case.flow / wet
    factors = f"1 + {six(b.afflux_factor)} \u00d7 {six(b.contraction)}"
    yield Step("share of velocity heads that counts above", "u", "1 + f Cc", factors, share, "")
    yield _head("head before the openings", "E1", "zo + u vo² / 2g", held.inside, share, velocity)
    formula, numbers = channel_area(b.approach, held.above - b.approach_bed)
    yield Step(
        "level upstream with a free surface", "zf", "the higher of the two levels whose head is E1", "", held.above, "m"
    )
    yield Step("area of the channel above", "A1", f"{formula}, y = zf \u2212 bed", numbers, wet, "m²")
    yield Step("velocity there", "v1", "Q / A1", f"{six(held.case.flow)} / {six(wet)}", above, "m/s")
    yield _head("the same head, to be held against E1", "Ef", "zf + u v1² / 2g", held.above, share, above)


def _pressure(held: _Levels) -> Iterator[Step]:
    """Sluice and orifice flow, as far as the water stands above the soffit."""
    b, c, case = held.openings, held.clear, held.case
    height = c.soffit - c.bed
    past = (held.above - c.soffit) / (bridges.BLEND * height)
    if past <= 0.0:
        return
    yield from _formulas(held)
    x = min(past, 1.0)
    numbers = (
        "" if past >= 1.0 else f"({six(held.above)} \u2212 {six(c.soffit)}) / ({bridges.BLEND} \u00d7 {six(height)})"
    )
    yield Step("how far above the soffit", "x", "(zf \u2212 soffit) / (0.2 height), no more than 1", numbers, x, "")
    share = x * x * (3.0 - 2.0 * x)
    speed = case.flow / area(b.approach, held.above - b.approach_bed)
    alone = held.above + speed * speed / (2.0 * GRAVITY)
    added = max(bridges.pressure_energy(b, c, held.through, case.below) - alone, 0.0)
    head = f"{six(held.above)} + {six(speed)}^2 / {six(2.0 * GRAVITY)}"
    yield Step("energy with a free surface", "ef", "zf + v1² / 2g", head, alone, "m")
    energy = alone + share * added
    yield Step(
        "energy upstream",
        "e",
        "ef + x² (3 \u2212 2x) times what max(ep, min(es, max(ew, ej))) adds",
        f"{six(alone)} + {six(share)} \u00d7 {six(added)}",
        energy,
        "m",
    )
    level = approach_level(b.approach, b.approach_bed, None, case.flow, energy)
    yield Step("level through the openings", "zt", "the higher of the two levels whose energy is e", "", level, "m")


def _formulas(held: _Levels) -> Iterator[Step]:
    """Energy upstream by each of the pressure formulas."""
    b, c = held.openings, held.clear
    velocity = held.through / c.full
    found = bridges.pressure_levels(b, c, held.through, held.case.below)
    head = f"{six(b.afflux_factor)} \u00d7 {six(velocity)}^2 / {six(2.0 * GRAVITY)}"
    yield Step("velocity in full openings", "vf", "Qo / A", f"{six(held.through)} / {six(c.full)}", velocity, "m/s")
    for what, symbol, words, start, coefficient, energy in (
        ("sluice flow", "es", "middle of the openings + f vf² / (2g Cs²)", c.middle, b.sluice, found[0]),
        ("orifice flow", "ep", "zd + f vf² / (2g Cp²)", held.case.below, b.orifice, found[1]),
        ("orifice flow well drowned", "ew", "1.1 heights + f vf² / (2g Cp²)", well_drowned(c), b.orifice, found[2]),
        ("a jet without loss", "ej", "its surface + f vf² / (2g 0.61²)", c.jet, JET_CONTRACTION, found[3]),
    ):
        numbers = f"{six(start)} + {head} / {six(coefficient)}^2"
        yield Step(f"energy upstream by {what}", symbol, words, numbers, energy, "m")


def _deck(held: _Levels) -> Iterator[Step]:
    """The water over deck and approaches, where there is any."""
    case = held.case
    for crest, there, what in (
        ("deck", held.bridge.has_deck, "deck"),
        ("approach_road", held.bridge.has_approach_road, "approaches"),
    ):
        if not there:
            continue
        level, length, factor = (case.number(f"{crest}.{key}") for key in ("level_m", "length_m", "coefficient"))
        head = case.found["level"] - level
        if head <= 0.0:
            continue
        line = held.bridge.road_line if crest == "approach_road" else held.bridge.deck_line
        if line is not None:
            if case.below > level:
                yield from crest_line.drowned_parts(line.points, head, case.below - level, factor)
            else:
                yield from crest_line.parts(line.points, head, factor)
            continue
        drowned = weirs.road_drowning((case.below - level) / head)
        yield Step(
            f"flow over the {what}",
            "Qd",
            "kt C L h^1.5",
            f"{six(drowned)} \u00d7 {six(factor)} \u00d7 {six(length)} \u00d7 {six(head)}^1.5",
            weirs.road_flow(head, case.below - level, length, factor),
            "m³/s",
        )
