"""Pairs of inputs in the report: which are told, in which order, and what is said of the others."""

from __future__ import annotations

from types import SimpleNamespace

import pandas as pd

from overbank.report.tables import MOST_PAIRS, Pairs, pairs


def told(*rows: tuple[str, str, float, float, float]) -> Pairs | None:
    table = pd.DataFrame(rows, columns=["input", "other", "second", "second_low", "second_high"])
    return pairs(SimpleNamespace(drivers=SimpleNamespace(pairs=SimpleNamespace(table=table))))  # type: ignore[arg-type]


def test_pairs_above_nothing_stand_in_the_order_of_their_share() -> None:
    found = told(("a", "b", 0.05, 0.03, 0.07), ("a", "c", 0.20, 0.15, 0.25), ("b", "c", 0.01, -0.01, 0.03))
    assert found is not None
    assert [pair.inputs for pair in found.told] == [("a", "c"), ("a", "b")]
    assert found.told[0].share.startswith("20")
    assert found.rest == "The other 1 of 3 pairs cannot be told from acting apart."


def test_none_and_too_many() -> None:
    none = told(("a", "b", 0.01, -0.01, 0.03))
    assert none is not None
    assert (none.told, none.rest) == ((), "None of the 1 pairs can be told from acting apart.")
    many = told(*((f"x{k}", "y", 0.05, 0.04, 0.06) for k in range(MOST_PAIRS + 2)))
    assert many is not None
    assert len(many.told) == MOST_PAIRS
    assert many.rest == "The other 2 of 12 pairs do less, or cannot be told from acting apart."
    assert told(("a", "b", 0.05, 0.04, 0.06)).rest == ""  # type: ignore[union-attr]


def test_no_pairs_asked_for() -> None:
    assert pairs(SimpleNamespace(drivers=SimpleNamespace(pairs=None))) is None  # type: ignore[arg-type]
