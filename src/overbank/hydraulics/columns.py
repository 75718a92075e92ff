"""Named numbers to the columns that a compiled loop takes, in the order of the named tuples it makes of them.

A loop says by a named tuple what it takes of one sample; parts of it are named tuples themselves. Numbers are handed
over by these names, so that a wrong or a missing one fails at once.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Any, get_type_hints

from numpy.typing import NDArray

Column = float | NDArray[Any]
Parts = Mapping[str, Any]
"""Numbers by name; a part by the name of a mapping of its own, or None where it is not there: all noughts."""


@cache
def parts(row: type) -> tuple[tuple[str, type], ...]:
    """Fields of a named tuple that columns hold: numbers, and named tuples of numbers; a survey travels by itself."""
    hints = get_type_hints(row)
    return tuple((name, hint) for name, hint in hints.items() if hint is float or hasattr(hint, "_fields"))


@cache
def size(row: type) -> int:
    """How many columns a named tuple takes."""
    return sum(1 if part is float else size(part) for _, part in parts(row))


def columns(row: type, numbers: Parts | None) -> list[Column]:
    """The columns of a named tuple, parts within parts; noughts where it is not there."""
    if numbers is None:
        return [0.0] * size(row)
    names = [name for name, _ in parts(row)]
    if set(names) != set(numbers):
        raise TypeError(f"{row.__name__}: expected the numbers {sorted(names)}; got {sorted(numbers)}")
    laid: list[Column] = []
    for name, part in parts(row):
        laid += [numbers[name]] if part is float else columns(part, numbers[name])
    return laid
