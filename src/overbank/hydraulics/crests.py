"""Free flow over the crests of weirs, each from the head that its own standard takes, and how they drown.

Gauged head h is the water level three to four times the head upstream, less the level of the crest; energy
head H = h + V^2/2g there. A coefficient meant for one head and used with the other is 2 to 4 % of the flow
wrong at h/p = 0.5.

Where a coefficient's fit ends, it is held at its value there, so that the flow goes on rising with the head;
the ranges are data (tables/crest_limits.csv), and so is the uncertainty of the coefficients
(tables/crest_uncertainty.csv).

The coefficients of the ISO standards are from memory, unverified; where they could be tested, by the library fluids or
by computing them another way, the tests say so.
"""

from __future__ import annotations

from functools import cache
from math import sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from overbank._jit import kernel
from overbank.constants import GRAVITY
from overbank.hydraulics import roots
from overbank.hydraulics.tables import read_table

BROAD_CRESTED, ROUND_NOSED, THIN_PLATE, TRIANGULAR, GIVEN, UNEVEN = 0, 1, 2, 3, 4, 5
KINDS = ("broad_crested", "round_nosed", "thin_plate", "triangular", "given")
"""Words for the codes of level crests, in their order; an uneven one follows a line."""

CRITICAL_CREST = (2.0 / 3.0) ** 1.5 * sqrt(GRAVITY)
"""Flow per width over H^1.5 when the flow is critical on the crest without loss, 1.705 m^0.5/s."""

SHORT_CREST_TO = 1.6
"""Head over breadth up to which a short square-edged crest's coefficient rises (ISO 3846; from memory, unverified)."""

PLATE_HEIGHTS_TO = 2.5
"""Head over height up to which Kindsvater and Carter's coefficient rises (ISO 1438; from memory, unverified)."""

REHBOCK_SHIFT = 0.0012
"""Added to the head in Rehbock's formula [m]."""

TRIANGULAR_OFFSET = 0.0003
"""Taken off the head over a triangular profile for the surface tension and the skin of the water [m]."""


@kernel
def three_halves(head: float) -> float:
    """head^1.5, and 0 for a head below the crest."""
    return head * sqrt(head) if head > 0.0 else 0.0


@kernel
def square_edge_coefficient(head_over_breadth: float) -> float:
    """Coefficient C of a broad crest with square edges, on the gauged head [-].

    0.864 for a crest long enough, 0.191 h/L + 0.782 for a shorter one: the greater of the two, which joins them
    without a step (printed as changing over at h/L = 0.4, where the second is 0.7 % lower; they meet at 0.43).

    head_over_breadth : h/L, L along the flow [-]; range 0.1 to 1.6, held beyond.
    Source: ISO 3846. From memory, unverified.
    """
    return max(0.864, 0.191 * min(head_over_breadth, SHORT_CREST_TO) + 0.782)


@kernel
def broad_crested(head: float, width: float, breadth: float) -> float:
    """Flow over a broad crest with square edges from the gauged head, Q = (2/3)^1.5 sqrt(g) C b h^1.5 [m3/s].

    head : h, gauged [m]; width : b, of the crest across the flow [m]; breadth : L, of the crest along the flow [m]
    Range: h at least 0.06 m; h/p up to 0.15 to 0.6 (copies of the rule differ), beyond which the velocity of approach,
    not in this form, counts. Source: ISO 3846. Form read in a meter manual quoting BS 3680; C from memory, unverified.
    """
    return CRITICAL_CREST * square_edge_coefficient(head / breadth) * width * three_halves(head)


@kernel
def broad_crested_energy(head: float, energy_head: float, width: float, breadth: float) -> float:
    """Flow over a broad crest with square edges from the energy head, Q = (2/3)^1.5 sqrt(g) Cd b H^1.5 [m3/s].

    Cd = 0.848, and for a crest short for the head more, in the same proportion as C of `broad_crested` (own proposal).

    head, energy_head : h, which tells how short the crest is, and H [m]; width, breadth : as in `broad_crested` [m]
    Range: 0.08 <= H/L <= 0.33 for the constant; h at least 0.06 m. Where the gauged form's range is remembered to end,
    at h/(h+p) = 0.35, both forms give the same flow within 0.2 %.
    Source: ISO 3846, energy form. From memory, unverified; a paper of 2014 with new tests is quoted second hand
    with 0.845.
    """
    coefficient = 0.848 / 0.864 * square_edge_coefficient(head / breadth)
    return CRITICAL_CREST * coefficient * width * three_halves(energy_head)


@kernel
def round_nosed_coefficient(head: float, width: float, breadth: float) -> float:
    """CD = (1 - 0.006 L/b) (1 - 0.003 L/h)^1.5 of a round-nosed crest [-]; 0 below h = 0.003 L.

    Parameters and source as in `round_nosed`.
    """
    if head <= 0.003 * breadth:
        return 0.0
    return max(0.0, 1.0 - 0.006 * breadth / width) * three_halves(1.0 - 0.003 * breadth / head)


@kernel
def round_nosed(head: float, energy_head: float, width: float, breadth: float) -> float:
    """Flow over a horizontal crest with a rounded nose, Q = (2/3)^1.5 sqrt(g) CD b H^1.5 [m3/s].

    head, energy_head : h and H [m]; width : b, of the crest [m]; breadth : L, along the flow [m]
    Range: h at least 0.06 m and 0.05 L; h/p up to 1.5; H/L up to 0.57. Source: ISO 4374. From memory, unverified.
    """
    return CRITICAL_CREST * round_nosed_coefficient(head, width, breadth) * width * three_halves(energy_head)


class PlateRow(NamedTuple):
    """Kindsvater and Carter's constants: Ce = a + c h/p; what is added to the width and to the head [m]."""

    a: float
    c: float
    width_shift: float
    head_shift: float


@cache
def _plate_table() -> tuple[NDArray[np.float64], ...]:
    rows = read_table("thin_plates")
    names = ("width_ratio", "a", "c", "width_shift_m", "head_shift_m")
    return tuple(np.array([float(row[name]) for row in rows]) for name in names)


def plate_constants(width_ratio: ArrayLike) -> tuple[NDArray[np.float64], ...]:
    """The fields of `PlateRow`, each an array, for plates that span a share `width_ratio` (b/B) of the channel.

    Interpolated in tables/thin_plates.csv. A ratio above 1 (a crest longer than the channel) counts as 1.
    Source: ISO 1438, Kindsvater and Carter's form. Figures from memory, unverified.
    """
    ratios, *columns = _plate_table()
    shares = np.asarray(width_ratio, dtype=np.float64)
    return tuple(np.asarray(np.interp(shares, ratios, column)) for column in columns)


def plate_row(width_ratio: float) -> PlateRow:
    """The constants of one plate; see `plate_constants`."""
    return PlateRow(*(float(column) for column in plate_constants(width_ratio)))


@kernel
def kindsvater_carter(head: float, height: float, width: float, row: PlateRow) -> float:
    """Flow over a thin vertical plate, Q = Ce (2/3) sqrt(2g) (b + kb) (h + kh)^1.5, Ce = a + c h/p [m3/s].

    head : h, gauged [m]; height : p, of the crest above the bed [m]; width : b, of the crest [m]
    row : `plate_row(b/B)`
    Range: h at least 0.03 m, h/p up to 2.5 (Ce held beyond), b at least 0.15 m, p at least 0.1 m, nappe ventilated.
    Source: ISO 1438. That Ce is linear in h/p and kb depends on b/B was read in the contents of BS 3680-4A:1981; the
    figures are from memory, at full width within 0.02 % of the library fluids.
    """
    if head <= 0.0:
        return 0.0
    share = min(head / height, PLATE_HEIGHTS_TO) if height > 0.0 else PLATE_HEIGHTS_TO
    coefficient = row.a + row.c * share
    return (
        coefficient * 2.0 / 3.0 * sqrt(2.0 * GRAVITY) * (width + row.width_shift) * three_halves(head + row.head_shift)
    )


@kernel
def rehbock(head: float, height: float, width: float) -> float:
    """Flow over a thin plate across the channel, Q = (0.602 + 0.083 h/p) (2/3) sqrt(2g) b (h + 0.0012)^1.5 [m3/s].

    Parameters as in `kindsvater_carter`. A sibling to compare with. Range: h at least 0.03 m, h/p up to 1.
    Source: ISO 1438. From memory; within 0.06 % of the library fluids, whose constants are rounded otherwise.
    """
    if head <= 0.0:
        return 0.0
    coefficient = 0.602 + 0.083 * head / height
    return coefficient * 2.0 / 3.0 * sqrt(2.0 * GRAVITY) * width * three_halves(head + REHBOCK_SHIFT)


@kernel
def triangular(head: float, energy_head: float, width: float, offset: float) -> float:
    """Flow over a triangular profile, 1:2 upstream and 1:5 downstream, Q = (2/3)^1.5 sqrt(g) CD b H^1.5 [m3/s].

    CD = 1.163 (1 - k/h)^1.5, with k = 0.0003 m (`TRIANGULAR_OFFSET`).

    head, energy_head : h and H [m]; width : b, of the crest [m]; offset : k [m]
    Range: h at least 0.03 m (0.06 m on concrete); h/p up to 3.5; b/h at least 2; p at least 0.06 m.
    Source: ISO 4360. From memory, unverified; the same as 0.633 sqrt(g) b H^1.5, also from memory.
    """
    if head <= offset:
        return 0.0
    coefficient = 1.163 * three_halves(1.0 - offset / head)
    return CRITICAL_CREST * coefficient * width * three_halves(energy_head)


@kernel
def energy_head(head: float, flow_constant: float, area: float) -> float:
    """Energy head H = h + V^2/2g of a crest with Q = K H^1.5, V = Q / A [m].

    head : h, gauged [m]; flow_constant : K [m^1.5/s]; area : A, of the approach at that level [m2]

    The lower root of H = h + (K/A)^2 H^3 / 2g, bracketed between h and 1.5 h. At 1.5 h the approach is as fast as the
    crest can draw it: with a faster one there is no root, and 1.5 h is returned.
    """
    rate = (flow_constant / area) ** 2 / (2.0 * GRAVITY)
    high = 1.5 * head
    excess = head + rate * high * high * high - high
    if head <= 0.0 or excess >= 0.0:
        return max(high, 0.0)
    bracket = roots.start(head, rate * head * head * head, high, excess)
    while roots.is_open(bracket, 1e-13 * head):
        x = roots.propose(bracket)
        bracket = roots.narrow(bracket, x, head + rate * x * x * x - x)
    return roots.best(bracket)


@kernel
def drowned_factor(ratio: float, modular_limit: float) -> float:
    """Drowned over free flow [-]: 1 up to the modular limit, (1 - r'^1.5)^0.385 beyond, r' = (r - limit)/(1 - limit).

    ratio : r, drowned head over upstream head, both above the crest [-]
    modular_limit : ratio up to which the level below is not felt [-]; 0 for a thin plate

    With a limit of 0 it is Villemonte's law (1947; from memory, unverified), which was fitted to thin plates. Stretched
    like this it starts at any limit without a step (own proposal, not published).
    """
    if ratio <= modular_limit:
        return 1.0
    if ratio >= 1.0:
        return 0.0
    past = (ratio - modular_limit) / (1.0 - modular_limit)
    return (1.0 - past * sqrt(past)) ** 0.385


@kernel
def triangular_drowned_factor(ratio: float) -> float:
    """Drowned over free flow of a triangular profile [-].

    f = 1.035 (0.817 - r^4)^0.0647 for 0.75 < r <= 0.93;  f = 8.686 - 8.403 r for 0.93 < r <= 0.985

    ratio : r = H2/H1, energy heads [-]

    The least of 1 and the two branches, so there is no step: at the modular limit of 0.75 the first is 0.990, and it is
    carried back to r = 0.692, where it is 1; at 0.93 they differ by 0.0007, and they meet 0.0001 further on.
    From 0.985 to 1, outside the range, a power of the same slope ends at 0 (own proposal).
    Source: Ackers et al. (1978). From memory, unverified; that the branches meet supports it. The limit of 0.75 was
    read second hand.
    """
    if ratio <= 0.0:
        return 1.0
    if ratio >= 1.0:
        return 0.0
    last = 8.686 - 8.403 * 0.985
    if ratio > 0.985:
        return last * ((1.0 - ratio) / 0.015) ** (8.403 * 0.015 / last)
    curved = 1.035 * (0.817 - min(ratio, 0.94) ** 4) ** 0.0647
    return min(1.0, curved, 8.686 - 8.403 * ratio)
