"""Arrangements of the same site on the same random numbers, so that their differences are sharper than they are."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from overbank.analysis.bands import Curve
from overbank.analysis.intervals import COMMON, Estimate, over_replicates
from overbank.analysis.overtopping import Probability, plain
from overbank.errors import DomainError
from overbank.outputs.blockage import Blockage
from overbank.outputs.headwater import Headwater
from overbank.outputs.in_tables import columns, figure
from overbank.outputs.output import Output, Tables
from overbank.outputs.overtopping import Overtopping
from overbank.outputs.registry import Results, find
from overbank.sampling.run import Run
from overbank.sampling.samples import Array
from overbank.study.build import build

ANSWERS = ("headwater", "overtopping", "blockage")
"""What is compared."""

AS_IT_STANDS = "as it stands"
"""Name of the study without any alternative."""

NOTICED = 0.001
"""Levels closer than this count as neither lower nor higher [m]."""


@dataclass(frozen=True)
class Difference:
    """An arrangement less the site as it stands, on common random numbers.

    probability : of overtopping
    median, assured, mean : of the median level, of that with the assurance asked for, and on average [m]
    lower, higher : shares of the samples in which it stands lower or higher by more than a millimetre
    beyond : share in which it stands higher by more than the study tolerates; None where the study tolerates nothing
    """

    probability: Estimate
    median: Estimate
    assured: Estimate
    mean: Estimate
    lower: Estimate
    higher: Estimate
    beyond: Estimate | None


@dataclass(frozen=True)
class Arrangement:
    """The site as it stands, or as an alternative changes it.

    deterministic : level with every uncertain number at its median [m]
    assured : level with the assurance asked for
    difference : to the site as it stands; None for that itself
    """

    name: str
    place: str
    deterministic: float
    overtopping: Overtopping
    curve: Curve
    assured: Estimate
    blockage: Blockage | None
    difference: Difference | None


@dataclass(frozen=True)
class Comparison:
    """Arrangements at one place, the site as it stands first; `tolerance` is the rise that the study tolerates [m]."""

    place: str
    arrangements: tuple[Arrangement, ...]
    tolerance: float | None = None


def compare(base: Run, own: Results) -> Comparison:
    """Run each alternative of a study on the random numbers of the study itself.

    Every uncertain number has its own column of the sampling design, the same in all arrangements that have it, so
    that differences come from what is different and not from the sampling.

    Parameters
    ----------
    base : the study as it stands, sampled with `common_columns`
    own : its headline answers

    Raises
    ------
    DomainError : an alternative has no bank at the place where the answers are read
    """
    study = base.study
    arrangements = [_arrangement(AS_IT_STANDS, base, own, None)]
    for name in study.alternatives:
        base.report(f"comparing: {name}")
        changed = study.alternative(name)
        if build(changed).at != arrangements[0].place:
            raise DomainError(
                f'{study.path}: the alternative "{name}" has no bank at {arrangements[0].place}, where the answers '
                "are read; read them at another place with decision.at"
            )
        if changed.alike(study, "crew", "pool"):  # these act in time only
            other, found = base, own
        else:
            other = Run(changed, base.columns, runs=base.model.runs)
            found = find(other, ANSWERS)
        difference = _difference(_Answered(other, found), _Answered(base, own))
        arrangements.append(_arrangement(name, other, found, difference))
    return Comparison(arrangements[0].place, tuple(arrangements), study.content.decision.tolerance_m)


def _arrangement(name: str, run: Run, found: Results, difference: Difference | None) -> Arrangement:
    return Arrangement(
        name=name,
        place=run.model.place,
        deterministic=run.model.level_at_medians,
        overtopping=found.overtopping,
        curve=found.headwater.curve,
        assured=found.headwater.quantiles[run.study.content.decision.assurance],
        blockage=found.blockage,
        difference=difference,
    )


@dataclass(frozen=True)
class _Answered:
    """A run and its headline answers."""

    run: Run
    found: Results

    @property
    def levels(self) -> Array:
        """At the place [m], of all samples."""
        return self.run.sampling.samples.levels

    @property
    def chances(self) -> Array:
        """Of overtopping, on average in each replicate."""
        return np.asarray(np.nanmean(self.run.over.probabilities, axis=1))


def _difference(own: _Answered, base: _Answered) -> Difference:
    """From the differences in each replicate."""
    levels, others = own.levels, base.levels
    decision = base.run.study.content.decision
    tolerated = decision.tolerance_m
    return Difference(
        probability=_paired(own.chances, base.chances),
        median=_paired(_level(own, 0.5), _level(base, 0.5)),
        assured=_paired(_level(own, decision.assurance), _level(base, decision.assurance)),
        mean=_paired(*_means(levels, others)),
        lower=_share(levels < others - NOTICED, own, base),
        higher=_share(levels > others + NOTICED, own, base),
        beyond=None if tolerated is None else _share(levels > others + tolerated, own, base),
    )


def _level(found: _Answered, assurance: float) -> Array:
    """Level not exceeded with an assurance, in each replicate [m]; infinite beyond the curve."""
    curve, share = found.found.headwater.curve, 1.0 - assurance
    rows = [np.interp(share, row[::-1], curve.at[::-1], left=np.inf, right=-np.inf) for row in curve.replicates]
    return np.array(rows)


def _paired(own: Array, base: Array) -> Estimate:
    with np.errstate(invalid="ignore"):
        differences = own - base
    if np.all(np.isnan(differences)):
        return Estimate(np.nan, np.nan, np.nan, COMMON, "both are endless")
    return over_replicates(differences, COMMON)


def _means(own: Array, base: Array) -> Iterator[Array]:
    """Mean level in each replicate, over the samples in which both arrangements have one."""
    both = np.isfinite(own) & np.isfinite(base)
    for levels in (own, base):
        total = np.where(both, levels, 0.0).sum(axis=1)
        yield np.where(both.any(axis=1), total / np.maximum(both.sum(axis=1), 1), np.nan)


def _share(event: NDArray[np.bool_], own: _Answered, base: _Answered) -> Probability:
    """Share of the samples in which something is so, among those that have a level in both arrangements."""
    levels, others = own.levels, base.levels
    known = ~np.isnan(levels) & ~np.isnan(others)
    return plain(np.where(known, np.where(event, 1.0, -1.0), np.nan), base.run.study.content.run.design)


def _find(run: Run, headwater: Headwater, overtopping: Overtopping, blockage: Blockage | None) -> Comparison | None:
    """None where the study has no alternative."""
    own = Results(headwater=headwater, overtopping=overtopping, blockage=blockage)
    return compare(run, own) if run.study.alternatives else None


def _summary(found: Comparison) -> dict[str, Any]:
    return {"arrangements": {each.name: _in_short(each) for each in found.arrangements}}


def _in_short(found: Arrangement) -> dict[str, Any]:
    """Figures of an arrangement, and its differences to the site as it stands."""
    figures = {"probability": figure(found.overtopping.best), "assured_level_m": figure(found.assured)}
    if found.difference is not None:
        figures["change_of_probability"] = figure(found.difference.probability)
        figures["change_of_median_level_m"] = figure(found.difference.median)
        figures["change_of_assured_level_m"] = figure(found.difference.assured)
        if found.difference.beyond is not None:
            figures["share_beyond_tolerance"] = figure(found.difference.beyond)
    return figures


def arrangement_table(comparison: Comparison) -> pd.DataFrame:
    """One row an arrangement, with its differences to the site as it stands."""
    return pd.DataFrame([_row(each) for each in comparison.arrangements])


def _row(found: Arrangement) -> dict[str, str | float]:
    nothing = Estimate(math.nan, math.nan, math.nan, "")
    difference = found.difference or Difference(*(nothing,) * 6, None)
    figures = {
        "probability": found.overtopping.best,
        "assured_level_m": found.assured,
        "largest_blockage": found.blockage.largest if found.blockage else nothing,
        "allowance": found.blockage.allowance if found.blockage else nothing,
        "change_of_probability": difference.probability,
        "change_of_median_level_m": difference.median,
        "change_of_assured_level_m": difference.assured,
        "change_of_mean_level_m": difference.mean,
        "share_lower": difference.lower,
        "share_higher": difference.higher,
        "share_beyond_tolerance": difference.beyond or nothing,
    }
    row: dict[str, str | float] = {"arrangement": found.name, "level_at_medians_m": found.deterministic}
    for name, each in figures.items():
        row |= columns(name, each)
    return row


def _tables(found: Comparison) -> Tables:
    return {"arrangements": arrangement_table(found)}


OUTPUT = Output(find=_find, needs=ANSWERS, tables=_tables, summary=_summary)
