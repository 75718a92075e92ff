"""An authority's own figures set beside what the study has."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from overbank.analysis import by_blockage, overtopping
from overbank.analysis.intervals import Estimate
from overbank.outputs.blockage import Blockage
from overbank.outputs.comparison import Comparison
from overbank.outputs.headwater import Headwater
from overbank.outputs.in_tables import figure, plain, table_of
from overbank.outputs.medians import DeterministicRun
from overbank.outputs.output import Output, Tables
from overbank.outputs.overtopping import Overtopping
from overbank.sampling.run import Run
from overbank.sampling.samples import Array, Sampling
from overbank.site.design_checks import design_checks
from overbank.site.numbers import FLOW, Column
from overbank.study import requirements as asked
from overbank.study.requirements import SUBJECTS, RequiredLine

UPLIFTS = np.round(np.arange(-95, 301) / 100, 2)
"""Changes of the flow that are looked at, as shares of the design flow at the medians."""

HELD_AT_ONCE = (asked.UPLIFT, asked.BLOCKAGE, asked.FREEBOARD)
"""Subjects that one run can hold at once."""

BLOCKAGES = np.round(np.arange(101) / 100, 2)
"""Blockages that are looked at."""

HEIGHTS = ("freeboard_to_soffit_m", "air_gap_m")
"""Design checks that are a free height below a soffit."""

OPENINGS = ("diameter_m", "span_m", "rise_m")
"""Numbers of a barrel that are the size of its opening."""


@dataclass(frozen=True)
class Beside:
    """A further figure that belongs to a line: in words, and a probability, or a length [m]."""

    words: str
    figure: Estimate
    is_length: bool


@dataclass(frozen=True)
class Required:
    """One figure that an authority asks for, and what the study has of it: no verdict.

    name, about, unit, reference : as the file says; asked : a share, or in m
    at_least : whether so much is asked at least, or at most
    has : the same of the study; nan where it has nothing, and infinite beyond all that was looked at
    basis : how that was found, or why there is nothing
    beside : what else a reader wants to know with it
    """

    name: str
    about: str
    unit: str
    reference: str
    asked: float
    at_least: bool
    has: Estimate
    basis: str
    beside: tuple[Beside, ...] = ()

    @property
    def short(self) -> float:
        """By how much the study falls short of the figure, a share or in m; negative where it has more than asked."""
        return self.asked - self.has.value if self.at_least else self.has.value - self.asked


@dataclass(frozen=True)
class AtOnce:
    """Uplift, blockage and freeboard that are asked for, all in one run with every other number at its median.

    words : what is put in together; level, spare : of that run, and the median bank less it and less the freeboard [m]
    """

    words: str
    level: float
    spare: float


@dataclass(frozen=True)
class AskedFor:
    """All lines of a file, who asks, and what comes of those that one run can hold at once."""

    authority: str
    lines: tuple[Required, ...]
    at_once: tuple[AtOnce, ...] = ()


@dataclass(frozen=True)
class _Found:
    """What the lines are read from."""

    run: Run
    medians: DeterministicRun
    headwater: Headwater
    overtopping: Overtopping
    comparison: Comparison | None

    @property
    def sampling(self) -> Sampling:
        return self.run.sampling


@dataclass(frozen=True)
class _Has:
    """What the study has of a figure."""

    has: Estimate
    basis: str
    beside: tuple[Beside, ...] = ()


def _find(
    run: Run,
    medians: DeterministicRun,
    headwater: Headwater,
    overtopping: Overtopping,
    comparison: Comparison | None,
    blockage: Blockage | None,
) -> AskedFor | None:
    """None where the study names no file."""
    named = run.study.content.decision.requirements
    if named is None:
        return None
    found = _Found(run, medians, headwater, overtopping, comparison)
    allowance = math.nan if blockage is None else blockage.allowance.value
    at_once = tuple(_at_once(found, named.line, allowance))
    return AskedFor(named.authority, tuple(_line(found, line) for line in named.line), at_once)


def _at_once(found: _Found, lines: list[RequiredLine], allowance: float) -> Iterator[AtOnce]:
    """With the blockage asked for, and with the allowance in its place; a line held by itself does not show this."""
    asks = {about: max((line.asked for line in lines if line.about == about), default=None) for about in HELD_AT_ONCE}
    if sum(each is not None for each in asks.values()) < 2:
        return
    model, debris = found.sampling.model, found.run.debris
    uplift, freeboard = asks[asked.UPLIFT] or 0.0, asks[asked.FREEBOARD] or 0.0
    flow = float(np.asarray(model.numbers(model.medians())[FLOW]).flat[0]) * (1.0 + uplift)
    blocked: dict[str, float | None] = {"blockage": asks[asked.BLOCKAGE], "blockage, the allowance,": allowance}
    for name, share in blocked.items():
        known = debris is not None and share is not None and math.isfinite(share)
        if not known and name != "blockage":
            continue
        changed, words = {FLOW: flow}, ", blockage at its median"
        if debris is not None and share is not None and known:
            changed[debris.name], words = share, f", {name} of {100.0 * share:.3g}\u00a0%"
        level = model.level_of(changed)
        words = f"flow raised by {100.0 * uplift:.6g}\u00a0%, freeboard {freeboard:.6g}\u00a0m{words}"
        yield AtOnce(words, level, model.bank_at_medians - level - freeboard)


def _line(answers: _Found, line: RequiredLine) -> Required:
    found = READINGS[line.about](answers, line.asked)
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


def _flood(found: _Found, _: float) -> _Has:
    probability = found.sampling.study.content.flow.design_annual_probability
    if probability is None:
        return _nothing("the study gives the design flow itself, not its annual probability")
    return _Has(_once(probability, "the study"), "annual probability of the design flow, from the study")


def _overtopping(found: _Found, _: float) -> _Has:
    return _Has(found.overtopping.best, "probability of overtopping in the design flood")


def _uplift(found: _Found, asked_for: float) -> _Has:
    """The largest uplift with which one run stays below the bank; and overtopping with that asked for."""
    sampling, model = found.sampling, found.sampling.model
    rows = np.repeat(model.medians(), len(UPLIFTS), axis=0)
    depths = _depths(sampling, rows, {FLOW: 1.0 + UPLIFTS})
    sampled = _depths(sampling, sampling.rows, {FLOW: 1.0 + asked_for})
    beside = _over(sampling, sampled, "overtopping with the flow of every sample raised by it")
    words = "rise of the design flow at which the water just reaches the bank in one run, all else at the medians"
    return _Has(_once(_reached(UPLIFTS, depths), "one run"), words, (beside,))


def _depths(sampling: Sampling, rows: Array, factors: dict[str, float | Array]) -> Array:
    """Level less bank at the place [m] with some numbers multiplied by factors."""
    model = sampling.model
    numbers = model.numbers(rows)
    changed = {**numbers, **{name: np.asarray(numbers[name]) * factor for name, factor in factors.items()}}
    (levels,) = model.levels_of(changed, len(rows))
    return np.asarray(levels - model.banks(rows))


def _reached(tried: Array, depths: Array) -> float:
    """Where the water first stands above the bank, on a straight line between two steps; infinite where it never does,
    and -infinite where it always does."""
    over = np.flatnonzero(~(depths <= 0.0))
    if not over.size:
        return math.inf
    first = int(over[0])
    if first == 0:
        return -math.inf
    before, after = float(depths[first - 1]), float(depths[first])
    if not math.isfinite(after):
        return float(tried[first - 1])
    return float(np.interp(0.0, [before, after], tried[first - 1 : first + 1]))


def _over(sampling: Sampling, depths: Array, words: str) -> Beside:
    """Overtopping by a plain count."""
    return Beside(words, overtopping.plain(depths.reshape(sampling.shape[0], -1), sampling.settings.design), False)


def _blocked(found: _Found, asked_for: float) -> _Has:
    """The largest blockage with which one run stays below the bank; and overtopping with that asked for."""
    sampling, debris = found.sampling, found.run.debris
    if debris is None:
        return _nothing("no blockage is uncertain in this study")
    model = sampling.model
    rows = np.repeat(model.medians(), len(BLOCKAGES), axis=0)
    rows[:, debris.column] = BLOCKAGES
    depths = _depths(sampling, rows, {})
    set_to = by_blockage.curve(debris.critical[sampling.at], np.array([asked_for]))
    value, low, high = (float(end[0]) for end in (set_to.probability, set_to.low, set_to.high))
    beside = Beside("overtopping were it always as much", Estimate(value, low, high, set_to.method), False)
    words = f"blockage ({debris.name}) at which the water just reaches the bank in one run, all else at the medians"
    return _Has(_once(_reached(BLOCKAGES, depths), "one run"), words, (beside,))


def _freeboard(found: _Found, asked_for: float) -> _Has:
    """The median bank above the level of one run; how sure that much is; and the bank above the assured level."""
    sampling, model = found.sampling, found.sampling.model
    bank, level = model.bank_at_medians, model.level_at_medians
    assured = found.headwater.quantiles[sampling.decision.assurance]
    above = Estimate(bank - assured.value, bank - assured.high, bank - assured.low, assured.method, assured.note)
    less = _over(sampling, sampling.samples.depth_over_bank + asked_for, "probability of less in the design flood")
    words = f"median bank above the level with {100.0 * sampling.decision.assurance:.6g}\u00a0% assurance"
    basis = "median bank above the level of one run, every number at its median"
    return _Has(_once(bank - level, "one run"), basis, (less, Beside(words, above, True)))


def _soffit(found: _Found, asked_for: float) -> _Has:
    """The least free height below a soffit in one run, where that is, and how likely it is to be less."""
    sampling, model = found.sampling, found.sampling.model
    once = [check for check in found.medians.checks if check.name in HEIGHTS]
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


def barrel_sizes(medians: Mapping[str, Column], element: str) -> dict[str, float]:
    """Widths and heights of the barrels of an element and of their parts, by their names [m]."""
    found = {name: value for name, value in medians.items() if name.startswith(f"{element}.barrel.")}
    return {name: float(np.ravel(value)[0]) for name, value in found.items() if name.rsplit(".", 1)[-1] in OPENINGS}


def _size(found: _Found, _: float) -> _Has:
    """The smallest width or height of a barrel."""
    problem = found.sampling.problem
    medians, elements = problem.medians(), problem.site.elements
    sizes = {name: size for element in elements for name, size in barrel_sizes(medians, element.id).items()}
    if not sizes:
        return _nothing("there is no culvert")
    name = min(sizes, key=sizes.__getitem__)
    return _Has(_once(sizes[name], "the study"), f"the smallest clear size of a barrel, {name}")


def _rise(found: _Found, _: float) -> _Has:
    """The largest rise of the median level that an alternative brings, and of the level with the assurance."""
    arrangements = () if found.comparison is None else found.comparison.arrangements
    changes = {each.name: each.difference for each in arrangements if each.difference is not None}
    known = {name: each for name, each in changes.items() if not math.isnan(each.median.value)}
    if not known:
        return _nothing("the study has no alternative with a level to compare")
    name, difference = max(known.items(), key=lambda pair: pair[1].median.value)
    words = f"change of its level with {100.0 * found.sampling.decision.assurance:.6g}\u00a0% assurance"
    basis = f"largest change of the median level that an alternative brings, “{name}”"
    return _Has(difference.median, basis, (Beside(words, difference.assured, True),))


READINGS: dict[str, Callable[[_Found, float], _Has]] = {
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


def _summary(found: AskedFor) -> dict[str, Any]:
    at_once = [
        {"together": each.words, "level_m": plain(each.level), "to_spare_m": plain(each.spare)}
        for each in found.at_once
    ]
    return {"requirements": [_in_short(line) for line in found.lines], "requirements_at_once": at_once}


def _in_short(line: Required) -> dict[str, Any]:
    """A line of an authority's figures, and what the study has of it."""
    has, short = figure(line.has), plain(line.short)
    if math.isinf(line.has.value):
        has, short = {**has, "value": f"{'more' if line.has.value > 0.0 else 'less'} than all looked at"}, None
    return {
        **{"name": line.name, "about": line.about, "asked": line.asked},
        **{"asks_for": _asks(line), "reference": line.reference},
        **{"has": has, "short_by": short, "basis": line.basis},
        "beside": {each.words: figure(each.figure) for each in line.beside},
    }


def _asks(line: Required) -> str:
    return "at least" if line.at_least else "at most"


def requirement_table(found: AskedFor) -> pd.DataFrame:
    """The authority's own figures, a row a line: what is asked, what the study has, by how much that is short of it.

    Shares from 0 to 1 and lengths in m, whatever unit the file uses; empty where the study has nothing.
    """
    return pd.DataFrame(
        {
            **{"name": line.name, "about": line.about, "asked": line.asked},
            **{"asks_for": _asks(line), "reference": line.reference},
            **{"has": line.has.value, "low": line.has.low, "high": line.has.high, "short_by": line.short},
            "basis": line.basis,
        }
        for line in found.lines
    )


def _tables(found: AskedFor) -> Tables:
    at_once = ({"together": each.words, "level_m": each.level, "to_spare_m": each.spare} for each in found.at_once)
    return {"requirements": requirement_table(found), "requirements_at_once": table_of(at_once)}


OUTPUT = Output(
    find=_find,
    needs=("medians", "headwater", "overtopping", "comparison", "blockage"),
    tables=_tables,
    summary=_summary,
)
