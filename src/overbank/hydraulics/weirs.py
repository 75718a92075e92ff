"""Flow over roads and crests.

Road or embankment: Q = kt C L h^1.5, FHWA HDS-5, 2nd edition (2001), p. 38-40 (read in the source); the drowning factor
kt stands in for its figure III-11, whose curves could not be read: 1 up to a drowning ratio of 0.8, then an
ellipse down to 0 at equal levels (own proposal, not published).
"""

from __future__ import annotations

from math import inf, sqrt

from overbank._jit import kernel
from overbank.hydraulics import roots

MODULAR_RATIO = 0.8
"""Drowned head over upstream head up to which a road's flow is not held back (read in San Antonio code 10.3.13)."""


@kernel
def villemonte(ratio: float, exponent: float) -> float:
    """Drowned flow over free flow of a weir: (1 - ratio^exponent)^0.385.

    ratio : downstream head over upstream head, both above the crest [-]
    exponent : of the free weir formula, 1.5 for a rectangular crest [-]

    Villemonte (1947); from memory, unverified. Fitted to thin plates. 1 for free flow (ratio <= 0), 0 at equal heads.
    """
    if ratio <= 0.0:
        return 1.0
    if ratio >= 1.0:
        return 0.0
    return (1.0 - ratio**exponent) ** 0.385


@kernel
def road_drowning(ratio: float) -> float:
    """Factor kt of a road drowned from behind; `ratio` is drowned head over upstream head [-]."""
    if ratio <= MODULAR_RATIO:
        return 1.0
    if ratio >= 1.0:
        return 0.0
    past = (ratio - MODULAR_RATIO) / (1.0 - MODULAR_RATIO)
    return sqrt(1.0 - past * past)


@kernel
def road_flow(head: float, drowned_head: float, length: float, coefficient: float) -> float:
    """Flow over a level road [m3/s].

    head, drowned_head : levels upstream and downstream above the crest [m]; negative when below it
    length : of crest, across the flow [m]
    coefficient : SI [m^0.5/s], 1.40 to 1.70 (HDS-5; US values times 0.552)
    """
    if head <= 0.0:
        return 0.0
    return road_drowning(drowned_head / head) * coefficient * length * head * sqrt(head)


@kernel
def road_head(flow: float, drowned_head: float, length: float, coefficient: float) -> float:
    """Head over the road that passes the flow [m]: the inverse of `road_flow`, never below the drowned head."""
    behind = max(drowned_head, 0.0)
    if flow <= 0.0 or behind == inf:
        return behind
    free = (flow / (coefficient * length)) ** (2.0 / 3.0)
    if drowned_head <= MODULAR_RATIO * free:
        return free
    high = max(behind / MODULAR_RATIO, free)
    bracket = roots.start(behind, -flow, high, road_flow(high, behind, length, coefficient) - flow)
    while roots.is_open(bracket, 1e-9):
        x = roots.propose(bracket)
        bracket = roots.narrow(bracket, x, road_flow(x, behind, length, coefficient) - flow)
    return roots.best(bracket)
