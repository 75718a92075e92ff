"""How the study's tables refuse a value: what was expected, what came, what to do. Place and line are added later."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from difflib import get_close_matches

from pydantic import ValidationError
from pydantic_core import InitErrorDetails, PydanticCustomError

from overbank.study.lines import KeyPath

LONGEST = 60
"""Letters of a user's own text that are repeated in a message."""


def refusal(expected: str, got: str, remedy: str, row: str = "") -> PydanticCustomError:
    """One fault without its place. `row` names the row when the fault lies in a table that the study names."""
    parts = {"expected": expected, "got": got, "remedy": remedy, "row": row}
    return PydanticCustomError("refusal", "{expected}; {got}; {remedy}", parts)


def refusals(faults: Iterable[tuple[KeyPath, PydanticCustomError]]) -> ValidationError:
    """Several faults at once, each with its way down from the table that refuses."""
    details = [InitErrorDetails(type=fault, loc=path, input=None) for path, fault in faults]
    return ValidationError.from_exception_data("study", details)


def refusal_at(path: KeyPath, expected: str, got: str, remedy: str) -> ValidationError:
    """One fault at a key below the table that refuses."""
    return refusals([(path, refusal(expected, got, remedy))])


def shown(value: object) -> str:
    """A value as a message repeats it."""
    if value is None:
        return "nothing"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f'the text "{shortened(value)}"'
    if isinstance(value, int | float):
        return f"the number {number(value)}"
    if isinstance(value, dict):
        keys = ", ".join(str(key) for key in value)
        return f"a table with the keys {shortened(keys)}" if keys else "an empty table"
    if isinstance(value, list):
        return f"a list of {len(value)}" if value else "an empty list"
    return f"a date or time, {value}"


def shortened(text: str) -> str:
    """A user's text on one line and not longer than a message can bear."""
    line = " ".join(text.split())
    return line if len(line) <= LONGEST else line[: LONGEST - 3] + "..."


def number(value: float) -> str:
    """A number as short as it can be read."""
    if isinstance(value, int):
        return str(value) if abs(value) < 10**15 else "too large to hold"
    return f"{value:.6g}"


def nearest(word: str, known: Sequence[str]) -> str | None:
    """The known word that the user most likely meant."""
    found = get_close_matches(word, known, n=1, cutoff=0.5)
    return found[0] if found else None


def list_of(words: Iterable[str]) -> str:
    """Words for a sentence: a, b or c."""
    quoted = [f'"{word}"' for word in words]
    return quoted[0] if len(quoted) == 1 else f"{', '.join(quoted[:-1])} or {quoted[-1]}"


def choose(word: str, known: Sequence[str]) -> str:
    """The remedy for a word that is not among the known ones."""
    near = nearest(word, known)
    return f'Write "{near}".' if near else "Write one of these words."
