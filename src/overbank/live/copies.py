"""A copy of the study with the numbers held by hand, in a new folder inside the study's own."""

from __future__ import annotations

import os
import re
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import count
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit import TOMLDocument
from tomlkit.items import AoT, Table

from overbank.errors import FolderError
from overbank.files.folders import write_new
from overbank.live.answers import Held
from overbank.live.controls import QUANTITIES, TAILWATER
from overbank.site.numbers import FLOW
from overbank.study.load import NAME, Study, make_study
from overbank.study.reading.refusals import shown
from overbank.study.reading.unit_names import in_si, twins

BASIS = "held by hand on the live page"
"""The basis of a number in the copy."""

FOLDER = re.compile(r"[A-Za-z0-9][A-Za-z0-9_ -]{0,58}[A-Za-z0-9]|[A-Za-z0-9]")
"""Names of a folder that lead nowhere else."""

INSTEAD = {FLOW: ("design_annual_probability",)}
"""Keys beside a number that say the same in another way."""

WAYS = ("blockage", *(name.removeprefix(".") for name in QUANTITIES))
"""Of debris one is given, so that the others go."""


@dataclass(frozen=True)
class Copy:
    """A copy that may be written.

    folder : which is not there yet
    contents : of its files, by their names
    """

    folder: Path
    contents: Mapping[str, str | bytes]


def copy_of(study: Study, held: Held, name: str) -> Copy:
    """The copy that would be written; it is read as any study is.

    Raises
    ------
    FolderError : the folder has no plain name, or is there already
    StudyError : with these numbers it is no sound study
    """
    if not FOLDER.fullmatch(name):
        expected = "a plain name for a new folder in that of the study: letters, digits, spaces, _ and -"
        raise FolderError(f"the copy: expected {expected}; got {shown(name)}. Give another")
    folder = study.folder / name
    if os.path.lexists(folder):
        raise FolderError(f"{folder}: expected a folder that is not there yet; got one that is. Give another name")
    text = edited(study.text, held)
    make_study(text, study.folder)
    named: dict[str, str | bytes] = {each: (study.folder / each).read_bytes() for each in study.files}
    return Copy(folder, {NAME: text, **named})


def write(copy: Copy) -> None:
    """Write the copy.

    Raises
    ------
    FolderError : its folder has come to be meanwhile, or the disk refuses
    """
    if os.path.lexists(copy.folder):
        raise FolderError(f"{copy.folder}: it has come to be meanwhile. Nothing is written; give another name")
    write_new(copy.folder, copy.contents)


def free_name(study: Study) -> str:
    """The first name for a copy that is not taken."""
    return next(name for number in count(1) if not os.path.lexists(study.folder / (name := f"by-hand-{number}")))


def edited(text: str, held: Held) -> str:
    """The text of a study with numbers held, all else as it stands, comments too."""
    document = tomlkit.parse(text)
    for name, value in held.items():
        if name == TAILWATER and "level_m" not in document["tailwater"]:
            _replace_tailwater(document, value)
        else:
            _replace(document, name, value)
        _drop_dependences(document, "tailwater." if name == TAILWATER else name)
    return tomlkit.dumps(document)


def _number(value: float, before: Any = None) -> Any:
    """A number as the copy says it, in the form of what stood there before, with what was written below that."""
    found: Any = tomlkit.table() if isinstance(before, Table) else tomlkit.inline_table()
    found.update({"value": value, "basis": BASIS})
    for each in _written_below(before):
        found.add(each)
    return found


def _written_below(item: Any) -> list[Any]:
    """Comments and blank lines that end a table: they are heads of what comes next."""
    if isinstance(item, AoT):
        return _written_below(item[-1])
    found: list[Any] = []
    for key, each in reversed(item.value.body if isinstance(item, Table) else []):
        if key is not None:
            return [*_written_below(each), *found]
        found.insert(0, each)
    return found


def _replace_tailwater(document: TOMLDocument, value: float) -> None:
    """A level in place of normal depth or a rating, which no alternative then takes out."""
    table = tomlkit.table()
    table.add("level_m", _number(value))
    for each in _written_below(document["tailwater"]):
        table.add(each)
    document["tailwater"] = table
    for alternative in document.get("alternative", []):
        removed = alternative.get("remove", [])
        for index in reversed(range(len(removed))):
            if str(removed[index]).startswith("tailwater."):
                del removed[index]
        if "remove" in alternative and not removed:
            del alternative["remove"]


def _replace(document: TOMLDocument, name: str, value: float) -> None:
    """A number at its dotted name; what says the same in another way, or in other units, goes."""
    path, _, key = name.rpartition(".")
    table = _table(document, path)
    table[key] = _number(value, table.get(key))
    others = {*twins(key), *INSTEAD.get(name, ())} | (set(WAYS) - {key} if key in WAYS else set())
    for other in others & set(table):
        del table[other]


def _table(document: TOMLDocument, path: str) -> Any:
    """The table at a dotted name: of the document, or of an element."""
    first, *steps = path.split(".")
    elements: Any = document["element"]
    table: Any = next((each for each in elements if each.get("id") == first), None)
    table = document[first] if table is None else table
    for step in steps:
        table = table[step]
    return table


def _in_si(name: str) -> str:
    found = in_si(name)
    return str(name) if found is None else found[0]


def _drop_dependences(document: TOMLDocument, beginning: str) -> None:
    """A number that is held depends on nothing."""
    dependences: Any = document.get("dependence", [])
    gone = [each for each in dependences if any(_in_si(name).startswith(beginning) for name in each["between"])]
    below = _written_below(gone[-1]) if gone and gone[-1] is dependences[-1] else []
    for index in reversed(range(len(dependences))):
        if any(dependences[index] is each for each in gone):
            del dependences[index]
    if gone and not dependences:
        document.remove("dependence")
    for each in below:
        (dependences[-1] if dependences else document).add(each)
