"""Where each kind of crest was tested, as data, and how a crest and a head compare with that.

The rows lie in tables/crest_limits.csv. Beside the five kinds, "oblique" and "borghei" hold the limits of
crests laid obliquely.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from math import inf

import numpy as np
from numpy.typing import ArrayLike, NDArray

from overbank.hydraulics.tables import read_table

Quantities = Mapping[str, NDArray[np.float64]]


@dataclass(frozen=True)
class CrestLimit:
    """One limit: the quantity, its least and greatest value (infinite where there is none), and where it comes from."""

    kind: str
    quantity: str
    low: float
    high: float
    source: str
    how_known: str
    note: str


@cache
def crest_limits(kind: str) -> tuple[CrestLimit, ...]:
    """The limits of one kind of crest; none for a kind that has none."""
    return tuple(
        CrestLimit(
            kind=row["kind"],
            quantity=row["quantity"],
            low=float(row["low"] or -inf),
            high=float(row["high"] or inf),
            source=row["source"],
            how_known=row["how_known"],
            note=row["note"],
        )
        for row in read_table("crest_limits")
        if row["kind"] == kind
    )


def crest_quantities(
    head: ArrayLike,
    height: ArrayLike,
    width: ArrayLike,
    breadth: ArrayLike,
    angle_deg: ArrayLike,
    crest_above_level_below: ArrayLike,
) -> Quantities:
    """Every quantity that a limit may be set on, from arrays or numbers that broadcast.

    head, height, width, breadth : as in `weir_level.Crest` and `WeirState`, height above the bed of the approach [m]
    crest_above_level_below : negative when the level below stands above the crest [m]
    """
    h, p, b, length = (np.asarray(number, dtype=np.float64) for number in (head, height, width, breadth))
    angle = np.asarray(angle_deg, dtype=np.float64)
    with np.errstate(divide="ignore", invalid="ignore"):
        return {
            "head_m": h,
            "height_m": p,
            "width_m": b,
            "head_over_breadth": h / length,
            "head_over_height": h / p,
            "breadth_over_height": length / p,
            "width_over_head": b / h,
            "width_over_breadth": b / length,
            "width_over_length": np.cos(np.radians(angle)),
            "angle_deg": angle,
            "crest_above_level_below_m": np.asarray(crest_above_level_below, dtype=np.float64),
        }


def outside(limit: CrestLimit, quantities: Quantities) -> NDArray[np.bool_]:
    """Where a quantity lies outside its limit (a crest at or below the bed is outside any limit on h/p)."""
    value = quantities[limit.quantity]
    return ~np.asarray((value >= limit.low) & (value <= limit.high))
