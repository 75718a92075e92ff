"""An authority's own figures set beside what the study has."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from overbank.analysis import by_blockage, overtopping
from overbank.analysis.intervals import Estimate
from overbank.findings.requirements import AskedFor, Beside, Required
from overbank.findings.water import Comparison
from overbank.site.design_checks import design_checks
from overbank.site.numbers import FLOW
from overbank.stages.answering import Answers
from overbank.stages.sampling import Array, Sampling
from overbank.study import requirements as asked
from overbank.study.requirements import SUBJECTS, RequiredLine

UPLIFTS = np.round(np.arange(-95, 301) / 100, 2)
"""Changes of the flow that are looked at, as shares of the design flow at the medians."""

BLOCKAGES = np.round(np.arange(101) / 100, 2)
"""Blockages that are looked at."""

HEIGHTS = ("freeboard_to_soffit_m", "air_gap_m")
"""Design checks that are a free height below a soffit."""

OPENINGS = ("diameter_m", "span_m", "rise_m")
"""Numbers of a barrel that are the size of its opening."""


@dataclass(frozen=True)
class _Run:
    """What the lines are read from."""

    answers: Answers
    comparison: Comparison | None

    @property
    def sampling(self) -> Sampling:
        return self.answers.sampling


@dataclass(frozen=True)
class _Has:
    """What the study has of a figure."""

    has: Estimate
    basis: str
    beside: tuple[Beside, ...] = ()


def requirements(answers: Answers, comparison: Comparison | None) -> AskedFor | None:
    """None where the study names no file."""
    named = answers.sampling.decision.requirements
    if named is None:
        return None
    run = _Run(answers, comparison)
    return AskedFor(named.authority, tuple(_line(run, line) for line in named.line))


def _line(run: _Run, line: RequiredLine) -> Required:
    found = READINGS[line.about](run, line.asked)
    return Required(
        name=line.name,
        about=line.about,
        unit=line.unit,
        reference=line.reference,
        asked=line.asked,
        at_least=SUBJECTS[line.about].at_least,
        has=found.has,
        basis=found.basis,
        beside=found.beside,
    )


def _once(value: float, method: str) -> Estimate:
    """A figure that no sampling scatters."""
    return Estimate(value, math.nan, math.nan, method, "not sampled")


def _nothing(why: str) -> _Has:
    return _Has(_once(math.nan, "none"), why)


def _flood(run: _Run, _: float) -> _Has:
    probability = run.sampling.study.content.flow.design_annual_probability
    if probability is None:
        return _nothing("the study gives the design flow itself, not its annual probability")
    return _Has(_once(probability, "the study"), "annual probability of the design flow, from the study")


def _overtopping(run: _Run, _: float) -> _Has:
    return _Has(run.answers.overtopping.best, "probability of overtopping in the design flood")


def _uplift(run: _Run, asked_for: float) -> _Has:
    """The largest uplift with which one run stays below the bank; and overtopping with that asked for."""
    sampling, model = run.sampling, run.sampling.model
    rows = np.repeat(model.medians(), len(UPLIFTS), axis=0)
    margins = _margins(sampling, rows, {FLOW: 1.0 + UPLIFTS})
    sampled = _margins(sampling, sampling.rows, {FLOW: 1.0 + asked_for})
    beside = _over(sampling, sampled, "overtopping with the flow of every sample raised by it")
    words = "rise of the design flow at which the water just reaches the bank in one run, all else at the medians"
    return _Has(_once(_reached(UPLIFTS, margins), "one run"), words, (beside,))


def _margins(sampling: Sampling, rows: Array, factors: dict[str, float | Array]) -> Array:
    """Level less bank at the place [m] with some numbers multiplied by factors."""
    model = sampling.model
    numbers = model.numbers(rows)
    changed = {**numbers, **{name: np.asarray(numbers[name]) * factor for name, factor in factors.items()}}
    (levels,) = sampling.problem.site.levels(changed, len(rows), (model.place,))
    sampling.runs += len(rows)
    return np.asarray(levels - model.banks(rows))


def _reached(tried: Array, margins: Array) -> float:
    """Where the water first stands above the bank, on a straight line between two steps; infinite where it never does,
    and -infinite where it always does."""
    over = np.flatnonzero(~(margins <= 0.0))
    if not over.size:
        return math.inf
    first = int(over[0])
    if first == 0:
        return -math.inf
    before, after = float(margins[first - 1]), float(margins[first])
    if not math.isfinite(after):
        return float(tried[first - 1])
    return float(np.interp(0.0, [before, after], tried[first - 1 : first + 1]))


def _over(sampling: Sampling, margins: Array, words: str) -> Beside:
    """Overtopping by a plain count."""
    return Beside(words, overtopping.plain(margins.reshape(sampling.shape[0], -1), sampling.settings.design), False)


def _blocked(run: _Run, asked_for: float) -> _Has:
    """The largest blockage with which one run stays below the bank; and overtopping with that asked for."""
    sampling, debris = run.sampling, run.answers.debris
    if debris is None:
        return _nothing("no blockage is uncertain in this study")
    model = sampling.model
    rows = np.repeat(model.medians(), len(BLOCKAGES), axis=0)
    rows[:, debris.column] = BLOCKAGES
    margins = _margins(sampling, rows, {})
    set_to = by_blockage.curve(debris.critical[sampling.at], np.array([asked_for]))
    value, low, high = (float(end[0]) for end in (set_to.probability, set_to.low, set_to.high))
    beside = Beside("overtopping were it always as much", Estimate(value, low, high, set_to.method), False)
    words = f"blockage ({debris.name}) at which the water just reaches the bank in one run, all else at the medians"
    return _Has(_once(_reached(BLOCKAGES, margins), "one run"), words, (beside,))


def _freeboard(run: _Run, asked_for: float) -> _Has:
    """The median bank above the level of one run; how sure that much is; and the bank above the assured level."""
    sampling, model = run.sampling, run.sampling.model
    bank, level = float(model.banks(model.medians())[0]), float(model.levels(model.medians())[0])
    assured = run.answers.headwater.quantiles[sampling.decision.assurance]
    above = Estimate(bank - assured.value, bank - assured.high, bank - assured.low, assured.method, assured.note)
    less = _over(sampling, sampling.samples.margins + asked_for, "probability of less in the design flood")
    words = f"median bank above the level with {100.0 * sampling.decision.assurance:.6g}\u00a0% assurance"
    basis = "median bank above the level of one run, every number at its median"
    return _Has(_once(bank - level, "one run"), basis, (less, Beside(words, above, True)))


def _soffit(run: _Run, asked_for: float) -> _Has:
    """The least free height below a soffit in one run, where that is, and how likely it is to be less."""
    sampling, model = run.sampling, run.sampling.model
    row = model.medians()
    once = [check for check in design_checks(model.march(row), model.numbers(row)) if check.name in HEIGHTS]
    if not once:
        return _nothing("there is neither culvert nor bridge")
    least = min(once, key=lambda check: float(check.values[0]))
    each = next(
        check
        for check in design_checks(sampling.samples.site, model.numbers(sampling.rows))
        if (check.element, check.name) == (least.element, least.name)
    )
    less = _over(sampling, asked_for - each.values, "probability of less in the design flood")
    basis = f"{least.words}, at {least.element}, in one run, every number at its median"
    return _Has(_once(float(least.values[0]), "one run"), basis, (less,))


def _size(run: _Run, _: float) -> _Has:
    """The smallest width or height of a barrel."""
    problem = run.sampling.problem
    medians = problem.medians()
    sizes = {
        name: float(np.asarray(medians[name]).flat[0])
        for element in problem.site.elements
        for name in (f"{element.id}.barrel.{key}" for key in OPENINGS)
        if name in medians
    }
    if not sizes:
        return _nothing("there is no culvert")
    name = min(sizes, key=sizes.__getitem__)
    return _Has(_once(sizes[name], "the study"), f"the smallest clear size of a barrel, {name}")


def _rise(run: _Run, _: float) -> _Has:
    """The largest rise of the median level that an alternative brings, and of the level with the assurance."""
    arrangements = () if run.comparison is None else run.comparison.arrangements
    changes = {each.name: each.difference for each in arrangements if each.difference is not None}
    known = {name: each for name, each in changes.items() if not math.isnan(each.median.value)}
    if not known:
        return _nothing("the study has no alternative with a level to compare")
    name, difference = max(known.items(), key=lambda pair: pair[1].median.value)
    words = f"change of its level with {100.0 * run.sampling.decision.assurance:.6g}\u00a0% assurance"
    basis = f"largest change of the median level that an alternative brings, “{name}”"
    return _Has(difference.median, basis, (Beside(words, difference.assured, True),))


READINGS: dict[str, Callable[[_Run, float], _Has]] = {
    asked.FLOOD: _flood,
    asked.UPLIFT: _uplift,
    asked.BLOCKAGE: _blocked,
    asked.OVERTOPPING: _overtopping,
    asked.FREEBOARD: _freeboard,
    asked.SOFFIT: _soffit,
    asked.SIZE: _size,
    asked.RISE: _rise,
}
"""How each subject is read."""
