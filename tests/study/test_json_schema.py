"""The JSON Schema of study files, by a validator from a registry: every study here passes, spoilt ones do not."""

from __future__ import annotations

import random
import shutil
import tomllib
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import jsonschema
import tomli_w

from overbank.errors import StudyError
from overbank.study.build import build
from overbank.study.json_schema import DRAFT, study_schema
from overbank.study.load import read_study

ROOT = Path(__file__).parents[2]
FOLDERS = (ROOT / "studies", ROOT / "docs" / "snippets", ROOT / "src" / "overbank" / "study" / "starter")
STUDIES = sorted(
    path
    for folder in FOLDERS
    for path in folder.rglob("*.toml")
    if "[[element]]" in path.read_text(encoding="utf-8") and "results" not in path.parts
)
SCHEMA = study_schema()
FAULTY = ROOT / "docs" / "snippets" / "brook" / "old-yard.toml"
"""A study of the documentation whose fault the page on many structures shows."""
CHECKER = jsonschema.Draft4Validator(SCHEMA)
SPOILT = 200


def test_it_is_a_schema_of_draft_4() -> None:
    assert SCHEMA["$schema"] == DRAFT
    jsonschema.Draft4Validator.check_schema(SCHEMA)


def test_every_study_passes() -> None:
    assert len(STUDIES) > 8
    wrong = {
        str(path): error.message
        for path in STUDIES
        for error in CHECKER.iter_errors(tomllib.loads(path.read_text(encoding="utf-8")))
    }
    assert not wrong


def tables(tree: Any) -> Iterator[dict[str, Any]]:
    """Every table of a study but those whose keys are its own."""
    if isinstance(tree, dict):
        yield tree
        for key, value in tree.items():
            if key not in ("set", "rating"):
                yield from tables(list(value.values()) if key == "shared" else value)
    elif isinstance(tree, list):
        for each in tree:
            yield from tables(each)


Place = tuple[dict[str, Any], str]
"""A table, and one of its keys."""


def is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def is_certain(place: Place) -> bool:
    return is_number(place[0][place[1]])


def is_text(place: Place) -> bool:
    return isinstance(place[0][place[1]], str)


def is_single(place: Place) -> bool:
    return not isinstance(place[0][place[1]], bool | list)


def any_place(_: Place) -> bool:
    return True


def misspell(table: dict[str, Any], key: str) -> None:
    table[f"{key}x"] = table.pop(key)


def put(make: Callable[[Any], Any]) -> Callable[[dict[str, Any], str], None]:
    """A change that puts something else under the key."""

    def change(table: dict[str, Any], key: str) -> None:
        table[key] = make(table[key])

    return change


def leave_out(table: dict[str, Any], key: str) -> None:
    del table[key]


def move_down(table: dict[str, Any], key: str) -> None:
    """One table too deep, as under a head that was forgotten."""
    table["run"] = {key: table.pop(key)}


SURE: dict[str, tuple[Callable[[Place], bool], Callable[[dict[str, Any], str], None]]] = {
    "a key misspelt": (any_place, misspell),
    "a truth": (is_single, put(lambda _: True)),
    "a text for a number": (is_certain, put(lambda value: f"{value} m")),
    "a list for a number": (is_certain, put(lambda value: [value])),
    "in the wrong table": (any_place, move_down),
}
"""What no study can bear: where it may be done, and how."""

PERHAPS: dict[str, tuple[Callable[[Place], bool], Callable[[dict[str, Any], str], None]]] = {
    "another word": (is_text, put(lambda _: "no such word")),
    "a key left out": (any_place, leave_out),
    "a negative number": (is_certain, put(lambda value: -value - 1.0)),
}
"""What some keys bear: a title is any text, a default stands in, a level may lie below the datum."""


def spoilt(rng: random.Random, way: str) -> tuple[Path, dict[str, Any], str]:
    """A study with one place spoilt, and what was done; what cannot be spoilt so is drawn again."""
    fits, change = {**SURE, **PERHAPS}[way]
    while True:
        path = rng.choice([each for each in STUDIES if each != FAULTY])
        document = tomllib.loads(path.read_text(encoding="utf-8"))
        places = [(table, key) for table in tables(document) for key in sorted(table) if fits((table, key))]
        if places:
            table, key = rng.choice(places)
            change(table, key)
            return path, document, f"{way}: {path.parent.name}/{path.name}, {key} in {str(table)[:100]}"


def refused_by_the_reader(document: dict[str, Any], file: Path) -> bool:
    """Whether `overbank check` refuses the study, written where its files stand around it."""
    file.write_text(tomli_w.dumps(document), encoding="utf-8")
    try:
        build(read_study(file))
    except StudyError:
        return True
    return False


def test_what_the_schema_refuses_the_reader_refuses(tmp_path: Path) -> None:
    """Two hundred spoilt studies, each before both: the schema never refuses what the reader takes.

    The other way round it may, where the fault lies in a range, in a name of something else or in what goes with what,
    as the schema's own docstring says; what no study can bear passes neither.
    """
    copies = {path: tmp_path / path.relative_to(ROOT) for path in STUDIES}
    for folder in FOLDERS:
        shutil.copytree(folder, tmp_path / folder.relative_to(ROOT), ignore=shutil.ignore_patterns("results", "*.png"))
    sound = [tomllib.loads(path.read_text(encoding="utf-8")) for path in STUDIES]
    refused = [path for path, each in zip(STUDIES, sound, strict=True) if refused_by_the_reader(each, copies[path])]
    assert refused == [FAULTY]
    rng, ends = random.Random(20261201), Counter[tuple[str, bool, bool]]()
    ways, wrong = (*SURE, *PERHAPS), []
    for number in range(SPOILT):
        way = ways[number % len(ways)]
        path, document, words = spoilt(rng, way)
        schema = not CHECKER.is_valid(document)
        reader = refused_by_the_reader(document, copies[path])
        ends[way, schema, reader] += 1
        if (schema and not reader) or (way in SURE and not schema):
            wrong.append(
                f"schema {'refuses' if schema else 'passes'}, reader {'refuses' if reader else 'takes'}: {words}"
            )
    print("\n".join(f"{n:4d} {way}: schema {s}, reader {r}" for (way, s, r), n in sorted(ends.items())))
    assert not wrong, "\n".join(wrong)
    assert ends.total() == SPOILT
    assert {way for way, schema, reader in ends if reader and not schema} <= set(PERHAPS)
    assert {way: ends[way, True, True] for way in SURE} == dict.fromkeys(SURE, SPOILT // len(ways))
