"""A number of a study, certain or uncertain: where it comes from, what a survey would cost and leave."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated, Any, Self

import numpy as np
from pydantic import Field, PlainValidator, ValidationInfo, create_model, model_validator
from pydantic_core import CoreSchema, core_schema

from overbank.study.reading.families import FAMILIES, TABLES, Parameters
from overbank.study.reading.plain import (
    Bare,
    Evidence,
    EvidenceWord,
    Kind,
    KindWord,
    Text,
    as_float,
    bare_number,
    not_a_number,
    out_of_range,
)
from overbank.study.reading.refusals import LocatedRefusal, number, refusal, refusal_at, shown
from overbank.study.reading.suggestions import likely
from overbank.study.reading.table import Table, unknown_keys
from overbank.uncertain.distributions import Distribution

FAR = 4.0
"""Normal score at which a distribution without an end is held to a physical range: 1 chance in 30 000."""


OUTERMOST, NEAR_ITS_END = 8.0, 0.02
"""A distribution comes to the end of its support when its value at this score is so near (a share)."""


class Survey(Table):
    """A survey that could be bought."""

    sd_after: Annotated[float, bare_number(0.0)] = Field(
        description="the standard deviation that the survey would leave, in the number's own unit"
    )
    cost: Annotated[float, bare_number(0.0)] = Field(description="what the survey would cost, in money")


@dataclass(frozen=True)
class Number:
    """A certain number (`distribution` None) or an uncertain one; `assumed` marks a program's default.

    `kind` is None where the study does not say it; `shared` is the name of the number of [shared] that it is.
    """

    median: float
    distribution: Distribution | None = None
    basis: str | None = None
    evidence: Evidence | None = None
    survey: Survey | None = None
    assumed: bool = False
    kind: Kind | None = None
    shared: str = ""

    @classmethod
    def __get_pydantic_core_schema__(cls, _source: Any, _handler: Any) -> CoreSchema:
        """Pydantic takes the number as it is; `read_number` makes it."""
        return core_schema.is_instance_schema(cls)

    @property
    def uncertain(self) -> bool:
        return self.distribution is not None

    def at_score(self, z: float) -> float:
        """The value at a normal score; the end of the support where the distribution comes to one."""
        if self.distribution is None:
            return self.median
        side = 0 if z < 0 else 1
        return self.distribution.support[side] if self.ends()[side] else float(self.distribution.value(z))

    def ends(self) -> tuple[bool, bool]:
        """Whether the number comes to a lowest and to a highest value.

        A support may end where nothing ever comes near, like a lognormal's at 0: such an end does not count.
        """
        if self.distribution is None:
            return True, True
        ends = self.distribution.support
        outer = [float(self.distribution.value(z)) for z in (-OUTERMOST, OUTERMOST)]
        low, high = (
            math.isfinite(end) and abs(value - end) <= NEAR_ITS_END * abs(self.median - end)
            for value, end in zip(outer, ends, strict=True)
        )
        return low, high


class Certain(Table):
    """A certain number with its basis."""

    value: Bare = Field(description="a number")
    basis: Text | None = Field(None, description="where the number comes from")
    evidence: EvidenceWord | None = Field(None, description="how well it is known")

    def number(self) -> Number:
        """The number itself."""
        return Number(self.value, None, self.basis, self.evidence)


class _Uncertain(Table):
    """An uncertain number: one distribution, its basis, a survey of it."""

    basis: Text | None = Field(None, description="where the distribution comes from")
    evidence: EvidenceWord | None = Field(None, description="how well it is known")
    survey: Survey | None = Field(None, description="a table with the keys sd_after, cost")
    kind: KindWord | None = Field(None, description="whether it is the same in all floods or anew in each")

    @classmethod
    def disagreements(cls, raw: dict[str, Any]) -> Iterator[LocatedRefusal]:
        given = [key for key in raw if key in FAMILIES]
        misspelt = any(likely(key, FAMILIES) for key in unknown_keys(cls, raw))
        if len(given) > 1 or (not given and not misspelt):
            expected = f"value, or one distribution: {', '.join(FAMILIES)}"
            remedy = "Keep one of them." if given else "Add value or a distribution."
            if not given and {"mean", "sd"} <= set(raw):
                remedy = "Name the distribution: { normal = { mean = ..., sd = ... } }."
            yield (), refusal(expected, " and ".join(given) or shown(raw), remedy)

    @model_validator(mode="after")
    def _survey_narrows(self) -> Self:
        if self.survey is not None:
            sd = _spread(self._distribution())
            if self.survey.sd_after >= sd:
                expected = f"a standard deviation below the present one, {number(sd)}"
                got, remedy = f"{number(self.survey.sd_after)}", "Correct it, or leave the survey out."
                raise refusal_at(("survey", "sd_after"), expected, got, remedy)
        return self

    def _distribution(self) -> Distribution:
        return next(table.distribution() for name in FAMILIES if isinstance(table := getattr(self, name), Parameters))

    def number(self) -> Number:
        """The number itself."""
        distribution = self._distribution()
        return Number(distribution.median, distribution, self.basis, self.evidence, self.survey, kind=self.kind)


_FAMILY_KEYS: dict[str, Any] = {name: (TABLES[name] | None, None) for name in FAMILIES}
Uncertain = create_model("Uncertain", __base__=_Uncertain, **_FAMILY_KEYS)
"""An uncertain number with a key for every family."""


def _spread(distribution: Distribution) -> float:
    with np.errstate(all="ignore"):
        return distribution.sd


def read_number(raw: Any, info: ValidationInfo, expected: str = "a number") -> Number:
    """A number, `{ value = ... }`, or a distribution; whatever its size. One that Python gives is read already."""
    if isinstance(raw, Number):
        return raw
    if isinstance(raw, dict):
        table = Certain if "value" in raw else Uncertain
        return table.model_validate(raw, context=info.context).number()
    value = as_float(raw)
    if value is None:
        raise refusal(f"{expected}, or a distribution", shown(raw), not_a_number(raw))
    return Number(value)


def number_from(low: float, high: float, what: str) -> PlainValidator:
    """A number whose every value lies in a physical range.

    A distribution without an end is held to the range at 1 chance in 30 000 (normal score 4).
    """
    expected = f"{what} from {number(low)} to {number(high)}"

    def read(raw: Any, info: ValidationInfo) -> Number:
        read = read_number(raw, info, expected)
        got, remedy = _outside(read, low, high)
        if got:
            raise refusal(expected, got, remedy)
        return read

    return PlainValidator(read)


def _outside(read: Number, low: float, high: float) -> tuple[str, str]:
    """What lies outside the range and what to do; empty texts when nothing does."""
    if not low <= read.median <= high:
        got = f"the number {number(read.median)}" if not read.uncertain else f"a median of {number(read.median)}"
        return got, out_of_range(read.median, high, "Correct the number (the unit stands at the end of its name).")
    least, most = read.at_score(-FAR), read.at_score(FAR)
    if low <= least and most <= high:
        return "", ""
    wrong, word = (least, "low") if least < low else (most, "high")
    chance = "" if all(read.ends()) else " (1 chance in 30 000)"
    bound = low if word == "low" else high
    remedy = f"Narrow the distribution, or cut it off with {word} = {number(bound)}."
    return f"values {'down' if word == 'low' else 'up'} to {number(wrong)}{chance}", remedy


def default(value: float, basis: str, description: str | None = None) -> Any:
    """A field's default: a certain number, listed among the assumptions as the program's own."""
    return Field(Number(value, basis=basis, assumed=True), description=description)
