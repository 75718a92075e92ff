"""Distributions as a study file writes them: the family's word, and a table of its parameters.

The families and their parameters are those of `overbank.uncertain.families`; `low` and `high` cut any of
them off.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from functools import lru_cache
from typing import Annotated, Any, ClassVar, Self

import numpy as np
from pydantic import Field, PlainValidator, ValidationError, ValidationInfo, create_model, model_validator

from overbank.study.reading.folder import folder_of
from overbank.study.reading.plain import as_float, bare_number, not_a_number
from overbank.study.reading.refusals import LocatedRefusal, number, refusal, refusals, shortened, shown
from overbank.study.reading.table import Table, unknown_keys
from overbank.uncertain.checks import ParameterError
from overbank.uncertain.distributions import Distribution
from overbank.uncertain.families import BOUNDS, LISTS, family
from overbank.uncertain.families import FAMILIES as FORMS
from overbank.uncertain.parameters import UncertainParameters

FAMILIES = tuple(FORMS)
"""The words of all families."""


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


def _read_people(raw: Any) -> tuple[tuple[float, ...], ...]:
    if not isinstance(raw, list) or not raw:
        remedy = "Write [[0.1, 0.3, 0.7], [0.2, 0.5, 0.9]], for example: a list for each person."
        raise refusal("a list of lists of numbers", shown(raw), remedy)
    return tuple(_read_numbers(person) for person in raw)


def _read_column(raw: Any, info: ValidationInfo) -> tuple[float, ...]:
    return folder_of(info).column(raw)


NumberList = Annotated[tuple[float, ...], PlainValidator(_read_numbers)]
People = Annotated[tuple[tuple[float, ...], ...], PlainValidator(_read_people)]
Column = Annotated[tuple[float, ...], PlainValidator(_read_column)]


def _read_parameter(raw: Any, info: ValidationInfo) -> float | Distribution:
    """A number, or a distribution where a parameter is not known itself."""
    if not isinstance(raw, dict):
        return float(_BARE.func(raw))  # type: ignore[call-arg]
    given = [key for key in raw if key in FAMILIES]
    if len(given) != 1 or len(raw) != 1:
        expected = f"a number, or one distribution of the parameter: {', '.join(FAMILIES)}"
        raise refusal(expected, shown(raw), "Write a number, or { normal = { mean = ..., sd = ... } }, for example.")
    try:
        table: Parameters = TABLES[given[0]].model_validate(raw[given[0]], context=info.context)
    except ValidationError as error:
        raise refusals([((given[0], *each["loc"]), refusal(**each["ctx"])) for each in error.errors()]) from None
    return table.distribution()


_BARE = bare_number()
Bare = Annotated[float, _BARE]
Parameter = Annotated[Any, PlainValidator(_read_parameter)]

PROBES = np.array([-8.0, 0.0, 8.0])
"""Normal scores at which a distribution must give a number, far beyond any that are sampled."""

LEAST_SPREAD = 1e-9
"""A distribution whose values there differ by a smaller share is one number, but for rounding."""

COLUMN = "file"
"""Where a family takes observed values, a study names a file of them."""


OF_WORDS = "labels"
"""What the program itself gives a family whose numbers stand for words."""


def ways_to_give(name: str) -> tuple[tuple[str, ...], ...]:
    """The sets of parameters that a family can be given by, in the keys of a study file."""
    return ((COLUMN,),) if name == "empirical" else tuple(form.needs for form in FORMS[name])


def may_be_given(name: str) -> tuple[str, ...]:
    """Parameters that a family may have besides, in the keys of a study file; bounds are left out."""
    keys = (key for form in FORMS[name] for key in form.may)
    return tuple(dict.fromkeys(key for key in keys if key not in (*BOUNDS, OF_WORDS)))


class Parameters(Table):
    """The parameters of one family; its class bears the family's name.

    made_of : what `parameter_table` made the class of, by which another process finds it again
    """

    made_of: ClassVar[tuple[str, tuple[str, ...], bool]]

    def __reduce__(self) -> tuple[Any, ...]:
        return _of_again, type(self).made_of, self.__getstate__()

    @classmethod
    def disagreements(cls, raw: dict[str, Any]) -> Iterator[LocatedRefusal]:
        ways = ways_to_give(cls.__name__)
        given = tuple(key for key in raw if key not in (*BOUNDS, *may_be_given(cls.__name__)))
        if len(ways) > 1 and not unknown_keys(cls, raw) and set(given) not in map(set, ways):
            expected = ", or ".join(" and ".join(way) for way in ways)
            remedy = f"Give one of the two {'pairs' if len(ways[0]) == 2 else 'sets'}."
            yield (), refusal(expected, ", ".join(given) or "neither", remedy)

    @model_validator(mode="after")
    def _possible(self) -> Self:
        self.distribution()
        return self

    def distribution(self) -> Distribution:
        """The distribution itself; a refusal when none can have these parameters."""
        given = {key: getattr(self, key) for key in type(self).model_fields}
        written = {key: value for key, value in given.items() if value is not None}
        if COLUMN in written:
            written["values"] = written.pop(COLUMN)
        with refusing(written):
            made = _made(type(self).__name__, tuple(written.items()))
            probed = made.value(PROBES)
            if not np.isfinite(probed).all():
                raise ValueError("it gives values that no computer number can hold")
            if made.support[0] < made.support[1] and np.ptp(probed) > LEAST_SPREAD * np.abs(probed).max():
                return made
        only = number(float(probed[1]))
        raise refusal("a distribution that varies", f"the one value {only}", f"Write {{ value = {only} }}.")


@lru_cache(maxsize=256)
def _made(name: str, parameters: tuple[tuple[str, Any], ...]) -> Distribution:
    """The distribution; made once, because some families tabulate their inverse and every check asks anew."""
    given = dict(parameters)
    if any(key not in LISTS and not isinstance(each, (int, float)) for key, each in given.items()):
        return UncertainParameters.of(name, given)
    return family(name, given)


@contextmanager
def refusing(parameters: Mapping[str, Any]) -> Iterator[None]:
    """Turns what a distribution says about impossible parameters into a refusal."""
    try:
        with np.errstate(all="ignore"):
            yield
    except (ValueError, ArithmeticError) as error:
        written = ", ".join(f"{key} = {_shown(value)}" for key, value in parameters.items())
        expected = f"parameters that a distribution can have ({error})"
        if isinstance(error, ParameterError):
            expected = error.expected
        raise refusal(expected, shortened(written), "Correct the parameters of the distribution.") from None


def _shown(value: Any) -> str:
    if isinstance(value, tuple):
        return f"[{', '.join(map(_shown, value))}]"
    return number(value) if isinstance(value, float) else str(value.words)


TYPES: dict[str, Any] = {
    **dict.fromkeys(("values", "weights", "shares"), NumberList),
    "people": People,
    COLUMN: Column,
}
WORDS = {
    "rate_per_day": "the blocked share that clean bars gain in a day",
    "ceiling": "the blocked share that debris tends to, not above 1",
    "raked_every_days": "the days between two full rakings",
    "raked_on_average_every_days": "the mean days between two full rakings that come at random",
    "at_one": "the probability of 1",
    "flood_rate_per_hour": "the blocked share that clean bars gain in an hour of the flood",
    "flood_hours": "the hours from the first debris of the flood to its peak",
    "attended": "the probability that a crew rakes the bars clean in the flood",
    "unattended_hours": "the hours before the peak from which nobody may go near the bars",
    "people": "of each person a list of quantiles, rising: at 5, 50 and 95 %, or at the shares given",
    "shares": "a list of the shares that the quantiles stand at",
    "values": "a list of numbers",
    "weights": "a list of probabilities that add up to 1",
    COLUMN: "the name of a CSV file with the one column value, in the study's own folder",
}


def _of_again(name: str, bounds: tuple[str, ...], known: bool) -> Parameters:
    """A table as pickled, before its parameters are put into it."""
    table = _table(name, bounds, known)
    return table.__new__(table)


def parameter_table(name: str, bounds: tuple[str, ...] = BOUNDS, known: bool = False) -> type[Parameters]:
    """The table of a family's parameters, and of the bounds that may cut it off.

    known : whether every parameter is a number, and none a distribution
    """
    return _table(name, bounds, known)


@lru_cache(maxsize=64)
def _table(name: str, bounds: tuple[str, ...], known: bool) -> type[Parameters]:
    ways = ways_to_give(name)
    fields: dict[str, Any] = {}
    for key in dict.fromkeys([*(key for way in ways for key in way), *may_be_given(name), *bounds]):
        kind, description = TYPES.get(key, Bare if known else Parameter), WORDS.get(key, f"a number for {key}")
        required = all(key in way for way in ways)
        if required:
            fields[key] = (kind, Field(description=description))
        else:
            fields[key] = (kind | None, Field(None, description=description))
    made = create_model(name, __base__=Parameters, **fields)
    made.made_of = (name, bounds, known)
    return made


TABLES = {name: parameter_table(name) for name in FAMILIES}
"""The table of parameters of every family."""
