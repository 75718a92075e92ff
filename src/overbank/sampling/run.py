"""One study being run: its model, its samples and its ladders, each made when first asked for."""

from __future__ import annotations

from collections.abc import Callable
from functools import cached_property
from itertools import chain

import numpy as np

from overbank.analysis import ladder as rungs
from overbank.analysis import overtopping
from overbank.analysis.automatic import Search
from overbank.analysis.pilot import Choice
from overbank.errors import DomainError
from overbank.model import Model, Runs
from overbank.sampling.integrated import debris_at, integrated_input
from overbank.sampling.integrated_input import IntegratedInput
from overbank.sampling.ladder import Ladder, is_blockage, ladder_over
from overbank.sampling.samples import Array, Sampling, sample
from overbank.study.build import build
from overbank.study.load import Study

QUANTILES = (0.5, 0.8, 0.9, 0.95, 0.99)
"""Shares of the samples whose level is always told."""

NEAR = (-0.005, -0.0025, 0.0, 0.0025, 0.005)
"""Shares of the samples away from these, at which the exceedance is computed too."""

Report = Callable[[str], None]

SAMPLING, SOLVING = "running every sample through the site", "finding what puts each sample over the bank"
"""The first two stages of a run in words."""


def silent(_words: str) -> None:
    """Report to nobody."""


def common_columns(study: Study) -> tuple[str, ...]:
    """The uncertain numbers of the study and of all its alternatives, each once."""
    each = (study, *(study.alternative(name) for name in study.alternatives))
    return tuple(dict.fromkeys(chain.from_iterable(build(one).inputs.names for one in each)))


class Run:
    """One study being run.

    study : from `read_study`, one of its alternatives, or the same with another number of samples
    columns : names of all uncertain numbers that get a column of the sampling design
    powers : of the debris for which the exceedance of the level is counted on the way, see `ladder.score_below`
    report : called with a few words as a stage begins
    search : how the number of samples was found; None where the study gives it
    model : of the study, which counts its runs
    """

    def __init__(
        self,
        study: Study,
        columns: tuple[str, ...] = (),
        powers: tuple[float, ...] = (1.0,),
        report: Report = silent,
        runs: Runs | None = None,
    ) -> None:
        self.study, self.powers, self.report = study, powers, report
        self.columns = columns or common_columns(study)
        self.model = Model(build(study), Runs() if runs is None else runs)
        self.search: Search | None = None

    @cached_property
    def sampling(self) -> Sampling:
        """The samples, and the site run on every one of them."""
        self.report(SAMPLING)
        return sample(self.study, self.model, self.columns)

    @cached_property
    def choice(self) -> Choice | None:
        """Of the input to integrate out; None when there is no candidate."""
        sampling = self.sampling
        self.report(SOLVING)
        return integrated_input(sampling)

    @cached_property
    def ladder(self) -> Ladder | None:
        """Over the integrated input; None when nothing can be integrated out."""
        best = None if self.choice is None else self.choice.best
        return None if best is None else self._over(best.name, best.sign)

    @cached_property
    def debris(self) -> Ladder | None:
        """Over the blockage that the answers about blockage are of, which may be the integrated input.

        None when none is uncertain, or where the water falls along it.
        """
        name = debris_at(self.model.problem, self.model.place)
        if name is None or self.choice is None:
            return None
        if self.ladder is not None and self.ladder.name == name:
            return self.ladder
        tried = next(candidate for candidate in self.choice.candidates if candidate.name == name)
        return self._over(name) if tried.monotone else None

    @cached_property
    def over(self) -> rungs.Mended:
        """Probability of overtopping of each sample at the place, given all inputs but the integrated one; (R, N).

        The plain 0 or 1 where nothing can be integrated out.
        """
        ladder, depths = self.ladder, self.sampling.samples.depth_over_bank
        if ladder is None:
            return rungs.Mended(overtopping.events(depths), 0)
        return ladder.over(ladder.critical[self.sampling.at], depths)

    @cached_property
    def grid(self) -> Array:
        """Levels at which the exceedance at the place is computed [m]."""
        sampling = self.sampling
        return level_grid(sampling.samples.levels, sampling.banks[sampling.at], sampling.decision.assurance)

    def _over(self, name: str, sign: int = 1) -> Ladder:
        integrated = IntegratedInput(self.sampling.inputs, name, sign)
        return ladder_over(self.sampling, integrated, self.grid, self.powers if is_blockage(name) else (1.0,))


def level_grid(levels: Array, banks: Array, assurance: float) -> Array:
    """Levels at which the exceedance is computed, the median bank among them [m].

    Even steps over all but the outermost 0.05 % of the sampled levels, so that a few levels far out do not
    stretch them, and quantiles of their own where the levels thin out, close to those that are told; far enough to
    reach the bank and the quantile of the assurance asked for.
    """
    finite = levels[np.isfinite(levels)]
    if finite.size == 0:
        raise DomainError("no sample gave a level: run `overbank check` and look at the deterministic run first")
    bank = float(np.median(banks))
    reach = min(max(0.9995, 1.0 - 0.5 * (1.0 - assurance)), 1.0)
    low, high = (float(level) for level in np.quantile(finite, (0.0005, reach)))
    room = 0.02 * max(high - low, 0.01)
    even = np.linspace(low - room, high + room, 160)
    own = np.quantile(finite, np.linspace(0.005, 0.995, 100))
    return np.unique(
        np.concatenate([even, own, _near(levels, (*QUANTILES, assurance)), [bank, max(bank, high) + room]])
    )


def _near(levels: Array, shares: tuple[float, ...]) -> Array:
    """Levels close about the quantiles that are read off the curve: a chord of a bent curve reads high [m]."""
    around = np.add.outer(shares, NEAR).ravel()
    known = levels[~np.isnan(levels)]
    found = np.quantile(known, around[(around > 0.0) & (around < 1.0)], method="inverted_cdf")
    return np.asarray(found[np.isfinite(found)])
