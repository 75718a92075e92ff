"""Relief barrels: a second group in the same crossing, at a level of its own, that shares the flow.

The pool upstream stands over both groups. Screen and main barrels pass what they can; the rest goes through the relief
barrels, which the screen does not protect, and over the road. Main barrels and road alone say whether any is left for
the relief barrels. Where there is, the flow through the main barrels gives the level, the level what goes over the
road, and the rest the level that the relief barrels ask for: the first less the last rises with that flow, so the split
is again the one root of a monotone function.

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
    flow_over,
    level_through,
    shared_out,
)

NO_SCREEN = Screen(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)


@kernel
def _excess(
    b: Barrels, screen: Screen, relief: Barrels, road: Road, flow: float, tailwater: float, through: float
) -> float:
    """Level that the main barrels ask for their flow, less that which the relief barrels ask for what is left [m].

    At the first level the road takes what it takes, whatever goes through the barrels.
    """
    level = level_through(b, screen, through, tailwater)
    left = max(flow - through - flow_over(road, level, tailwater), 0.0)
    return level - level_through(relief, NO_SCREEN, left, tailwater)


@kernel
def shared_by_both(
    b: Barrels, screen: Screen, relief: Barrels, road: Road, flow: float, tailwater: float
) -> tuple[float, float]:
    """Flow through the main barrels [m3/s] and level of the pool upstream [m]; `relief` has number 0 for none."""
    most, level = shared_out(b, screen, road, flow, tailwater)
    if relief.number <= 0.0 or tailwater == inf or level <= level_through(relief, NO_SCREEN, 0.0, tailwater):
        return most, level
    low = _excess(b, screen, relief, road, flow, tailwater, 0.0)
    if low >= 0.0:
        return 0.0, shared_out(relief, NO_SCREEN, road, flow, tailwater)[1]
    high = _excess(b, screen, relief, road, flow, tailwater, most)
    if high <= 0.0:
        return most, level
    bracket = roots.start(0.0, low, most, high)
    while roots.is_open(bracket, 1e-10 * flow) and abs(bracket.f1) > 1e-7:
        x = roots.propose(bracket)
        bracket = roots.narrow(bracket, x, _excess(b, screen, relief, road, flow, tailwater, x))
    through = roots.best(bracket)
    return through, shared_out(relief, NO_SCREEN, road, flow - through, tailwater)[1]


@kernel
def crossed_by_both(b: Barrels, screen: Screen, relief: Barrels, road: Road, flow: float, tailwater: float) -> Crossed:
    """The whole state of a crossing with relief barrels; `relief` has the number 0 when there are none."""
    if relief.number <= 0.0:
        return crossed(b, screen, road, flow, tailwater)
    through, level = shared_by_both(b, screen, relief, road, flow, tailwater)
    beside = flow - through
    in_relief = shared_out(relief, NO_SCREEN, road, beside, tailwater)[0]
    return crossed_with(b, screen, road, through, in_relief, beside - in_relief, level, tailwater)
