"""A crest or road whose level changes along it, as the row takes it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overbank.hydraulics.crest_line import Line
from overbank.site.numbers import Array

WALLS = "water above an end point of its profile: the {} is taken to end there at upright walls"


@dataclass(frozen=True, eq=False)
class CrestLine:
    """Distance along a crest and height above its lowest point, a row each [m]."""

    points: Line

    def over_an_end(self, head: Array) -> NDArray[np.bool_]:
        """Where the water stands above one of its end points; `head` is over its lowest point [m]."""
        lower = float(min(self.points[0, 1], self.points[-1, 1]))
        return np.isfinite(head) & (head > lower)
