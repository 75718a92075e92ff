"""The base of every table of a study file: no unused key, no silent change of type, faults in our words."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, ClassVar, Self, get_args, get_origin

from pydantic import (
    BaseModel,
    ConfigDict,
    ModelWrapValidatorHandler,
    PlainValidator,
    ValidationError,
    ValidationInfo,
    model_validator,
)
from pydantic_core import ErrorDetails, PydanticCustomError

from overbank.study.reading.refusals import (
    LocatedRefusal,
    choose,
    list_of,
    refusal,
    refusal_at,
    refusals,
    shown,
)
from overbank.study.reading.suggestions import MOST, meant, suggestion

TABLES_IN_BRACKETS = (
    "element",
    "dependence",
    "alternative",
    "observation",
    "receptor",
    "line",
    "part",
    "further_openings",
)
"""Lists of tables that a study writes table by table."""

UNKNOWN = "Write one of these keys, or remove it."
"""The remedy for a key that is like none of the known ones."""


class Table(BaseModel):
    """A table whose faults say what was expected, what came and what to do."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, arbitrary_types_allowed=True)

    IF_LEFT_OUT: ClassVar[Mapping[str, str]] = {"basis": "not stated"}
    """What stands in for an absent key, where its default depends on other keys; added to that of the parent tables."""

    @classmethod
    def if_left_out(cls) -> dict[str, str]:
        """What stands in for every absent key of this table, its parents' words among them."""
        each = (parent.__dict__.get("IF_LEFT_OUT", {}) for parent in reversed(cls.__mro__))
        return {key: words for own in each for key, words in own.items()}

    @classmethod
    def variant(cls, raw: Any) -> type[Table]:  # noqa: ARG003
        """The table that checks what is written: another one where a word further in changes the keys."""
        return cls

    @classmethod
    def completed(cls, raw: Any) -> Any:
        """What is read in place of what is written: something else where a word stands for a number."""
        return raw

    @classmethod
    def disagreements(cls, raw: dict[str, Any]) -> Iterable[LocatedRefusal]:  # noqa: ARG003
        """Faults between keys, asked of the table as written, so that they are found beside all others."""
        return ()

    @model_validator(mode="wrap")
    @classmethod
    def _refuse_in_plain_words(cls, raw: Any, handler: ModelWrapValidatorHandler[Self]) -> Self:
        faults: list[LocatedRefusal] = []
        try:
            read = handler(cls.completed(raw))
        except ValidationError as error:
            faults = cls._worded(error.errors(), raw)
        if isinstance(raw, dict):
            faults.extend(cls.disagreements(raw))
        if faults:
            raise refusals(faults)
        return read

    @classmethod
    def _worded(cls, errors: list[ErrorDetails], raw: Any) -> list[LocatedRefusal]:
        """A key that was only misspelt is not reported as missing too."""
        unknown = [str(error["loc"][0]) for error in errors if error["type"] == "extra_forbidden"]
        written = raw if isinstance(raw, dict) else {}
        misspelt = meant(unknown, [key for key in cls.model_fields if key not in written])
        return [
            (error["loc"], cls._in_words(error, written))
            for error in errors
            if not (error["type"] == "missing" and error["loc"][0] in misspelt)
        ]

    @classmethod
    def _in_words(cls, error: ErrorDetails, written: dict[str, Any]) -> PydanticCustomError:
        kind = error["type"]
        if kind == "refusal":
            return refusal(**error["ctx"])
        key = str(error["loc"][-1]) if error["loc"] else ""
        if kind == "extra_forbidden":
            expected = f"one of the keys {', '.join(cls.model_fields)}"
            otherwise = f"It belongs in {' or '.join(places)}." if (places := cls._further_in(key)) else UNKNOWN
            return refusal(expected, f"the unknown key {key}", suggestion(key, cls.model_fields, written, otherwise))
        if kind == "missing":
            return refusal(cls._expected(key), "nothing", _add(key, cls._expected(key)))
        if kind == "model_type":
            keys = ", ".join(cls.model_fields)
            return refusal(f"a table with the keys {keys}", shown(error["input"]), "Write { key = value, ... }.")
        remedy = f"Write {key} = [{{ ... }}, {{ ... }}]."
        if key in TABLES_IN_BRACKETS:
            remedy = f"Write it as [[{key}]], in double brackets."
        return refusal(cls._expected(key), shown(error["input"]), remedy)

    @classmethod
    def _further_in(cls, key: str) -> list[str]:
        """The tables of this one that have such a key."""
        inner = ((name, _tables_of(field.annotation)) for name, field in cls.model_fields.items())
        return [name for name, tables in inner if any(key in table.model_fields for table in tables)][:MOST]

    @classmethod
    def _expected(cls, key: str) -> str:
        field = cls.model_fields.get(key)
        return (field.description if field is not None else None) or f"a value for {key}"


def _tables_of(annotation: Any) -> list[type[Table]]:
    """The tables that an annotation allows, but no lists of them."""
    if isinstance(annotation, type):
        return [annotation] if issubclass(annotation, Table) else []
    if get_origin(annotation) is list:
        return []
    return [table for part in get_args(annotation) for table in _tables_of(part)]


def unknown_keys(table: type[Table], raw: dict[str, Any]) -> set[str]:
    """Keys that the table does not have: one of them may be a misspelling of what seems to be missing."""
    return set(raw) - set(table.model_fields)


def _add(key: str, expected: str) -> str:
    """How something missing is written: a list of tables, a table of its own, or a key of this table."""
    if key in TABLES_IN_BRACKETS:
        return f"Add [[{key}]]."
    return f"Add [{key}]." if f"[{key}]" in expected else f"Add {key} = ... here."


def varied(table: type[Table]) -> PlainValidator:
    """A table, or the variant of it that what is written asks for."""

    def read(raw: Any, info: ValidationInfo) -> Table:
        return table.variant(raw).model_validate(raw, context=info.context)

    return PlainValidator(read)


def chosen_by(key: str, tables: dict[str, type[Table]]) -> PlainValidator:
    """A table whose own word under `key` says which of several kinds it is."""

    def read(raw: Any, info: ValidationInfo) -> Table:
        if not isinstance(raw, dict):
            raise refusal(f"a table with the key {key}", shown(raw), f"Write {{ {key} = ..., ... }}.")
        words = list_of(tables)
        word = raw.get(key)
        if word is None:
            raise refusal_at((key,), f"{key} = {words}", "nothing", f"Add {key} = ... here.")
        if not isinstance(word, str) or word not in tables:
            raise refusal_at((key,), f"{key} = {words}", shown(word), choose(word, tuple(tables)))
        return tables[word].variant(raw).model_validate(raw, context=info.context)

    return PlainValidator(read)
