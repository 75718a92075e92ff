"""Barrels and their parts, as a study writes them: what they leave out, shapes and levels that cannot be."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from overbank.study.collect import Collected, Follower
from overbank.study.elements.approach import impossible_arch
from overbank.study.elements.extents import Extent, Reader, out_of_order, remedy
from overbank.study.reading.refusals import LocatedRefusal, refusal
from overbank.study.sections import AnyPart
from overbank.study.traced import fill_traced

MOST_RISE = 0.02
"""Barrels that rise downstream by more than this share of their length are taken for inverts that were exchanged."""


def fill_parts(collected: Collected, parts: Sequence[AnyPart], barrel: str) -> None:
    """What the parts leave out: their bed goes on from the part above, and is as rough as their walls."""
    above = barrel
    for place, part in enumerate(parts, 1):
        path = f"{barrel}.part_{place}"
        fill_traced(collected, part, path)
        if part.upstream_invert_m is None:
            collected.follow(Follower(f"{path}.upstream_invert_m", f"{above}.downstream_invert_m"))
        if part.bed_manning_n is None:
            collected.follow(Follower(f"{path}.bed_manning_n", f"{path}.manning_n"))
        above = path


def too_adverse(reader: Reader, upper: Extent | None, *table: str | int) -> Iterator[LocatedRefusal]:
    """Barrels, or a part of them, that rise too much downstream from the invert at their upper end."""
    lower = reader.get("outlet invert", *table, "downstream_invert_m")
    length = reader.get("length", *table, "length_m")
    rise = length.times(Extent.certain("rise", MOST_RISE)) if length else Extent.certain("rise", 0.0)
    highest = upper.plus(f"inlet invert and {MOST_RISE:g} of the length", rise) if upper else None
    if highest and lower and (wrong := out_of_order(highest, lower, equal=True)):
        expected = f"an outlet invert above the inlet invert by no more than {MOST_RISE:g} of the length"
        yield (*reader.path, *table, "downstream_invert_m"), refusal(expected, wrong, remedy(wrong))


def shape_of(written: Any) -> str:
    """The word for the shape of a barrel or part as written; empty where there is none."""
    return str(written.get("shape", "")) if isinstance(written, dict) else ""


def impossible_shape(reader: Reader, shape: str, *table: str | int) -> Iterator[LocatedRefusal]:
    """Arches, pipe-arches and eggs that cannot be."""
    yield from impossible_arch(reader, *table)
    rise, span = reader.get("rise", *table, "rise_m"), reader.get("span", *table, "span_m")
    if shape == "egg" and rise and span and (wrong := out_of_order(rise, span)):
        yield (*reader.path, *table, "rise_m"), refusal("an egg that is higher than wide", wrong, remedy(wrong))
    if shape == "pipe_arch":
        yield from _impossible_corners(reader, rise, span, *table)


def _impossible_corners(
    reader: Reader, rise: Extent | None, span: Extent | None, *table: str | int
) -> Iterator[LocatedRefusal]:
    """Corners of a pipe-arch that do not fit below its crown, over its invert, or into its width."""
    radius = reader.get("corner radius", *table, "corner_radius_m")
    centre = reader.get("corner height", *table, "corner_height_m")
    if not (radius and centre and rise and span):
        return
    half = Extent("half the span", span.median / 2, span.low / 2, span.high / 2, span.closed)
    for upper, lower, key, expected in (
        (centre, radius, "corner_height_m", "a height above the radius of the corners"),
        (half, radius, "corner_radius_m", "a radius under half the span"),
        (rise, centre.plus("corner height and radius", radius), "rise_m", "a rise above the top of the corners"),
    ):
        if wrong := out_of_order(upper, lower):
            yield (*reader.path, *table, key), refusal(expected, wrong, remedy(wrong))
    # arcs that are higher than half the span do not meet corners that are the widest place
    for lower, key, expected in (
        (centre, "corner_height_m", "a height of the corners of at most half the span"),
        (rise.minus("rise over the corners", centre), "rise_m", "a rise over the corners of at most half the span"),
    ):
        if wrong := out_of_order(half, lower, equal=True):
            yield (*reader.path, *table, key), refusal(expected, wrong, remedy(wrong))


def impossible_parts(reader: Reader, raw: dict[str, Any]) -> Iterator[LocatedRefusal]:
    """Parts that begin above the end of the part before, rise too much, or have an arch that cannot be."""
    barrel = raw.get("barrel")
    parts = barrel.get("part") if isinstance(barrel, dict) else None
    end = reader.get("end of the part above", "barrel", "downstream_invert_m")
    for place, part in enumerate(parts if isinstance(parts, list) else []):
        table = ("barrel", "part", place)
        begin = reader.get("invert", *table, "upstream_invert_m")
        if begin and end and (wrong := out_of_order(end, begin, equal=True)):
            expected = "a part that does not begin above the end of the part above"
            yield (*reader.path, *table, "upstream_invert_m"), refusal(expected, wrong, remedy(wrong))
        yield from too_adverse(reader, begin or end, *table)
        yield from impossible_shape(reader, shape_of(part), *table)
        end = reader.get("end of the part above", *table, "downstream_invert_m")
