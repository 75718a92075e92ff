"""What governs, in words."""

from __future__ import annotations

from math import isnan

from overbank.hydraulics import bridges, rows, weir_level
from overbank.hydraulics.crossing import (
    FACE_DROWNED,
    FACE_FREE,
    INLET_DROWNED,
    INLET_FREE,
    NO_WAY_THROUGH,
    OUTLET_FREE_SURFACE,
    OUTLET_FULL,
    OUTLET_PART_FULL,
    OVER_ROAD,
    OVER_SCREEN,
    THROUGH_RELIEF,
)

CONTROLS = {
    INLET_FREE: "inlet control, inlet not drowned",
    INLET_DROWNED: "inlet control, inlet drowned",
    FACE_FREE: "face control, face not drowned",
    FACE_DROWNED: "face control, face drowned",
    OUTLET_FREE_SURFACE: "outlet control, free surface in the barrel",
    OUTLET_PART_FULL: "outlet control, barrel full over part of its length",
    OUTLET_FULL: "outlet control, barrel full",
    NO_WAY_THROUGH: "no way through",
}

CHANNELS = {
    rows.SUBCRITICAL: "subcritical",
    rows.STEEP: "steep for this flow: critical depth taken at its upstream end",
    rows.STEEP_DROWNED: "steep for this flow, but drowned from below all along",
}

WEIRS = {
    weir_level.FREE: "free flow over the crest",
    weir_level.DROWNED: "crest drowned from below",
    weir_level.APPROACH_CRITICAL: "critical depth upstream of the crest",
    weir_level.LOW_SILL: "drowned crest low against the head, energy over the bump",
    weir_level.NO_CREST: "no crest to flow over",
}

BRIDGES = {
    bridges.FREE: "free surface in the openings",
    bridges.CHOKED: "openings choked, critical flow in them",
    bridges.SLUICE: "soffit drowned upstream, free below",
    bridges.ORIFICE: "openings drowned on both sides",
    bridges.SLUICE_DROWNED: "openings drowned on both sides; level by the jet below the soffit, the higher of the two",
    bridges.SHUT_BRIDGE: "no way through the openings",
}


def regime_words(kind: str, code: float) -> str:
    """The regime code of a structure of the given kind, in words."""
    if isnan(code):
        return "no solution"
    number = int(code)
    if kind == "channel":
        return CHANNELS[number]
    if kind == "weir":
        return WEIRS[number]
    if kind == "bridge":
        over = "; flow over the deck or its approaches" if number >= bridges.OVER_DECK else ""
        return BRIDGES[number % bridges.OVER_DECK] + over
    words = [CONTROLS[number % 10]]
    if number // OVER_SCREEN % 10:
        words.append("flow over the top of the screen")
    if number // THROUGH_RELIEF:
        words.append("part of the flow through the relief barrels")
    over_road = number % THROUGH_RELIEF // OVER_ROAD
    if over_road:
        words.append("flow over the road" + (", drowned from below" if over_road > 1 else ""))
    return "; ".join(words)
