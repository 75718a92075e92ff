"""The threshold method on the samples: the ladder over one input, and where each place goes over its bank."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from overbank.analysis import convergence, exceedance, polish
from overbank.analysis import ladder as rungs
from overbank.analysis.bands import Curve
from overbank.analysis.exceedance import Counted
from overbank.sampling.batches import Batch
from overbank.sampling.integrated_input import IntegratedInput
from overbank.sampling.refinement import refined
from overbank.sampling.samples import Array, Sampling
from overbank.uncertain.conditioning import Given, NormalGiven
from overbank.uncertain.distributions import Distribution

ScoreBelow = Callable[[Array], Array]
"""Value -> normal score of P(X < value)."""

FALL_TOLERANCE = 1e-4
"""A level may fall by this much along the ladder before the sample counts as not monotone [m]."""

BLOCKAGE_STEPS = (0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 0.98, 1.0)
"""Shares of the support at which the ladder over a blockage is evaluated: closer where the level rises steeply.

The same shares of the whole opening are, outside the support: a blockage may be *set* to any value."""

SCORE_STEPS = tuple(np.linspace(-6.0, 6.0, 17).tolist())
"""Normal scores at which the ladder over a flow is evaluated; what lies beyond has a probability of 1e-9."""

POLISH_TOLERANCE = 1e-5
"""Accuracy of a critical value, as a share of the ladder's range."""


@dataclass(frozen=True)
class Ladder:
    """The ladder over one input, and each place's critical value of it.

    integrated : the input, or its negative where the water falls with it
    critical : the value at which a place just goes over its bank; nan where the ladder fell through it or failed;
        shape (P, R, N)
    lowest : depths over the bank of every place at the lowest node [m]; shape (P, R, N)
    given : what all other inputs of each sample say of the input's normal score (R, N)
    counted : the levels at the place counted for their exceedance curve, for every power of the debris; in parts, each
        under the number of a replicate's first samples that it reaches up to
    """

    integrated: IntegratedInput
    critical: Array
    lowest: Array
    given: Given
    counted: Mapping[float, Mapping[int, Counted]]

    @property
    def name(self) -> str:
        """Of the input."""
        return self.integrated.name

    @property
    def column(self) -> int:
        """Of the input."""
        return self.integrated.column

    @property
    def distribution(self) -> Distribution:
        """Of the input, or of its negative."""
        return self.integrated.distribution

    def over(self, critical: Array, depths: Array, power: float = 1.0) -> rungs.Mended:
        """P(input >= critical value | all other inputs) of each sample, its own 0 or 1 where it has no critical value.

        Parameters
        ----------
        critical : shape (R, N); depths : of the samples themselves [m]
        power : of the debris, see `score_below`
        """
        rows = enumerate(zip(critical, depths, strict=True))
        mended = [self.of_replicate(replicate, *row, power) for replicate, row in rows]
        return rungs.Mended(np.array([each.probabilities for each in mended]), sum(each.replaced for each in mended))

    def of_replicate(self, replicate: int, critical: Array, depths: Array, power: float = 1.0) -> rungs.Mended:
        """As `over`, for the samples of one replicate; critical values and depths over the bank (..., N)."""
        tails = tail_probability(critical, score_below(self.distribution, power), self.given[replicate])
        return rungs.mend(tails, ~np.isnan(critical), depths)

    def exceedance(self, power: float = 1.0, samples: int | None = None) -> Curve:
        """Exceedance of the level at the place, by `exceedance.conditional`.

        Parameters
        ----------
        power : of the debris, one of those asked for
        samples : only the first ones of every replicate, one of `convergence.parts`; all if left out
        """
        parts = self.counted[power].items()
        return exceedance.conditional([part for end, part in parts if samples is None or end <= samples])


def score_below(distribution: Distribution, power: float) -> ScoreBelow:
    """Normal score of P(X < x) where an input is another than assumed.

    Where a blockage b is found, 1 - (1 - b)^(1/power) is taken: the open share as of 1/power layers like it. Clean
    stays clean and shut stays shut. With a power of 1 any input is as assumed.
    """
    if power == 1.0:
        return distribution.score_below
    return lambda blockage: distribution.score_below(1.0 - (1.0 - np.asarray(blockage)) ** power)


def tail_probability(critical: Array, below: ScoreBelow, given: Given) -> Array:
    """P(input >= critical value | all other inputs), as `analysis.ladder.tail_probability`; axes may go before."""
    if isinstance(given, NormalGiven):
        return rungs.tail_probability(critical, below, np.broadcast_to(given.mean, critical.shape), given.spread)
    return rungs.tail_probability(critical, below, law=given)


def ladder_over(
    sampling: Sampling, integrated: IntegratedInput, grid: Array, powers: tuple[float, ...] = (1.0,)
) -> Ladder:
    """Set the input to every node for all samples, and solve for the critical values.

    Samples go through a batch at a time, and of each ladder only what the answers need is kept.

    Parameters
    ----------
    grid : levels at which the exceedance at the place is wanted [m]
    powers : of the debris for which it is wanted, where the input is a blockage
    """
    distribution = integrated.distribution
    nodes = refined(
        sampling, integrated, _whole(integrated.name, ladder_nodes(integrated.name, distribution)), float(grid[-1])
    )
    critical, lowest = np.empty(sampling.levels.shape), np.empty(sampling.levels.shape)
    laws: list[Given] = []
    counted: dict[float, dict[int, Counted]] = {power: {} for power in powers}
    for batch in sampling.batches():
        step = _Step(sampling, batch, integrated, nodes)
        critical[..., batch.part], lowest[..., batch.part] = step.critical(), step.depths[:, 0]
        laws.append(integrated.given(batch.z))
        for power in powers:
            below = score_below(distribution, power)
            for end, part in step.counted(grid, below, laws[-1]):
                counted[power][end] = counted[power][end] + part if end in counted[power] else part
    return Ladder(integrated, critical, lowest, laws[0].joined(laws[1:]), counted)


class _Step:
    """The ladder of one batch: levels at every place and node, and less the bank [m]; shape (P, K, R, n)."""

    def __init__(self, sampling: Sampling, batch: Batch, integrated: IntegratedInput, nodes: Array) -> None:
        self.sampling, self.batch, self.integrated, self.nodes = sampling, batch, integrated, nodes
        places, each = sampling.places, np.empty(len(batch.rows))
        numbers = integrated.numbers(nodes)
        table = [batch.levels_with(integrated.column, np.full_like(each, number), places) for number in numbers]
        self.levels = np.stack(table, axis=1).reshape(len(places), nodes.size, *batch.shape)
        self.banks = sampling.banks[..., batch.part]
        self.depths = self.levels - self.banks[:, np.newaxis]
        for place in filter(self._of_integrated, range(len(places))):
            self.depths[place] = self.levels[place] - numbers[:, np.newaxis, np.newaxis]

    def critical(self) -> Array:
        """Critical values of every place, shape (P, R, n)."""
        return np.array([self._critical(place) for place in range(len(self.sampling.places))])

    def _critical(self, place: int) -> Array:
        depths, nodes = self.depths[place], self.nodes
        trusted = rungs.trusted(depths, FALL_TOLERANCE)
        polished = polish.polish(
            self._depth_at(place),
            rungs.critical(nodes, depths),
            POLISH_TOLERANCE * float(np.ptp(nodes)),
            where=trusted,
        )
        return np.where(trusted, polished.value, np.nan)

    def _of_integrated(self, place: int) -> bool:
        """Whether the bank of a place is what the ladder is over."""
        return f"{self.sampling.places[place]}.bank_level_m" == self.integrated.name

    def _depth_at(self, place: int) -> Callable[[Array, NDArray[np.intp]], Array]:
        own, banks, of_integrated = (
            (self.sampling.places[place],),
            self.banks[place].ravel(),
            self._of_integrated(place),
        )

        def depth_over_bank(values: Array, chosen: NDArray[np.intp]) -> Array:
            numbers = self.integrated.numbers(values)
            (levels,) = self.batch.levels_with(self.integrated.column, numbers, own, chosen)
            return np.asarray(levels - (numbers if of_integrated else banks[chosen]))

        return depth_over_bank

    def counted(self, grid: Array, below: ScoreBelow, given: Given) -> Iterator[tuple[int, Counted]]:
        """The levels at the place, cut where convergence looks at the first samples; each under the next such cut."""
        at, start, stop = self.sampling.at, self.batch.part.start, self.batch.part.stop
        for before, end in pairwise([0, *convergence.parts(self.sampling.levels.shape[2])]):
            low, high = max(before, start), min(end, stop)
            if low < high:
                own = slice(low - start, high - start)
                law = given[:, own]
                yield (
                    end,
                    exceedance.count(
                        self.nodes,
                        self.levels[at][..., own],
                        grid,
                        score_below=below,
                        conditional_mean=law.mean if isinstance(law, NormalGiven) else 0.0,
                        conditional_spread=law.spread if isinstance(law, NormalGiven) else 1.0,
                        law=None if isinstance(law, NormalGiven) else law,
                        own_levels=self.sampling.samples.levels[:, low:high],
                        tolerance=FALL_TOLERANCE,
                    ),
                )


def is_blockage(name: str) -> bool:
    """Whether an input's dotted path is a blockage."""
    return name.rsplit(".", 1)[-1] == "blockage"


def _whole(name: str, nodes: Array) -> Array:
    """The nodes of a blockage from nothing blocked to all of it, whatever is assumed of it; others as they are."""
    if not is_blockage(name):
        return nodes
    outside = [share for share in BLOCKAGE_STEPS if not nodes[0] <= share <= nodes[-1]]
    return np.unique(np.concatenate([nodes, outside]))


def ladder_nodes(
    name: str,
    distribution: Distribution,
    blockages: tuple[float, ...] = BLOCKAGE_STEPS,
    scores: tuple[float, ...] = SCORE_STEPS,
) -> Array:
    """Values of the input at which samples are run: shares of a blockage's support, else scores; and atoms."""
    if is_blockage(name):
        low, high = distribution.support
        nodes = low + (high - low) * np.array(blockages)
    else:
        nodes = distribution.value(np.array(scores))
    atoms = [value for value, _ in distribution.atoms if len(distribution.atoms) <= 20]
    return np.unique(np.concatenate([nodes, atoms]))
