"""One test of a table of facts, which names every row that does not hold and why."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TypeVar

Row = TypeVar("Row")


def each_holds(rows: Iterable[Row], holds: Callable[[Row], None], name: Callable[[Row], str] = str) -> None:
    """Every row is tried, whatever came of those before it.

    Raises
    ------
    AssertionError : some rows do not hold, or raise anything else; or there is no row at all
    """
    wrong, tried = [], 0
    for row in rows:
        tried += 1
        try:
            holds(row)
        except Exception as error:
            wrong.append(f"{name(row)}: {type(error).__name__}: {error}")
    assert tried, "there is no row to try"
    assert not wrong, f"{len(wrong)} of {tried} rows do not hold:\n" + "\n".join(wrong)
