"""On which line of a TOML text each key stands, so that a fault can be found with one glance."""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_right
from collections.abc import Mapping

KeyPath = tuple[str | int, ...]
"""The way to a value in the parsed text: names of tables and keys, positions in arrays."""


DEEPEST = 20
"""Tables within tables whose lines are kept."""


def line_numbers(text: str) -> dict[KeyPath, int]:
    """Line (from 1) of every key, table and array item of a *valid* TOML text."""
    return _Scanner(text.replace("\r\n", "\n")).lines


def odd_numbers(text: str) -> dict[KeyPath, str]:
    """Numbers of a *valid* TOML text with underscores that part no thousands: 3_27 is 327 to TOML, 3.27 to a hand."""
    if "_" not in text:
        return {}
    return _Scanner(text.replace("\r\n", "\n")).odd


THOUSANDS = re.compile(r"[-+]?\d{1,3}(_\d{3})+(\.\d+)?([eE][-+]?\d+)?")
"""A number whose underscores part its thousands."""


def line_of(path: KeyPath, lines: Mapping[KeyPath, int]) -> int | None:
    """Line of a key, or of the nearest table around it when the key was not written; None without one."""
    for length in range(len(path), 0, -1):
        if path[:length] in lines:
            return lines[path[:length]]
    return None


class _Scanner:
    """Walks the text once and notes where each key begins. The text has been parsed, so it is valid."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.position = 0
        self.lines: dict[KeyPath, int] = {}
        self.odd: dict[KeyPath, str] = {}
        self._ends = [index for index, letter in enumerate(text) if letter == "\n"]
        self._last: dict[KeyPath, int] = {}
        self._walk()

    def _walk(self) -> None:
        table: KeyPath = ()
        self._skip_blank()
        while self.position < len(self.text):
            if self.text.startswith("[[", self.position):
                table = self._header(2)
            elif self.text.startswith("[", self.position):
                table = self._header(1)
            else:
                self._pair(table)
            self._skip_blank()

    def _note(self, path: KeyPath, position: int) -> None:
        if len(path) <= DEEPEST:
            self.lines.setdefault(path, bisect_right(self._ends, position - 1) + 1)

    def _header(self, brackets: int) -> KeyPath:
        start = self.position
        self.position += brackets
        keys = self._key()
        self.position += brackets
        path: KeyPath = ()
        for key in keys[:-1]:
            path = self._enter((*path, key))
            self._note(path, start)
        path = (*path, keys[-1])
        if brackets == 2:
            self._note(path, start)
            self._last[path] = self._last.get(path, -1) + 1
        path = self._enter(path)
        self._note(path, start)
        return path

    def _enter(self, path: KeyPath) -> KeyPath:
        """A table path; inside an array of tables it is the array's latest table."""
        return (*path, self._last[path]) if path in self._last else path

    def _pair(self, table: KeyPath) -> None:
        start = self.position
        path = table
        for key in self._key():
            path = (*path, key)
            self._note(path, start)
        self.position += 1  # the equals sign
        self._skip_blank()
        self._value(path)

    def _key(self) -> list[str]:
        """A bare, quoted or dotted key; stops at the character after it."""
        keys = []
        while True:
            self._skip_blank()
            start = self.position
            if self.text[start] in "\"'":
                self._string()
                keys.append(str(tomllib.loads("key = " + self.text[start : self.position])["key"]))
            else:
                while self.text[self.position] not in " \t=.]":
                    self.position += 1
                keys.append(self.text[start : self.position])
            self._skip_blank()
            if self.text[self.position] != ".":
                return keys
            self.position += 1

    def _value(self, path: KeyPath) -> None:
        letter = self.text[self.position]
        if letter in "\"'":
            self._string()
        elif letter == "[":
            self._array(path)
        elif letter == "{":
            self._inline_table(path)
        else:
            start = self.position
            while self.position < len(self.text) and self.text[self.position] not in ",]}#\n":
                self.position += 1
            written = self.text[start : self.position].strip()
            if "_" in written and not THOUSANDS.fullmatch(written):
                self.odd[path] = written

    def _array(self, path: KeyPath) -> None:
        self.position += 1
        item = 0
        self._skip_blank()
        while self.text[self.position] != "]":
            self._note((*path, item), self.position)
            self._value((*path, item))
            item += 1
            self._skip_comma()
        self.position += 1

    def _inline_table(self, path: KeyPath) -> None:
        self.position += 1
        self._skip_blank()
        while self.text[self.position] != "}":
            self._pair(path)
            self._skip_comma()
        self.position += 1

    def _skip_comma(self) -> None:
        self._skip_blank()
        if self.text[self.position] == ",":
            self.position += 1
            self._skip_blank()

    def _string(self) -> None:
        quote = self.text[self.position]
        if self.text.startswith(quote * 3, self.position):
            self.position += 3
            while not self.text.startswith(quote * 3, self.position):
                self.position += 2 if quote == '"' and self.text[self.position] == "\\" else 1
            self.position += 3
            while self.position < len(self.text) and self.text[self.position] == quote:
                self.position += 1  # up to two quotes may stand before the closing three
            return
        self.position += 1
        while self.text[self.position] != quote:
            self.position += 2 if quote == '"' and self.text[self.position] == "\\" else 1
        self.position += 1

    def _skip_blank(self) -> None:
        """Over spaces, line ends and comments."""
        while self.position < len(self.text):
            letter = self.text[self.position]
            if letter == "#":
                end = self.text.find("\n", self.position)
                self.position = len(self.text) if end < 0 else end
            elif letter in " \t\n":
                self.position += 1
            else:
                return
