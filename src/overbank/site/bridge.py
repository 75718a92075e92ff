"""A bridge of one or two groups of openings, square or skewed, with debris and flow over its deck."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import ClassVar

import numpy as np

from overbank.hydraulics import rows
from overbank.hydraulics.oblique import skewed_share
from overbank.site.numbers import Array, Column, Numbers, Water, run_named
from overbank.site.sections import approach_columns, opening_columns
from overbank.site.surveyed import SurveyedSection, surveyed_columns

GROUPS = ("opening", "side_opening")
"""Where the numbers of the two groups stand."""

LEAST_FACTOR = 0.05
"""Piers across the flow never close a span further than to this share of it."""


@dataclass(frozen=True)
class Bridge:
    """A bridge; every option says only which numbers it has.

    shapes : of the main openings and, if there are any, of the side openings: box (flat soffit), arch, pipe, ellipse
    approach_shape : of the channel on both sides: rectangle, trapezoid or surveyed
    spans_along_road : the spans are lengths along the road, to be projected once on to the flow
    piers_square_to_road : the piers do not follow the flow, so that a skew narrows the openings by their length too
    survey : the surveyed section of the channel, if it is one
    """

    id: str
    shapes: tuple[str, ...]
    approach_shape: str
    spans_along_road: bool
    piers_square_to_road: bool
    has_deck: bool
    has_approach_road: bool
    survey: SurveyedSection | None = None
    kind: ClassVar[str] = "bridge"

    def _columns(self, flow: Array, below: Water, numbers: Numbers) -> list[Column]:
        own = self.id
        contraction, sluice, orifice = self.coefficients(numbers)
        return [
            *surveyed_columns(numbers, f"{own}.approach", self.survey),
            *self._openings(numbers, "opening", self.shapes[0]),
            *self._side_openings(numbers),
            *approach_columns(numbers, f"{own}.approach", self.approach_shape),
            numbers[f"{own}.approach.bed_level_m"],
            *(contraction, numbers[f"{own}.expansion_loss"], sluice, orifice),
            *(numbers[f"{own}.{key}"] for key in ("afflux_factor", "blockage", "pattern")),
            *self._crest(numbers, "deck", self.has_deck),
            *self._crest(numbers, "approach_road", self.has_approach_road),
            flow,
            below.level,
        ]

    def coefficients(self, numbers: Numbers) -> tuple[Column, Column, Column]:
        """Loss of contraction, sluice and orifice coefficient: each so that a skew costs its share of the flow.

        The head of a contracted stream is 1 + Cc velocity heads, so 1 + Cc goes with one over the share squared. An
        opening that contracts nothing loses nothing, whatever the skew.
        """
        share = skewed_share(numbers[f"{self.id}.skew.angle_deg"])
        contraction = (1.0 + numbers[f"{self.id}.contraction_loss"]) / (share * share) - 1.0
        sluice, orifice = (numbers[f"{self.id}.{key}_coefficient"] * share for key in ("sluice", "orifice"))
        return contraction, sluice, orifice

    def _side_openings(self, numbers: Numbers) -> list[Column]:
        if len(self.shapes) == 1:
            return [0.0] * rows.OPENINGS
        return self._openings(numbers, "side_opening", self.shapes[1])

    def _openings(self, numbers: Numbers, group: str, shape: str) -> list[Column]:
        path = f"{self.id}.{group}"
        return [
            *opening_columns(numbers, path, shape),
            numbers[f"{path}.count"],
            self.width_factor(numbers, path, shape),
            numbers[f"{path}.bed_level_m"],
        ]

    def width_factor(self, numbers: Numbers, path: str, shape: str) -> Column:
        """What is left of a span across the flow: projected once, less its share of skewed piers.

        Between all spans of the crossing stand one fewer piers, each of which takes its length times sin(skew).
        """
        angle = np.radians(numbers[f"{self.id}.skew.angle_deg"])
        projected = np.cos(angle) if self.spans_along_road else np.ones_like(angle)
        if self.piers_square_to_road:
            span = numbers[f"{path}.{'diameter_m' if shape == 'pipe' else 'span_m'}"]
            spans = sum(numbers[f"{self.id}.{group}.count"] for group in GROUPS[: len(self.shapes)])
            piers_a_span = 1.0 - 1.0 / spans
            projected = projected - piers_a_span * numbers[f"{self.id}.skew.pier_length_m"] * np.sin(angle) / span
        factor: Array = np.maximum(projected, LEAST_FACTOR)
        return factor

    def _crest(self, numbers: Numbers, crest: str, there: bool) -> list[Column]:
        if not there:
            return [0.0, 0.0, 0.0]
        return [numbers[f"{self.id}.{crest}.{key}"] for key in ("level_m", "length_m", "coefficient")]

    def details(self, flow: Array, below: Water, numbers: Numbers) -> dict[str, Array]:
        columns = self._columns(flow, below, numbers)
        if self.survey is None:
            return run_named(rows.bridge_states, rows.BRIDGE_RESULTS, columns, len(flow))
        loop = partial(rows.surveyed_bridge_states, self.survey.table)
        return run_named(loop, rows.SURVEYED_BRIDGE_RESULTS, columns, len(flow))

    def upstream(self, flow: Array, below: Water, numbers: Numbers) -> Water:
        return Water.of(self.details(flow, below, numbers))
