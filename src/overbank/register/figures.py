"""The answers for one structure, with as few runs of its site as they take.

All structures are sampled on the same points: a number of the same path has the same column of the sampling design in
every row, so that differences between structures are not differences of luck.

The probability of overtopping is that of the threshold method over the input that a small pilot chooses, by the short
ladder and its polish (`analysis.short_ladder`); its interval is that of a study's run, by the same function. What the
register leaves out of a study's run: the exceedance curve by the ladder (quantiles are of the counted levels), inputs
other than debris, flow and tailwater to integrate out, and importance sampling where overtopping is rarer than the
samples can show.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from overbank.analysis import allowance, by_blockage, exceedance, given_data, overtopping, pilot
from overbank.analysis import ladder as rungs
from overbank.analysis.intervals import Estimate
from overbank.analysis.ladder import Mask
from overbank.analysis.overtopping import Probability
from overbank.errors import DomainError
from overbank.model import Model
from overbank.outputs.annual import annual_floods
from overbank.sampling.conditional import Conditional
from overbank.sampling.integrated import candidates, debris_at
from overbank.sampling.ladder import FALL_TOLERANCE, tail_probability
from overbank.sampling.run import Run
from overbank.sampling.samples import Array
from overbank.study.build import build
from overbank.study.load import Study
from overbank.study.schema import Run as Settings
from overbank.uncertain.designs import score_batches

QUANTILES = (0.5, 0.9)
"""Non-exceedance probabilities whose levels are told."""

PILOT = 128
"""Samples on which the input to integrate out is chosen."""

DRAWS = 256
"""States of knowledge that are kept of every structure for the ranking, the first of every replicate."""

STEPS = 129
"""Blockages from 0 to 1 at which the ordinary run of one sample is made; between them by straight lines."""

DRIVERS = 3
"""So many inputs that drive the level are told."""


@dataclass(frozen=True)
class Points:
    """The sampling design of a register.

    names : every path that is uncertain in some row, a column each
    scores : independent normal scores (R, n, columns)
    """

    names: tuple[str, ...]
    scores: Array
    design: str

    @property
    def chosen(self) -> tuple[slice, slice]:
        """The draws that are kept of every structure."""
        replicates, samples = self.scores.shape[:2]
        return slice(None), slice(0, max(1, min(samples, DRAWS // replicates)))


def points_of(names: tuple[str, ...], settings: Settings) -> Points:
    """The points on which every structure is sampled."""
    count = settings.samples // settings.replicates
    (whole,) = score_batches(
        settings.design, settings.samples, len(names), settings.seed, settings.replicates, 1 << count.bit_length()
    )
    return Points(names, whole, settings.design)


@dataclass(frozen=True)
class Figures:
    """What is found of one structure.

    probability : of overtopping in the design flood; plain : by counting; integrated : name of the input integrated out
    in_a_year : None where the row has no annual floods
    levels : non-exceedance probability -> level upstream [m]
    largest : blockage that keeps the probability within the target; allowance : one blockage that gives the level of
        the assurance in an ordinary run; None where no blockage is uncertain
    drivers : first-order indices of the level, the largest first; empty where they cannot be found
    states : probability of overtopping in every state of knowledge that is kept
    """

    probability: Probability
    plain: Probability
    integrated: str
    in_a_year: Probability | None
    levels: Mapping[float, Estimate]
    largest: Estimate | None
    allowance: Estimate | None
    drivers: tuple[tuple[str, float], ...]
    states: Array


class _Structure:
    """One structure on the points."""

    def __init__(self, study: Study, points: Points) -> None:
        self.study, self.points = study, points
        self.problem = build(study)
        self.model = Model(self.problem)
        inputs = self.problem.inputs
        if inputs.dimension == 0:
            raise DomainError("the row: expected at least one uncertain number; got certain ones only")
        if unknown := next((name for name in inputs.names if name not in points.names), None):
            raise DomainError(f"{unknown}: expected an uncertain number in a column or default of its own; got a list")
        own = [points.names.index(name) for name in inputs.names]
        self.z = inputs.copula.correlate(points.scores[..., own])
        self.shape = self.z.shape[:2]
        self.rows = inputs.values(self.z).reshape(-1, inputs.dimension)
        self.levels = self.model.levels(self.rows).reshape(self.shape)
        self.depths = self.levels - self.model.banks(self.rows).reshape(self.shape)

    @cached_property
    def choice(self) -> pilot.Choice | None:
        """Of the input to integrate out."""
        first = self.z[:, : max(1, PILOT // self.shape[0])].reshape(-1, self.z.shape[2])
        names = candidates(self.problem, self.model.place)
        trials = [pilot.Trial(name, *Conditional(self.model, name).tried(first)) for name in names]
        return pilot.choose(trials, FALL_TOLERANCE) if trials else None

    def critical(self, name: str) -> tuple[Array, Mask]:
        """Critical values of an input, and the samples whose short ladder is trusted; (R, n)."""
        of_input = Conditional(self.model, name)
        found = of_input.thresholds(self.z.reshape(-1, self.z.shape[2]))
        trusted = rungs.trusted(found.depths, FALL_TOLERANCE) & ~np.isnan(found.value)
        critical = np.where(trusted, found.value, np.nan)
        return np.reshape(critical, self.shape), np.reshape(trusted, self.shape)

    def over(self, name: str, critical: Array, trusted: Mask) -> Array:
        """P(over | all inputs but one), the plain 0 or 1 where the ladder cannot be trusted; (R, n)."""
        of_input = Conditional(self.model, name)
        tails = tail_probability(critical, of_input.distribution.score_below, of_input.integrated.given(self.z))
        return rungs.mend(tails, trusted, self.depths).probabilities

    def is_knowledge(self, name: str) -> bool:
        """Whether a number is the same in all floods."""
        return next((each.kind for each in self.problem.assumptions if each.name == name), None) == "knowledge"

    def level_by_blockage(self, name: str) -> Callable[[float], float]:
        """Level of one run with a blockage, all else at the medians; between a few of them by straight lines."""
        shares, column = np.linspace(0.0, 1.0, STEPS), self.problem.inputs.index(name)
        table = np.repeat(self.model.medians(), STEPS, axis=0)
        table[:, column] = shares
        levels = self.model.levels(table)

        def level_at(blockage: float) -> float:
            above = int(np.searchsorted(shares, blockage))
            if shares[above] == blockage or not np.isfinite(levels[above]):
                return float(levels[above])
            return float(np.interp(blockage, shares, levels))

        return level_at


def figures_of(study: Study, points: Points) -> Figures:
    """Everything that the register tells of a structure.

    Raises
    ------
    DomainError : nothing in it is uncertain, or no sample gave a level
    """
    here = _Structure(study, points)
    plain = overtopping.plain(here.depths, points.design)
    name = "" if here.choice is None else here.choice.name or ""
    debris = debris_at(here.problem, here.model.place)
    each, critical = overtopping.events(here.depths), None
    if name:
        critical, trusted = here.critical(name)
        each = here.over(name, critical, trusted)
    levels = {share: exceedance.plain_quantile(here.levels, 1.0 - share, points.design) for share in QUANTILES}
    decision = study.content.decision
    assured = exceedance.plain_quantile(here.levels, 1.0 - decision.assurance, points.design)
    largest = None
    if debris is not None:
        critical = critical if name == debris and critical is not None else here.critical(debris)[0]
        largest = by_blockage.largest_within(critical, decision.target_probability)
    known = each if name and not here.is_knowledge(name) else overtopping.events(here.depths)
    return Figures(
        probability=overtopping.threshold(each) if name else plain,
        plain=plain,
        integrated=name,
        in_a_year=_in_a_year(study, here),
        levels=levels,
        largest=largest,
        allowance=None if debris is None else allowance.needed(here.level_by_blockage(debris), assured),
        drivers=_drivers(here),
        states=known[points.chosen].ravel(),
    )


def _in_a_year(study: Study, here: _Structure) -> Probability | None:
    given = here.problem.annual
    return None if given is None else annual_floods(Run(study).sampling, given).probability


def _drivers(here: _Structure) -> tuple[tuple[str, float], ...]:
    """The inputs that drive the level most, with their indices; none where the level is endless or alike."""
    try:
        table = given_data.first_order(here.z, here.levels, here.problem.inputs.names).table
    except DomainError:
        return ()
    ranked = table[:-1].sort_values("first", ascending=False, kind="stable")[:DRIVERS]
    return tuple((str(name), float(first)) for name, first in zip(ranked["input"], ranked["first"], strict=True))
