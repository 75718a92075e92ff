"""The threshold method against exact probabilities."""

import numpy as np
import pytest
from known_answers import (
    BLOCKAGE_RULES,
    FLOW_RULES,
    TOY_NODES,
    Toy,
    four_branches,
    four_branches_exact,
    is_within,
    scores,
)
from scipy.special import ndtr, ndtri

from overbank.analysis.ladder import critical, dips, falls, mend, tail_probability, trusted
from overbank.analysis.overtopping import agree, plain, threshold
from overbank.analysis.polish import polish
from overbank.errors import DomainError


def conditional_probabilities(toy, z, *, use_dependence=True):
    """Conditional probabilities and plain depths over the bank of the toy; z (R, n, 6), last column for the
    blockage."""
    load = toy.load(z[..., :5])
    depths = toy.depth_over_bank(TOY_NODES[:, None, None], load)
    crossing = critical(TOY_NODES, depths)
    flat = load.ravel()
    polished = polish(lambda b, sample: toy.depth_over_bank(b, flat[sample]), crossing, 1e-7)
    rho = toy.correlation
    mean, spread = (rho * z[..., 0], np.sqrt(1 - rho**2)) if use_dependence else (0.0, 1.0)
    own_score = rho * z[..., 0] + np.sqrt(1 - rho**2) * z[..., 5]
    own_depths = toy.depth_over_bank(toy.blockage(own_score), load)
    return tail_probability(polished.value, toy.score_below, mean, spread), own_depths


@pytest.mark.parametrize("toy", [FLOW_RULES, BLOCKAGE_RULES], ids=["flow rules", "blockage rules"])
def test_toy_crossing_at_one_in_a_hundred(toy):
    assert toy.exact() == pytest.approx(1e-2, rel=1e-9)  # one-dimensional quadrature
    probabilities, own = conditional_probabilities(toy, scores(16, 2048, 6, seed=1))
    by_threshold, by_count = threshold(probabilities), plain(own, "sobol")
    for found in (by_threshold, by_count):
        assert is_within(found.value, found.low, found.high, 1e-2)
    assert agree(by_threshold, by_count)
    width = [e.high - e.low for e in (by_threshold, by_count)]
    assert width[0] < width[1] / (2 if toy is FLOW_RULES else 20)


def test_interpolation_alone_is_close():
    toy, z = BLOCKAGE_RULES, scores(16, 1024, 5, seed=2)
    depths = toy.depth_over_bank(TOY_NODES[:, None, None], toy.load(z))
    crossing = critical(TOY_NODES, depths)
    exact = -np.expm1(toy.load(z) - toy.limit)  # closed form
    inside = crossing.solvable
    assert inside.mean() > 0.99
    np.testing.assert_allclose(crossing.value[inside], exact[inside], atol=5e-4)
    assert np.all((crossing.low < exact)[inside] & (exact <= crossing.high)[inside])
    assert np.all((crossing.depth_low <= 0)[inside] & (crossing.depth_high > 0)[inside])
    found = threshold(tail_probability(crossing.value, toy.score_below, 0.0, 1.0))
    assert found.value == pytest.approx(1e-2, rel=1e-3)


@pytest.mark.parametrize("limit_factor", [1.0, 1.4])
def test_dependence_is_honoured_and_leaving_it_out_is_unsafe(limit_factor):
    dependent = Toy(1.0, FLOW_RULES.limit * limit_factor, correlation=0.5)
    independent = Toy(1.0, FLOW_RULES.limit * limit_factor)
    probabilities, own = conditional_probabilities(dependent, scores(16, 4096, 6, seed=3))
    found, counted = threshold(probabilities), plain(own, "sobol")
    assert is_within(found.value, found.low, found.high, dependent.exact())
    assert is_within(counted.value, counted.low, counted.high, dependent.exact())
    wrong = threshold(conditional_probabilities(dependent, scores(16, 4096, 6, seed=3), use_dependence=False)[0])
    assert is_within(wrong.value, wrong.low, wrong.high, independent.exact())
    assert wrong.high < 0.5 * found.low


def test_dependent_toy_matches_the_value_found_two_other_ways():
    # 2.171e-2: quadrature, and a count of 2.168e-2 +- 5e-5, both computed independently.
    assert Toy(1.0, FLOW_RULES.limit, correlation=0.5).exact() == pytest.approx(2.171e-2, abs=5e-6)


@pytest.mark.parametrize("correlation", [0.0, 0.5])
def test_an_atom_at_clean_is_exact(correlation):
    toy = Toy(1.0, FLOW_RULES.limit, clean=0.7, correlation=correlation)
    if correlation == 0:
        assert toy.exact() == pytest.approx(0.00379, abs=5e-6)  # computed independently
    probabilities, own = conditional_probabilities(toy, scores(16, 4096, 6, seed=4))
    found, counted = threshold(probabilities), plain(own, "sobol")
    assert is_within(found.value, found.low, found.high, toy.exact())
    assert is_within(counted.value, counted.low, counted.high, toy.exact())


def test_atoms_on_nodes_are_counted_as_the_plain_count_would():
    # X is 0, 0.5 or 1 with probabilities 0.2, 0.5, 0.3; depth over the bank exactly 0 at the middle does not overtop.
    nodes = np.array([0.0, 0.5, 1.0])

    def score_below(x):
        return ndtri(np.where(x <= 0, 0.0, np.where(x <= 0.5, 0.2, np.where(x <= 1, 0.7, 1.0))))

    depths = np.array(
        [
            [0.1, 0.2, 0.3],  # even clean goes over
            [0.0, 0.2, 0.3],  # clean just does not
            [-0.1, 0.0, 0.3],  # the middle just does not
            [-0.1, -0.05, 0.3],
            [-0.1, -0.05, np.inf],  # only fully blocked, without a way through
            [-0.2, -0.1, 0.0],  # fully blocked just does not
        ]
    ).T[:, None, :]
    found = tail_probability(critical(nodes, depths).value, score_below, 0.0, 1.0)[0]
    expected = (np.array([0.2, 0.5, 0.3]) @ (depths[:, 0] > 0)).tolist()
    assert found == pytest.approx(expected, abs=1e-12)
    assert found[0] == 1.0
    assert found[-1] == 0.0


def linear_by_threshold(weights, beta, samples=256):
    """Sixteen replicates; the integrated input is the normal score of the first input. P = Phi(-beta)."""
    others = scores(16, samples, len(weights) - 1, seed=5)
    nodes = np.linspace(-12.0, 30.0, 12)
    depths = weights[0] * nodes[:, None, None] + others @ weights[1:] - beta
    return threshold(tail_probability(critical(nodes, depths).value, lambda x: x, 0.0, 1.0))


@pytest.mark.parametrize("beta", [2.0, 3.0])
def test_linear_limit_state_of_equal_inputs(beta):
    found = linear_by_threshold(np.full(6, 1 / np.sqrt(6)), beta, samples=8192)
    assert is_within(found.value, found.low, found.high, ndtr(-beta))
    assert found.value == pytest.approx(ndtr(-beta), rel=0.2)


@pytest.mark.parametrize("beta", [4.0, 4.5, 4.753424])
def test_linear_limit_state_down_to_one_in_a_million_when_the_integrated_input_rules(beta):
    found = linear_by_threshold(np.sqrt([0.9, 0.05, 0.05]), beta)
    assert is_within(found.value, found.low, found.high, ndtr(-beta))
    assert found.value == pytest.approx(ndtr(-beta), rel=0.03)


def test_too_rare_for_the_samples_gives_no_interval():
    found = linear_by_threshold(np.full(6, 1 / np.sqrt(6)), 4.753424)
    assert np.isnan([found.low, found.high]).all()
    assert "one sample carries" in found.note


@pytest.mark.parametrize(("k", "published"), [(7, 2.2227950662e-3), (6, 4.4573314906e-3)])
def test_where_the_model_is_not_monotone_the_plain_count_stands_in(k, published):
    assert four_branches_exact(k) == pytest.approx(published, rel=1e-8)
    u = scores(16, 4096, 2, seed=6)
    nodes = np.linspace(-6.0, 6.0, 13)
    integrated = np.broadcast_to(nodes[:, None, None], (13, 16, 4096))
    across = np.broadcast_to(u[..., 1], integrated.shape)
    depths = -four_branches(np.stack([integrated, across], axis=-1), k)
    sound = trusted(depths, 1e-9)
    assert not sound.any()  # both ends go over: every ladder falls somewhere
    own = -four_branches(u, k)
    probabilities = tail_probability(critical(nodes, depths).value, lambda x: x, 0.0, 1.0)
    mended = mend(probabilities, sound, own)
    assert mended.replaced == own.size
    found = threshold(mended.probabilities)
    assert is_within(found.value, found.low, found.high, published)
    assert threshold(probabilities).value > 10 * published  # what trusting the ladder would have said


def test_a_share_of_bad_ladders_leaves_the_estimate_unbiased():
    toy, z = BLOCKAGE_RULES, scores(16, 2048, 6, seed=7)
    probabilities, own = conditional_probabilities(toy, z)
    sound = z[..., 1] < 1.0  # depends on the others only
    mended = mend(np.where(sound, probabilities, 0.77), sound, own)
    assert mended.replaced == np.count_nonzero(~sound)
    found = threshold(mended.probabilities)
    assert is_within(found.value, found.low, found.high, 1e-2)


def test_falls_failures_and_infinities_are_told_apart():
    levels = np.array(
        [[1.0, 2.0, 3.0], [2.6, 2.4, 3.0], [1.0, np.nan, 3.0], [1.0, np.inf, np.inf], [1.0, np.inf, 3.0]]
    ).T[:, None, :]
    assert trusted(levels - 2.5, 1e-3).tolist() == [[True, False, False, True, False]]
    assert trusted(levels - 2.5, 0.3).tolist() == [[True, True, False, True, False]]


def test_a_fall_counts_where_it_goes_through_the_bank_level_or_nearly():
    """A fall from 2.0 to 1.8 goes through these, and 0.2 further either way, where it may reach between the nodes."""
    levels = np.array([1.0, 2.0, 1.8, 3.0])
    banks = np.array([1.5, 1.59, 1.61, 1.9, 2.19, 2.21, 3.5])
    assert trusted(levels[:, None] - banks, 1e-3).tolist() == [True, True, False, False, False, True, True]
    lowest, highest = dips(levels[:, None], 1e-3)
    assert (lowest[0], highest[0]) == (pytest.approx(1.6), pytest.approx(2.2))


def test_a_slow_decline_is_a_fall_too():
    table = np.array([1.0, 0.96, 0.92, 0.88])[:, None]
    assert not falls(table[:2], 0.05)[0]
    assert falls(table, 0.05)[0]


def test_failed_samples_stay_nan_unless_their_own_run_is_good():
    depths = np.array([[-1.0, -1.0], [np.nan, np.nan], [1.0, 1.0]])[:, None, :]
    nodes = np.array([0.0, 0.5, 1.0])
    probabilities = tail_probability(critical(nodes, depths).value, lambda x: x, 0.0, 1.0)
    assert np.isnan(probabilities).all()
    mended = mend(probabilities, trusted(depths, 1e-3), np.array([[0.2, np.nan]]))
    assert mended.probabilities[0, 0] == 1.0
    assert np.isnan(mended.probabilities[0, 1])
    assert mended.replaced == 2


def test_bad_ladders_are_refused():
    good = np.zeros((3, 2, 4))
    with pytest.raises(DomainError, match="ascending"):
        critical(np.array([0.0, 1.0, 1.0]), good)
    with pytest.raises(DomainError, match="at least two nodes"):
        critical(np.array([0.0]), good[:1])
    with pytest.raises(DomainError, match="integrate over another input"):
        tail_probability(np.zeros(3), lambda x: x, 0.0, 0.0)
