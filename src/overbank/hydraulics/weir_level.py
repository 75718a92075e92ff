"""A weir across a channel: the level just upstream of it, for a flow and the level just below.

The level upstream never falls when the flow or the level below rises. Three choices serve this:

- The ratio that tells how far the weir is drowned is the greater of static heads (h2/h1) and energy heads
  (H2/H1); a thin plate, whose law was fitted to static heads, takes those alone. So the level upstream is
  never below that downstream.
- Of the velocity head upstream no more counts than h/2, nor than half the hydraulic mean depth of the
  approach. With more, the crest would draw more than the approach can bring, and the level would fall as the
  flow rises; a straight crest, over which the flow is at most critical, never comes there.
- The approach is at least at critical depth.

In a surveyed approach the energy itself is counted so that it never falls (`surveyed_stages`), and the level is looked
for from critical level on; there the half of the mean depth is not needed.

A drowned crest in a channel, low against the head, is a bump: beyond a head of its own height the level is the lower of
that by the law of drowning and that by an energy balance over the bump (`low_sill`), but never less than the free one.

The velocity of approach is that of the flow asked for, so the level is the one root of a rising function, bracketed.
"""

from __future__ import annotations

from math import inf, sqrt
from typing import NamedTuple

from overbank._jit import kernel
from overbank.constants import GRAVITY
from overbank.hydraulics import roots
from overbank.hydraulics.crest_line import Line, crest_line_flow
from overbank.hydraulics.crests import (
    BROAD_CRESTED,
    ROUND_NOSED,
    THIN_PLATE,
    TRIANGULAR,
    TRIANGULAR_OFFSET,
    UNEVEN,
    PlateRow,
    broad_crested_energy,
    drowned_factor,
    kindsvater_carter,
    round_nosed,
    three_halves,
    triangular,
    triangular_drowned_factor,
)
from overbank.hydraulics.low_sill import LOW_FROM, least_depth, widening_loss
from overbank.hydraulics.oblique import effective_width
from overbank.hydraulics.sections import Section, area, top_width
from overbank.hydraulics.surveyed_stages import Stages, stage_area, stage_critical, stage_energy, stage_froude_squared
from overbank.hydraulics.uniform import critical_depth

FREE, DROWNED, APPROACH_CRITICAL, LOW_SILL, NO_CREST = 1, 2, 3, 4, 9
"""What governs: the crest; crest and level below; critical depth in the approach; the energy balance over a drowned
crest that is low against the head; there is no crest to flow over."""


class Crest(NamedTuple):
    """A crest across a channel, level but for one that follows a line.

    approach : section of the channel upstream, open to the sky; its roughness is not used; width `inf` for a pool
    plate : Kindsvater and Carter's constants by `crests.plate_row(width / approach width)`; THIN_PLATE only
    kind : BROAD_CRESTED, ROUND_NOSED, THIN_PLATE, TRIANGULAR, GIVEN or UNEVEN
    level : of the crest, of its lowest point [m]
    width : that the crest spans of the channel, square to the flow; a straight crest's length [m]
    breadth : of the crest along the flow, BROAD_CRESTED and ROUND_NOSED only [m]
    angle_deg : between the crest's normal and the channel's axis; 0 straight, 75 at most [deg]
    gain : multiplies the share of an oblique crest's extra length that counts, 1 for the middle of its band [-]
    factor : multiplies the flow; 1, or the uncertain error of the coefficient [-]
    coefficient : C of Q = C b H^1.5, H the energy head; GIVEN and UNEVEN only [m^0.5/s]
    modular_limit : ratio of heads up to which the level below is not felt; TRIANGULAR has a curve of its own [-]
    approach_bed : level of the bed upstream [m]
    survey : stages of the surveyed section that stands in place of `approach`, None where that is a simple one
    line : what an UNEVEN crest follows, else None
    """

    approach: Section
    plate: PlateRow
    kind: float
    level: float
    width: float
    breadth: float
    angle_deg: float
    gain: float
    factor: float
    coefficient: float
    modular_limit: float
    approach_bed: float
    survey: Stages | None = None
    line: Line | None = None


NO_PLATE = PlateRow(0.0, 0.0, 0.0, 0.0)
"""For the other kinds."""


class WeirState(NamedTuple):
    """What a weir does with a flow.

    level, energy : just upstream [m]; `inf` when there is no crest to flow over
    regime : FREE, DROWNED, APPROACH_CRITICAL, LOW_SILL or NO_CREST
    head : gauged, above the crest [m]
    drowned_ratio : drowned over upstream head, negative when the level below is under the crest [-]
    drowned_factor : share of the free flow that passes [-]
    effective_width : of the straight crest that passes as much [m]
    velocity, froude : in the approach [m/s], [-]
    """

    level: float
    energy: float
    regime: float
    head: float
    drowned_ratio: float
    drowned_factor: float
    effective_width: float
    velocity: float
    froude: float


@kernel
def _approach(c: Crest, flow: float, head: float) -> tuple[float, float]:
    """Velocity [m/s] and hydraulic mean depth [m] of a simple approach; 0 and inf in a pool."""
    if c.approach.width == inf:
        return 0.0, inf
    y = max(c.level + head - c.approach_bed, 1e-12)
    wet = area(c.approach, y)
    return flow / wet, wet / top_width(c.approach, y)


@kernel
def _velocity_head(c: Crest, survey: Stages | None, flow: float, head: float) -> float:
    """Velocity head of the approach, held where it would draw more as the water falls [m]."""
    if survey is None:
        velocity, mean_depth = _approach(c, flow, head)
        return min(velocity * velocity / (2.0 * GRAVITY), 0.5 * mean_depth)
    return stage_energy(survey, flow, c.level + head) - (c.level + head)


@kernel
def counted_velocity_head(c: Crest, flow: float, head: float) -> float:
    """Velocity head of the approach, as much of it as counts: no more than h/2, see above [m]."""
    return min(_velocity_head(c, c.survey, flow, head), 0.5 * head)


@kernel
def _by_itself(c: Crest) -> Crest:
    """The crest without the survey, whose table would slow down every formula that it is handed to."""
    return Crest(
        c.approach,
        c.plate,
        c.kind,
        c.level,
        c.width,
        c.breadth,
        c.angle_deg,
        c.gain,
        c.factor,
        c.coefficient,
        c.modular_limit,
        c.approach_bed,
        None,
        c.line,
    )


@kernel
def drowned_ratio(
    kind: float, head: float, energy_head: float, drowned_head: float, drowned_energy_head: float
) -> float:
    """Drowned over upstream head, the greater of static and energy heads; static alone over a thin plate [-]."""
    ratio = drowned_head / head
    return ratio if kind == THIN_PLATE else max(ratio, drowned_energy_head / energy_head)


@kernel
def _drowned(c: Crest, ratio: float) -> float:
    return triangular_drowned_factor(ratio) if c.kind == TRIANGULAR else drowned_factor(ratio, c.modular_limit)


@kernel
def free_flow(c: Crest, head: float, energy_head: float) -> float:
    """Flow over the crest, not drowned [m3/s]; head and energy_head above the crest [m]."""
    return _flow_over(c, c.line, head, energy_head, -inf, -inf)


@kernel
def _flow_over(
    c: Crest, line: Line | None, head: float, energy_head: float, drowned_head: float, drowned_energy_head: float
) -> float:
    """`weir_flow`; `line` is that of the crest."""
    if line is None:
        free = _level_flow(c, head, energy_head)
        if drowned_energy_head == -inf:
            return free
        ratio = drowned_ratio(c.kind, head, energy_head, drowned_head, drowned_energy_head)
        return _drowned(c, ratio) * free
    heads = (head, energy_head, drowned_head, drowned_energy_head)
    return c.factor * crest_line_flow(line, *heads, c.coefficient, c.modular_limit)


@kernel
def _level_flow(c: Crest, head: float, energy_head: float) -> float:
    """Flow over a level crest, not drowned [m3/s]."""
    height = c.level - c.approach_bed
    width = effective_width(c.width, c.angle_deg, c.gain, head, height)
    if c.kind == BROAD_CRESTED:
        flow = broad_crested_energy(head, energy_head, width, c.breadth)
    elif c.kind == ROUND_NOSED:
        flow = round_nosed(head, energy_head, width, c.breadth)
    elif c.kind == THIN_PLATE:
        flow = kindsvater_carter(head, height, width, c.plate)
    elif c.kind == TRIANGULAR:
        flow = triangular(head, energy_head, width, TRIANGULAR_OFFSET)
    else:
        flow = c.coefficient * width * three_halves(energy_head)
    return c.factor * flow


@kernel
def weir_flow(c: Crest, head: float, energy_head: float, drowned_head: float, drowned_energy_head: float) -> float:
    """Flow over a weir [m3/s]: rises with the heads upstream, falls with those below.

    Parameters
    ----------
    c : the crest
    head, energy_head : gauged and energy head upstream, above the crest [m]; each kind takes the one its source has
    drowned_head, drowned_energy_head : the same just below; negative when below the crest [m]
    """
    if head <= 0.0:
        return 0.0
    return _flow_over(c, c.line, head, energy_head, drowned_head, drowned_energy_head)


@kernel
def _excess(
    c: Crest, survey: Stages | None, flow: float, head: float, drowned_head: float, drowned_energy_head: float
) -> float:
    """What the weir would pass at this head more than the flow, with the flow's own velocity of approach [m3/s]."""
    energy_head = head + min(_velocity_head(c, survey, flow, head), 0.5 * head)
    return weir_flow(c, head, energy_head, drowned_head, drowned_energy_head) - flow


@kernel
def _passes_nothing(c: Crest) -> bool:
    return c.width <= 0.0 or c.factor <= 0.0 or (c.kind > TRIANGULAR and c.coefficient <= 0.0)


@kernel
def _lowest_level(c: Crest, survey: Stages | None, flow: float) -> float:
    """Level from which on the head is looked for: the bed, or critical level in a surveyed approach [m]."""
    if survey is None:
        return c.approach_bed
    return stage_critical(survey, flow)


@kernel
def _head(c: Crest, survey: Stages | None, flow: float, drowned_head: float, drowned_energy_head: float) -> float:
    """Gauged head that passes the flow [m]; `c` by itself."""
    low = max(drowned_head, _lowest_level(c, survey, flow) - c.level, 0.0)
    f_low = _excess(c, survey, flow, low, drowned_head, drowned_energy_head)
    if f_low >= 0.0:
        return low
    step = (flow / c.width) ** (2.0 / 3.0)
    high = low + step
    f_high = _excess(c, survey, flow, high, drowned_head, drowned_energy_head)
    while f_high < 0.0 and high < 1e9:
        low, f_low = high, f_high
        step *= 2.0
        high += step
        f_high = _excess(c, survey, flow, high, drowned_head, drowned_energy_head)
    if f_high < 0.0:
        return inf
    bracket = roots.start(low, f_low, high, f_high)
    while roots.is_open(bracket, 1e-10):
        x = roots.propose(bracket)
        bracket = roots.narrow(bracket, x, _excess(c, survey, flow, x, drowned_head, drowned_energy_head))
    return roots.best(bracket)


@kernel
def _share(c: Crest, survey: Stages | None, depth: float) -> float:
    """Share of the stream's area that the crest leaves at a depth over it [-]."""
    if survey is not None:
        return c.width * depth / stage_area(survey, c.level + depth)
    return c.width * depth / area(c.approach, max(depth + c.level - c.approach_bed, depth))


@kernel
def _critical_head(c: Crest, survey: Stages | None, flow: float) -> float:
    """Critical level of the approach above the crest [m]."""
    if survey is None:
        return c.approach_bed + critical_depth(c.approach, flow) - c.level
    return _lowest_level(c, survey, flow) - c.level


@kernel
def _bump_head(c: Crest, survey: Stages | None, flow: float, drowned_head: float, drowned_energy_head: float) -> float:
    """Gauged head by the energy balance over the bump [m]."""
    rate = flow / (c.factor * effective_width(c.width, c.angle_deg, c.gain, drowned_head, c.level - c.approach_bed))
    critical = (rate * rate / GRAVITY) ** (1.0 / 3.0)
    depth = max(drowned_head, least_depth(rate, _share(c, survey, critical)), _critical_head(c, survey, flow))
    moving = _velocity_head(c, survey, flow, depth) if drowned_energy_head > drowned_head else 0.0
    velocity = sqrt(2.0 * GRAVITY * moving)
    energy = depth + moving + widening_loss(rate, depth, _share(c, survey, depth), velocity)
    low = max(drowned_head, _lowest_level(c, survey, flow) - c.level, 0.0)
    f_low = low + _velocity_head(c, survey, flow, low) - energy
    if f_low >= 0.0:
        return low
    bracket = roots.start(low, f_low, energy, _velocity_head(c, survey, flow, energy))
    while roots.is_open(bracket, 1e-10):
        x = roots.propose(bracket)
        bracket = roots.narrow(bracket, x, x + _velocity_head(c, survey, flow, x) - energy)
    return roots.best(bracket)


@kernel
def _settled(
    c: Crest, survey: Stages | None, flow: float, drowned_head: float, drowned_energy_head: float
) -> tuple[float, bool]:
    """Gauged head [m], and whether the energy balance over the bump has set it; `c` by itself."""
    drowned = _head(c, survey, flow, drowned_head, drowned_energy_head)
    guard = LOW_FROM * max(c.level - c.approach_bed, 0.0)
    pool = survey is None and c.approach.width == inf
    if pool or c.kind == UNEVEN or max(drowned_head, drowned_energy_head) <= 0.0 or drowned <= guard:
        return drowned, False
    over = max(_bump_head(c, survey, flow, drowned_head, drowned_energy_head), guard)
    if over >= drowned:
        return drowned, False
    free = _head(c, survey, flow, -inf, -inf)
    return max(over, free), True


@kernel
def _at_least_critical(c: Crest, survey: Stages | None, flow: float, head: float) -> float:
    """Level for a head, in a simple approach raised to critical level [m]; a surveyed one begins there."""
    level = c.level + head
    if survey is None:
        velocity, mean_depth = _approach(c, flow, head)
        if velocity * velocity > GRAVITY * mean_depth:
            return max(level, c.approach_bed + critical_depth(c.approach, flow))
    return level


@kernel
def weir_level(c: Crest, flow: float, level_below: float, energy_below: float) -> float:
    """Water level just upstream of a weir [m].

    Parameters
    ----------
    c : the crest and its approach
    flow : [m3/s]
    level_below : water level just downstream [m]
    energy_below : energy level just downstream [m]; `level_below` again where the velocity there is not known

    Returns
    -------
    Level where the head is gauged, three to four times the head upstream [m]; never below `level_below`. It
    never falls when the flow or the level below rises, the energy level below being that of a channel
    (velocity head as the square of the flow) or equal to the level. Without flow, the crest or the level
    below. `inf` when there is no crest to flow over, or when the level below is.
    """
    if flow <= 0.0:
        return max(level_below, c.level)
    if _passes_nothing(c) or level_below == inf:
        return inf
    head, _ = _settled(_by_itself(c), c.survey, flow, level_below - c.level, energy_below - c.level)
    return _at_least_critical(c, c.survey, flow, head)


@kernel
def _approach_state(c: Crest, survey: Stages | None, flow: float, level: float) -> tuple[float, float, float]:
    """Mean velocity [m/s], Froude number [-] and energy level [m] of the approach."""
    if survey is None:
        velocity, mean_depth = _approach(c, flow, level - c.level)
        return velocity, velocity / sqrt(GRAVITY * mean_depth), level + velocity * velocity / (2.0 * GRAVITY)
    froude = sqrt(max(stage_froude_squared(survey, flow, level), 0.0))
    return flow / stage_area(survey, level), froude, stage_energy(survey, flow, level)


@kernel
def _is_critical(survey: Stages | None, flow: float, level: float, froude: float) -> bool:
    """True where the approach is at critical depth; in a surveyed one a Froude number need not tell it."""
    if survey is None:
        return froude > 1.0 - 1e-6
    return level <= stage_critical(survey, flow) + 1e-6


@kernel
def weir_state(c: Crest, flow: float, level_below: float, energy_below: float) -> WeirState:
    """The whole state of a weir for a flow and the levels just below; parameters as in `weir_level`."""
    level = weir_level(c, flow, level_below, energy_below)
    head = level - c.level
    if level == inf:
        return WeirState(level, level, float(NO_CREST), head, 0.0, 0.0, 0.0, 0.0, 0.0)
    drowned_head, drowned_energy_head = level_below - c.level, energy_below - c.level
    width = effective_width(c.width, c.angle_deg, c.gain, head, c.level - c.approach_bed)
    if flow <= 0.0:
        ratio = 1.0 if drowned_head > 0.0 else 0.0
        return WeirState(level, level, float(FREE), head, ratio, _drowned(c, ratio), width, 0.0, 0.0)
    energy_head = head + counted_velocity_head(c, flow, head)
    ratio = drowned_ratio(c.kind, head, energy_head, drowned_head, drowned_energy_head)
    free = max(free_flow(c, head, energy_head), 1e-300)
    left = weir_flow(c, head, energy_head, drowned_head, drowned_energy_head) / free
    factor = max(left, min(flow / free, 1.0))
    velocity, froude, energy = _approach_state(c, c.survey, flow, level)
    regime = DROWNED if left < 1.0 else FREE
    if _settled(_by_itself(c), c.survey, flow, drowned_head, drowned_energy_head)[1]:
        regime = LOW_SILL
    if _is_critical(c.survey, flow, level, froude):
        regime = APPROACH_CRITICAL
    return WeirState(level, energy, float(regime), head, ratio, factor, width, velocity, froude)
