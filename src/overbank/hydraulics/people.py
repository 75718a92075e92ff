"""What the water does to a person: force against the bars, hazard of wading, passage through a barrel.

The hazard rating and its debris factor are those of Defra/EA FD2320 and FD2321 (2005-06) with the supplementary note of
2008, from memory, unverified. They were made for flood plains, and describe people in good health in tests; dark, cold,
uneven or slippery ground and debris make water unsafe sooner. No threshold of the force that a person can free himself
from is known here, and none is given. Classes and bounds are in `hazard`.
"""

from __future__ import annotations

from math import inf, sqrt

from overbank._jit import kernel
from overbank.constants import GRAVITY, WATER_DENSITY

LIMITS: dict[str, tuple[str, float, float]] = {
    "drag coefficient": ("of an upright person [-]", 1.0, 1.3),
    "adult": ("area turned to the flow [m2]", 0.4, 0.7),
    "child": ("area turned to the flow [m2]", 0.2, 0.35),
}
"""Usual range of what the forces stand on: the quantity, its least and its greatest value; from memory, unverified."""

MIDDLE_DEPTH, DEEP, FAST = 0.25, 0.75, 2.0
"""Depths [m] and the velocity [m/s] at which the debris factor changes; the depths are those of the table."""


@kernel
def drag_force(drag_coefficient: float, area: float, velocity: float) -> float:
    """Force of the current on a person in it, F = 0.5 rho C A V^2 [N].

    Parameters
    ----------
    drag_coefficient : C, of an upright person [-]
    area : A, of the body, turned to the flow [m2]
    velocity : V, of the approach [m/s]

    Range: `LIMITS`. Source: definition of the drag coefficient (closed form).
    """
    return 0.5 * WATER_DENSITY * drag_coefficient * area * velocity * velocity


@kernel
def pressure_force(area: float, drop: float) -> float:
    """Force of the head difference on a person held against bars, F = rho g dh A [N].

    Parameters
    ----------
    area : A, of the gaps that the body covers [m2]
    drop : dh, level upstream minus level behind [m]

    Range: the full value where the body covers gaps below both levels; an upper bound elsewhere. It needs no velocity:
    half a metre holds a child (0.3 m2) with 1.5 kN in still water. 0 for a drop below 0.
    Source: hydrostatics (closed form).
    """
    return WATER_DENSITY * GRAVITY * max(drop, 0.0) * area


@kernel
def most_force(drag: float, pressure: float) -> float:
    """Upper bound of the whole force on a person held against bars, drag + pressure [N].

    The two overlap where the body seals the gaps; the larger of the two is then nearer. Own proposal, not published.
    """
    return drag + pressure


@kernel
def debris_factor(depth: float, velocity: float, middle: float, deep: float) -> float:
    """Debris factor DF of the hazard rating [-].

    Parameters
    ----------
    depth : [m]; velocity : [m/s]
    middle, deep : DF at depths of 0.25 to 0.75 m, and above 0.75 m or above 2 m/s (tables/debris_factors.csv) [-]

    It jumps at a depth of 0.25 m, where the deeper class is taken (own proposal), so a rating has steps.
    Source: FD2320 and FD2321 with the note of 2008; from memory, unverified.
    """
    if depth > DEEP or velocity > FAST:
        return deep
    return middle if depth >= MIDDLE_DEPTH else 0.0


@kernel
def hazard_rating(depth: float, velocity: float, debris: float) -> float:
    """Hazard to people in flood water, HR = d (v + 0.5) + DF.

    Parameters
    ----------
    depth : d [m]; velocity : v [m/s]; debris : DF, `debris_factor` [-]

    0 where it is dry. Range: flood plains; in the channel at a screen the depth alone usually gives the worst class.
    Source: FD2320 and FD2321 with the note of 2008; from memory, unverified.
    """
    if depth <= 0.0:
        return 0.0
    return depth * (velocity + 0.5) + debris


@kernel
def transit_time(length: float, velocity_in: float, velocity_out: float) -> float:
    """Time that water, and what floats in it, takes through a barrel, t = L/2 (1/v_in + 1/v_out) [s].

    Parameters
    ----------
    length : L [m]; velocity_in, velocity_out : at the two ends [m/s]

    The water in the barrel over the flow, with the mean of the wetted areas at its ends. `inf` where nothing flows.
    Range: exact for a wetted area that changes evenly along the barrel; in a steep barrel under inlet control
    `jump.steep_barrel` adds up the time along its profile instead.
    Source: continuity (closed form).
    """
    if velocity_in <= 0.0 or velocity_out <= 0.0:
        return inf
    # compiled for arrays the line below is worked out beside the answer above, so it must not divide by nought
    return 0.5 * length * (velocity_in + velocity_out) / max(velocity_in * velocity_out, 1e-300)


@kernel
def crest_depth(unit_flow: float) -> float:
    """Critical depth on a level crest, d = (q^2 / g)^(1/3) [m], for the flow of a metre of it [m2/s].

    Source: critical flow in a wide rectangular section (closed form).
    """
    return (unit_flow * unit_flow / GRAVITY) ** (1.0 / 3.0)


@kernel
def crest_velocity(depth: float) -> float:
    """Velocity of critical flow, v = (g d)^0.5 [m/s], at its depth on a level crest [m].

    Source: critical flow in a wide rectangular section (closed form).
    """
    return sqrt(GRAVITY * depth)
