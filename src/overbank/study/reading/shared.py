"""Numbers and sections that a study writes once, in [shared], and uses at many places by their names.

A number used at several places is one number there too, certain or uncertain: it is drawn once.
"""

from __future__ import annotations

import copy
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Any

from pydantic import ValidationError

from overbank.study.collect import EACH_FLOOD, TIDE
from overbank.study.patterns import WORDED
from overbank.study.reading.families import FAMILIES
from overbank.study.reading.folder import Folder
from overbank.study.reading.lines import KeyPath
from overbank.study.reading.numbers import Number
from overbank.study.reading.readable import DEEPEST, NUMBER, Document, dotted
from overbank.study.reading.refusals import choose, list_of, refusal, shown

TABLE = "shared"

REFERENCE = re.compile(rf"{TABLE}\.([A-Za-z0-9_-]+)")
"""How a place names what is shared."""

NAME = re.compile(r"[A-Za-z0-9_-]{1,40}")

TEXTS = ("id", "kind", "basis", "evidence")
"""Keys whose words are the user's own."""

OWN = (*EACH_FLOOD, *WORDED)
"""Numbers that every place has for itself: what floods bring, and what is written as a word."""

Placed = tuple[KeyPath, Any]
"""A fault: where it stands, and its parts."""


@dataclass(frozen=True)
class Resolved:
    """A study with what is shared written in at its places.

    faults : of [shared] and of names that lead nowhere
    told : places whose own fault would say the same again
    """

    document: Document
    faults: tuple[Placed, ...] = ()
    told: frozenset[KeyPath] = frozenset()

    def tells(self, path: KeyPath) -> bool:
        """Whether a fault at a place is told already."""
        return any(path[: len(place)] == place for place in self.told)


def with_shared(document: Document, folder: Folder) -> Resolved:
    """The study with every name of [shared] replaced by what it stands for; as it is where it has no such table."""
    table = document.get(TABLE)
    if not isinstance(table, dict) or not table:
        return Resolved(document)
    known: dict[str, Any] = {}
    faults: list[Placed] = []
    for name, value in table.items():
        read, wrong = _read(name, value, folder)
        known[name] = read
        faults += wrong
    places = _Places(known, document, folder)
    new: Document = {key: places.filled(document[key], (key,)) for key in ("tailwater", "element") if key in document}
    return Resolved({**document, **new}, (*faults, *places.faults), frozenset(places.told))


def unused(document: Document) -> tuple[str, ...]:
    """Names in [shared] that no other table says."""
    table = document.get(TABLE)
    rest = {key: value for key, value in document.items() if key != TABLE}
    said = set(_references([rest, list(table.values())])) if isinstance(table, dict) else set()
    return tuple(f"{TABLE}.{name}" for name in table if name not in said) if isinstance(table, dict) else ()


def _references(tree: Any) -> Iterator[str]:
    if isinstance(tree, dict):
        for key, value in tree.items():
            yield from _references(value)
            yield from _references(key)  # an alternative sets it, a dependence names it
    elif isinstance(tree, list):
        for value in tree:
            yield from _references(value)
    elif isinstance(tree, str) and (found := REFERENCE.match(tree)):
        yield found[1]


def _is_section(value: Any) -> bool:
    return isinstance(value, dict) and "shape" in value


def _read(name: str, value: Any, folder: Folder) -> tuple[Any, list[Placed]]:
    """A shared number, or a section with its uncertain numbers read; None with its faults where it cannot be."""
    path: KeyPath = (TABLE, name)
    if not NAME.fullmatch(name):
        expected = "a name of letters, digits, hyphens and underscores"
        return None, [(path, refusal(expected, shown(name), 'Write a short name, like "river_n".').context)]
    if not _is_section(value):
        return _number(value, path, folder)
    faults: list[Placed] = []

    def leaf(inner: Any, at: KeyPath) -> Any:
        if not (isinstance(inner, dict) and any(key in inner for key in FAMILIES)):
            return None
        if at[-1] in WORDED:
            fault = refusal("one word in a section that is shared", shown(inner), "Write one of its words.")
            faults.append((at, fault.context))
            return inner
        read, wrong = _number(inner, at, folder)
        faults.extend(wrong)
        return inner if read is None else read

    section = _replaced(value, path, leaf)
    return (None if faults else section), faults


def _number(value: Any, path: KeyPath, folder: Folder) -> tuple[Number | None, list[Placed]]:
    if isinstance(value, str):
        expected = f"a number, a distribution, or a section with its shape, in [{TABLE}]"
        return None, [(path, refusal(expected, shown(value), "Write what is shared here.").context)]
    try:
        read: Number = NUMBER.validate_python(value, context={"folder": folder})
    except ValidationError as error:
        return None, [((*path, *item["loc"]), item["ctx"]) for item in error.errors()]
    return replace(read, shared=dotted(path, {})), []


def _replaced(tree: Any, path: KeyPath, leaf: Callable[[Any, KeyPath], Any]) -> Any:
    """A copy of a tree in which `leaf` has replaced what it gives something for."""
    found = leaf(tree, path)
    if found is not None or len(path) > DEEPEST:
        return tree if found is None else found
    if isinstance(tree, dict):
        return {key: _replaced(value, (*path, key), leaf) for key, value in tree.items()}
    if isinstance(tree, list):
        return [_replaced(value, (*path, place), leaf) for place, value in enumerate(tree)]
    return copy.deepcopy(tree)


class _Places:
    """Writes what is shared into the places that name it, and keeps what is wrong with them."""

    def __init__(self, known: dict[str, Any], document: Document, folder: Folder) -> None:
        self._known = known
        self._document = document
        self._folder = folder
        self.faults: list[Placed] = []
        self.told: set[KeyPath] = set()

    def filled(self, tree: Any, path: KeyPath) -> Any:
        return _replaced(tree, path, self._at)

    def _at(self, value: Any, path: KeyPath) -> Any:
        said = REFERENCE.fullmatch(value) if isinstance(value, str) and path[-1] not in TEXTS else None
        if said is None:
            return None
        name = said[1]
        if name not in self._known and (self._folder.path / value).is_file():
            return None  # a table of that name
        found = self._known.get(name)
        if wrong := self._wrong(name, path):
            self.faults.append((path, refusal(wrong[0], wrong[1] or value, wrong[2]).context))
        if wrong or found is None:
            self.told.add(path)
            return value
        return self.filled(found, path) if isinstance(found, dict) else found

    def _wrong(self, name: str, path: KeyPath) -> tuple[str, str, str] | None:
        """What is wrong with naming it there: what was expected, what came besides the name, what to do."""
        if name not in self._known:
            words = [f"{TABLE}.{each}" for each in self._known]
            return f"one of {list_of(words)}", "", choose(f"{TABLE}.{name}", words)
        found = self._known[name]
        if isinstance(found, Number) and (path[-1] in OWN or dotted(path, self._document) == TIDE):
            expected = "a number of its own, for it comes anew with each flood or is a word"
            return expected, "", "Write it here; a [[dependence]] lets two numbers go together."
        wanted, given = ("section", "number") if path[-1] == "section" else ("number", "section")
        if found is not None and isinstance(found, dict) != (wanted == "section"):
            expected = f"the name of a {wanted} in [{TABLE}]"
            return expected, f"{TABLE}.{name}, which is a {given}", f"Name a {wanted}."
        return None
