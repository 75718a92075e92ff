"""The threshold method on the samples: the ladder over one input, and where each place goes over its bank."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overbank.analysis import exceedance, ladder, polish
from overbank.analysis.bands import Curve
from overbank.stages.rungs import refined
from overbank.stages.sampling import Array, Sampling
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
class Climb:
    """The ladder over one input, and each place's critical value of it.

    name, column, distribution : of the input
    nodes : its values on the ladder [K]
    levels : at the place that the answers are about [m]; shape (K, R, N)
    critical : the value at which a place just goes over its bank; nan where the ladder fell or failed; (P, R, N)
    lowest : margins of every place at the lowest node [m]; shape (P, R, N)
    mean, spread : of the input's normal score given all other inputs; mean (R, N)
    """

    name: str
    column: int
    distribution: Distribution
    nodes: Array
    levels: Array
    critical: Array
    lowest: Array
    mean: Array
    spread: float

    def over(self, critical: Array, margins: Array, score_below: ScoreBelow | None = None) -> ladder.Mended:
        """P(input >= critical value | all other inputs) of each sample, its own 0 or 1 where it has no critical value.

        Parameters
        ----------
        critical : shape (R, N); margins : of the samples themselves [m]
        score_below : of another distribution of the input than the assumed one
        """
        below = score_below or self.distribution.score_below
        tails = ladder.tail_probability(critical, below, self.mean, self.spread)
        return ladder.mend(tails, ~np.isnan(critical), margins)

    def exceedance(self, grid: Array, own_levels: Array, score_below: ScoreBelow | None = None) -> Curve:
        """Exceedance of the level at the place, by `exceedance.conditional`; `score_below` as for `over`."""
        return exceedance.conditional(
            self.nodes,
            self.levels,
            grid,
            score_below=score_below or self.distribution.score_below,
            conditional_mean=self.mean,
            conditional_spread=self.spread,
            own_levels=own_levels,
            tolerance=FALL_TOLERANCE,
        )


def climb(sampling: Sampling, name: str) -> Climb:
    """Set the input to every node for all samples, and solve for the critical values.

    Every place but the one that the answers are about keeps only its margins, so that memory stays small.
    """
    column = sampling.inputs.index(name)
    distribution = sampling.inputs.items[column].distribution
    nodes = refined(sampling, column, ladder_nodes(name, distribution))
    table = np.array(
        [sampling.levels_with(column, np.full(len(sampling.rows), node), sampling.places) for node in nodes]
    )
    critical = np.array([_critical(sampling, column, nodes, table[:, place], place) for place in range(table.shape[1])])
    conditional = sampling.inputs.copula.conditional(column)
    return Climb(
        name=name,
        column=column,
        distribution=distribution,
        nodes=nodes,
        levels=table[:, sampling.at].reshape(nodes.size, *sampling.shape),
        critical=critical,
        lowest=(table[0] - sampling.banks).reshape(len(sampling.places), *sampling.shape),
        mean=np.delete(sampling.z, column, axis=2) @ conditional.weights,
        spread=conditional.spread,
    )


def _critical(sampling: Sampling, column: int, nodes: Array, levels: Array, place: int) -> Array:
    """Critical values of one place, shape (R, N), from its levels (K, R N) on the ladder."""
    bank = sampling.banks[place]
    shape = (nodes.size, *sampling.shape)
    margins = (levels - bank).reshape(shape)
    trusted = ladder.Ladder(nodes, levels.reshape(shape), margins).trusted(FALL_TOLERANCE)
    polished = polish.polish(
        _margin_at(sampling, column, place),
        ladder.critical(nodes, margins),
        POLISH_TOLERANCE * float(np.ptp(nodes)),
        where=trusted,
    )
    return np.where(trusted, polished.value, np.nan)


def _margin_at(sampling: Sampling, column: int, place: int) -> Callable[[Array, NDArray[np.intp]], Array]:
    own = (sampling.places[place],)

    def margin(numbers: Array, chosen: NDArray[np.intp]) -> Array:
        (levels,) = sampling.levels_with(column, numbers, own, chosen)
        return np.asarray(levels - sampling.banks[place][chosen])

    return margin


def is_blockage(name: str) -> bool:
    """Whether an input's dotted path is a blockage."""
    return name.rsplit(".", 1)[-1] == "blockage"


def ladder_nodes(
    name: str,
    distribution: Distribution,
    blockages: tuple[float, ...] = BLOCKAGE_STEPS,
    scores: tuple[float, ...] = SCORE_STEPS,
) -> Array:
    """Values of the stair input at which samples are run: shares of a blockage's support, else scores; and atoms."""
    if is_blockage(name):
        low, high = distribution.support
        nodes = low + (high - low) * np.array(blockages)
    else:
        nodes = distribution.value(np.array(scores))
    atoms = [value for value, _ in distribution.atoms if len(distribution.atoms) <= 20]
    return np.unique(np.concatenate([nodes, atoms]))
