"""Crests laid obliquely across a channel: a longer crest, whose gain shrinks as the head rises. And skewed openings.

The angle is between the crest's normal and the axis of the channel: 0 for a straight weir. `width` is what the
crest spans of the channel, square to the flow; the crest itself is `width / cos(angle)` long.

Seen in tests: at small heads a crest passes flow along its whole length; the gain falls as h/P rises (Noori
and Chilmeran 2005, read in the abstract), and beyond about 45 degrees the coefficient falls with the head
(Borghei 1995, read in the abstract). No formula for the effective length could be read in a source, so ours is
a judgement with a wide band, to be replaced by data.
"""

from __future__ import annotations

from functools import cache
from math import cos, radians, sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray

from overbank._jit import kernel
from overbank.constants import GRAVITY
from overbank.hydraulics.crests import CRITICAL_CREST, energy_head, three_halves
from overbank.hydraulics.tables import read_table


@cache
def _skew_table() -> tuple[list[float], list[float]]:
    rows = read_table("skewed_openings")
    return [float(row["angle_deg"]) for row in rows], [float(row["flow_share"]) for row in rows]


def skewed_share(angle_deg: ArrayLike) -> NDArray[np.float64]:
    """Share of the flow that an opening passes, its width across the flow being the same, when the road is skewed [-].

    angle_deg : between the road's normal and the flow; 0 to 75, measured to 45 [deg]
    Interpolated in tables/skewed_openings.csv: boxes under inlet control, FHWA HDS-5, table 7 (read in the source). For
    a bridge it is a bound of the right size and no more.
    """
    angles, shares = _skew_table()
    return np.asarray(np.interp(np.abs(np.asarray(angle_deg, dtype=np.float64)), angles, shares))


@kernel
def oblique_gain(head_over_height: float) -> float:
    """Share k of an oblique crest's extra length that counts [-]: 0.8 up to h/P = 0.2, 0.3 from 0.6, smooth between.

    The middle of a band of 0.6 to 1.0 below 0.2 and 0 to 0.6 above 0.6 (own proposal, not published).
    """
    x = min(1.0, max(0.0, (head_over_height - 0.2) / 0.4))
    return 0.8 - 0.5 * x * x * (3.0 - 2.0 * x)


@kernel
def effective_width(width: float, angle_deg: float, gain: float, head: float, height: float) -> float:
    """Width of the straight crest that passes as much as the oblique one, Le = B [1 + k (1/cos(angle) - 1)] [m].

    Parameters
    ----------
    width : B, spanned by the crest, square to the flow [m]
    angle_deg : 0 for a straight crest; range 0 to 75 [deg]
    gain : multiplies k (`oblique_gain`), so that it can be uncertain; 0 no gain, 1 the middle of the band [-]
    head : gauged [m]
    height : P, of the crest above the bed of the approach [m]

    k is held to 1: never less than the width nor more than the crest's length. Own proposal, not published.
    """
    if angle_deg == 0.0:
        return width
    share = head / height if height > 0.0 else 1.0
    k = min(1.0, max(0.0, gain * oblique_gain(share)))
    return width * (1.0 + k * (1.0 / cos(radians(angle_deg)) - 1.0))


@kernel
def full_length_flow(head: float, height: float, width: float, angle_deg: float, coefficient: float) -> float:
    """Upper bound: the whole length of the crest and the whole velocity head count [m3/s].

    Q = (2/3)^1.5 sqrt(g) Cd Lc H^1.5, H = h + V^2/2g, Lc = B / cos(angle), V = Q / (B (h + p))

    head, height : h, p [m]; width : B, of channel and crest, square to the flow [m]
    angle_deg : [deg]; coefficient : Cd [-]
    A model to compare with (own proposal); the lower bound is the same with angle 0, a straight crest.
    """
    constant = CRITICAL_CREST * coefficient * width / cos(radians(angle_deg))
    return constant * three_halves(energy_head(head, constant, width * (head + height)))


@kernel
def normal_component_flow(head: float, height: float, width: float, angle_deg: float, coefficient: float) -> float:
    """The whole length of the crest, but only the velocity square to it counts [m3/s].

    Q = (2/3)^1.5 sqrt(g) Cd Lc Hn^1.5, Hn = h + (V cos(angle))^2/2g

    Only the momentum square to the crest is destroyed; that along it survives (an idea of De Vries, 1959, for summer
    dikes; from memory, unverified). Parameters as in `full_length_flow`. A model to compare with (own proposal).
    """
    turn = cos(radians(angle_deg))
    constant = CRITICAL_CREST * coefficient * width / turn
    return constant * three_halves(energy_head(head, constant, width * (head + height) / turn))


@kernel
def borghei_2003(head: float, height: float, width: float, angle_deg: float) -> float:
    """Flow over an oblique sharp crest, Q = (2/3) Cd sqrt(2g) L h^1.5 [m3/s].

    Cd = 0.701 - 0.121 B/L + (2.229 B/L - 1.663) h/P,  B/L = cos(angle)

    Parameters as in `full_length_flow`. A published form to compare with.
    Range: not for B/L above about 0.9: there the slope in h/P is seven times Rehbock's at B/L = 1. That its slope
    changes sign at 41.7 degrees agrees with Borghei (1995), whose abstract was read.
    Source: S. M. Borghei, A. R. Vatankhah and M. Ghodsian (2003). From memory, unverified.
    """
    ratio = cos(radians(angle_deg))
    coefficient = 0.701 - 0.121 * ratio + (2.229 * ratio - 1.663) * head / height
    return 2.0 / 3.0 * coefficient * sqrt(2.0 * GRAVITY) * width / ratio * three_halves(head)
