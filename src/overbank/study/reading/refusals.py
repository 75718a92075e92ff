"""How the study's tables refuse a value: what was expected, what came, what to do. The place comes later."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, time
from difflib import get_close_matches

from pydantic import ValidationError
from pydantic_core import InitErrorDetails, PydanticCustomError

from overbank.study.reading.lines import KeyPath
from overbank.study.reading.other_words import known_word

ALIKE, SHORT = 0.6, 3
"""Likeness in spelling from which one word was perhaps meant by another; letters that begin no word yet."""

LONGEST = 60
"""Letters of a user's own text that are repeated in a message."""


LocatedRefusal = tuple[KeyPath, PydanticCustomError]
"""A fault with its way down from the table that refuses."""


def refusal(expected: str, got: str, remedy: str, row: str = "") -> PydanticCustomError:
    """One fault without its place. `row` names the row when the fault lies in a file that the study names."""
    parts = {"expected": expected, "got": got, "remedy": remedy, "row": row}
    return PydanticCustomError("refusal", "{expected}; {got}; {remedy}", parts)


def refusals(faults: Iterable[LocatedRefusal]) -> ValidationError:
    """Several faults at once, each with its way down from the table that refuses."""
    details = [InitErrorDetails(type=fault, loc=path, input=None) for path, fault in faults]
    return ValidationError.from_exception_data("study", details)


def refusal_at(path: KeyPath, expected: str, got: str, remedy: str) -> ValidationError:
    """One fault at a key below the table that refuses."""
    return refusals([(path, refusal(expected, got, remedy))])


def shown(value: object) -> str:
    """A value as a message repeats it."""
    match value:
        case None:
            words = "nothing"
        case bool():
            words = "true" if value else "false"
        case str():
            words = f'the text "{shortened(value)}"'
        case int() | float():
            words = f"the number {number(value)}"
        case dict():
            keys = shortened(", ".join(map(str, value)))
            words = f"a table with the keys {keys}" if keys else "an empty table"
        case list():
            words = f"a list of {len(value)}" if value else "an empty list"
        case date() | time():
            words = f"a date or time, {value}"
        case _:
            words = getattr(value, "shared", "") or "a distribution that Python gives"
    return words


def shortened(text: str) -> str:
    """A user's text on one line and not longer than a message can bear."""
    line = " ".join(text.split())
    return line if len(line) <= LONGEST else line[: LONGEST - 3] + "..."


def number(value: float) -> str:
    """A number as short as it can be read."""
    try:
        return str(value) if isinstance(value, int) and abs(value) < 10**15 else f"{float(value):.6g}"
    except OverflowError:
        return "that no computer number can hold"


def nearest(word: str, known: Sequence[str]) -> str | None:
    """The known word that the user most likely meant: its beginning, or one spelt alike; capitals do not count."""
    if (meant := known_word(word, known)) is not None:
        return meant
    begun = [each for each in known if len(word) > SHORT and each.startswith(word)]
    if found := begun if len(begun) == 1 else get_close_matches(word, known, n=1, cutoff=ALIKE):
        return found[0]
    small = {each.lower(): each for each in known}
    found = get_close_matches(word.lower(), small, n=1, cutoff=ALIKE)
    return small[found[0]] if found else None


def list_of(words: Iterable[str]) -> str:
    """Words for a sentence: a, b or c."""
    quoted = [f'"{word}"' for word in words]
    return quoted[0] if len(quoted) == 1 else f"{', '.join(quoted[:-1])} or {quoted[-1]}"


def choose(value: object, known: Sequence[str]) -> str:
    """The remedy for what is not among the known words."""
    near = nearest(value, known) if isinstance(value, str) else None
    return f'Write "{near}".' if near else "Write one of these words."
