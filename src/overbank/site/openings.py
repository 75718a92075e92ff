"""The groups of openings of a bridge: like openings of one shape, or one over a bed that was surveyed, cut into strips.

Where the bed rises and falls under a flat soffit, the opening is cut into strips between the points of the survey, each
with its mean bed. With a free surface all strips have one velocity (`hydraulics.bridge_flow`), so that their areas add
up to that of the opening; choked, each strip passes what its own depth lets through from the common energy (own
derivation, as for groups of openings side by side).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from overbank.hydraulics.bridge_openings import Openings
from overbank.hydraulics.columns import Parts, columns
from overbank.site.cross_section import Line, over_strips, ring
from overbank.site.long_section import drawn_numbers
from overbank.site.numbers import Column, Numbers
from overbank.site.sections import AS_WIDE_AS_HIGH, Shape, certain_section, opening_parts

SURVEYED = "surveyed"
"""Shape of an opening over a surveyed bed."""

STEPS = 10
"""A strip spans no more than this share of the fall of the bed, one over it (own choice)."""

Strips = tuple[tuple[float, float], ...]
"""Width of each strip and height of its mean bed above the lowest point [m]."""


@dataclass(frozen=True)
class Group:
    """A group of openings whose numbers stand under a name of the bridge; `strips` of one over a surveyed bed."""

    name: str
    shape: Shape
    strips: Strips = ()

    def span(self, numbers: Numbers, bridge: str) -> Column:
        """Width of one opening [m]."""
        return numbers[f"{bridge}.{self.name}.{'diameter_m' if self.shape in AS_WIDE_AS_HIGH else 'span_m'}"]

    def openings(self, numbers: Numbers, bridge: str, width_factor: Column) -> Parts:
        """The numbers of `hydraulics.bridges.Openings` of a group without strips."""
        path = f"{bridge}.{self.name}"
        return {
            "section": opening_parts(numbers, path, self.shape),
            "number": numbers[f"{path}.count"],
            "width_factor": width_factor,
            "bed": numbers[f"{path}.bed_level_m"],
        }

    def drawn(self, numbers: Numbers, bridge: str, middle: float, share: float) -> Line:
        """The outline of one opening around an offset [m], of which a skew leaves a share of the width."""
        path = f"{bridge}.{self.name}"
        number = drawn_numbers(path, numbers)
        bed = number("bed_level_m")
        if self.strips:
            left = middle - 0.5 * share * sum(width for width, _ in self.strips)
            return over_strips(self.strips, bed, bed + number("rise_m"), left, share)
        return ring(certain_section(opening_parts(numbers, path, self.shape)), bed, middle, share)

    def laid(self, numbers: Numbers, bridge: str, width_factor: Column) -> Iterator[Column]:
        """The same as columns; of a surveyed bed a strip after the other, those over the soffit left out."""
        if not self.strips:
            yield from columns(Openings, self.openings(numbers, bridge, width_factor))
            return
        path = f"{bridge}.{self.name}"
        bed, rise, count = (numbers[f"{path}.{key}"] for key in ("bed_level_m", "rise_m", "count"))
        for width, height in self.strips:
            box = {f"{path}.span_m": width, f"{path}.rise_m": np.maximum(rise - height, 1e-6)}
            yield from columns(
                Openings,
                {
                    "section": opening_parts({**numbers, **box}, path, "box"),
                    "number": count * np.where(np.asarray(rise) > height, 1.0, 0.0),
                    "width_factor": width_factor,
                    "bed": bed + height,
                },
            )


def strips_of(offsets: tuple[float, ...], levels: tuple[float, ...]) -> Strips:
    """Strips between the points of a survey of the bed."""
    lowest, most = min(levels), (max(levels) - min(levels)) / STEPS
    found: list[tuple[float, float]] = []
    for left, right, low, high in zip(offsets[:-1], offsets[1:], levels[:-1], levels[1:], strict=True):
        if right <= left:
            continue
        parts = max(1, int(np.ceil(abs(high - low) / most - 1e-9))) if most > 0.0 else 1
        for k in range(parts):
            found.append(((right - left) / parts, low + (high - low) * (k + 0.5) / parts - lowest))
    return tuple(found)
