"""Money, as a study writes it: what the water costs at each depth, and how years are weighed."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, ClassVar

import numpy as np
from numpy.typing import NDArray
from pydantic import Field, PlainValidator

from overbank.study.reading.folder import HIGHEST, LOWEST
from overbank.study.reading.plain import Text, as_float, bare_number, whole_number
from overbank.study.reading.refusals import refusal, shown
from overbank.study.reading.table import Table

Array = NDArray[np.float64]
Pairs = tuple[tuple[float, float], ...]


def _read_pairs(raw: Any) -> Pairs:
    expected = "a list of pairs of depth [m] and damage [money], both from 0, depths rising and damages never falling"
    remedy = "Write [[0.0, 5000], [0.5, 40000]], for example."
    pairs = [[as_float(each) for each in pair] if isinstance(pair, list) else [] for pair in _listed(raw)]
    if not pairs or any(len(pair) != 2 or None in pair for pair in pairs):
        raise refusal(expected, shown(raw), remedy)
    depths, damages = np.array(pairs, dtype=np.float64).T
    if depths[0] < 0.0 or damages[0] < 0.0 or np.any(np.diff(depths) <= 0.0) or np.any(np.diff(damages) < 0.0):
        raise refusal(expected, shown(raw), remedy)
    return tuple((float(depth), float(damage)) for depth, damage in zip(depths, damages, strict=True))


def _listed(raw: Any) -> list[Any]:
    return raw if isinstance(raw, list) else []


class Money(Table):
    """What water over a level costs, and how years are weighed: the user's own figures, in any one currency."""

    depth_damage: Annotated[Pairs, PlainValidator(_read_pairs)] = Field(
        description="pairs of depth over from_level_m [m] and damage [money]; the last holds for all that is deeper"
    )
    from_level_m: Annotated[float, bare_number(LOWEST, HIGHEST)] | None = Field(
        None, description="the level from which the depth counts [m]"
    )
    other_loss: Annotated[float, bare_number(0.0)] = Field(
        0.0, description="what is lost besides as soon as from_level_m is passed, such as traffic [money]"
    )
    discount_rate: Annotated[float, bare_number(0.0, 0.5)] = Field(
        description="the rate at which later years count less, a year"
    )
    life_years: Annotated[int, whole_number(1, 1000)] = Field(description="the years that are weighed")
    maintenance_a_year: Annotated[float, bare_number(0.0)] = Field(
        0.0, description="what the site as it stands costs each year [money]"
    )
    basis: Text | None = Field(None, description="where the damages and costs come from")

    IF_LEFT_OUT: ClassVar[Mapping[str, str]] = {
        "from_level_m": "the median bank where the answers are read",
    }

    def damage(self, depths: Array) -> Array:
        """Damage at depths over the level [money]; nothing below it, by straight lines between the pairs."""
        known, damages = np.array(self.depth_damage).T
        return np.where(depths > 0.0, self.other_loss + np.interp(depths, known, damages, left=0.0), 0.0)
