"""Overtopping that the run's own samples cannot show: too rare for them, or impossible or certain by the ranges."""

from __future__ import annotations

import numpy as np

from overbank.analysis import bounds
from overbank.analysis import rare as importance
from overbank.analysis.overtopping import Probability
from overbank.sampling.conditional import Conditional, short_nodes
from overbank.sampling.integrated import first_scores, levels_along
from overbank.sampling.ladder import FALL_TOLERANCE, Ladder
from overbank.sampling.samples import Array, Sampling

PILOT = 1024
"""Samples that the search for the event begins with; more would only slow it down."""

TRIED = 64
"""Samples on which it is tried whether the water rises or falls with an input."""


def beyond_samples(sampling: Sampling, ladder: Ladder | None, found: Probability, each: Array) -> Probability | None:
    """A better figure than that of the samples, where they cannot give one; else None.

    Parameters
    ----------
    found : by the threshold method, or by counting where there is none
    each : probability of overtopping of every sample, shape (R, N)
    """
    if found.value in (0.0, 1.0) and (exact := _by_ranges(sampling)) is not None:
        return exact
    if ladder is None or not (found.value < importance.RARE or np.isnan(found.low)) or sampling.inputs.dimension == 1:
        return None
    rare = _rare(sampling, ladder, each)
    return rare if rare.value > 0.0 else None  # nothing found: the limit of all samples is the closer one


def _rare(sampling: Sampling, ladder: Ladder, each: Array) -> Probability:
    """Importance sampling of all inputs but the one integrated out."""
    conditional = Conditional(sampling.model, ladder.name, ladder.integrated.sign)
    copula = sampling.inputs.copula.part([j for j in range(sampling.inputs.dimension) if j != ladder.column])
    rest = np.delete(first_scores(sampling, PILOT), ladder.column, axis=1)

    def probabilities(scores: Array) -> Array:
        return conditional.without(copula.correlate(scores))

    pilot = sampling.held(each).ravel()[sampling.chosen(PILOT)]
    return importance.probability(probabilities, copula.independent(rest), pilot, seed=sampling.settings.seed)


def _by_ranges(sampling: Sampling) -> Probability | None:
    """Exactly 0 or 1, where the worst or the best corner of the ranges says so."""
    inputs = sampling.inputs
    rows, signs = inputs.values(first_scores(sampling, TRIED)), np.zeros(inputs.dimension)
    ends = np.array([item.distribution.support for item in inputs.items])
    bounded = np.isfinite(ends)
    for column in np.argsort(bounded.sum(axis=1), kind="stable"):  # one without any end that counts settles it
        direction = _direction(sampling, rows, column)
        if direction is None or (direction and not bounded[column].any()):
            return None
        signs[column] = direction
    ends[signs == 0.0] = inputs.medians()[signs == 0.0, np.newaxis]
    best, worst = bounds.corners(ends[:, 0], ends[:, 1], signs)
    return bounds.certain(_depth_over_bank(sampling, best), _depth_over_bank(sampling, worst))


def _direction(sampling: Sampling, rows: Array, column: int) -> int | None:
    item = sampling.inputs.items[column]
    nodes = short_nodes(item.name, item.distribution)
    return bounds.direction(levels_along(sampling.model, rows, column, nodes)[1], FALL_TOLERANCE)


def _depth_over_bank(sampling: Sampling, corner: Array) -> float:
    """Level minus bank at a corner [m]; nan where an input has no end there."""
    if not np.all(np.isfinite(corner)):
        return float("nan")
    return float(levels_along(sampling.model, corner[np.newaxis, :], 0, corner[:1])[1][0, 0])
