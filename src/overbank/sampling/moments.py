"""What happens between the steps of a flood in time, on straight lines between them."""

from __future__ import annotations

import numpy as np

from overbank.sampling.samples import Array


def crossed(times: Array, depths: Array) -> Array:
    """When a depth over the bank is first not below 0, on straight lines between the steps [hours]; inf where never."""
    over = depths >= 0.0
    first = np.argmax(over, axis=0)
    before, each = np.maximum(first - 1, 0), np.arange(depths.shape[1])
    low, high = depths[before, each], depths[first, each]
    with np.errstate(invalid="ignore", divide="ignore"):
        share = np.where((first > 0) & np.isfinite(high) & np.isfinite(low), -low / (high - low), first > 0)
    found = times[before, each] + share * (times[first, each] - times[before, each])
    return np.where(over.any(axis=0), found, np.inf)


def time_over(times: Array, depths: Array) -> Array:
    """How long a depth over the bank stands above 0, on straight lines between the steps [hours]."""
    low, high = np.minimum(depths[:-1], depths[1:]), np.maximum(depths[:-1], depths[1:])
    with np.errstate(invalid="ignore", divide="ignore"):
        part = np.clip(high / (high - low), 0.0, 1.0)
    endless = np.isinf(high)
    part = np.where(low > 0.0, 1.0, np.where(high <= 0.0, 0.0, np.where(endless, 0.5, part)))
    return np.asarray(np.sum(part * np.diff(times, axis=0), axis=0))


def between(times: Array, values: Array, time: Array) -> Array:
    """Values at one time of each sample, on straight lines between the steps."""
    each = np.arange(times.shape[1])
    step = np.clip((times <= time).sum(axis=0) - 1, 0, len(times) - 2)
    share = (time - times[step, each]) / (times[step + 1, each] - times[step, each])
    return np.asarray(values[step, each] + share * (values[step + 1, each] - values[step, each]))
