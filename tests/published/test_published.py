"""Every published or independently computed value, met by overbank's own functions."""

from __future__ import annotations

import math

import pytest

from facts import each_holds

from .checks import FILES, Check, Comparison, checks, compare, is_within, rows_with_results
from .library import LIBRARY
from .registry import FUNCTIONS

HOW_KNOWN = {
    "read in the source",
    "read second hand",
    "from memory, unverified",
    "computed independently",
    "own proposal, not published",
    "common practice, no source",
}
CHECKS = checks()
LIBRARY_CHECKS = [check for check in CHECKS if check.file == "libraries.csv"]


def named(check: Check) -> str:
    return check.id


def message(check: Check, result: Comparison) -> str:
    return (
        f"{check.id}, {check.quantity}: published {result.published:g} {result.unit}, obtained "
        f"{result.obtained:g} ({100.0 * result.deviation:+.2f} %), tolerance {check.tolerance}. "
        f"Source: {check.source} ({check.how_known}). {check.note}"
    )


def met(check: Check) -> None:
    for result in compare(check):
        assert result.within, message(check, result)


def test_values_are_met() -> None:
    each_holds(CHECKS, met, named)


def refuses_a_wrong_value(check: Check) -> None:
    for published, unit in zip(check.expected, check.units, strict=True):
        for wrong in (1.15 * published + 0.01, 0.85 * published - 0.01):
            if not check.tolerance.startswith("band"):
                assert not is_within(check, published, wrong, unit)
        assert not is_within(check, published, 2.0 * published + 0.01, unit)


def test_a_wrong_value_would_be_refused() -> None:
    """No tolerance but a stated band is so wide that a value 15 % (and 0.01) off would pass."""
    each_holds(CHECKS, refuses_a_wrong_value, named)


def same_in_the_library(check: Check) -> None:
    assert LIBRARY[check.library](check.inputs) == pytest.approx(check.expected[0], rel=1e-9)


def test_libraries_still_give_the_stored_values() -> None:
    each_holds(LIBRARY_CHECKS, same_in_the_library, named)


def says_where_it_comes_from(check: Check) -> None:
    assert check.quantity
    assert check.source
    assert check.how_known in HOW_KNOWN
    if check.how_known in ("from memory, unverified", "read second hand"):
        assert not check.verified
    if check.verified:
        assert "from memory" not in check.note
    assert check.function in FUNCTIONS
    assert all(math.isfinite(value) for value in check.expected)


def test_every_row_says_where_it_comes_from() -> None:
    each_holds(CHECKS, says_where_it_comes_from, named)


def test_ids_are_unique() -> None:
    ids = [check.id for check in CHECKS]
    assert len(ids) == len(set(ids))


def test_there_are_many_rows_and_all_functions_are_used() -> None:
    assert len(CHECKS) >= 200
    assert {check.file for check in CHECKS} == set(FILES)
    assert {check.function for check in CHECKS} == set(FUNCTIONS)


def test_rows_with_results_lists_every_value() -> None:
    rows = rows_with_results()
    assert len(rows) == sum(len(check.expected) for check in CHECKS)
    assert {row["id"] for row in rows} == {check.id for check in CHECKS}
    assert all(math.isfinite(float(row["obtained"])) for row in rows)
