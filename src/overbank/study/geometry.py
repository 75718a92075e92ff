"""Geometry that cannot be, at the medians and wherever the distributions reach (see `extents`)."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from overbank.study.extents import Element, Extent, out_of_order, remedy
from overbank.study.reading.readable import Readable
from overbank.study.reading.refusals import LocatedRefusal, refusal
from overbank.study.surveyed import has_survey
from overbank.study.waterways import approach_bed, impossible_arch, impossible_bridge, impossible_weir, lowest_point


def impossible_geometry(study: Readable) -> Iterator[LocatedRefusal]:
    """Every pair of sound numbers that cannot stand together."""
    below: Extent | None = None
    for index, element in study.elements():
        reader = Element(study, ("element", index))
        match element.get("kind"):
            case "culvert":
                yield from _culvert(reader)
                below = reader.get("bed", "barrel", "upstream_invert_m")
            case "channel":
                top = _channel_top(reader, element, below)
                yield from reader.order(("bank_level_m",), "bank", top, "a bank above the bed at its upstream end")
                below = top
            case "weir":
                yield from impossible_weir(reader, element)
                below = approach_bed(reader, element)
            case "bridge":
                yield from impossible_bridge(reader, element)
                below = approach_bed(reader, element)
            case _:
                below = None


def _culvert(reader: Element) -> Iterator[LocatedRefusal]:
    inlet = reader.get("inlet invert", "barrel", "upstream_invert_m")
    yield from reader.order(("bank_level_m",), "bank", inlet, "a bank above the inlet invert")
    yield from _barrels(reader, "barrel")
    yield from _barrels(reader, "relief", "barrel")
    yield from _face(reader, inlet)
    yield from _screen(reader, inlet)


def _barrels(reader: Element, *table: str) -> Iterator[LocatedRefusal]:
    """A group of barrels that falls the wrong way, lies above the road, or has an arch that cannot be."""
    inlet = reader.get("inlet invert", *table, "upstream_invert_m")
    outlet = reader.get("outlet invert", *table, "downstream_invert_m")
    if inlet and outlet and (wrong := out_of_order(inlet, outlet, equal=True)):
        expected = "an outlet invert not above the inlet invert"
        yield (*reader.path, *table, "downstream_invert_m"), refusal(expected, wrong, remedy(wrong))
    yield from reader.order(("road", "level_m"), "road", inlet, "a road above the inlet invert")
    yield from impossible_arch(reader, *table)


def _face(reader: Element, inlet: Extent | None) -> Iterator[LocatedRefusal]:
    """The face of a tapered entrance: below the throat, or narrower than the barrel."""
    foot, width = reader.get("face", "inlet", "face", "invert_level_m"), reader.get("face", "inlet", "face", "width_m")
    if foot and inlet and (wrong := out_of_order(foot, inlet, equal=True)):
        fault = refusal("a face whose bed is not below the inlet invert", wrong, remedy(wrong))
        yield (*reader.path, "inlet", "face", "invert_level_m"), fault
    span = reader.any_of("span", "barrel", "span_m", "diameter_m")
    if width and span and (wrong := out_of_order(width, span[1], equal=True)):
        fault = refusal("a face that is not narrower than the barrel", wrong, remedy(wrong))
        yield (*reader.path, "inlet", "face", "width_m"), fault


def _screen(reader: Element, inlet: Extent | None) -> Iterator[LocatedRefusal]:
    path = (*reader.path, "screen", "sill_level_m")
    sill, height = reader.get("sill", "screen", "sill_level_m"), reader.get("height", "screen", "height_m")
    if not sill:
        return
    for keys, words in ((("bank_level_m",), "bank"), (("road", "level_m"), "road")):
        above = reader.get(words, *keys)
        if above and (wrong := out_of_order(above, sill)):
            yield path, refusal(f"a sill below the {words}", wrong, remedy(wrong))
    if height and inlet:
        top = sill.plus("top of the screen", height)
        if wrong := out_of_order(top, inlet):
            yield path, refusal("a screen whose top is above the inlet invert", wrong, remedy(wrong))


def _channel_top(reader: Element, element: dict[str, Any], below: Extent | None) -> Extent | None:
    """The bed at the upstream end of a channel; its downstream end lies on what is below unless given."""
    if has_survey(element):
        foot = lowest_point(reader, element)
    else:
        foot = reader.get("bed", "bed_level_m") if "bed_level_m" in element else below
    slope, length = reader.get("slope", "bed_slope"), reader.get("length", "length_m")
    if not (foot and slope and length):
        return None
    return foot.plus("bed", slope.times(length))
