"""The pattern of a blockage: one of three words, or several words with weights."""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated, Any, Self

from pydantic import Field, PlainValidator, ValidationInfo, model_validator

from overbank.study import families
from overbank.study.numbers import Number
from overbank.study.plain import EvidenceWord, Text
from overbank.study.refusals import choose, list_of, refusal, refusals, shown
from overbank.study.table import Table

PATTERNS = ("uniform", "floating_raft", "bottom_up")
"""The words; the place of a word in this list is the number that stands for it."""

EXPECTED = list_of(PATTERNS)


def _read_words(raw: Any) -> tuple[str, ...]:
    if not isinstance(raw, list) or not raw:
        raise refusal(f"a list of {EXPECTED}", shown(raw), "Write [first, second].")
    faults = [
        ((index,), refusal(EXPECTED, shown(word), choose(str(word), PATTERNS)))
        for index, word in enumerate(raw)
        if word not in PATTERNS
    ]
    if faults:
        raise refusals(faults)
    return tuple(raw)


class PatternWeights(Table):
    """Weights of several patterns."""

    values: Annotated[tuple[str, ...], PlainValidator(_read_words)] = Field(description=f"a list of {EXPECTED}")
    weights: families.Numbers = Field(description="a list of probabilities that add up to 1")

    def number(self) -> Number:
        """The pattern as a discrete number."""
        values = [float(PATTERNS.index(word)) for word in self.values]
        distribution = families.distribution("discrete", {"values": values, "weights": list(self.weights)})
        return Number(distribution.median, distribution)

    @model_validator(mode="after")
    def _possible(self) -> Self:
        self.number()
        return self


class UncertainPattern(Table):
    """A pattern that is not known for certain."""

    discrete: PatternWeights = Field(description="a table with the keys values, weights")
    basis: Text | None = Field(None, description="where the weights come from")
    evidence: EvidenceWord | None = Field(None, description="how well they are known")


class CertainPattern(Table):
    """A pattern with its basis."""

    value: Annotated[str, PlainValidator(lambda raw: read_word(raw))] = Field(description=EXPECTED)
    basis: Text | None = Field(None, description="where the pattern comes from")
    evidence: EvidenceWord | None = Field(None, description="how well it is known")


def read_word(raw: Any) -> str:
    """One of the three words."""
    if isinstance(raw, str) and raw in PATTERNS:
        return raw
    remedy = choose(raw, PATTERNS) if isinstance(raw, str) else "Write one of these words."
    raise refusal(f"{EXPECTED}, or a discrete distribution of them", shown(raw), remedy)


def read_pattern(raw: Any, info: ValidationInfo) -> Number:
    """The number that stands for the pattern, certain or uncertain."""
    if not isinstance(raw, dict):
        return Number(float(PATTERNS.index(read_word(raw))))
    if "value" in raw:
        certain = CertainPattern.model_validate(raw, context=info.context)
        return Number(float(PATTERNS.index(certain.value)), None, certain.basis, certain.evidence)
    pattern = UncertainPattern.model_validate(raw, context=info.context)
    return replace(pattern.discrete.number(), basis=pattern.basis, evidence=pattern.evidence)


Pattern = Annotated[Number, PlainValidator(read_pattern)]
