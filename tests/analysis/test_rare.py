"""Importance sampling of rare events against closed forms, quadrature and a reference library's problem."""

import numpy as np
import pytest
from known_answers import FLOW_RULES, Toy, four_branches_exact, scores
from rare_problems import (
    LooseDyke,
    assert_found,
    estimate,
    four_branch_count,
    linear_conditional,
    linear_count,
    relative_error,
    toy_conditional,
)
from scipy import stats
from scipy.special import ndtr

from overbank.analysis import rare, search
from overbank.errors import DomainError

BETAS = (2.0, 3.0, 3.5, 4.0, 4.5, 4.753424)
"""P = Phi(-beta) = 2.2750132e-2, 1.3498980e-3, 2.3262908e-4, 3.1671242e-5, 3.3976731e-6, 1e-6 (closed form)."""

TOY_LIMITS = {
    ("flow", 1e-2): 1.3432379614137984,
    ("flow", 1e-4): 2.1764996384787203,
    ("flow", 1e-6): 2.953829449562587,
    ("blockage", 1e-2): 0.8797235897459377,
    ("blockage", 1e-4): 1.6576498305049667,
    ("blockage", 1e-6): 2.428987770494612,
}
"""Limits for these probabilities, by one-dimensional quadrature (computed independently)."""


# --- known answers --------------------------------------------------------------------------------------


@pytest.mark.parametrize("beta", BETAS)
@pytest.mark.parametrize("dimension", [2, 6, 12])
def test_linear_limit_state_with_nothing_integrated_out(dimension, beta):
    found = estimate(linear_count(dimension, beta), dimension, seed=1)
    assert_found(found, ndtr(-beta), largest_error=0.09)
    assert len(found.centres) == 1


@pytest.mark.parametrize("beta", BETAS)
@pytest.mark.parametrize(("left", "share"), [(5, 0.5), (5, 0.1), (11, 0.1)])
def test_linear_limit_state_with_one_input_integrated_out(left, share, beta):
    found = estimate(linear_conditional(left, beta, share), left, seed=2)
    assert_found(found, ndtr(-beta), largest_error=0.01)
    assert found.effective > 500
    assert found.heaviest < 0.01


@pytest.mark.parametrize(("k", "exact"), [(7, 2.2227950662e-3), (6, 4.4573314906e-3)])
@pytest.mark.parametrize("seed", range(5))
def test_all_four_branches_are_found(k, exact, seed):
    assert four_branches_exact(k) == pytest.approx(exact, rel=1e-8)  # one integral, computed independently
    found = estimate(four_branch_count(k), 2, seed=seed)
    assert_found(found, exact, largest_error=0.06)
    assert len(found.centres) == 4
    directions = np.sort(np.degrees(np.arctan2(found.centres[:, 1], found.centres[:, 0])))
    np.testing.assert_allclose(directions, [-135, -45, 45, 135], atol=15)


def test_a_branch_of_one_part_in_thirty_is_not_missed():
    exact = four_branches_exact(8)
    assert 2 * ndtr(-4.0) / exact < 0.05  # what its two lesser branches carry
    assert len(estimate(four_branch_count(8), 2, seed=3).centres) == 4


@pytest.mark.parametrize(("rules", "exact"), TOY_LIMITS)
def test_toy_crossing(rules, exact):
    toy = Toy(1.0 if rules == "flow" else 0.3, TOY_LIMITS[rules, exact])
    assert toy.exact() == pytest.approx(exact, rel=1e-9)
    assert_found(estimate(toy_conditional(toy), 5, seed=4), exact, largest_error=0.01)


@pytest.mark.parametrize(("independent", "dependent"), [(1e-2, 2.171e-2), (1e-4, 7.52e-4), (1e-6, 2.22e-5)])
def test_toy_crossing_with_blockage_and_flow_dependent(independent, dependent):
    # computed independently; for the second the quadrature here gives 7.499e-4, and a count gave 7.48e-4 +- 1e-5
    toy = Toy(1.0, TOY_LIMITS["flow", independent], correlation=0.5)
    assert toy.exact() == pytest.approx(dependent, rel=4e-3)
    assert_found(estimate(toy_conditional(toy), 5, seed=5), toy.exact(), largest_error=0.01)


@pytest.mark.parametrize("limit_factor", [1.0, 1.6])
def test_toy_crossing_with_an_atom_at_clean(limit_factor):
    toy = Toy(1.0, FLOW_RULES.limit * limit_factor, clean=0.7)
    assert_found(estimate(toy_conditional(toy), 5, seed=6), toy.exact(), largest_error=0.04)


@pytest.mark.parametrize(("lowest", "exact", "error"), [(2, 7.4137e-4, 1e-7), (7, 7.5928e-5, 9e-8)])
def test_dyke_with_loose_inputs(lowest, exact, error):
    # 16 scrambles of 2^18 points with the flow integrated exactly; 7.423e-4 +- 5e-7 and 7.63e-5 +- 5e-7 with the
    # dyke's height integrated instead (both computed independently)
    assert_found(estimate(LooseDyke(lowest).conditional, 7, seed=7), exact, 0.01, reference_error=error)


# --- what is reported -----------------------------------------------------------------------------------


def test_equal_seeds_give_equal_bits():
    first, again, other = (estimate(linear_conditional(5, 4.0, 0.3), 5, seed=s) for s in (8, 8, 9))
    assert (first.value, first.low, first.high) == (again.value, again.low, again.high)
    assert np.array_equal(first.centres, again.centres)
    assert other.value != first.value


def test_the_interval_is_student_t_on_a_log_scale():
    found = estimate(linear_conditional(5, 4.0, 0.3), 5, seed=8, samples=256, replicates=4)
    assert found.value**2 == pytest.approx(found.low * found.high)
    assert relative_error(found, replicates=4) < 0.1
    assert found.samples == 256


def test_counts_and_words():
    calls = []

    def counted(z):
        calls.append(len(z))
        return linear_conditional(5, 4.0, 0.3)(z)

    z = scores(1, 128, 5, seed=10)[0]
    found = rare.probability(counted, z, linear_conditional(5, 4.0, 0.3)(z), seed=10, samples=512, round_samples=64)
    assert found.evaluations == sum(calls)
    assert found.samples == calls[-1] == 512
    assert set(calls[:-1]) == {64}
    assert found.sampling.startswith("importance sampling about 1 design point: ")
    assert f"{found.effective:.0f} effective of 512 samples" in found.sampling


def test_no_interval_when_one_sample_carries_more_than_a_tenth():
    found = estimate(linear_count(20, 4.753424), 20, seed=11, samples=32)
    assert found.heaviest > 0.1
    assert np.isnan([found.low, found.high]).all()
    assert "one sample carries" in found.note
    assert found.value > 0


def test_no_event_anywhere_is_bounded_by_the_pilot():
    found = estimate(lambda z: np.zeros(len(z)), 4, seed=12)
    assert (found.value, found.low) == (0.0, 0.0)
    assert found.high == pytest.approx(1 - 0.05 ** (1 / 256))  # exact one-sided limit
    assert "no event in 256 samples of the other inputs, nor in 384 more" in found.note
    assert found.effective == 0.0
    assert len(found.centres) == 0


def test_failed_samples_are_left_out_counted_and_bounded():
    whole = linear_conditional(5, 3.0, 0.3)

    def partly(z):
        return np.where(z[:, 4] > 2.5, np.nan, whole(z))

    found = estimate(partly, 5, seed=13)
    assert found.failed > 0
    assert found.samples + found.failed == 2048
    assert f"{found.failed} of 2048 samples failed" in found.note
    least, most = (float(word.rstrip(",")) for word in found.note.rsplit("would be ", 1)[1].split(" or "))
    assert least < ndtr(-3.0) < most
    with pytest.raises(DomainError, match="all of its runs failed"):
        rare._weighted(np.full((2, 4), np.nan), np.ones((2, 4)), "", np.zeros((1, 2)), 8)


def test_weights_too_uneven_are_flattened_to_enough_effective_samples():
    # p = 10^-k of the k-th sample: the largest alone would be fitted to; a power of the weights leaves enough
    z = scores(1, 256, 2, seed=17)[0]
    events, flattened = search._Search(np.ravel, 256, np.random.default_rng(17), z, 10.0 ** -np.arange(256.0))._events()
    assert flattened
    weights = np.exp(events.log_weights - events.log_weights.max())
    assert search.effective(weights) == pytest.approx(search.ENOUGH, rel=1e-6)


def test_a_search_that_does_not_settle_is_told(monkeypatch):
    monkeypatch.setattr(search, "MOST_ROUNDS", 0)
    assert "had not settled" in estimate(linear_conditional(5, 4.0, 0.3), 5, seed=14).note


def test_an_event_missed_by_every_final_sample_has_no_interval():
    found = rare._weighted(np.zeros((2, 4)), np.ones((2, 4)), "", np.zeros((1, 2)), 8)
    assert found.value == 0.0
    assert np.isnan([found.low, found.high]).all()
    assert "take more samples" in found.note


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"samples": 2040}, "two or more replicates"),
        ({"replicates": 1}, "two or more replicates"),
        ({"samples": 1600}, "power of two of samples in each replicate; got 100"),
        ({"round_samples": 100}, "power of two of samples in each round; got 100"),
        ({"pilot_probabilities": np.zeros(3)}, "M probabilities"),
        ({"pilot_scores": np.zeros((4, 0))}, "at least one input left"),
    ],
)
def test_bad_numbers_are_refused(change, words):
    given = {"pilot_scores": np.zeros((4, 2)), "pilot_probabilities": np.zeros(4), "seed": 1, **change}
    with pytest.raises(DomainError, match=words):
        rare.probability(lambda z: np.zeros(len(z)), **given)


# --- coverage, on demand --------------------------------------------------------------------------------


@pytest.mark.slow
@pytest.mark.parametrize(
    ("conditional", "dimension", "exact", "samples"),
    [
        (toy_conditional(Toy(1.0, TOY_LIMITS["flow", 1e-4])), 5, 1e-4, 512),
        (toy_conditional(Toy(0.3, TOY_LIMITS["blockage", 1e-6])), 5, 1e-6, 512),
        (linear_count(6, 4.0), 6, ndtr(-4.0), 2048),
        (four_branch_count(7), 2, four_branches_exact(7), 2048),
    ],
    ids=["toy 1e-4", "toy 1e-6", "linear 3e-5", "four branches"],
)
def test_coverage_of_the_interval(conditional, dimension, exact, samples):
    repeats = 200
    found = [estimate(conditional, dimension, seed=100 + s, samples=samples) for s in range(repeats)]
    covered = np.mean([f.low <= exact <= f.high for f in found])
    print(f"{covered:.1%} of {repeats}")
    assert 0.90 <= covered <= 0.99
    values = np.array([f.value for f in found])
    bias = stats.ttest_1samp(values, exact).statistic
    assert abs(bias) < 4
