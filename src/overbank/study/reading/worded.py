"""Numbers that a study writes as words: one of a few words, or several of them with weights.

The place of a word in its list is the number that stands for it.
"""

from collections.abc import Callable
from dataclasses import replace
from typing import Annotated, Any, Self

from pydantic import Field, PlainValidator, ValidationInfo, model_validator

from overbank.study.reading import families
from overbank.study.reading.numbers import Number
from overbank.study.reading.plain import EvidenceWord, KindWord, Text
from overbank.study.reading.refusals import choose, list_of, refusal, refusals, shown
from overbank.study.reading.table import Table
from overbank.uncertain.tabulated import Discrete

Words = tuple[str, ...]


def worded(words: Words) -> PlainValidator:
    """What reads a number of these words, certain or uncertain."""
    certain, uncertain = _tables(words)
    read_word = _word_reader(words)

    def read(raw: Any, info: ValidationInfo) -> Number:
        if not isinstance(raw, dict):
            return Number(float(words.index(read_word(raw))))
        table: Any = certain if "value" in raw else uncertain
        number: Number = table.model_validate(raw, context=info.context).number()
        return number

    return PlainValidator(read)


def _word_reader(words: Words) -> Callable[[Any], str]:
    expected = f"{list_of(words)}, or a discrete distribution of them"

    def read_word(raw: Any) -> str:
        if isinstance(raw, str) and raw in words:
            return raw
        raise refusal(expected, shown(raw), choose(raw, words))

    return read_word


def _list_reader(words: Words) -> Callable[[Any], Words]:
    expected = list_of(words)

    def read_words(raw: Any) -> Words:
        if not isinstance(raw, list) or not raw:
            raise refusal(f"a list of {expected}", shown(raw), "Write [first, second].")
        faults = [
            ((index,), refusal(expected, shown(word), choose(word, words)))
            for index, word in enumerate(raw)
            if word not in words
        ]
        if faults:
            raise refusals(faults)
        return tuple(raw)

    return read_words


def _tables(words: Words) -> tuple[type[Table], type[Table]]:
    """The tables of a certain and of an uncertain number of these words."""

    class Weights(Table):
        """Weights of several words."""

        values: Annotated[Words, PlainValidator(_list_reader(words))] = Field(description=f"a list of {list_of(words)}")
        weights: families.NumberList = Field(description="a list of probabilities that add up to 1")

        def number(self) -> Number:
            """The words as a discrete number."""
            codes = [float(words.index(word)) for word in self.values]
            with families.refusing({"weights": self.weights}):
                distribution = Discrete(codes, self.weights, self.values)
            return Number(distribution.median, distribution)

        @model_validator(mode="after")
        def _possible(self) -> Self:
            self.number()
            return self

    class Uncertain(Table):
        """A word that is not known for certain."""

        discrete: Weights = Field(description="a table with the keys values, weights")
        basis: Text | None = Field(None, description="where the weights come from")
        evidence: EvidenceWord | None = Field(None, description="how well they are known")
        kind: KindWord | None = Field(None, description="whether it is the same in all floods or anew in each")

        def number(self) -> Number:
            """The number that stands for it."""
            return replace(self.discrete.number(), basis=self.basis, evidence=self.evidence, kind=self.kind)

    class Certain(Table):
        """A word with its basis."""

        value: Annotated[str, PlainValidator(_word_reader(words))] = Field(description=list_of(words))
        basis: Text | None = Field(None, description="where it comes from")
        evidence: EvidenceWord | None = Field(None, description="how well it is known")

        def number(self) -> Number:
            """The number that stands for it."""
            return Number(float(words.index(self.value)), None, self.basis, self.evidence)

    return Certain, Uncertain
