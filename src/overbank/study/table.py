"""The base of every table of a study file: no key that nothing uses, no silent change of type, faults in our words."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Self

from pydantic import BaseModel, ConfigDict, ModelWrapValidatorHandler, PlainValidator, ValidationError, model_validator
from pydantic import ValidationInfo
from pydantic_core import ErrorDetails, PydanticCustomError

from overbank.study.lines import KeyPath
from overbank.study.refusals import choose, list_of, nearest, refusal, refusal_at, refusals, shown


class Table(BaseModel):
    """A table whose faults say what was expected, what came and what to do."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, arbitrary_types_allowed=True)

    @model_validator(mode="wrap")
    @classmethod
    def _refuse_in_plain_words(cls, raw: Any, handler: ModelWrapValidatorHandler[Self]) -> Self:
        try:
            return handler(raw)
        except ValidationError as error:
            raise refusals((_path(item), cls._worded(item)) for item in error.errors()) from None

    @classmethod
    def _worded(cls, error: ErrorDetails) -> PydanticCustomError:
        kind = error["type"]
        if kind == "refusal":
            return refusal(**error["ctx"])
        key = str(error["loc"][-1]) if error["loc"] else ""
        if kind == "extra_forbidden":
            return _unknown_key(key, tuple(cls.model_fields))
        if kind == "missing":
            return refusal(_expected(cls, key), "nothing", f"Add {key} = ... here.")
        if kind == "model_type":
            keys = ", ".join(cls.model_fields)
            return refusal(f"a table with the keys {keys}", shown(error["input"]), "Write { key = value, ... }.")
        return refusal(_expected(cls, key), shown(error["input"]), "Write it as the starter study does.")


def _path(error: ErrorDetails) -> KeyPath:
    return error["loc"]


def _expected(table: type[Table], key: str) -> str:
    field = table.model_fields.get(key)
    return (field.description if field is not None else None) or f"a value for {key}"


def _unknown_key(key: str, known: tuple[str, ...]) -> PydanticCustomError:
    near = nearest(key, known)
    remedy = f"Did you mean {near}? Nothing uses the key as it stands." if near else "Remove it: nothing uses it."
    return refusal(f"one of the keys {', '.join(known)}", f"the unknown key {key}", remedy)


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
            raise refusal_at((key,), f"{key} = {words}", shown(word), choose(str(word), tuple(tables)))
        return tables[word].model_validate(raw, context=info.context)

    return PlainValidator(read)


Reader = Callable[[Any], Any]
