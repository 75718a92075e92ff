"""Probability of overtopping: how results without doubt, without events and with failures are told."""

import numpy as np
import pytest
from known_answers import (
    RIVER_LARGEST_S,
    four_branches,
    four_branches_exact,
    is_within,
    river_flow_score,
    river_inputs,
    river_overflow,
    scores,
)

from overbank.analysis.intervals import Estimate, wilson
from overbank.analysis.ladder import critical, tail_probability
from overbank.analysis.overtopping import agree, events, plain, threshold
from overbank.errors import DomainError


@pytest.mark.parametrize("k", [6, 7])
def test_plain_count_of_the_four_branch_system(k):
    over = -four_branches(scores(16, 8192, 2, seed=21), k)
    found = plain(over, "sobol")
    assert is_within(found.value, found.low, found.high, four_branches_exact(k))
    assert found.samples == 16 * 8192


def test_an_event_begins_just_above_the_bank():
    depths = np.array([[-np.inf, -0.5, 0.0], [5e-324, np.inf, np.nan]])
    np.testing.assert_array_equal(events(depths), [[0.0, 0.0, 0.0], [1.0, 1.0, np.nan]])


def test_independent_samples_get_the_wilson_interval_of_all_together():
    depths = np.random.default_rng(1).normal(-2.0, 1.0, size=(4, 500))
    found, reference = plain(depths, "monte_carlo"), wilson(int(np.sum(depths > 0)), 2000)
    assert (found.value, found.low, found.high) == (reference.value, reference.low, reference.high)
    by_replicates = plain(depths, "latin_hypercube")
    assert by_replicates.value == pytest.approx(found.value)
    assert "Student t" in by_replicates.method


def test_the_river_whose_dyke_cannot_be_overtopped():
    # S > 0 is impossible: with all inputs at their worst ends S is -3.6626.
    worst = river_overflow([np.array(v) for v in (3000, 15, 51, 54, 7, 55, 5010, 295)])
    assert worst == pytest.approx(RIVER_LARGEST_S, abs=1e-4)
    z = scores(16, 256, 8, seed=22)
    x = river_inputs(z)
    nodes = np.linspace(500.0, 3000.0, 9)
    depths = np.array([river_overflow([np.full(z.shape[:2], flow), *x[1:]]) for flow in nodes])
    probabilities = tail_probability(critical(nodes, depths).value, river_flow_score, 0.0, 1.0)
    found = threshold(probabilities)
    assert np.all(probabilities == 0.0)
    assert found.value == 0.0
    assert found.low == 0.0
    assert 0 < found.high < 1e-3
    assert found.note.startswith("impossible within the bounds")
    counted = plain(river_overflow(x), "sobol")
    assert counted.value == 0.0
    assert counted.high > 0.0
    assert "no event in 4096 samples" in counted.note
    assert agree(found, counted)


def test_certain_overtopping_is_said_in_words():
    found = threshold(np.ones((4, 8)))
    assert (found.value, found.high) == (1.0, 1.0)
    assert found.low == pytest.approx(0.05 ** (1 / 32))
    assert found.note.startswith("certain within the bounds")
    assert plain(np.full((4, 8), np.inf), "sobol").value == 1.0


def test_probabilities_of_0_and_1_together_are_an_ordinary_result():
    found = threshold(np.array([[0.0, 1.0], [1.0, 1.0], [0.0, 1.0]]).repeat(20, axis=1))
    assert found.value == pytest.approx(2 / 3)
    assert found.low < found.value < found.high
    assert found.note == ""


def test_failures_are_left_out_counted_and_bounded():
    depths = np.full((2, 50), -1.0)
    depths[:, :5] = 1.0
    depths[0, 10:20] = np.nan
    for found in (plain(depths, "sobol"), plain(depths, "monte_carlo")):
        assert (found.failed, found.samples) == (10, 90)
        assert "10 of 100 samples failed" in found.note
    counted = plain(depths, "monte_carlo")
    assert counted.value == pytest.approx(10 / 90)
    assert "0.1 or 0.2" in counted.note  # 10 or 20 events in 100
    probabilities = np.where(np.isnan(depths), np.nan, 0.25)
    smooth = threshold(probabilities)
    assert (smooth.value, smooth.failed) == (0.25, 10)
    assert "10 of 100 samples failed" in smooth.note


@pytest.mark.parametrize("estimator", [threshold, lambda table: plain(table, "sobol")])
def test_a_replicate_of_nothing_but_failures_is_refused(estimator):
    table = np.full((3, 4), 0.5)
    table[1] = np.nan
    with pytest.raises(DomainError, match="All its runs failed"):
        estimator(table)


def test_one_replicate_has_no_interval():
    found = threshold(np.full((1, 100), 0.2))
    assert np.isnan([found.low, found.high]).all()
    assert "no interval" in found.note


def test_agreement_is_overlap():
    def between(low, high):
        return Estimate((low + high) / 2, low, high, "test")

    assert agree(between(0.1, 0.3), between(0.2, 0.4))
    assert not agree(between(0.1, 0.2), between(0.3, 0.4))
    assert not agree(between(0.3, 0.4), between(0.1, 0.2))
    assert agree(between(0.1, 0.2), between(np.nan, np.nan))
