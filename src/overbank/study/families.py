"""The families of distributions as a study file writes them, one table each; `low` and `high` cut a family off."""

from __future__ import annotations

from typing import Annotated, Any, Self

from pydantic import Field, PlainValidator, ValidationInfo, model_validator

from overbank.study.folder import folder_of
from overbank.study.plain import Bare, as_float, not_a_number
from overbank.study.refusals import number, refusal, refusals, shortened, shown
from overbank.study.table import Table
from overbank.uncertain.distributions import Distribution, family


def _read_numbers(raw: Any) -> tuple[float, ...]:
    if not isinstance(raw, list) or not raw:
        raise refusal("a list of numbers", shown(raw), "Write [first, second, ...].")
    numbers = [as_float(item) for item in raw]
    faults = [
        ((index,), refusal("a number", shown(item), not_a_number(item)))
        for index, (item, value) in enumerate(zip(raw, numbers, strict=True))
        if value is None
    ]
    if faults:
        raise refusals(faults)
    return tuple(value for value in numbers if value is not None)


Numbers = Annotated[tuple[float, ...], PlainValidator(_read_numbers)]


def _read_column(raw: Any, info: ValidationInfo) -> tuple[float, ...]:
    return folder_of(info).column(raw)


class Family(Table):
    """A family with its parameters; refuses parameters that no distribution can have."""

    def parameters(self) -> dict[str, Any]:
        """The parameters that were written, by name."""
        return {key: getattr(self, key) for key in type(self).model_fields if getattr(self, key) is not None}

    def distribution(self) -> Distribution:
        """The distribution itself."""
        return distribution(WORDS[type(self)], self.parameters())

    @model_validator(mode="after")
    def _possible(self) -> Self:
        self.distribution()
        return self


def distribution(name: str, parameters: dict[str, Any]) -> Distribution:
    """A distribution by the name of its family; a refusal when no distribution can have these parameters."""
    try:
        return family(name, parameters)
    except ValueError as error:
        written = shortened(", ".join(f"{key} = {_shown(value)}" for key, value in parameters.items()))
        remedy = "Correct the parameters."
        raise refusal(f"a distribution that can be: {_clause(str(error))}", written, remedy) from None


def _shown(value: Any) -> str:
    return number(value) if isinstance(value, float) else f"[{', '.join(map(_shown, value))}]"


def _clause(sentence: str) -> str:
    return sentence.rstrip(". ")


class Cut(Family):
    """A family that low and high cut off."""

    low: Bare | None = Field(None, description="the lowest value that can be")
    high: Bare | None = Field(None, description="the highest value that can be")


class Normal(Cut):
    """Normal."""

    mean: Bare = Field(description="the mean")
    sd: Bare = Field(description="the standard deviation")


class Lognormal(Cut):
    """Lognormal, by median and coefficient of variation or by mean and standard deviation."""

    median: Bare | None = Field(None, description="the median")
    cov: Bare | None = Field(None, description="the coefficient of variation")
    mean: Bare | None = Field(None, description="the mean")
    sd: Bare | None = Field(None, description="the standard deviation")

    @model_validator(mode="before")
    @classmethod
    def _one_pair(cls, raw: Any) -> Any:
        if isinstance(raw, dict):
            given = {key for key in ("median", "cov", "mean", "sd") if key in raw}
            if given not in ({"median", "cov"}, {"mean", "sd"}):
                got = ", ".join(sorted(given)) or "neither"
                raise refusal("median and cov, or mean and sd", got, "Give one of the two pairs.")
        return raw


class Uniform(Family):
    """Uniform."""

    low: Bare = Field(description="the lowest value")
    high: Bare = Field(description="the highest value")


class Triangular(Family):
    """Triangular."""

    low: Bare = Field(description="the lowest value")
    mode: Bare = Field(description="the most likely value")
    high: Bare = Field(description="the highest value")


class Beta(Family):
    """Beta between low and high (0 and 1 unless given)."""

    a: Bare = Field(description="the first shape parameter")
    b: Bare = Field(description="the second shape parameter")
    low: Bare | None = Field(None, description="the lowest value")
    high: Bare | None = Field(None, description="the highest value")


class InflatedBeta(Cut):
    """Beta between 0 and 1 with a probability of its own at 0 and at 1."""

    at_zero: Bare = Field(description="the probability of exactly 0")
    a: Bare = Field(description="the first shape parameter between 0 and 1")
    b: Bare = Field(description="the second shape parameter between 0 and 1")
    at_one: Bare = Field(description="the probability of exactly 1")


class Discrete(Cut):
    """A few values with their weights."""

    values: Numbers = Field(description="a list of numbers")
    weights: Numbers = Field(description="a list of probabilities that add up to 1")


class Empirical(Cut):
    """Observed values in a CSV file with the one column `value`."""

    file: Annotated[tuple[float, ...], PlainValidator(_read_column)] = Field(
        description="the name of a CSV file with the one column value, in the study's own folder"
    )

    def parameters(self) -> dict[str, Any]:
        """The observed values themselves, and the cut."""
        written = super().parameters()
        return {"values": written.pop("file"), **written}


FAMILIES: dict[str, type[Family]] = {
    "normal": Normal,
    "lognormal": Lognormal,
    "uniform": Uniform,
    "triangular": Triangular,
    "beta": Beta,
    "inflated_beta": InflatedBeta,
    "discrete": Discrete,
    "empirical": Empirical,
}
"""Every family by its word in a study file."""

WORDS = {table: word for word, table in FAMILIES.items()}
