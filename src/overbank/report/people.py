"""People at the culverts and bridges: rows of text, ready for the page. Figures and facts, never verdicts."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import NamedTuple

from overbank.analysis.intervals import Estimate
from overbank.analysis.overtopping import Probability
from overbank.hydraulics.hazard import rating_classes
from overbank.hydraulics.tables import read_table
from overbank.outputs.outcome import Outcome
from overbank.outputs.people import Hazard, People, PeopleFigure, RakingFacts
from overbank.report.readings import two_figures
from overbank.site.people import BARREL, SCREEN
from overbank.words import Rounded, rounded

SPACE = "\u00a0"

SIDES = {SCREEN: "Held on the bars", BARREL: "Carried through the barrel"}
"""Titles of the two sides that stand next to each other."""


class FigureLine(NamedTuple):
    """One figure: at the medians, and its 5, 50 and 95 % values, each with the interval of the sampling."""

    words: str
    certain: str
    quantiles: tuple[Rounded, ...]
    span: str


class Side(NamedTuple):
    """The figures of one side; none on the bars where there are no bars."""

    title: str
    lines: tuple[FigureLine, ...]


class ClassLine(NamedTuple):
    """A line of a table of classes: what it tells, and its figure at every place."""

    words: str
    cells: tuple[Rounded, ...]


class Classes(NamedTuple):
    """A published system of classes: places across, what is dry and the classes down."""

    title: str
    places: tuple[str, ...]
    lines: tuple[ClassLine, ...]
    source: str


class PeopleGroup(NamedTuple):
    """Everything about people at one culvert."""

    element: str
    sides: tuple[Side, ...]
    full: str  # empty at a bridge, which has no barrel
    rating: Classes
    second: str
    raking: tuple[str, ...]
    taken: tuple[str, ...]


def people(outcome: Outcome) -> tuple[PeopleGroup, ...]:
    """Every culvert and bridge, going upstream."""
    return tuple(_group(each) for each in outcome.people)


def _group(found: People) -> PeopleGroup:
    row, full = read_table("hazard_classes")[0], ""
    if found.full is not None:
        full = "{} ({})".format(*rounded(found.full, "p"))
    return PeopleGroup(
        element=found.element,
        sides=tuple(Side(title, tuple(_lines(found, side))) for side, title in SIDES.items() if found.figures),
        full=full,
        rating=_ratings(found),
        second=f"{row['source']}: {row['how_known']}",
        raking=() if found.raking is None else tuple(raking_facts(found.raking)),
        taken=tuple(f"{what}: {basis}" for what, basis in found.taken.items()),
    )


def _lines(found: People, side: str) -> Iterator[FigureLine]:
    for each in found.figures:
        if each.side == side:
            yield _line(each)


def _line(each: PeopleFigure) -> FigureLine:
    quantiles = tuple(said(quantile, each.unit) for quantile in each.quantiles.values())
    low, high = quantiles[0].value, quantiles[-1].value
    span = low if low == high else f"{_bare(low, high)} to {high}"
    return FigureLine(each.words, measured(each.certain, each.unit), quantiles, span)


def said(estimate: Estimate, unit: str) -> Rounded:
    """A figure of people with its interval."""
    value = measured(estimate.value, unit)
    if math.isnan(estimate.low) or math.isnan(estimate.high):
        return Rounded(value, "none can be given")
    low, high = measured(estimate.low, unit), measured(estimate.high, unit)
    return Rounded(value, "" if low == high else f"{_bare(low, high)} to {high}")


def _bare(low: str, high: str) -> str:
    """The lower end without its unit where the upper one bears the same."""
    number, _, unit = low.partition(SPACE)
    return number if unit and high.endswith(f"{SPACE}{unit}") else low


def measured(number: float, unit: str) -> str:
    """Two digits that count, lengths and heights in centimetres; words where there is no end to it."""
    if math.isnan(number):
        return "no solution"
    if math.isinf(number):
        return "not known" if number < 0.0 else "nothing passes" if unit == "s" else "endless"
    shown = f"{number:.2f}" if unit == "m" else two_figures(number)
    return f"{shown}{SPACE}{unit}" if unit else shown


def _ratings(found: People) -> Classes:
    """The hazard rating itself, then its classes."""
    row, hazards = read_table("hazard_ratings")[0], found.hazards
    quantiles = [
        ClassLine(
            f"rating not exceeded with {100.0 * share:g}{SPACE}%",
            tuple(said(each.rating[share], "") for each in hazards),
        )
        for share in hazards[0].rating
    ]
    shares = _class_lines(hazards)
    source = (
        f"Rating d (v + 0.5) + DF with depth d, velocity v and debris factor DF of {found.land_use} land, by "
        f"{row['source']}, bounds of the {found.edition}: {row['how_known']}. "
        "A rating on a bound takes the worse class."
    )
    return Classes("Hazard rating", _places(found), (*quantiles, *shares), source)


def _places(found: People) -> tuple[str, ...]:
    return tuple(each.place for each in found.hazards)


def _class_lines(hazards: tuple[Hazard, ...]) -> tuple[ClassLine, ...]:
    """What is dry, then every class from least to worst."""
    dry = ClassLine("no water there", tuple(rounded(_others(each.wet), "p") for each in hazards))
    classes = [
        ClassLine(kind.words, tuple(rounded(each.ratings[kind.id], "p") for each in hazards))
        for kind in rating_classes()
    ]
    return (dry, *classes)


def _others(share: Probability) -> Estimate:
    """The share of the samples that are left."""
    return Estimate(1.0 - share.value, 1.0 - share.high, 1.0 - share.low, share.method)


def raking_facts(facts: RakingFacts) -> Iterator[str]:
    """What is known of raking the bars by hand, one fact a line; what is not stated is named as such."""
    yield f"The bars stand at {facts.inclination_deg:.3g}° above the horizontal."
    yield f"They are {facts.height_m:.2f}{SPACE}m high upright, {facts.along_bars_m:.2f}{SPACE}m along the bars."
    if facts.cross_bars is None:
        yield "Whether bars run across, where a rake catches, is not stated."
    else:
        yield "Bars run across, where a rake catches." if facts.cross_bars else "No bars run across."
    if facts.platform_level_m is None or facts.to_foot_m is None or facts.platform_wet is None:
        yield "The level of a platform to rake from is not stated."
    else:
        wet = rounded(facts.platform_wet, "p")
        yield (
            f"The platform stands at {facts.platform_level_m:.2f}{SPACE}m, along the bars "
            f"{facts.to_foot_m:.2f}{SPACE}m above their foot. "
            f"The water before them stands above the platform with {wet.value} ({wet.interval})."
        )
    if facts.rake_length_m is None:
        yield "How far a rake reaches is not stated."
    else:
        yield f"A rake reaches {facts.rake_length_m:.2f}{SPACE}m along the bars{_short_by(facts)}."


def _short_by(facts: RakingFacts) -> str:
    """What a rake leaves out of reach at the foot of the bars."""
    if facts.to_foot_m is None or facts.rake_length_m is None:
        return ""
    left = facts.to_foot_m - facts.rake_length_m
    return f"; the lowest {left:.2f}{SPACE}m are out of its reach" if left >= 0.005 else ", down to their foot"


CAUTIONS = (
    "No force from which a person can free himself is known here, and none is given.",
    "The force of the head difference takes the whole difference over the whole area; it is less where the body covers "
    "gaps above the water behind. It needs no velocity: blocked bars hold harder than clean ones.",
    "Hazard ratings and classes were made for flood plains and for people in good health: before bars or an inlet the "
    "depth alone usually gives the worst class, and dark, cold, uneven or slippery ground and debris make water unsafe "
    "sooner.",
    "Over a road or deck the water is taken at critical depth on a level crown, or as deep as the water below; over "
    "the bank as over a broad crest, with a level from which nothing has yet run off. Parapets are not in it.",
    "Where the inlet governs, the flow in the barrel is shallower and faster than the profile from the outlet, on "
    "which the time and the air stand. Relief barrels are not looked at.",
    "Bends, darkness, drops, gas, a smaller section further in and what closes the outlet are not in these figures, "
    "nor how many people, and how many of them children, come near.",
)
"""What a reader of these figures must know."""
