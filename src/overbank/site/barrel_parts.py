"""A barrel in parts: the numbers of those below the first, and what is lost at the joints between them.

Losses, K on the velocity head in the lower part; `joint_loss` of a study stands in place of all of them:

- a bend: 0.0033 a degree (HEC-22, 4th edition (2024), eq. 9.6, p. 145), or with a radius HDS-5, 2nd edition (2001),
  table 6, p. 147, between its rows in straight lines; both read in the source. At 90 degrees and a radius of twice the
  diameter they agree; for sharper bends the table has more.
- a narrowing: (1/Cc - 1)^2, Cc = 0.62 + 0.38 (A2/A1)^3, of the full areas. Read with Cc 0.64 in the Encyclopaedia
  Britannica, 11th edition, vol. 14, "Hydraulics"; Cc after Weisbach is from memory, unverified. It counts in part-full
  barrels too (own choice, on the safe side).
- a manhole: HEC-22 p. 147, by the angle that the water turns; "for first sizes", read in the source.
- a chamber in which the water stands: an entrance of 0.5 (HDS-5 table 12, square edge), and the whole velocity head of
  the part above. Together 1.5 for like pipes, as HEC-22 p. 147 has for an inlet that turns the water.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from overbank.constants import GRAVITY
from overbank.hydraulics import rows
from overbank.hydraulics.barrel_parts import CHAMBER, MANHOLE, PLAIN, Part
from overbank.hydraulics.columns import Parts, columns
from overbank.site.numbers import Array, Column, Numbers, run_named, spread
from overbank.site.sections import AS_WIDE_AS_HIGH, Shape, barrel_parts
from overbank.site.structure import Said

JOINTS = {"manhole": MANHOLE, "chamber": CHAMBER}
"""Words of a study for what joins a part to the one above."""

A_DEGREE = 0.0033
"""Loss of a bend for each degree (HEC-22 eq. 9.6)."""

BEND_ANGLES, BEND_RATIOS = (0.0, 22.5, 45.0, 90.0), (1.0, 2.0, 4.0, 6.0, 8.0)
BEND_LOSSES = ((0.0,) * 5, (0.25, 0.15, 0.12, 0.08, 0.08), (0.37, 0.22, 0.19, 0.11, 0.11), (0.5, 0.3, 0.25, 0.15, 0.15))
"""Loss of a bend by its angle [deg] and by its radius over the equivalent diameter (HDS-5 table 6)."""

TURNS, TURNED = (0.0, 22.5, 45.0, 60.0, 90.0), (0.15, 0.45, 0.75, 0.85, 1.0)
"""Loss of a manhole by the angle through which the water turns [deg] (HEC-22 p. 147)."""

OUT_OF_CHAMBER = 0.5

MOST_TESTED = 1.6
"""Discharge intensity DI = Q / (A sqrt(g D)) up to which HEC-22 tested pipes that leave a manhole drowned [-]."""


class Joined(NamedTuple):
    """A part below the first: the shape of its section, and the word of what joins it, empty for nothing."""

    shape: Shape
    joint: str


@dataclass(frozen=True)
class InParts:
    """The parts of a barrel, from the inlet down. The first has its numbers under a dotted path, the others below that.

    shape : of the first part; joined : the parts below it
    """

    path: str
    shape: Shape
    joined: tuple[Joined, ...] = ()

    def path_of(self, place: int) -> str:
        """Dotted path of a part, 0 for the first."""
        return f"{self.path}.part_{place}" if place else self.path

    def shape_of(self, place: int) -> Shape:
        """Shape of a part, 0 for the first."""
        return self.joined[place - 1].shape if place else self.shape

    @property
    def last(self) -> str:
        """Dotted path of the part that ends at the outlet."""
        return self.path_of(len(self.joined))

    def rise(self, numbers: Numbers, place: int) -> Column:
        """Height of a part [m]."""
        return numbers[rise_of(self.shape_of(place), self.path_of(place))]

    def length(self, numbers: Numbers) -> Column:
        """Length of all parts [m]."""
        return sum((numbers[f"{self.path_of(k)}.length_m"] for k in range(len(self.joined) + 1)), 0.0)

    def rooms(self, numbers: Numbers, samples: int, place: int, filling: Parts) -> dict[str, Array]:
        """`hydraulics.rows.Room` of a part: full area of a clean one, and its height clear of silt."""
        section = barrel_parts(numbers, self.path_of(place), self.shape_of(place))
        laid = columns(rows.RoomRow, {"section": section, **filling})
        return run_named(rows.barrel_rooms, rows.Room._fields, laid, samples)

    def full_area(self, numbers: Numbers, samples: int, place: int) -> Array:
        """Area of a clean part [m2]."""
        return self.rooms(numbers, samples, place, {"blockage": 0.0, "pattern": 0.0})["full_area"]

    def _bend_ratio(self, numbers: Numbers, samples: int, place: int) -> Array:
        """Radius of a part's bend over the diameter of a circle of its area [-]."""
        equivalent = np.sqrt(4.0 / np.pi * self.full_area(numbers, samples, place))
        return np.asarray(numbers[f"{self.path_of(place)}.bend_radius_m"] / equivalent)

    def drop(self, numbers: Numbers, place: int) -> Column:
        """Fall of the bed at the upper end of a part below the first [m]."""
        return (
            numbers[f"{self.path_of(place - 1)}.downstream_invert_m"]
            - numbers[f"{self.path_of(place)}.upstream_invert_m"]
        )

    def slope(self, numbers: Numbers, place: int) -> Column:
        """Slope of a part [-]."""
        path = self.path_of(place)
        fall = numbers[f"{path}.upstream_invert_m"] - numbers[f"{path}.downstream_invert_m"]
        return fall / numbers[f"{path}.length_m"]

    def pieces(self, numbers: Numbers, samples: int) -> list[Column]:
        """The numbers of `hydraulics.barrel_parts.Part`, a part after the other."""
        laid: list[Column] = []
        for place in range(1, len(self.joined) + 1):
            path = self.path_of(place)
            joint = JOINTS.get(self.joined[place - 1].joint, PLAIN)
            part = {
                "section": barrel_parts(numbers, path, self.shape_of(place)),
                "length": numbers[f"{path}.length_m"],
                "slope": self.slope(numbers, place),
                "drop": self.drop(numbers, place),
                "loss": sum(loss for _, loss in self.losses(numbers, samples, place)),
                "joint": float(joint),
            }
            laid += columns(Part, part)
        return laid

    def losses(self, numbers: Numbers, samples: int, place: int) -> Iterator[tuple[str, Column]]:
        """What is lost at the upper end of a part, each on the velocity head in it [-], in words."""
        path, joint = self.path_of(place), self.joined[place - 1].joint
        if f"{path}.joint_loss" in numbers:
            yield "the joint, as the study gives it", numbers[f"{path}.joint_loss"]
            return
        if joint == "chamber":
            yield "the way out of the chamber", OUT_OF_CHAMBER
            return
        turn = numbers[f"{path}.bend_deg"]
        if joint == "manhole":
            yield "the manhole", np.interp(turn, TURNS, TURNED)
        elif f"{path}.bend_radius_m" in numbers:
            ratio = self._bend_ratio(numbers, samples, place)
            yield "the bend", bend_loss(spread(turn, samples), ratio)
        else:
            yield "the bend", A_DEGREE * turn
        areas = self.full_area(numbers, samples, place) / self.full_area(numbers, samples, place - 1)
        yield "the narrowing", narrowing_loss(areas)

    def remarks(self, numbers: Numbers, flow: Array) -> Said:
        """What a reader must know of the joints, and where a flow of one barrel is outside their ranges [m3/s]."""
        samples = len(flow)
        places = range(1, len(self.joined) + 1)
        if any(each.joint == "manhole" for each in self.joined):
            words = "manhole in a barrel: a loss for first sizes; HEC-22's full method had 1.23 for 1.00 in one case"
            yield words, np.ones(samples, bool)
        yield from self._out_of_range(numbers, flow)
        up = [np.broadcast_to(np.asarray(self.drop(numbers, place)) < 0.0, (samples,)) for place in places]
        if up:
            yield "a step up inside the barrel: no published loss of it is counted", np.any(up, axis=0)

    def _out_of_range(self, numbers: Numbers, flow: Array) -> Said:
        """Manholes and chambers beyond the tests of HEC-22, bends beyond the table of HDS-5."""
        for place, each in enumerate(self.joined, 1):
            path, area = self.path_of(place), self.full_area(numbers, len(flow), place)
            if each.joint:
                intensity = flow / (area * np.sqrt(GRAVITY * self.rise(numbers, place)))
                yield f"manhole or chamber with DI above {MOST_TESTED:g}, HEC-22's tests", intensity > MOST_TESTED
            if f"{path}.bend_radius_m" in numbers:
                ratio = self._bend_ratio(numbers, len(flow), place)
                low, high = BEND_RATIOS[0], BEND_RATIOS[-1]
                words = f"bend with a radius outside {low:g} to {high:g} diameters, the table of HDS-5"
                yield words, (ratio < low) | (ratio > high)


def rise_of(shape: Shape, path: str) -> str:
    """Dotted path of the height of the barrels whose numbers stand under a path."""
    return f"{path}.{'diameter_m' if shape in AS_WIDE_AS_HIGH else 'rise_m'}"


def bend_loss(angle: Array, ratio: Column) -> Array:
    """Loss of a bend on the velocity head in it [-], by its angle [deg] and its radius over the equivalent diameter."""
    ratio = np.broadcast_to(np.asarray(ratio, float), np.shape(angle))
    by_angle = np.array([np.interp(ratio, BEND_RATIOS, row) for row in BEND_LOSSES])
    upper = np.clip(np.searchsorted(BEND_ANGLES, angle), 1, len(BEND_ANGLES) - 1)
    low, high = np.asarray(BEND_ANGLES)[upper - 1], np.asarray(BEND_ANGLES)[upper]
    share = (angle - low) / (high - low)
    each = np.arange(np.size(angle))
    loss: Array = (1.0 - share) * by_angle[upper - 1, each] + share * by_angle[upper, each]
    return loss


def narrowing_loss(areas: Array) -> Array:
    """Loss of a sudden narrowing on the velocity head behind it [-], by the area behind over that before."""
    contraction = 0.62 + 0.38 * np.minimum(areas, 1.0) ** 3
    loss: Array = np.square(1.0 / contraction - 1.0)
    return loss
