"""Whatever is done to a sound study, reading raises nothing but StudyError; what is accepted can be built."""

from __future__ import annotations

import json
import re
import tomllib
from copy import deepcopy
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from overbank.errors import StudyError
from overbank.study.build import build
from overbank.study.flow import ANNUAL
from overbank.study.load import read_study
from overbank.study.reading.lines import KeyPath, line_numbers

from .river import BELOW, MEADOW, RIVER
from .sound import SOUND
from .test_flow import FLOODS
from .test_lines import all_paths

TEXTS = (SOUND, RIVER, FLOODS)
TOKENS = [re.findall(r'"[^"\n]*"|[A-Za-z_][A-Za-z0-9_]*|-?[0-9][0-9.]*|\s+|.', text) for text in TEXTS]
CRUMBS = [
    *(
        "",
        " ",
        "\n",
        "=",
        "[",
        "]",
        "[[",
        "]]",
        "{",
        "}",
        ",",
        ".",
        '"',
        "'",
        '"""',
        "#",
        "\0",
        "\r",
        "\u2028",
    ),
    *(
        "0",
        "1",
        "-1",
        "0.5",
        "1e400",
        "nan",
        "-inf",
        "1e-320",
        "1e300",
        "9" * 400,
        "0xffff",
        "true",
        "2026-11-25",
    ),
    *(
        "[]",
        "{}",
        '""',
        '"lane"',
        '"é"',
        '"x.csv"',
        "[1, 2]",
        "{ value = 3 }",
        "value",
        "normal",
        "mean",
        "sd",
    ),
    *(
        "low",
        "high",
        "discrete",
        "empirical",
        "file",
        "basis",
        "survey",
        "kind",
        "element",
        "dependence",
        "id",
    ),
    *("lane", "flow", "tailwater", "pattern", "{ normal = { mean = 1, sd = 1e-9 } }"),
    *("{ beta = { a = 0.011, b = 50 } }", "{ gev = { location = 1, scale = 1, shape = 3 } }"),
]


@st.composite
def spoilt(draw: st.DrawFn) -> str:
    """A sound study with a few tokens taken out, put in, doubled or exchanged."""
    own = draw(st.sampled_from(TOKENS))
    tokens = list(own)
    for _ in range(draw(st.integers(1, 4))):
        place = draw(st.integers(0, len(tokens) - 1))
        crumb = draw(st.sampled_from(CRUMBS) | st.sampled_from(own) | st.floats().map(repr) | st.text(max_size=4))
        deed = draw(st.sampled_from(["remove", "insert", "alter", "cut"]))
        if deed == "remove":
            del tokens[place]
        elif deed == "insert":
            tokens.insert(place, crumb)
        elif deed == "alter":
            tokens[place] = crumb
        else:
            del tokens[place : place + draw(st.integers(2, 30))]
        tokens = tokens or [""]
    return "".join(tokens)


WORDS = sorted({str(path[-1]) for text in TEXTS for path in all_paths(tomllib.loads(text))})
VALUES = st.one_of(
    st.sampled_from(
        [
            "",
            "lane",
            "flow.design_m3_s",
            "garden.manning_n",
            "uniform",
            "pipe",
            "rectangle",
            "surveyed",
            "meadow.csv",
            "../x.csv",
        ]
    ),
    st.sampled_from([{}, [], {"value": 3}, {"normal": {"mean": 1, "sd": 0.1}}, {"uniform": {"low": 0, "high": 1}}]),
    st.sampled_from([{"discrete": {"values": [1, 2], "weights": [0.5, 0.5]}}, {"empirical": {"file": "none.csv"}}]),
    st.sampled_from([0, 1, -1, 0.5, 30, 32, 1e300, -1e300, 5e-324, 10**400, True]),
    st.floats(),
    st.integers(),
)


def places(document: Any) -> list[KeyPath]:
    """Every place of a document where something stands, in a fixed order."""
    return sorted(all_paths(document), key=str)


def parent(document: Any, path: KeyPath) -> Any:
    """The table or list in which the last step of a path stands."""
    for step in path[:-1]:
        document = document[step]
    return document


@st.composite
def remade(draw: st.DrawFn) -> str:
    """A readable text: a sound study with a few values taken out, exchanged, moved or put in."""
    document = tomllib.loads(draw(st.sampled_from(TEXTS)))
    for _ in range(draw(st.integers(1, 4))):
        path = draw(st.sampled_from(places(document)))
        table, key = parent(document, path), path[-1]
        deed = draw(st.sampled_from(["remove", "exchange", "move", "put in"]))
        if deed == "remove":
            del table[key]
        elif deed == "exchange":
            table[key] = deepcopy(draw(VALUES))
        elif deed == "move":
            other = draw(st.sampled_from(places(document)))
            table[key] = deepcopy(parent(document, other)[other[-1]])
        elif isinstance(table[key], dict):
            table[key][draw(st.sampled_from(WORDS))] = deepcopy(draw(VALUES))
    return "\n".join(f"{key} = {written(value)}" for key, value in document.items())


def written(value: Any) -> str:
    """A value in TOML."""
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {written(item)}" for key, item in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(map(written, value)) + "]"
    return json.dumps(value) if isinstance(value, bool | str) else repr(value)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("mutations")
    (made / "below.csv").write_text(BELOW, encoding="utf-8")
    (made / "meadow.csv").write_text(MEADOW, encoding="utf-8")
    return made


def few(examples: int) -> settings:
    return settings(max_examples=examples, deadline=None, suppress_health_check=list(HealthCheck))


def read_or_refused_in_words(text: str, folder: Path) -> None:
    file = folder / "study.toml"
    file.write_bytes(text.encode("utf-8", "surrogatepass"))
    try:
        study = read_study(file)
    except StudyError as error:
        study, faults = None, error.faults
    if study is None:
        assert faults
        assert all(fault.place and fault.expected and fault.got and fault.remedy for fault in faults), faults
        return
    problem = build(study)
    assert set(problem.medians()) == {item.name for item in problem.assumptions} - {ANNUAL}


@given(text=spoilt() | remade())
@few(100)
def test_nothing_but_a_study_error(text: str, folder: Path) -> None:
    read_or_refused_in_words(text, folder)


@pytest.mark.slow
@given(text=spoilt() | remade())
@few(6000)
def test_nothing_but_a_study_error_of_many(text: str, folder: Path) -> None:
    read_or_refused_in_words(text, folder)


def has_a_line_for_every_key(text: str) -> None:
    try:
        document = tomllib.loads(text)
    except (ValueError, RecursionError):
        return
    lines = line_numbers(text)
    assert set(lines) == all_paths(document)
    last = text.count("\n") + 1
    assert all(1 <= line <= last for line in lines.values())


@given(text=spoilt())
@few(100)
def test_every_key_of_a_readable_text_has_its_line(text: str) -> None:
    has_a_line_for_every_key(text)


@pytest.mark.slow
@given(text=spoilt())
@few(3000)
def test_every_key_of_many_readable_texts_has_its_line(text: str) -> None:
    has_a_line_for_every_key(text)
