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
from overbank.sampling.refinement import refined
from overbank.sampling.samples import Array, Sampling
from overbank.uncertain.distributions import Distribution

ScoreBelow = Callable[[Array], Array]
"""Value -> normal score of P(X < value)."""

FALL_TOLERANCE = 1e-4
"""A level may fall by this much along the ladder before the sample counts as not monotone [m]."""

BLOCKAGE_STEPS = (0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 0.98, 1.0)
"""Shares of the support at which the ladder over a blockage is evaluated: closer where the level rises steeply."""

SCORE_STEPS = tuple(np.linspace(-6.0, 6.0, 17).tolist())
"""Normal scores at which the ladder over a flow is evaluated; what lies beyond has a probability of 1e-9."""

POLISH_TOLERANCE = 1e-5
"""Accuracy of a critical value, as a share of the ladder's range."""


@dataclass(frozen=True)
class Ladder:
    """The ladder over one input, and each place's critical value of it.

    name, column, distribution : of the input
    critical : the value at which a place just goes over its bank; nan where the ladder fell or failed; (P, R, N)
    lowest : margins of every place at the lowest node [m]; shape (P, R, N)
    mean, spread : of the input's normal score given all other inputs; mean (R, N)
    counted : the levels at the place counted for their exceedance curve, for every power of the debris; in parts, each
        under the number of a replicate's first samples that it reaches up to
    """

    name: str
    column: int
    distribution: Distribution
    critical: Array
    lowest: Array
    mean: Array
    spread: float
    counted: Mapping[float, Mapping[int, Counted]]

    def over(self, critical: Array, margins: Array, power: float = 1.0) -> rungs.Mended:
        """P(input >= critical value | all other inputs) of each sample, its own 0 or 1 where it has no critical value.

        Parameters
        ----------
        critical : shape (R, N); margins : of the samples themselves [m]
        power : of the debris, see `score_below`
        """
        rows = enumerate(zip(critical, margins, strict=True))
        mended = [self.of_replicate(replicate, *row, power) for replicate, row in rows]
        return rungs.Mended(np.array([each.probabilities for each in mended]), sum(each.replaced for each in mended))

    def of_replicate(self, replicate: int, critical: Array, margins: Array, power: float = 1.0) -> rungs.Mended:
        """As `over`, for the samples of one replicate; critical values and margins (..., N)."""
        below = score_below(self.distribution, power)
        mean = np.broadcast_to(self.mean[replicate], critical.shape)
        tails = rungs.tail_probability(critical, below, mean, self.spread)
        return rungs.mend(tails, ~np.isnan(critical), margins)

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


def ladder_over(sampling: Sampling, name: str, grid: Array, powers: tuple[float, ...] = (1.0,)) -> Ladder:
    """Set the input to every node for all samples, and solve for the critical values.

    Samples go through a batch at a time, and of each ladder only what the answers need is kept.

    Parameters
    ----------
    grid : levels at which the exceedance at the place is wanted [m]
    powers : of the debris for which it is wanted, where the input is a blockage
    """
    column = sampling.inputs.index(name)
    distribution = sampling.inputs.items[column].distribution
    nodes = refined(sampling, column, ladder_nodes(name, distribution))
    conditional = sampling.inputs.copula.conditional(column)
    critical, lowest = np.empty(sampling.levels.shape), np.empty(sampling.levels.shape)
    mean = np.empty(sampling.levels.shape[1:])
    counted: dict[float, dict[int, Counted]] = {power: {} for power in powers}
    for batch in sampling.batches():
        step = _Step(sampling, batch, column, nodes)
        critical[..., batch.part], lowest[..., batch.part] = step.critical(), step.margins[:, 0]
        mean[:, batch.part] = np.delete(batch.z, column, axis=2) @ conditional.weights
        for power in powers:
            below = score_below(distribution, power)
            for end, part in step.counted(grid, below, mean[:, batch.part], conditional.spread):
                counted[power][end] = counted[power][end] + part if end in counted[power] else part
    return Ladder(name, column, distribution, critical, lowest, mean, conditional.spread, counted)


class _Step:
    """The ladder of one batch: levels at every place and node, and less the bank [m]; shape (P, K, R, n)."""

    def __init__(self, sampling: Sampling, batch: Batch, column: int, nodes: Array) -> None:
        self.sampling, self.batch, self.column, self.nodes = sampling, batch, column, nodes
        places, each = sampling.places, np.empty(len(batch.rows))
        table = [batch.levels_with(column, np.full_like(each, node), places) for node in nodes]
        self.levels = np.stack(table, axis=1).reshape(len(places), nodes.size, *batch.shape)
        self.banks = sampling.banks[..., batch.part]
        self.margins = self.levels - self.banks[:, np.newaxis]

    def critical(self) -> Array:
        """Critical values of every place, shape (P, R, n)."""
        return np.array([self._critical(place) for place in range(len(self.sampling.places))])

    def _critical(self, place: int) -> Array:
        levels, margins, nodes = self.levels[place], self.margins[place], self.nodes
        trusted = rungs.Ladder(nodes, levels, margins).trusted(FALL_TOLERANCE)
        polished = polish.polish(
            self._margin_at(place),
            rungs.critical(nodes, margins),
            POLISH_TOLERANCE * float(np.ptp(nodes)),
            where=trusted,
        )
        return np.where(trusted, polished.value, np.nan)

    def _margin_at(self, place: int) -> Callable[[Array, NDArray[np.intp]], Array]:
        own, banks = (self.sampling.places[place],), self.banks[place].ravel()

        def margin(numbers: Array, chosen: NDArray[np.intp]) -> Array:
            (levels,) = self.batch.levels_with(self.column, numbers, own, chosen)
            return np.asarray(levels - banks[chosen])

        return margin

    def counted(self, grid: Array, below: ScoreBelow, mean: Array, spread: float) -> Iterator[tuple[int, Counted]]:
        """The levels at the place, cut where a verdict looks at the first samples; each under the next such cut."""
        at, start, stop = self.sampling.at, self.batch.part.start, self.batch.part.stop
        for before, end in pairwise([0, *convergence.parts(self.sampling.levels.shape[2])]):
            low, high = max(before, start), min(end, stop)
            if low < high:
                own = slice(low - start, high - start)
                yield (
                    end,
                    exceedance.count(
                        self.nodes,
                        self.levels[at][..., own],
                        grid,
                        score_below=below,
                        conditional_mean=mean[:, own],
                        conditional_spread=spread,
                        own_levels=self.sampling.samples.levels[:, low:high],
                        tolerance=FALL_TOLERANCE,
                    ),
                )


def is_blockage(name: str) -> bool:
    """Whether an input's dotted path is a blockage."""
    return name.rsplit(".", 1)[-1] == "blockage"


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
