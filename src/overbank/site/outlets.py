"""What stands at the outlet of barrels: a flap valve, or bars; what they lose of the velocity head in the outlet.

Flap: a coefficient of the study's own, for no formula with a source that can be read was found. A laboratory chart
(SCS 1973, in Replogle and Wahlin, axis read at second hand) spans 0 to 40 mm of loss for pipes of 0.2 to 0.91 m, as a
coefficient about 1.2 at low flow and 0.1 with the flap lifted (own reading of that range, judgement). A flap that
sticks leaves a share of the mouth shut: contraction and sudden expansion behind it, (1/(f Cc) - 1)^2, as at a blocked
screen.

Bars: 1.5 (Vg^2 - Vu^2)/2g, Vg between the bars, Vu in the barrel: FHWA HDS-5, 2nd edition (2001), p. 170, eq. 24, read
in the source. Barrels part full and bars are taken to be wetted over the same share of their height (own reading).
"""

from __future__ import annotations

import numpy as np

from overbank._jit import sweep
from overbank.hydraulics.screens import clear_ratio, contraction_loss
from overbank.site.numbers import Column, Numbers
from overbank.site.structure import Said

GRILLE_LOSS = 1.5
"""Loss between bars on the difference of velocity heads [-] (HDS-5 eq. 24)."""

AREA_RATIOS = (1.5, 3.0)
"""Open area between the bars over that of the barrels' mouths (HDS-5 p. 169, read in the source)."""


def flap_loss(numbers: Numbers, path: str) -> Column:
    """Loss of a flap valve on the velocity head in the outlet [-]."""
    stuck: Column = sweep(contraction_loss)(1.0 - np.asarray(numbers[f"{path}.shut"]))
    return numbers[f"{path}.loss"] + stuck


def area_ratio(numbers: Numbers, path: str, mouths: Column) -> Column:
    """Open area between the bars over that of the barrels' mouths [-]."""
    width, height, bar, gap = (numbers[f"{path}.{key}"] for key in ("width_m", "height_m", "bar_m", "gap_m"))
    left = 1.0 - np.minimum(numbers[f"{path}.blockage"], MOST_BLOCKED)
    ratio: Column = width * height * sweep(clear_ratio)(bar, gap) * left / mouths
    return ratio


MOST_BLOCKED = 0.999
"""Debris behind bars at the outlet lets a trickle through: no level is endless for it (own choice)."""


def bars_loss(ratio: Column) -> Column:
    """Loss of bars at the outlet on the velocity head in it [-], from the ratio of areas."""
    loss: Column = GRILLE_LOSS * np.maximum(1.0 / np.square(ratio) - 1.0, 0.0)
    return loss


def remarks(numbers: Numbers, path: str, has_flap: bool, ratio: Column | None, samples: int) -> Said:
    """What a reader must know of flap and bars."""

    def everywhere(met: object) -> np.ndarray:
        return np.broadcast_to(np.asarray(met, dtype=bool), (samples,))

    if has_flap:
        yield "flap valve: its loss rests on judgement, not on a published formula", everywhere(True)
        stuck = np.asarray(numbers[f"{path}.flap.shut"]) > 0.0
        yield "flap valve stuck: part of the outlet shut", everywhere(stuck)
    if ratio is not None:
        yield "bars at the outlet: whoever is swept into the barrels is held behind them", everywhere(True)
        low, high = AREA_RATIOS
        outside = (np.asarray(ratio) < low) | (np.asarray(ratio) > high)
        yield f"open area of the bars at the outlet outside {low:g} to {high:g} times the mouths", everywhere(outside)
