"""The JSON Schema of study files, by a validator from a registry: every study here passes, spoilt ones do not."""

from __future__ import annotations

import copy
import random
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from overbank.study.json_schema import DRAFT, study_schema

ROOT = Path(__file__).parents[2]
STUDIES = sorted(
    path
    for folder in (ROOT / "studies", ROOT / "docs" / "snippets", ROOT / "src" / "overbank" / "study" / "starter")
    for path in folder.rglob("*.toml")
    if "[[element]]" in path.read_text(encoding="utf-8") and "results" not in path.parts
)
SCHEMA = study_schema()
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


@pytest.mark.parametrize("spoil", ["key", "kind of value"])
def test_spoilt_studies_do_not_pass(spoil: str) -> None:
    """A key misspelt, or a truth where there is a number or a word: 200 at random in all."""
    rng, passed = random.Random(20261130), []
    for _ in range(SPOILT // 2):
        path = rng.choice(STUDIES)
        document = copy.deepcopy(tomllib.loads(path.read_text(encoding="utf-8")))
        table = rng.choice([each for each in tables(document) if each])
        key = rng.choice(sorted(table))
        if spoil == "key":
            table[f"{key}x"] = table.pop(key)
        elif isinstance(table[key], bool | list):
            continue
        else:
            table[key] = True
        if CHECKER.is_valid(document):
            passed.append(f"{path.name}: {key} in {table}")
    assert not passed
