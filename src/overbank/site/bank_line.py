"""A bank whose level changes along a reach, and the level that is set against it.

The water goes over such a bank where it stands highest above it. The level set against the bank is that at the upstream
end of the line which leaves as much freeboard there as the water leaves at its worst place,

    H = max over x of [ H(x) + z(end) - z(x) ]

with H(x) the water and z(x) the bank x upstream of the lower end: the true level where the upstream end is the worst.
As H(x) never falls when flow, tailwater, roughness or blockage rises, neither does H (closed form).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from overbank.site.numbers import Array

FINEST = 10
"""No piece of the bank is longer than the line over this, between its points (own choice): the water is curved."""


@dataclass(frozen=True, eq=False)
class BankLine:
    """Distance upstream of the lower end of the reach and height above the line's upstream end, a row each [m]."""

    points: NDArray[np.float64]

    def cut(self) -> Iterator[tuple[float, float]]:
        """Distance and height of every place that is looked at, its points among them."""
        longest = (self.points[-1, 0] - self.points[0, 0]) / FINEST
        yield float(self.points[0, 0]), float(self.points[0, 1])
        for (x, z), (x_next, z_next) in pairwise(self.points.tolist()):
            parts = max(1, int(np.ceil((x_next - x) / longest - 1e-9)))
            for part in range(1, parts + 1):
                share = part / parts
                yield x + share * (x_next - x), z + share * (z_next - z)

    def against(self, level_at: Callable[[float], Array]) -> Array:
        """The level set against the bank [m]; `level_at` gives that of the water at a distance."""
        levels = [level_at(x) - z for x, z in self.cut()]
        highest: Array = np.maximum.reduce(levels)
        return highest
