"""The hydraulic jump: where a subcritical profile on a steep bed ends, the flow above it being supercritical."""

from __future__ import annotations

from math import sqrt

from overbank._jit import kernel
from overbank.constants import GRAVITY


@kernel
def sequent_depth(flow: float, width: float, depth: float) -> float:
    """Depth on the other side of a jump in a rectangular channel, y2 = y1/2 (sqrt(1 + 8 Fr1^2) - 1) [m].

    flow : [m3/s]; width : [m]; depth : y1, on this side [m]
    Level bed, no friction over the jump, momentum kept; works both ways. Source: Belanger; closed form, in
    V. T. Chow (1959), "Open-Channel Hydraulics", chapter 15.
    """
    velocity = flow / (width * depth)
    return 0.5 * depth * (sqrt(1.0 + 8.0 * velocity * velocity / (GRAVITY * depth)) - 1.0)
