"""What governs, in words."""

from __future__ import annotations

from overbank.hydraulics.crossing import (
    INLET_DROWNED,
    INLET_FREE,
    NO_WAY_THROUGH,
    OUTLET_FREE_SURFACE,
    OUTLET_FULL,
    OUTLET_PART_FULL,
    OVER_ROAD,
    OVER_SCREEN,
)

CONTROLS = {
    INLET_FREE: "inlet control, inlet not drowned",
    INLET_DROWNED: "inlet control, inlet drowned",
    OUTLET_FREE_SURFACE: "outlet control, free surface in the barrel",
    OUTLET_PART_FULL: "outlet control, barrel full over part of its length",
    OUTLET_FULL: "outlet control, barrel full",
    NO_WAY_THROUGH: "no way through",
}


def regime_words(kind: str, code: float) -> str:
    """The regime code of a structure of the given kind, in words."""
    if kind == "channel":
        return "steep for this flow: critical depth taken" if code else "subcritical"
    number = int(code)
    words = [CONTROLS[number % 10]]
    if number // OVER_SCREEN % 10:
        words.append("flow over the top of the screen")
    over = number // OVER_ROAD
    if over:
        words.append("flow over the road" + (", drowned from below" if over > 1 else ""))
    return "; ".join(words)
