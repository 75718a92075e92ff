"""The equivalent blockage against the inverse of a closed form."""

import numpy as np
import pytest

from overbank.analysis.allowance import equivalent, needed
from overbank.analysis.intervals import Estimate
from overbank.errors import DomainError


def level_at(blockage):
    """30 m when clean, without bound when fully blocked; its inverse is 1 - exp(30 - level)."""
    return 30.0 - np.log1p(-blockage) if blockage < 1 else np.inf


def target(value, low, high, note=""):
    return Estimate(value, low, high, "test", note)


def test_value_and_interval_are_the_inverse_of_the_level():
    found = equivalent(level_at, target(30.5, 30.4, 30.7))
    expected = [1 - np.exp(30 - level) for level in (30.5, 30.4, 30.7)]
    assert [found.value, found.low, found.high] == pytest.approx(expected, abs=1e-6)
    assert found.note == ""


def test_out_of_range_is_said_in_words():
    below = equivalent(level_at, target(29.9, 29.8, 30.2))
    assert (below.value, below.low) == (0.0, 0.0)
    assert below.high == pytest.approx(1 - np.exp(-0.2), abs=1e-6)
    assert "stands above that level even at a blockage of 0" in below.note
    above = equivalent(level_at, target(31.0, 30.5, 32.0), high=0.5)
    assert (above.value, above.high) == (0.5, 0.5)
    assert "no blockage up to 0.5" in above.note
    endless = equivalent(level_at, target(np.inf, 31.0, np.inf))
    assert (endless.value, endless.high) == (1.0, 1.0)
    assert "no blockage up to 1" in endless.note


def test_none_is_nan_with_words():
    lower = needed(level_at, target(29.9, 29.8, 30.2))
    assert np.isnan([lower.value, lower.low]).all()
    assert lower.high == pytest.approx(1 - np.exp(-0.2), abs=1e-6)
    assert lower.note.startswith("none: the median run stands above that level even at a blockage of 0")
    bounded = needed(lambda b: 30.0 + b, target(31.5, 30.5, 31.8))
    assert np.isnan([bounded.value, bounded.high]).all()
    assert bounded.low == pytest.approx(0.5, abs=1e-6)
    assert bounded.note.startswith("none: no blockage up to 1 raises the median run to that level")
    within = needed(level_at, target(30.5, 30.4, 30.7))
    assert within == equivalent(level_at, target(30.5, 30.4, 30.7))


def test_a_jump_over_the_target_is_bracketed():
    found = equivalent(lambda b: 30.0 if b <= 0.4 else np.inf, target(31.0, 30.5, 31.5))
    assert [found.value, found.low, found.high] == pytest.approx([0.4] * 3, abs=2e-6)


def test_an_unknown_interval_stays_unknown_and_notes_are_kept():
    found = equivalent(level_at, target(30.5, np.nan, np.nan, "one replicate: no interval"))
    assert found.value == pytest.approx(1 - np.exp(-0.5), abs=1e-6)
    assert np.isnan([found.low, found.high]).all()
    assert "one replicate" in found.note


def test_runs_and_targets_without_a_number_are_refused():
    with pytest.raises(DomainError, match="check that run first"):
        equivalent(lambda _: np.nan, target(30.5, 30.4, 30.6))
    with pytest.raises(DomainError, match="got nan"):
        equivalent(level_at, target(np.nan, np.nan, np.nan))


def test_an_end_that_misses_by_less_than_a_millimetre_is_the_allowance():
    shut = needed(lambda b: 30.0 + b, target(31.0004, 30.9, 31.3))
    assert (shut.value, shut.high, shut.note) == (1.0, 1.0, "")
    assert shut.low == pytest.approx(0.9, abs=1e-6)
    clean = needed(lambda b: 30.0 + b, target(29.9996, 29.9995, 30.2))
    assert (clean.value, clean.low, clean.note) == (0.0, 0.0, "")
    assert np.isnan(needed(lambda b: 30.0 + b, target(31.0011, 30.9, 31.3)).value)
