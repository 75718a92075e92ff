"""A figure with its standard error, and the few ways in which plain samples give one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from referee.families import Array

NORMAL_975 = 1.959963984540054


@dataclass(frozen=True)
class Figure:
    """A figure of the referee: value, and standard errors downwards and upwards; nan where there is none.

    also : a second value that is as right, where the question has two answers
    perhaps_none : whether "there is none" is as right
    """

    value: float
    below: float
    above: float
    also: float = np.nan
    perhaps_none: bool = False


def none() -> Figure:
    """There is no such figure."""
    return Figure(np.nan, 0.0, 0.0)


def exact(value: float) -> Figure:
    """A closed form, or a solve without sampling."""
    return Figure(value, 0.0, 0.0)


def counted(events: Array) -> Figure:
    """Probability from independent events; without any, or with nothing but events, its error is one in as many."""
    count, share = events.size, float(np.mean(events))
    error = max(float(np.std(events)) / np.sqrt(count), 1.0 / count)
    return Figure(share, error, error)


def mean(values: Array) -> Figure:
    """Mean of independent values."""
    error = float(np.std(values)) / np.sqrt(values.size)
    return Figure(float(np.mean(values)), error, error)


def weighted(values: Array, weights: Array) -> Figure:
    """Mean of weighted values, the weights known up to a factor; its error by the delta method."""
    share = float(np.sum(weights * values) / np.sum(weights))
    error = float(np.sqrt(np.sum((weights * (values - share)) ** 2)) / np.sum(weights))
    return Figure(share, error, error)


def quantile(values: Array, probability: float, weights: Array | None = None) -> Figure:
    """Smallest value with at least this share at or below it; its errors by the values at shares to either side.

    Woodruff 1952 (from memory), with 1.96 errors to each side, turned back into one.
    """
    order = np.argsort(values)
    ordered = values[order]
    weight = np.full(values.size, 1.0 / values.size) if weights is None else weights[order] / weights.sum()
    heights = np.cumsum(weight)

    def at(share: float) -> float:
        place = np.searchsorted(heights, share - 1e-12, side="left")
        return float(ordered[min(max(int(place), 0), values.size - 1)])

    middle = at(probability)
    spread = float(np.sqrt(np.sum((weight * ((ordered <= middle) - probability)) ** 2)))
    low, high = at(probability - NORMAL_975 * spread), at(probability + NORMAL_975 * spread)
    return Figure(middle, _gap(low, middle), _gap(middle, high))


def _gap(low: float, high: float) -> float:
    return 0.0 if low == high else (high - low) / NORMAL_975
