"""Arrangements of the same site on the same random numbers, so that their differences are sharper than they are."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import chain

import numpy as np
from numpy.typing import NDArray

from overbank.analysis.intervals import Estimate, over_replicates
from overbank.analysis.overtopping import Probability, plain
from overbank.errors import DomainError
from overbank.findings.water import Arrangement, Comparison, Difference
from overbank.stages.answering import Answers, answer
from overbank.stages.sampling import Array, sample
from overbank.study.build import build
from overbank.study.load import Study

AS_IT_STANDS = "as it stands"
"""Name of the study without any alternative."""

NOTICED = 0.001
"""Levels closer than this count as neither lower nor higher [m]."""

METHOD = "common random numbers, Student t over replicates"

Report = Callable[[str], None]


def common_columns(study: Study) -> tuple[str, ...]:
    """The uncertain numbers of the study and of all its alternatives, each once."""
    each = (study, *(study.alternative(name) for name in study.alternatives))
    return tuple(dict.fromkeys(chain.from_iterable(build(one).inputs.names for one in each)))


def compare(study: Study, base: Answers, report: Report) -> Comparison:
    """Run each alternative of a study on the random numbers of the study itself.

    Every uncertain number has its own column of the sampling design, the same in all arrangements that have it, so
    that differences come from what is different and not from the sampling.

    Parameters
    ----------
    base : answers of the study as it stands, sampled with `common_columns`

    Raises
    ------
    DomainError : an alternative has no bank at the place where the answers are read
    """
    columns = common_columns(study)
    arrangements = [_arrangement(AS_IT_STANDS, base, None)]
    for name in study.alternatives:
        report(f"comparing: {name}")
        changed = study.alternative(name)
        if build(changed).at != arrangements[0].place:
            raise DomainError(
                f'{study.path}: the alternative "{name}" has no bank at {arrangements[0].place}, where the answers '
                "are read; read them at another place with decision.at"
            )
        found = answer(sample(changed, columns))
        base.sampling.runs += found.sampling.runs
        arrangements.append(_arrangement(name, found, _difference(found, base)))
    return Comparison(arrangements[0].place, tuple(arrangements), study.content.decision.tolerance_m)


def _arrangement(name: str, found: Answers, difference: Difference | None) -> Arrangement:
    model = found.sampling.model
    return Arrangement(
        name=name,
        place=model.place,
        deterministic=float(model.levels(model.medians())[0]),
        overtopping=found.overtopping,
        curve=found.headwater.curve,
        assured=found.headwater.quantiles[found.sampling.decision.assurance],
        blockage=found.blockage,
        difference=difference,
    )


def _difference(own: Answers, base: Answers) -> Difference:
    """From the differences in each replicate."""
    levels, others = own.sampling.samples.levels, base.sampling.samples.levels
    decision = base.sampling.decision
    tolerated = decision.tolerance_m
    return Difference(
        probability=_paired(np.nanmean(own.probabilities, axis=1), np.nanmean(base.probabilities, axis=1)),
        median=_paired(_level(own, 0.5), _level(base, 0.5)),
        assured=_paired(_level(own, decision.assurance), _level(base, decision.assurance)),
        mean=_paired(*_means(levels, others)),
        lower=_share(levels < others - NOTICED, own, base),
        higher=_share(levels > others + NOTICED, own, base),
        beyond=None if tolerated is None else _share(levels > others + tolerated, own, base),
    )


def _level(found: Answers, assurance: float) -> Array:
    """Level not exceeded with an assurance, in each replicate [m]; infinite beyond the curve."""
    curve, share = found.headwater.curve, 1.0 - assurance
    rows = [np.interp(share, row[::-1], curve.at[::-1], left=np.inf, right=-np.inf) for row in curve.replicates]
    return np.array(rows)


def _paired(own: Array, base: Array) -> Estimate:
    with np.errstate(invalid="ignore"):
        differences = own - base
    if np.all(np.isnan(differences)):
        return Estimate(np.nan, np.nan, np.nan, METHOD, "both are endless")
    return over_replicates(differences, METHOD)


def _means(own: Array, base: Array) -> Iterator[Array]:
    """Mean level in each replicate, over the samples in which both arrangements have one."""
    both = np.isfinite(own) & np.isfinite(base)
    for levels in (own, base):
        total = np.where(both, levels, 0.0).sum(axis=1)
        yield np.where(both.any(axis=1), total / np.maximum(both.sum(axis=1), 1), np.nan)


def _share(event: NDArray[np.bool_], own: Answers, base: Answers) -> Probability:
    """Share of the samples in which something is so, among those that have a level in both arrangements."""
    levels, others = own.sampling.samples.levels, base.sampling.samples.levels
    known = ~np.isnan(levels) & ~np.isnan(others)
    return plain(np.where(known, np.where(event, 1.0, -1.0), np.nan), base.sampling.settings.design)
