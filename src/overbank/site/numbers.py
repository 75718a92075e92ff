"""The numbers of a site: each by its dotted path, certain ones as a float, uncertain ones as an array of samples."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Numbers = Mapping[str, float | Array]


class Water(NamedTuple):
    """Water level and energy level at one place [m], one value a sample."""

    level: Array
    energy: Array


def spread(number: float | Array, samples: int) -> Array:
    """The number for every sample."""
    return np.broadcast_to(np.asarray(number, dtype=np.float64), (samples,))
