"""Which survey would be worth its cost: tables, what to make of them, and a figure of what each one narrows."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.ticker import FuncFormatter, MaxNLocator

from overbank.analysis.information import Worth
from overbank.analysis.intervals import Estimate
from overbank.analysis.survey import Narrowing
from overbank.outputs.outcome import Outcome
from overbank.outputs.surveys import Surveys, WorthOfKnowing
from overbank.report.marks import key_at_foot
from overbank.report.names import plain_name
from overbank.report.ranking import GAP, NAMES, RIGHT, ROW, label_rows
from overbank.report.readings import QUOTE, share_of
from overbank.report.style import (
    DEBRIS,
    DEBRIS_PALE,
    INK,
    RULE,
    SIZE,
    STONE,
    WATER,
    WATER_PALE,
    WIDTH,
    axes_at,
    drawn,
    percent,
    sheet,
)
from overbank.words import Rounded, scaled

UNIT_OF_COST = 1000.0
"""What a survey narrows is also given for so much money."""


class SurveyLine(NamedTuple):
    """One survey on offer: what it narrows, and the worth of its result where the study speaks of money."""

    path: str
    words: str
    cost: str
    narrowing: Rounded
    probability: Rounded
    per_cost: tuple[str, str]
    worth: Rounded | None


class WorthLine(NamedTuple):
    """What knowing an input exactly is worth."""

    path: str
    words: str
    worth: Rounded


def surveys_of(outcome: Outcome) -> Surveys:
    """Of a study that offers surveys or speaks of money."""
    assert outcome.surveys is not None
    return outcome.surveys


def lines(outcome: Outcome) -> tuple[SurveyLine, ...]:
    """The surveys on offer, the one that narrows the level most for its cost first."""
    found = outcome.surveys
    if found is None:
        return ()
    worths = {} if found.worth is None else {each.input: each for each in found.worth.surveys}
    return tuple(_line(each, worths.get(each.input)) for each in found.narrowings)


def _line(found: Narrowing, worth: Worth | None) -> SurveyLine:
    return SurveyLine(
        found.input,
        plain_name(found.input).in_full,
        f"{found.cost:,.6g}",
        scaled(found.narrowing, 1000.0, "mm"),
        scaled(found.probability_spread, 100.0, "points", 2),
        _for_cost(found),
        None if worth is None else _worth(worth),
    )


def _for_cost(found: Narrowing) -> tuple[str, str]:
    """What a survey narrows, and how far it may move the probability, for so much money."""
    if found.cost == 0.0:
        return "free", ""
    return (
        scaled(found.per_cost, 1000.0 * UNIT_OF_COST, "mm").value,
        scaled(found.spread_per_cost, 100.0 * UNIT_OF_COST, "points", 2).value,
    )


def _worth(found: Worth) -> Rounded:
    """In money, with the interval, or with words where that would say too much."""
    if found.idle:
        return Rounded("0", "no decision would change")
    if found.words:
        most = scaled(Estimate(found.by_chance, 0.0, found.by_chance, ""), 1.0, "", 0).value
        return Rounded("not told from 0", f"chance alone gives up to {most}")
    return scaled(found.worth, 1.0, "", 0)


def worth_lines(outcome: Outcome) -> tuple[WorthLine, ...]:
    """The inputs whose worth can be told from 0, the one most worth knowing first."""
    return tuple(
        WorthLine(each.input, plain_name(each.input).in_full, _worth(each))
        for each in _inputs(outcome)
        if not each.words
    )


def not_on_offer(outcome: Outcome) -> str:
    """That what drives the level most is in none of the surveys; empty where it is, or where that is not known."""
    level = None if outcome.drivers is None else outcome.drivers.level
    if level is None or not surveys_of(outcome).narrowings:
        return ""
    names = outcome.problem.inputs.names
    shares = {name: share_of(level.table, name, "total").value for name in names}
    most = max(shares, key=shares.__getitem__)
    if any(line.input == most for line in surveys_of(outcome).narrowings):
        return ""
    known = plain_name(most)
    return (
        f"None of these surveys is of what drives the level most: {known.in_full} of {QUOTE.format(known.group)}, "
        f"{100.0 * shares[most]:.0f}\u00a0% of its variance with joint effects. What they narrow is the rest."
    )


def worth_notes(outcome: Outcome) -> tuple[str, ...]:
    """The other inputs, by what is to be made of them."""
    found: dict[Rounded, list[str]] = {}
    for each in _inputs(outcome):
        if each.words:
            found.setdefault(_worth(each), []).append(each.input)
    return tuple(
        f"{said.value[0].upper()}{said.value[1:]}, {said.interval}: {', '.join(names)}."
        for said, names in found.items()
    )


def _inputs(outcome: Outcome) -> tuple[Worth, ...]:
    """Nothing where the study says nothing of money."""
    return () if outcome.surveys is None or outcome.surveys.worth is None else outcome.surveys.worth.inputs


def choice_words(outcome: Outcome) -> str:
    """The better choice today and the worth of knowing everything; empty where the study says nothing of money."""
    worth = None if outcome.surveys is None else outcome.surveys.worth
    if worth is None:
        return ""
    decision, gain, everything = worth.decision, *_gains(worth)
    note = f" ({decision.note})" if decision.note else ""
    return (
        f"Overtopping in the design flood loses {worth.loss:,.6g}; acting costs {worth.cost:,.6g} and is taken to "
        f"prevent it. With what is known today the better choice is: {decision.better}. Acting gains {gain.value} on "
        f"average ({gain.interval}). Knowing every input before deciding would be worth {everything.value} "
        f"({everything.interval}){note}: no survey, and not all of them together, can be worth more."
    )


def _gains(worth: WorthOfKnowing) -> tuple[Rounded, Rounded]:
    return scaled(worth.decision.gain, 1.0, "", 0), scaled(worth.decision.everything, 1.0, "", 0)


@drawn
def surveys(outcome: Outcome) -> Figure:
    """Left the band of levels today and after each survey, right how far the survey may move the probability."""
    found = surveys_of(outcome).narrowings
    rows = max(len(found), 2)
    bottom, above = 0.95, 0.32
    figure = sheet(bottom + rows * ROW + above)
    width = (WIDTH - NAMES - GAP - RIGHT) / 2.0
    panels = []
    for place, title in enumerate(("width of the 90 % band of levels", "probability of overtopping")):
        axes = axes_at(figure, NAMES + place * (width + GAP), bottom, width, rows * ROW)
        axes.set_title(title, loc="left", fontsize=SIZE, color=INK, pad=7.0)
        axes.set_ylim(rows - 0.5, -0.5)
        axes.set_yticks([])
        axes.spines["left"].set_visible(False)
        axes.grid(axis="x", color=RULE, linewidth=0.6)
        axes.xaxis.set_major_locator(MaxNLocator(4))
        panels.append(axes)
    _bands(panels[0], found)
    _probabilities(panels[1], found, outcome)
    label_rows(figure, [each.input for each in found], bottom + rows * ROW)
    _key(figure)
    return figure


def _bands(axes: Axes, found: tuple[Narrowing, ...]) -> None:
    for row, each in enumerate(found):
        axes.barh(row, each.band_before.value, height=0.62, color=WATER_PALE, linewidth=0.0, zorder=2.0)
        axes.barh(row, each.band_after.value, height=0.3, color=WATER, linewidth=0.0, zorder=3.0)
    axes.set_xlim(0.0, 1.08 * max(each.band_before.value for each in found))
    axes.set_xlabel("[m]", fontsize=SIZE, labelpad=2.0, loc="left")


def _probabilities(axes: Axes, found: tuple[Narrowing, ...], outcome: Outcome) -> None:
    """The probability today and one standard deviation to either side; the target where it is near."""
    today = outcome.overtopping.best.value
    spreads = np.array([each.probability_spread.value for each in found])
    low, high = np.maximum(today - spreads, 0.0), np.minimum(today + spreads, 1.0)
    axes.barh(range(len(found)), high - low, left=low, height=0.3, color=DEBRIS, linewidth=0.0, zorder=3.0)
    axes.axvline(today, color=DEBRIS_PALE, linewidth=2.2, zorder=2.0)
    axes.axvline(outcome.target, color=STONE, linewidth=1.2, linestyle="--", zorder=2.5)
    ends = [float(low.min()), float(high.max()), today, outcome.target]
    margin = 0.08 * max(max(ends) - min(ends), 0.01)
    axes.set_xlim(max(0.0, min(ends) - margin), min(1.0, max(ends) + margin))
    axes.xaxis.set_major_formatter(FuncFormatter(percent))


def _key(figure: Figure) -> None:
    handles: list[Artist] = [
        Patch(color=WATER_PALE, label="band today"),
        Patch(color=WATER, label="on average after the survey"),
        Line2D([], [], color=DEBRIS_PALE, linewidth=2.2, label="probability today"),
        Patch(color=DEBRIS, label="how far the survey may move it"),
        Line2D([], [], color=STONE, linewidth=1.2, linestyle="--", label="target"),
    ]
    key_at_foot(figure, handles, 3)
