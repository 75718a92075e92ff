"""The numbers of a site: each by its dotted path, certain ones as a float, uncertain ones as an array of samples."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple, Self

import numpy as np
from numpy.typing import NDArray

from overbank._jit import Rows, run_rows

Array = NDArray[np.float64]
Column = float | Array
Numbers = Mapping[str, Column]
Results = dict[str, Array]
"""What a structure makes of every sample, by name."""

FLOW = "flow.design_m3_s"
"""Dotted path of the flow."""

CLIMATE = "flow.climate_factor"
"""Dotted path of what a climate to come multiplies every flow by; a site without one has the flows as they are."""


class Water(NamedTuple):
    """Water level and energy level at one place [m], one value a sample."""

    level: Array
    energy: Array

    @classmethod
    def of(cls, results: Mapping[str, Array]) -> Self:
        """The water that a structure's results leave upstream; a still pool where they give no energy level."""
        return cls(results["level"], results.get("energy", results["level"]))


def spread(number: Column, samples: int) -> Array:
    """The number for every sample."""
    return np.broadcast_to(np.asarray(number, dtype=np.float64), (samples,))


def flow_of(numbers: Numbers, samples: int) -> Array:
    """The flow of every sample [m3/s], the climate to come included."""
    flow = spread(numbers[FLOW], samples)
    return np.ascontiguousarray(flow * spread(numbers[CLIMATE], samples) if CLIMATE in numbers else flow)


def run_named(rows: Rows, names: Sequence[str], columns: Sequence[Column], samples: int) -> dict[str, Array]:
    """Run a compiled loop and give its results by name."""
    return dict(zip(names, run_rows(rows, columns, len(names), samples), strict=True))
