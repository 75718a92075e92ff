"""The flood in time: rows of text, and its two pictures."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from markupsafe import Markup
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.ticker import FuncFormatter

from overbank.outputs.outcome import Outcome
from overbank.outputs.over_capacity import OverCapacity
from overbank.outputs.passed_floods import Passed
from overbank.outputs.through_flood import ThroughFlood
from overbank.outputs.years_in_time import YearsInTime
from overbank.report.marks import key_at_foot
from overbank.report.readings import bank_levels, from_last_nought
from overbank.report.style import (
    DEBRIS,
    DEBRIS_PALE,
    EARTH,
    INK,
    RULE,
    STONE,
    STONE_PALE,
    WATER,
    WATER_PALE,
    WIDTH,
    axes_at,
    drawn,
    percent,
    sheet,
    write,
)
from overbank.words import Rounded, change, rounded, scaled, share_words


class Line(NamedTuple):
    """A figure in words, and its value with and without a crew; one cell where there is no crew."""

    words: str
    cells: tuple[Rounded, ...]


class Arranged(NamedTuple):
    """An arrangement on the same floods; without a warning where it has no crew."""

    name: str
    over: Rounded
    change: Rounded
    hours: Rounded
    removed: Rounded | None
    warning: Rounded | None
    in_time: Rounded | None


FIGURES = {
    "median_highest_level_m": ("highest level, median", "m"),
    "median_hours_after_peak": ("it comes after the peak of the flow, median", "hours"),
    "mean_hours_over_bank": ("time over the bank, mean of all floods", "hours"),
    "assured_hours_over_bank": ("time over the bank, with {share} assurance", "hours"),
    "mean_volume_over_bank_m3": ("volume above the capacity, mean of all floods", "m³"),
    "assured_volume_over_bank_m3": ("volume above the capacity, with {share} assurance", "m³"),
    "median_most_blocked": ("the most that is ever blocked, median", "%"),
    "assured_most_blocked": ("the most that is ever blocked, with {share} assurance", "%"),
    "median_hours_most_blocked_after_peak": ("that is first so after the peak of the flow, median", "hours"),
}
"""Name of a figure -> its words and its unit; those of what is blocked stand where the flood brings debris."""


def through_of(outcome: Outcome) -> ThroughFlood:
    """The flood in time of a study that gives its debris."""
    assert outcome.through_flood is not None
    return outcome.through_flood


def sentences(outcome: Outcome) -> list[Markup]:
    """Of the answer: what the steady figures before it leave out, and the flood in time; nothing without one."""
    through = outcome.through_flood
    if through is None:
        return []
    written, best = outcome.study.content.flow, through.best
    changes = (
        (written.debris, "what is blocked when the flood begins", "debris coming on"),
        (written.pool, "nothing stored", "the pool filling"),
        (written.crew, "nobody at work", "the crew coming as stated"),
    )
    steady, in_time = (" and ".join(words) for words in zip(*(each for given, *each in changes if given), strict=True))
    template = (
        "These are steady figures, with {}. <strong>Passed in time</strong>, with {}, the flood goes over the "
        "bank with a probability of <strong>{}</strong> (95\u00a0% interval {})"
    )
    said = Markup(template).format(steady, in_time, *rounded(best.over, "p"))
    if math.isfinite(best.level.value):
        below = Markup(", and with {} assurance stays below <strong>{}</strong> ({})")
        said += below.format(share_words(outcome.assurance), *rounded(best.level, "m"))
    if outcome.years_in_time is not None:
        yearly = Markup("; the floods of a year so passed go over with <strong>{}</strong> ({})")
        said += yearly.format(*rounded(outcome.years_in_time.probability, "p"))
    return [said + "."]


def ways(found: ThroughFlood) -> tuple[tuple[str, Passed], ...]:
    """Nobody at work, and the crew of the study."""
    crew = () if found.crew is None else (("with the crew", found.crew),)
    return (("nobody at work", found.nobody), *crew)


def lines(outcome: Outcome) -> Iterator[Line]:
    """The figures of the floods, each way."""
    found, share = through_of(outcome), share_words(outcome.assurance)
    each = [passed for _, passed in ways(found)]
    words = f"probability of going over the bank at {outcome.place}, at any moment"
    yield Line(words, tuple(rounded(passed.over, "p") for passed in each))
    yield Line(f"highest level, with {share} assurance", tuple(rounded(passed.level, "m") for passed in each))
    for name, (told, unit) in FIGURES.items():
        if name not in found.nobody.figures:
            continue
        cells = (passed.figures[name] for passed in each)
        said = (rounded(cell, unit) if unit in ("m", "%") else scaled(cell, 1.0, unit) for cell in cells)
        yield Line(told.format(share=share), tuple(said))


def steady_lines(outcome: Outcome) -> Iterator[tuple[str, Rounded, Rounded, Rounded]]:
    """What steady runs at the peak give: words, probability, level, and how far the flood in time stands above."""
    for each in through_of(outcome).steady:
        yield each.words, rounded(each.over, "p"), rounded(each.level, "m"), change(each.missed, "m")


def arranged(outcome: Outcome) -> Iterator[Arranged]:
    """The alternatives that have debris in time."""
    for each in through_of(outcome).policies:
        hours = change(each.change_of_hours, "hours")
        removed = None if each.removed is None else scaled(each.removed, 1e5, "points", 2)
        warned = each.warned
        warning = None if warned is None else scaled(warned.hours[0.5], 1.0, "hours")
        in_time = None if warned is None else rounded(warned.in_time, "p")
        yield Arranged(each.name, rounded(each.over, "p"), change(each.change, "p"), hours, removed, warning, in_time)


def warned_lines(outcome: Outcome) -> Iterator[tuple[str, Rounded]]:
    """From the call to the bank; none where there is no crew."""
    warned = through_of(outcome).warned
    if warned is None:
        return
    for share, hours in warned.hours.items():
        yield f"warning time, not exceeded with {share_words(share)}", scaled(hours, 1.0, "hours")
    yield "warning time, mean", scaled(warned.mean, 1.0, "hours")
    yield "the crew of the study works before the bank is reached", rounded(warned.in_time, "p")


def travel_lines(outcome: Outcome) -> Iterator[tuple[str, Rounded, Rounded]]:
    """Travel times, how often the crew works before the bank is reached, and how often the water goes over it."""
    found = through_of(outcome).by_travel
    if found is not None:
        for travel, share in found.in_time.items():
            yield f"{travel:g}", rounded(share, "p"), rounded(found.over[travel], "p")


def travels(outcome: Outcome) -> dict[str, list[tuple[str, str]]]:
    """Texts by the places of the slider of the travel time, each with its interval."""
    rows = list(travel_lines(outcome))
    return {
        "words": [(f"{travel} hours", "") for travel, _, _ in rows],
        "in_time": [(share.value, share.interval) for _, share, _ in rows],
        "over": [(over.value, over.interval) for _, _, over in rows],
    }


def own_travel(outcome: Outcome) -> int:
    """Place of the slider that is nearest to the travel time of the study at its median."""
    crew, found = outcome.study.content.flow.crew, through_of(outcome).by_travel
    if crew is None or found is None:
        return 0
    return int(np.argmin([abs(hours - crew.travel_hours.median) for hours in found.in_time]))


def pool_lines(outcome: Outcome) -> Iterator[tuple[str, Rounded]]:
    """What the pool does; none where the study has none."""
    stored, share = through_of(outcome).stored, share_words(outcome.assurance)
    if stored is None:
        return
    for part, each in stored.share.items():
        yield (
            f"storage up to the bank over the volume of the flood, not exceeded with {share_words(part)}",
            rounded(each, "%"),
        )
    yield "without the pool: probability of going over the bank", rounded(stored.over, "p")
    yield f"without the pool: highest level, with {share} assurance", rounded(stored.level, "m")
    yield "the pool lowers the highest level by, mean", change(stored.lowered, "m")
    yield "and delays it by, mean", scaled(stored.later, 1.0, "hours", 2)


def year_lines(found: YearsInTime) -> Iterator[tuple[str, Rounded]]:
    """The floods of a year, passed in time."""
    yield "the water goes over the bank in a year", rounded(found.probability, "p")
    if found.nobody is not None:
        yield "the same with nobody at work and no pool", rounded(found.nobody, "p")
    if found.life is not None:
        yield f"at least once in {found.life.years} years", rounded(found.life.probability, "p")
    for hours, each in found.lasting.items():
        if each.value > 0.0:
            yield f"it stands over the bank for more than {hours:g} h, in a year", rounded(each, "p")
    yield "time over the bank in a year, mean of all years", scaled(found.hours, 1.0, "hours", 2)
    yield "time over the bank of a flood that goes over, mean", scaled(found.of_one, 1.0, "hours", 1)
    yield "volume over the bank in a year, mean of all years", scaled(found.volume, 1.0, "m³", 0)


def capacity_lines(found: OverCapacity) -> Iterator[tuple[str, Rounded]]:
    """Time and volume above the capacity with the blockage as it was sampled."""
    for share, hours in from_last_nought(found.hours).items():
        yield f"time above the capacity, not exceeded with {share_words(share)}", scaled(hours, 1.0, "hours")
    yield "time above the capacity, mean of all floods", scaled(found.mean, 1.0, "hours", 2)
    yield "volume above the capacity, mean of all floods", scaled(found.volume, 1.0, "m³", 0)


def has_course(outcome: Outcome) -> bool:
    """Whether some moment of the flood has a level."""
    return bool(np.isfinite(through_of(outcome).course.level).any())


LEFT, RIGHT, PANEL, GAP, FOOT = 0.66, 0.2, 1.1, 0.36, 0.95
"""Margins, height of a panel, room between two and below the last [in]."""


@drawn
def course_of_flood(outcome: Outcome) -> Figure:
    """Level, flow and, where anything can be blocked, blockage from moment to moment: the median and the band."""
    through = through_of(outcome)
    course, blocked = through.course, ("blocked share", through.course.blockage, DEBRIS, DEBRIS_PALE)
    panels = (
        *(() if through.name is None else (blocked,)),
        ("flow [m³/s]", course.flow, STONE, STONE_PALE),
        (f"level upstream of {outcome.place} [m]", course.level, WATER, WATER_PALE),
    )
    figure = sheet(FOOT + len(panels) * (PANEL + GAP) + 0.05)
    for place, (words, values, colour, pale) in enumerate(panels):
        bottom = FOOT + place * (PANEL + GAP)
        axes = axes_at(figure, LEFT, bottom, WIDTH - LEFT - RIGHT, PANEL)
        write(figure, 0.05, bottom + PANEL + 0.1, words, color=INK)
        axes.fill_between(course.hours, values[0], values[2], color=pale, linewidth=0.0, zorder=2.0)
        axes.plot(course.hours, values[1], color=colour, linewidth=1.6, zorder=3.0)
        axes.set_xlim(0.0, course.hours[-1])
        if values is course.blockage:
            _of_shares(axes)
        axes.grid(axis="y", color=RULE, linewidth=0.6)
        if place:
            axes.tick_params(labelbottom=False)
        else:
            axes.set_xlabel("hours from the beginning of the rise", labelpad=4.0)
    axes.axhline(float(np.median(bank_levels(outcome))), color=EARTH, linewidth=1.0, linestyle="--", zorder=4.0)
    handles = [
        Line2D([], [], color=STONE, linewidth=1.6, label="median of the samples at each moment"),
        Patch(color=STONE_PALE, label="5 to 95 % of them"),
        Line2D([], [], color=EARTH, linewidth=1.0, linestyle="--", label="median bank"),
    ]
    key_at_foot(figure, handles, 3)
    return figure


@drawn
def warning_by_travel(outcome: Outcome) -> Figure:
    """How often the crew is in time, and how often the water goes over the bank, by its travel time."""
    found = through_of(outcome).by_travel
    assert found is not None
    figure = sheet(3.5)
    axes = axes_at(figure, LEFT, 0.95, WIDTH - LEFT - RIGHT, 2.2)
    write(figure, 0.05, 3.26, "share of the floods", color=INK)
    rows = ((found.in_time, WATER, WATER_PALE), (found.over, DEBRIS, DEBRIS_PALE))
    for shares, colour, pale in rows:
        hours, each = np.array(list(shares)), tuple(shares.values())
        axes.fill_between(hours, [e.low for e in each], [e.high for e in each], color=pale, linewidth=0.0, zorder=2.0)
        axes.plot(hours, [e.value for e in each], color=colour, linewidth=1.6, marker="o", markersize=3.5, zorder=3.0)
    axes.set_xlim(0.0, max(found.in_time))
    _of_shares(axes)
    axes.grid(axis="y", color=RULE, linewidth=0.6)
    axes.set_xlabel("travel time of the crew [hours]", labelpad=4.0)
    handles = [
        Line2D([], [], color=WATER, linewidth=1.6, label="at work before the bank is reached, of those that reach it"),
        Line2D([], [], color=DEBRIS, linewidth=1.6, label="over the bank, of all"),
    ]
    key_at_foot(figure, handles, 2)
    return figure


@drawn
def hours_over_bank(outcome: Outcome) -> Figure:
    """Probability that the water stands over the bank for longer than so many hours."""
    curve = through_of(outcome).best.hours_over
    figure = sheet(3.4)
    axes = axes_at(figure, LEFT, 0.62, WIDTH - LEFT - RIGHT, 2.4)
    write(figure, 0.05, 3.16, "probability that the water stands over the bank for longer", color=INK)
    axes.fill_between(curve.at, curve.low, curve.high, color=WATER_PALE, linewidth=0.0, zorder=2.0)
    axes.plot(curve.at, curve.probability, color=WATER, linewidth=1.6, zorder=3.0)
    axes.set_xlim(0.0, curve.at[-1])
    axes.set_ylim(0.0, max(1.05 * float(np.max(curve.high)), 0.01))
    axes.yaxis.set_major_formatter(FuncFormatter(percent))
    axes.grid(axis="y", color=RULE, linewidth=0.6)
    axes.set_xlabel("hours", labelpad=4.0)
    return figure


def _of_shares(axes: Axes) -> None:
    axes.set_ylim(0.0, 1.02)
    axes.yaxis.set_major_formatter(FuncFormatter(percent))
