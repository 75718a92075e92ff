"""What if: the answers with one assumption changed for all samples, beside the answers as stated.

No dependence at all, every roughness a fifth higher or lower, the climate as it was. A tenth more water or less, the
water below a tenth of a metre higher, and a tenth of what is open shut as well tell how large what is left out would
be: storage, water that leaves elsewhere, the rating of a gauge, a blockage further down, silt. By plain count on the
same random numbers, so that the differences are known better than the figures.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from overbank.analysis import exceedance, overtopping
from overbank.analysis.intervals import COMMON, Estimate, over_replicates
from overbank.analysis.overtopping import Probability
from overbank.outputs.in_tables import columns, figure, table_of
from overbank.outputs.output import Output, Tables
from overbank.sampling.run import Run
from overbank.sampling.samples import Array, Sampling
from overbank.site.numbers import CLIMATE, FLOW
from overbank.study.load import Study

ROUGHER = 0.2
"""By what share every roughness is changed at once (reviewers ask it so: common practice, no source)."""

MORE_FLOW = 0.1
"""By what share the flow is changed."""

RAISED = 0.1
"""By how much the water below is raised [m]."""

WETTER, DRIER = (f"{100.0 * MORE_FLOW:.0f}\u00a0% {words} flow" for words in ("more", "less"))
BACKED_UP = f"the water below the site {RAISED:g}\u00a0m higher"

SILTED_UP = 0.1
"""What share of every opening, as far as debris leaves it open, is shut as well."""

NARROWER = f"{100.0 * SILTED_UP:.0f}\u00a0% of what is open shut as well"

WATER_BELOW = ("tailwater.level_m", "tailwater.rating_shift_m", "tailwater.normal_depth.bed_level_m")
"""Numbers that raise the water below by as much as they rise; a study has one of them."""


@dataclass(frozen=True)
class Variation:
    """The answers under one set of assumptions, by plain count.

    name : in words
    probability : of overtopping in the design flood
    level : not exceeded with the assurance asked for [m]
    more, higher : by how much they exceed those as stated, on common random numbers; None for these themselves
    """

    name: str
    probability: Probability
    level: Estimate
    more: Estimate | None = None
    higher: Estimate | None = None


@dataclass(frozen=True)
class _Answers:
    """Levels [m] and depths over the bank [m] of all samples under one set of assumptions, (R, N)."""

    name: str
    levels: Array
    depths: Array


def _find(run: Run) -> tuple[Variation, ...]:
    """As stated first."""
    sampling, stated, *others = run.sampling, *_every(run)
    return (_variation(sampling, stated, None), *(_variation(sampling, each, stated) for each in others))


def _every(run: Run) -> Iterator[_Answers]:
    sampling = run.sampling
    held = sampling.held(sampling.samples.levels), sampling.held(sampling.samples.depth_over_bank)
    yield _Answers("as stated", *held)
    if run.study.content.dependence:
        free = Run(_independent(run.study), run.columns, runs=run.model.runs).sampling
        levels, depths = free.samples.levels, free.samples.depth_over_bank
        yield _Answers("no number depends on another", free.held(levels), free.held(depths))
    rough = [name for name in run.model.numbers(run.model.medians()) if name.endswith("manning_n")]
    for factor, words in ((1.0 + ROUGHER, "higher"), (1.0 - ROUGHER, "lower")) if rough else ():
        name = f"every roughness {100.0 * ROUGHER:.0f}\u00a0% {words}"
        yield _with(sampling, name, dict.fromkeys(rough, factor))
    if run.study.content.flow.climate_factor is not None:
        yield _with(sampling, "the climate as it was", {CLIMATE: None})
    yield _with(sampling, WETTER, {FLOW: 1.0 + MORE_FLOW})
    yield _with(sampling, DRIER, {FLOW: 1.0 - MORE_FLOW})
    below = [name for name in WATER_BELOW if name in run.model.numbers(run.model.medians())]
    if below:
        yield _with(sampling, BACKED_UP, {}, dict.fromkeys(below, RAISED))
    if shut := [name for name in run.model.numbers(run.model.medians()) if name.endswith(".blockage")]:
        open_share = 1.0 - SILTED_UP
        yield _with(sampling, NARROWER, dict.fromkeys(shut, open_share), dict.fromkeys(shut, SILTED_UP))


def _independent(study: Study) -> Study:
    return replace(study, content=study.content.model_copy(update={"dependence": []}), alternatives={})


def _with(
    sampling: Sampling, name: str, factors: dict[str, float | None], added: dict[str, float] | None = None
) -> _Answers:
    """With some numbers of every sample multiplied, or set to 1 where there is no factor, and then some raised."""
    numbers, rows = sampling.model.numbers(sampling.rows), len(sampling.rows)
    changed = {one: 1.0 if by is None else by * np.asarray(numbers[one]) for one, by in factors.items()}
    changed |= {one: by + np.asarray(changed.get(one, numbers[one])) for one, by in (added or {}).items()}
    (levels,) = sampling.model.levels_of({**numbers, **changed}, rows)
    depths = levels - sampling.model.banks(sampling.rows)
    return _Answers(name, levels.reshape(sampling.shape), depths.reshape(sampling.shape))


def _variation(sampling: Sampling, own: _Answers, stated: _Answers | None) -> Variation:
    design, assurance = sampling.settings.design, sampling.decision.assurance
    found = Variation(
        own.name,
        overtopping.plain(own.depths, design),
        exceedance.plain_quantile(own.levels, 1.0 - assurance, design),
    )
    if stated is None:
        return found
    return replace(
        found,
        more=_paired(_chance(own), _chance(stated)),
        higher=_paired(_level(own, assurance), _level(stated, assurance)),
    )


def _chance(found: _Answers) -> Array:
    """Of overtopping, in each replicate; a failed run counts as over, which is on the safe side."""
    return np.asarray(np.mean(~(found.depths <= 0.0), axis=1))


def _level(found: _Answers, assurance: float) -> Array:
    """Level not exceeded with an assurance in each replicate [m]."""
    levels = np.where(np.isnan(found.levels), np.inf, found.levels)
    return np.asarray(np.quantile(levels, assurance, axis=1, method="inverted_cdf"))


def _paired(own: Array, stated: Array) -> Estimate:
    with np.errstate(invalid="ignore"):
        differences = own - stated
    if np.all(np.isnan(differences)):
        return Estimate(np.nan, np.nan, np.nan, COMMON, "both are endless")
    return over_replicates(differences, COMMON)


def _summary(found: tuple[Variation, ...]) -> dict[str, Any]:
    return {"what_if": {each.name.replace("\u00a0", " "): _said(each) for each in found}}


def _figures(each: Variation) -> dict[str, Estimate]:
    more = {} if each.more is None else {"change_of_probability": each.more}
    higher = {} if each.higher is None else {"change_of_assured_level_m": each.higher}
    return {"probability": each.probability, "assured_level_m": each.level, **more, **higher}


def _said(each: Variation) -> dict[str, Any]:
    return {name: figure(estimate) for name, estimate in _figures(each).items()}


def _tables(found: tuple[Variation, ...]) -> Tables:
    rows = ({"assumption": each.name.replace("\u00a0", " "), **_row(each)} for each in found)
    return {"what_if": table_of(rows)}


def _row(each: Variation) -> dict[str, float]:
    return {key: value for name, estimate in _figures(each).items() for key, value in columns(name, estimate).items()}


OUTPUT = Output(find=_find, stage="changing one assumption at a time", tables=_tables, summary=_summary)
