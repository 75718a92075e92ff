"""Relief barrels: a second group in the same crossing, at a level of its own, that shares the flow.

The pool upstream stands over both groups. Screen and main barrels pass what they can; the rest goes through the relief
barrels, which the screen does not protect, and over the road. What lies beside the main barrels is therefore a
crossing of its own, without a screen: its level rises with its flow, that through the main barrels falls as it takes
more, so the split is again the one root of a monotone function.

Source: balance of energy in a common pool, no formula of its own (own derivation). The tests compare with a plain
bracketing solve of the level of the pool by SciPy.
"""

from __future__ import annotations

from math import inf

from overbank._jit import kernel
from overbank.hydraulics import roots
from overbank.hydraulics.crossing import (
    Barrels,
    Crossed,
    Road,
    Screen,
    crossed,
    crossed_with,
    level_through,
    not_above_road,
    pool_level,
    shared_out,
)

NO_SCREEN = Screen(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)


@kernel
def shared_by_both(
    b: Barrels, screen: Screen, relief: Barrels, road: Road, flow: float, tailwater: float
) -> tuple[float, float]:
    """Flow through the main barrels [m3/s] and level of the pool upstream [m]; `relief` has number 0 for none."""
    if relief.number <= 0.0:
        return shared_out(b, screen, road, flow, tailwater)
    alone = level_through(b, screen, flow, tailwater)
    if tailwater == inf:
        return flow, not_above_road(road, alone, tailwater)
    dry = pool_level(relief, NO_SCREEN, road, 0.0, tailwater)
    if alone <= dry:
        return flow, not_above_road(road, alone, tailwater)
    low = level_through(b, screen, 0.0, tailwater) - pool_level(relief, NO_SCREEN, road, flow, tailwater)
    if low >= 0.0:
        return 0.0, pool_level(relief, NO_SCREEN, road, flow, tailwater)
    bracket = roots.start(0.0, low, flow, alone - dry)
    while roots.is_open(bracket, 1e-10 * flow) and abs(bracket.f1) > 1e-7:
        x = roots.propose(bracket)
        beside = pool_level(relief, NO_SCREEN, road, flow - x, tailwater)
        bracket = roots.narrow(bracket, x, level_through(b, screen, x, tailwater) - beside)
    through = roots.best(bracket)
    if through >= flow:
        return flow, not_above_road(road, alone, tailwater)
    return through, pool_level(relief, NO_SCREEN, road, flow - through, tailwater)


@kernel
def crossed_by_both(b: Barrels, screen: Screen, relief: Barrels, road: Road, flow: float, tailwater: float) -> Crossed:
    """The whole state of a crossing with relief barrels; `relief` has the number 0 when there are none."""
    if relief.number <= 0.0:
        return crossed(b, screen, road, flow, tailwater)
    through, level = shared_by_both(b, screen, relief, road, flow, tailwater)
    beside = flow - through
    in_relief = shared_out(relief, NO_SCREEN, road, beside, tailwater)[0]
    return crossed_with(b, screen, road, through, in_relief, beside - in_relief, level, tailwater)
