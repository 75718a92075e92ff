"""The line of every key of a TOML text: counted by hand, with the paths that Python's own parser finds."""

from __future__ import annotations

import tomllib
from typing import Any

import pytest

from overbank.study.reading.lines import KeyPath, line_numbers, line_of

from .sound import SOUND

TEXT = '''\
# [not.a.table] and key = 1 in a comment
plain = 1 # trailing [comment] = 2
"quoted.key" = 'literal # not a comment'
a.b."c.d" = 2
dated = 1979-05-27 07:32:00
text = """
[looks.like] = "a table"
still \\""" text"""
raw = \'\'\'
x = ']'
\'\'\'

[table]
inline = { first = 1, second = { deep = [1, 2, { last = "}" }] } }
list = [
  1,          # one
  [ 2, 3 ],
  { four = 4, five = "]" },
]

  [ spaced . "out" ]
  key = true

[[fruit]]
name = "apple"
[fruit.physical]
colour = "red"
[[fruit.variety]]
name = "red delicious"
[[fruit.variety]]
name = "granny smith"
[[fruit]]
name = "banana"
[[fruit.variety]]
name = "plantain"
'''

LINES: list[tuple[KeyPath, int]] = [
    (("plain",), 2),
    (("quoted.key",), 3),
    (("a",), 4),
    (("a", "b", "c.d"), 4),
    (("dated",), 5),
    (("text",), 6),
    (("raw",), 9),
    (("table",), 13),
    (("table", "inline", "second", "deep", 2, "last"), 14),
    (("table", "list"), 15),
    (("table", "list", 0), 16),
    (("table", "list", 1, 1), 17),
    (("table", "list", 2, "five"), 18),
    (("spaced", "out"), 21),
    (("spaced", "out", "key"), 22),
    (("fruit",), 24),
    (("fruit", 0), 24),
    (("fruit", 0, "physical"), 26),
    (("fruit", 0, "physical", "colour"), 27),
    (("fruit", 0, "variety", 1, "name"), 31),
    (("fruit", 1), 32),
    (("fruit", 1, "variety", 0, "name"), 35),
]


def all_paths(value: Any, path: KeyPath = ()) -> set[KeyPath]:
    """Every table, key and item of a parsed document."""
    found = {path} if path else set()
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, item in items:
        found |= all_paths(item, (*path, key))
    return found


@pytest.mark.parametrize(("path", "line"), LINES)
def test_a_key_stands_on_its_line(path: KeyPath, line: int) -> None:
    assert line_numbers(TEXT)[path] == line


@pytest.mark.parametrize("text", [TEXT, SOUND, "", "\n\n", "x=1", "x.y = [[], [{}], {}]"])
def test_exactly_the_paths_of_the_document_are_found(text: str) -> None:
    assert set(line_numbers(text)) == all_paths(tomllib.loads(text))


def test_windows_line_ends_count_once() -> None:
    assert line_numbers("a = 1\r\nb = 2\r\n") == {("a",): 1, ("b",): 2}


def test_a_key_that_was_not_written_falls_back_on_the_table_around_it() -> None:
    lines = line_numbers(TEXT)
    assert line_of(("fruit", 1, "variety", 0, "price"), lines) == 34
    assert line_of(("table", "inline", "second", "missing", "deeper"), lines) == 14
    assert line_of(("nowhere",), lines) is None
    assert line_of((), lines) is None
