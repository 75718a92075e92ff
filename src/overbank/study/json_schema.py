"""A JSON Schema (draft 4) of study files, for editors: made from the tables that check them.

It knows keys, words and kinds of value. Ranges, and what goes with what, are for `overbank check` to tell.
"""

from __future__ import annotations

import json
import types
from collections.abc import Iterable, Mapping
from dataclasses import is_dataclass
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from overbank.study.blockages import WAYS as BLOCKAGES
from overbank.study.elements.element import Element
from overbank.study.kinds import KINDS
from overbank.study.patterns import WORDED
from overbank.study.reading.families import TABLES, Parameters
from overbank.study.reading.numbers import Certain, Number, Uncertain
from overbank.study.reading.shared import OWN
from overbank.study.reading.table import Table
from overbank.study.reading.unit_names import twins
from overbank.study.requirements import Requirements
from overbank.study.schema import AUTOMATIC, StudyFile
from overbank.study.surveyed import CHANNEL_SECTIONS

Schema = dict[str, Any]

DRAFT = "http://json-schema.org/draft-04/schema#"

PLAIN: Mapping[Any, Schema] = {
    bool: {"type": "boolean"},
    int: {"type": "integer"},
    float: {"type": "number"},
    str: {"type": "string"},
}
"""Kinds of value that are not uncertain."""

FILES = (Requirements,)
"""Tables that stand in a file of their own, which the study names."""

LISTED: Schema = {"anyOf": [{"type": "string"}, {"type": "array"}, {"type": "object"}]}
"""A list, or the name of a file that holds it, or a table with that name and more."""


SHARED: Schema = {"type": "string", "pattern": r"^shared\.[A-Za-z0-9_-]+$"}
"""The name of what stands in [shared]."""


def study_schema() -> Schema:
    """The schema of a whole study file."""
    definitions: dict[str, Schema] = {}
    top = _of_table(StudyFile, definitions)
    return {"$schema": DRAFT, "title": "a study of overbank", **top, "definitions": definitions}


def schema_text() -> str:
    """The schema as a file holds it."""
    return json.dumps(study_schema(), indent=2, ensure_ascii=False) + "\n"


def _of_table(table: type[Table], definitions: dict[str, Schema]) -> Schema:
    fields = table.model_fields
    optional = table.if_left_out()
    needed = [key for key, field in fields.items() if field.is_required() and key not in optional]
    keys = {}
    for key, field in fields.items():
        found = _of(field.annotation, key, definitions)
        if key == "section":
            found = _any([found, SHARED])
        if field.description:
            found = {"description": field.description, **({"allOf": [found]} if "$ref" in found else found)}
        keys[key] = found
        for twin in twins(key):
            keys[twin] = {**found, "description": f"{key} in US customary units"}
    words = " ".join((table.__doc__ or "").split())
    return {
        "type": "object",
        **({"description": words} if words else {}),
        "properties": keys,
        **_needed(needed),
        "additionalProperties": False,
    }


def _needed(keys: list[str]) -> Schema:
    """Keys that must be there, those with a unit in SI or in US customary units."""
    alone = [key for key in keys if not twins(key)]
    either = [{"anyOf": [{"required": [each]} for each in (key, *twins(key))]} for key in keys if twins(key)]
    return {**({"required": alone} if alone else {}), **({"allOf": either} if either else {})}


def _of(annotation: Any, key: str, definitions: dict[str, Schema]) -> Schema:
    """The schema of what may stand where this annotation is."""
    if annotation is Number:
        return _of_number(key, definitions)
    if annotation is Any or key == "shared":
        return _of_shared(definitions) if key == "shared" else _of_parameter(definitions)
    if annotation is Element:
        kinds = (each for kind in KINDS.values() for each in (kind.table, *kind.variants))
        return _any(_reference(each, definitions) for each in kinds)
    if isinstance(annotation, type) and issubclass(annotation, Table):
        table = TABLES[key] if annotation is Parameters else annotation
        return {"type": "string"} if table in FILES else _reference(table, definitions)
    if annotation in PLAIN:
        plain = dict(PLAIN[annotation])
        return _any([plain, {"enum": [AUTOMATIC]}]) if key == "samples" else plain
    return _of_several(annotation, key, definitions)


def _of_several(annotation: Any, key: str, definitions: dict[str, Schema]) -> Schema:
    """The schema of a choice, a list or the like."""
    origin, parts = get_origin(annotation), get_args(annotation)
    if origin is Literal:
        return {"enum": list(parts)}
    if origin in (Annotated, Union, types.UnionType):
        several = parts[:1] if origin is Annotated else [part for part in parts if part is not type(None)]
        return _any(_of(part, key, definitions) for part in several)
    if origin is list:
        return {"type": "array", "items": _of(parts[0], key, definitions)}
    of_a_file = dict(LISTED) if is_dataclass(annotation) else {}
    return {dict: {"type": "object"}, tuple: dict(LISTED)}.get(origin, of_a_file)


def _of_number(key: str, definitions: dict[str, Schema]) -> Schema:
    """A number, certain or with a distribution; its words where it is written as one."""
    found: list[Schema] = [{"type": "number"}, *(_reference(table, definitions) for table in (Certain, Uncertain))]
    if key in WORDED:
        found[0] = {"enum": list(WORDED[key])}
    if key not in (*OWN, "shared"):
        found.append(SHARED)
    if key == "blockage":
        found += [_reference(table, definitions) for table in BLOCKAGES.values()]
    return _any(found)


def _of_shared(definitions: dict[str, Schema]) -> Schema:
    """Numbers and sections, by whatever names."""
    sections = [_reference(table, definitions) for table in CHANNEL_SECTIONS.values()]
    return {"type": "object", "additionalProperties": _any([*_of_number("shared", definitions)["anyOf"], *sections])}


def _of_parameter(definitions: dict[str, Schema]) -> Schema:
    """A parameter of a distribution: a number, or a distribution of its own."""
    families = {family: _reference(table, definitions) for family, table in TABLES.items()}
    one = {"minProperties": 1, "maxProperties": 1, "additionalProperties": False}
    return _any([{"type": "number"}, {"type": "object", "properties": families, **one}])


def _reference(table: type[Table], definitions: dict[str, Schema]) -> Schema:
    """A table by its name among the definitions, where it stands once."""
    name = f"{table.__module__.rsplit('.', 1)[-1]}.{table.__name__}"
    if name not in definitions:
        definitions[name] = {}  # a table that holds itself ends here
        definitions[name] = _of_table(table, definitions)
    return {"$ref": f"#/definitions/{name}"}


def _any(found: Iterable[Schema]) -> Schema:
    each = list(found)
    return each[0] if len(each) == 1 else {"anyOf": each}
