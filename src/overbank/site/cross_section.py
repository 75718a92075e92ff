"""Sections across the flow as they are drawn: ground with its zones of roughness, openings and crests, at the medians.

Offsets are distances across; only those of a survey are known. Elsewhere the middle of the channel is 0, and openings
are laid side by side around it: how thick the piers between them are, no study says.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import nan

import numpy as np

from overbank.hydraulics.sections import TRAPEZOID, Section, top_width
from overbank.site.crest_line import CrestLine
from overbank.site.numbers import Numbers
from overbank.site.sections import approach_parts, certain_section
from overbank.site.structure import Corner, Drawn
from overbank.site.surveyed import SurveyedSection

HEIGHTS = 40
"""Heights at which the outline of an opening is taken."""

PIER = (0.06, 0.3)
"""Least and greatest width of a pier as it is drawn, shares of the mean width of the openings."""

FROM_ABOVE = "in the channel just upstream"

Line = tuple[Corner, ...]


@dataclass(frozen=True)
class Zone:
    """A stretch of the ground of one roughness [s/m^(1/3)], from an offset to another [m]."""

    left: float
    right: float
    manning_n: float


@dataclass(frozen=True)
class Crest:
    """What water can pass over: the word for it, and its line."""

    words: str
    line: Line


@dataclass(frozen=True)
class CrossSection:
    """A section across the flow. Corners are (offset, level) [m].

    where : in words
    ground : along bed and sides, from left to right; empty where a study gives no channel there
    openings : each going round; screen : the bars, likewise, or empty
    turned : angle of the structure in plan, off square to the flow [deg]
    """

    where: str
    ground: Line = ()
    zones: tuple[Zone, ...] = ()
    openings: tuple[Line, ...] = ()
    crests: tuple[Crest, ...] = ()
    screen: Line = ()
    turned: float = 0.0

    def wet(self, level: float) -> tuple[Corner, ...]:
        """Stretches of the ground that lie below a level, each from its left to its right end [m]."""
        found: list[Corner] = []
        for (left, low), (right, high) in pairwise(self.ground):
            if min(low, high) >= level:
                continue
            ends = [left, right]
            if max(low, high) > level:
                ends[0 if low > level else 1] = left + (right - left) * (level - low) / (high - low)
            if found and abs(found[-1][1] - ends[0]) < 1e-9:
                ends[0] = found.pop()[0]
            found.append((ends[0], ends[1]))
        return tuple(found)


def channel_ground(number: Numbers, path: str, shape: str, bed: float, top: float) -> Line:
    """A simple section at a dotted path, up to a level [m]."""
    section = certain_section(approach_parts(number, path, shape))
    half, height = 0.5 * section.width, top - bed
    lean = section.side_slope * height if section.shape == TRAPEZOID else 0.0
    return (-half - lean, top), (-half, bed), (half, bed), (half + lean, top)


def survey_ground(survey: SurveyedSection, rise: float, top: float) -> Line:
    """A surveyed section with its levels raised [m]; above its ends as walls, as the formulas take it."""
    points = [(offset, level + rise) for offset, level in survey.points]
    (left, low), (right, high) = points[0], points[-1]
    return ((left, max(top, low)), *points, (right, max(top, high)))


def survey_zones(survey: SurveyedSection, number: Drawn, path: str) -> tuple[Zone, ...]:
    """Its zones of roughness."""
    ends = (survey.points[0][0], *survey.divisions, survey.points[-1][0])
    each = pairwise(ends)
    return tuple(Zone(left, right, number(f"{path}zone_{k}.manning_n")) for k, (left, right) in enumerate(each, 1))


def ring(section: Section, bed: float, middle: float, share: float = 1.0) -> Line:
    """The outline of a closed section with its bed at a level, around an offset [m]; `share` of its width is drawn."""
    heights = np.linspace(0.0, section.rise, HEIGHTS + 1)
    below = np.minimum(heights, section.rise * (1.0 - 1e-9))  # at the crown itself a width is that of a full section
    halves = [0.5 * share * top_width(section, float(height)) for height in below]
    right = [(middle + half, bed + float(z)) for half, z in zip(halves, heights, strict=True)]
    return (*right, *((2.0 * middle - x, z) for x, z in reversed(right)))


def over_strips(strips: Sequence[tuple[float, float]], bed: float, soffit: float, left: float, share: float) -> Line:
    """The outline of an opening over a surveyed bed, whose strips begin at an offset [m]."""
    corners, at = [(left, soffit)], left
    for width, height in strips:
        corners += [(at, min(bed + height, soffit)), (at + share * width, min(bed + height, soffit))]
        at += share * width
    return (*corners, (at, soffit))


def laid_out(widths: Sequence[float], room: float, middle: float = 0.0) -> list[float]:
    """Middles of openings side by side around an offset, the piers as wide as the room lets them be [m]."""
    mean = sum(widths) / len(widths)
    pier = min(max((room - sum(widths)) / len(widths), PIER[0] * mean), PIER[1] * mean)
    at = middle - 0.5 * (sum(widths) + pier * (len(widths) - 1))
    found = []
    for width in widths:
        found.append(at + 0.5 * width)
        at += width + pier
    return found


def crest_of(words: str, level: float, length: float, line: CrestLine | None, middle: float) -> Crest:
    """A level crest of a length around an offset, or the profile of one whose lowest point is at the level [m]."""
    if line is None:
        return Crest(words, ((middle - 0.5 * length, level), (middle + 0.5 * length, level)))
    half = 0.5 * float(line.points[-1, 0])
    return Crest(words, tuple((middle - half + float(x), level + float(z)) for x, z in line.points))


def rectangle(width: float, low: float, high: float, middle: float = 0.0) -> Line:
    """Corners of an upright rectangle."""
    left, right = middle - 0.5 * width, middle + 0.5 * width
    return (left, low), (right, low), (right, high), (left, high)


def middle_of(ground: Line, level: float) -> float:
    """Middle of the ground below a level, to which openings and crests are laid out [m]."""
    wet = CrossSection("", ground).wet(level)
    return 0.5 * (wet[0][0] + wet[-1][1]) if wet else 0.5 * (ground[0][0] + ground[-1][0])


def extent(lines: Iterable[Line]) -> tuple[float, float]:
    """The least and the greatest offset of lines [m]; nan without any."""
    offsets = [offset for line in lines for offset, _ in line]
    return (min(offsets), max(offsets)) if offsets else (nan, nan)
