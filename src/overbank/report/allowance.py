"""The allowance in every reading: a paragraph for a design report, and tables over targets, floods and models."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from markupsafe import Markup

from overbank.analysis.intervals import Estimate, over_replicates
from overbank.outputs.allowances import Readings
from overbank.outputs.outcome import Outcome
from overbank.report.readings import Reach, allowance_reach, blocked_words
from overbank.words import measure, rounded, share_words


class Line(NamedTuple):
    """One row: what it is about, then value and interval of each figure."""

    words: str
    figures: tuple[tuple[str, str], ...]


class Table(NamedTuple):
    """A table with its caption, the heads of its columns and its rows."""

    caption: str
    heads: tuple[str, ...]
    lines: tuple[Line, ...]


def statement(outcome: Outcome) -> Markup:
    """The allowance in one paragraph that can be pasted into a design report; empty without an uncertain blockage."""
    found, blocked = outcome.allowances, outcome.blockage
    if found is None or blocked is None or allowance_reach(outcome, blocked) is not Reach.WITHIN:
        return Markup("")
    own = next(each for each in found.assured if each.assurance == outcome.assurance)
    less, _, more = found.assumed
    template = (
        "A blockage of <strong>{}</strong> of {} (95\u00a0% interval of the sampling {}) is allowed for. Put into one "
        "ordinary calculation with every other number at its median, it gives {} ({}), the level upstream of {} that "
        "is not exceeded in the design flood with {} probability when roughness, coefficients, levels, flow and "
        "blockage are all as uncertain as stated. The allowance rests on the assumed distribution of the blockage: "
        "with half as much debris it would be {} ({}), with twice as much {} ({})."
    )
    said = Markup(template).format(
        rounded(own.allowance, "%").value,
        blocked_words(found.name),
        rounded(own.allowance, "%").interval,
        *rounded(own.level, "m"),
        outcome.place,
        share_words(outcome.assurance),
        *_allowed(less.allowance),
        *_allowed(more.allowance),
    )
    return Markup(" ").join((said, _beside(outcome, own.allowance), _fixed_beside(found)))


def _beside(outcome: Outcome, allowance: Estimate) -> Markup:
    """How often more than the allowance is met, and what it would mean were it always there."""
    blocked = outcome.blockage
    assert blocked is not None
    inputs = outcome.problem.inputs
    distribution = inputs.items[inputs.index(blocked.name)].distribution
    more = 1.0 - float(np.asarray(distribution.cdf(np.array([allowance.value])))[0])
    curve = blocked.fixed
    each = np.array([np.interp(allowance.value, curve.at, row) for row in curve.replicates])
    always = over_replicates(each, curve.method, (0.0, 1.0))
    template = (
        "By the assumed distribution, a flood brings more than that with a probability of {}; were it always as much, "
        "the water would go over the bank with a probability of {} (95\u00a0% interval {})."
    )
    return Markup(template).format(f"{100.0 * more:.2g}\u00a0%", *rounded(always, "p"))


def _fixed_beside(found: Readings) -> Markup:
    """The usual fixed allowances beside it."""
    template = "Fixed allowances of {} would give levels of one run that are exceeded with probabilities of {}."
    shares = (share_words(each.blockage) for each in found.fixed)
    exceeded = (rounded(each.exceeded, "p").value for each in found.fixed)
    return Markup(template).format(_listed(*shares), _listed(*exceeded))


def _listed(*words: str) -> str:
    return f"{', '.join(words[:-1])} and {words[-1]}"


def tables(outcome: Outcome) -> tuple[Table, ...]:
    """The readings; nothing without an uncertain blockage."""
    found = outcome.allowances
    if found is None:
        return ()
    return (_tolerated(found), _assured(found), _fixed(found), _assumed(found, outcome), _floods(found))


def _tolerated(found: Readings) -> Table:
    lines = tuple(Line(share_words(each.target), (_said(each.largest, "%"),)) for each in found.tolerated)
    head = ("accepted probability of overtopping", "largest blockage")
    return Table("Reading 1: the largest blockage that may always be there", head, lines)


def _assured(found: Readings) -> Table:
    lines = tuple(
        Line(share_words(each.assurance), (_said(each.level, "m"), _allowed(each.allowance))) for each in found.assured
    )
    head = ("assurance", "level not exceeded", "blockage that gives it in one run")
    return Table("Reading 2: the one blockage that stands for all the uncertainty", head, lines)


def _fixed(found: Readings) -> Table:
    lines = tuple(
        Line(
            share_words(each.blockage),
            ((measure(each.level, "m"), "one run"), _said(each.exceeded, "p"), _said(each.overtopping, "p")),
        )
        for each in found.fixed
    )
    head = ("fixed allowance", "level of one run", "the water stands higher", "overtopping, were it always so")
    return Table("Reading 3: what an allowance fixed beforehand means", head, lines)


def _assumed(found: Readings, outcome: Outcome) -> Table:
    lines = tuple(
        Line(each.words, (_said(each.probability, "p"), _said(each.level, "m"), _allowed(each.allowance)))
        for each in found.assumed
    )
    assurance = share_words(outcome.assurance)
    head = ("blockage model", "overtopping", f"level, {assurance} assurance", f"allowance, {assurance} assurance")
    return Table("How the answer moves with the model of the blockage", head, lines)


def _floods(found: Readings) -> Table:
    shares = tuple(found.floods[0].levels)
    lines = tuple(
        Line(
            f"{each.words}, {each.flow:.3g}\u00a0m³/s",
            tuple((measure(level, "m") if math.isfinite(level) else "no way", "") for level in each.levels.values()),
        )
        for each in found.floods
    )
    head = ("flood", *(f"{100.0 * share:.0f}\u00a0% blocked" for share in shares))
    return Table("Levels of one run at fixed blockages, every other number at its median", head, lines)


def _allowed(allowance: Estimate) -> tuple[str, str]:
    """A blockage; where none gives the level, that is said and why."""
    return _said(allowance, "%")


def _said(estimate: Estimate, unit: str) -> tuple[str, str]:
    said = rounded(estimate, unit)
    return said.value, said.interval
