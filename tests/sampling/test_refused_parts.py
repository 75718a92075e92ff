"""Parts that may be refused, and levels without bound."""

from __future__ import annotations

import numpy as np
import pytest

from overbank.errors import DomainError
from overbank.sampling.refused import RefusedParts

OWN = np.array([[31.2, np.inf, np.nan], [32.5, 30.0, np.inf]])


def test_endless_levels_become_the_same_one_everywhere_and_are_told_once() -> None:
    tried = RefusedParts()
    for levels in (np.array([30.0, np.inf]), np.array([[np.inf, np.nan], [33.0, 30.0]])):
        found = tried.capped(levels, OWN)
        assert np.array_equal(found, np.where(np.isposinf(levels), 32.5, levels), equal_nan=True)
    (note,) = tried.notes
    assert "as in 33.33% of the samples" in note
    assert "32.50 m" in note


def test_nothing_is_said_where_nothing_is_endless_or_everything() -> None:
    tried = RefusedParts()
    levels = np.array([30.0, np.inf])
    assert np.array_equal(tried.capped(levels[:1], OWN), levels[:1])
    assert np.array_equal(tried.capped(levels, np.full(3, np.inf)), levels)
    assert tried.notes == []


def test_a_refusal_leaves_a_note_and_the_rest_goes_on() -> None:
    def refused() -> float:
        raise DomainError("it does not vary")

    tried = RefusedParts()
    assert (tried.attempt("indices", refused), tried.attempt("figure", lambda: 1.5)) == (None, 1.5)
    assert tried.notes == ["No indices: it does not vary"]
    with pytest.raises(ZeroDivisionError):
        tried.attempt("figure", lambda: 1 / 0)
