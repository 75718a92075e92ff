"""Alternatives: the study with some of its keys changed, each checked as a study of its own before anything runs."""

from __future__ import annotations

import copy
from collections.abc import Iterator
from typing import Annotated, Any

from pydantic import Field, PlainValidator

from overbank.study.reading.lines import KeyPath
from overbank.study.reading.plain import Text, bare_number
from overbank.study.reading.readable import COUNTED, Document
from overbank.study.reading.refusals import LocatedRefusal, list_of, nearest, refusal, shown
from overbank.study.reading.table import Table

TABLES = ("flow", "tailwater", "shared")
"""Tables besides the elements that an alternative may change."""


LEFT_OUT = ("alternative", "observation", "receptor")
"""Tables of a study that its alternatives do not have."""


def _read_changes(raw: Any) -> dict[str, Any]:
    if not isinstance(raw, dict) or not raw:
        remedy = 'Write set = { "lane.screen.gap_m" = 0.150 }, for example.'
        raise refusal("a table with the keys to change, in quotation marks", shown(raw), remedy)
    for name in raw:
        if "." not in name:
            expected = 'dotted names in quotation marks, like "lane.screen.gap_m"'
            raise refusal(expected, shown(name), "Put the whole dotted name of each key in quotation marks.")
    return raw


def _read_names(raw: Any) -> tuple[str, ...]:
    if not isinstance(raw, list) or not raw or not all(isinstance(name, str) for name in raw):
        raise refusal("a list of dotted names", shown(raw), 'Write remove = ["lane.screen"], for example.')
    return tuple(raw)


class Alternative(Table):
    """Another arrangement of the same site, compared with the study as it stands."""

    name: Text = Field(description="a name for the arrangement in quotation marks")
    set: Annotated[dict[str, Any], PlainValidator(_read_changes)] = Field(
        {}, description="a table with the keys to change, by their dotted names in quotation marks"
    )
    remove: Annotated[tuple[str, ...], PlainValidator(_read_names)] = Field(
        (), description="a list of the dotted names of keys, tables or elements to take out"
    )
    basis: Text | None = Field(None, description="why this arrangement is looked at")
    cost: Annotated[float, bare_number(0.0)] = Field(
        0.0, description="what it costs to make, for [money] and the flood in time [money]"
    )
    maintenance_a_year: Annotated[float, bare_number(0.0)] = Field(
        0.0, description="what it costs each year, for the same [money]"
    )

    @classmethod
    def disagreements(cls, raw: dict[str, Any]) -> Iterator[LocatedRefusal]:
        if "set" not in raw and "remove" not in raw:
            yield ("set",), refusal("set or remove, or both", "neither", "Say what is different.")


def changed(document: Document, alternative: Alternative) -> tuple[Document, list[LocatedRefusal]]:
    """A parsed study with an alternative applied, and the changes that lead nowhere, from the alternative down.

    Floods were seen at the site as it stands, so the observations are left out; the tolerated rise is one above the
    site as it stands. A dependence between numbers of which the alternative takes one out goes with it.
    """
    new = copy.deepcopy({key: value for key, value in document.items() if key not in LEFT_OUT})
    if isinstance(new.get("decision"), dict):
        new["decision"].pop("tolerance_m", None)
    faults: list[LocatedRefusal] = []
    for name in alternative.remove:
        if (fault := _remove(new, name)) is not None:
            faults.append((("remove",), fault))
    for name, value in alternative.set.items():
        if (fault := put(new, name, value)) is not None:
            faults.append((("set", name), fault))
    drop_dependences(new, alternative.remove)
    return new, faults


def arranged(document: Document, name: str) -> Document:
    """A sound parsed study as its alternative of that name changes it."""
    raw = next(each for each in document["alternative"] if each["name"] == name)
    return changed(document, Alternative.model_validate(raw))[0]


def _start(document: Document, name: str, tables: tuple[str, ...] = TABLES) -> tuple[Any, list[str]] | None:
    """The table that a dotted name begins in, and the steps from there."""
    first, *steps = name.split(".")
    if first in tables:
        return document.setdefault(first, {}), steps
    elements = document.get("element")
    for element in elements if isinstance(elements, list) else []:
        if isinstance(element, dict) and element.get("id") == first:
            return element, steps
    return None


def _unknown(document: Document, name: str, tables: tuple[str, ...] = TABLES) -> Any:
    first = name.split(".", maxsplit=1)[0]
    elements = document.get("element")
    ids = [each["id"] for each in elements or [] if isinstance(each, dict) and isinstance(each.get("id"), str)]
    known = [*tables, *ids]
    near = nearest(first, known)
    remedy = f'Did you mean "{near}"?' if near else "Begin with one of them."
    return refusal(f"a dotted name that begins with {list_of(known)}", shown(name), remedy)


def put(document: Document, name: str, value: Any, tables: tuple[str, ...] = TABLES) -> Any:
    """Write a value at a dotted name; tables on the way that are not there yet are made. A fault, or None."""
    begun = _start(document, name, tables)
    if begun is None:
        return _unknown(document, name, tables)
    table, steps = begun
    if not steps:
        return refusal("a dotted name of a key", f"{shown(name)}, which is a table", "Name one of its keys.")
    for step in steps[:-1]:
        table = _step(table, step, make=True)
        if not isinstance(table, dict | list):
            return refusal("a dotted name of a key", f"{shown(name)}, where {step} is no table", "Correct the name.")
    if isinstance(table, dict):
        table[steps[-1]] = copy.deepcopy(value)
        return None
    return refusal("a dotted name of a key", f"{shown(name)}, which is a list", "Name a key of one of its tables.")


def _remove(document: Document, name: str) -> Any:
    """Take out a key, a table or a whole element. A fault, or None."""
    begun = _start(document, name)
    if begun is None:
        return _unknown(document, name)
    table, steps = begun
    if not steps:
        document["element"] = [each for each in document["element"] if each is not table]
        return None
    for step in steps[:-1]:
        table = _step(table, step, make=False)
    if isinstance(table, dict) and steps[-1] in table:
        del table[steps[-1]]
        return None
    return refusal("the dotted name of something that the study has", shown(name), "Correct the name, or leave it out.")


def _step(table: Any, step: str, *, make: bool) -> Any:
    """One step down; `zone_2` is the second of the zones."""
    if isinstance(table, dict):
        for key, word in COUNTED.items():
            if step.startswith(f"{word}_") and step not in table and isinstance(table.get(key), list):
                items, place = table[key], step.removeprefix(f"{word}_")
                return items[int(place) - 1] if place.isdigit() and 0 < int(place) <= len(items) else None
        return table.setdefault(step, {}) if make else table.get(step)
    return None


def drop_dependences(document: Document, removed: tuple[str, ...]) -> None:
    """Take out the dependences of numbers that are no longer there, or no longer uncertain."""
    dependences = document.get("dependence")
    if isinstance(dependences, list):
        document["dependence"] = [each for each in dependences if not _names_any(each, removed)]


def _names_any(dependence: Any, removed: tuple[str, ...]) -> bool:
    between = dependence.get("between") if isinstance(dependence, dict) else None
    names = [name for name in between or [] if isinstance(name, str)] if isinstance(between, list) else []
    return any(name == gone or name.startswith(f"{gone}.") for name in names for gone in removed)


def way_to(alternative: Alternative, index: int, name: str) -> KeyPath:
    """Where in the study file a fault of an alternative's number stands: at the change above it, or the alternative."""
    covering = [key for key in alternative.set if name == key or name.startswith(f"{key}.")]
    longest = max(covering, key=len, default=None)
    return ("alternative", index) if longest is None else ("alternative", index, "set", longest)
