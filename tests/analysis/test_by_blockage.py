"""Overtopping by blockage against closed forms of the toy crossing, set and given."""

import numpy as np
import pytest
from known_answers import TOY_NODES, Toy, scores, standard_error
from scipy import stats
from scipy.special import ndtr, ndtri

from overbank.analysis.by_blockage import curve, given, grid, largest_within
from overbank.analysis.ladder import critical
from overbank.analysis.polish import polish
from overbank.errors import DomainError

GRID = np.array([0.0, 0.1, 0.3, 0.5, 0.7, 0.9])


def critical_blockages(toy, z):
    load = toy.load(z)
    crossing = critical(TOY_NODES, toy.depth_over_bank(TOY_NODES[:, None, None], load))
    flat = load.ravel()
    return polish(lambda b, sample: toy.depth_over_bank(b, flat[sample]), crossing, 1e-7).value


@pytest.fixture(scope="module")
def sampled():
    toy = Toy(1.0, 1.0, correlation=0.5)
    z = scores(16, 2048, 5, seed=31)
    return toy, z, critical_blockages(toy, z)


def test_set_blockage(sampled):
    toy, _, found = sampled
    spread = np.sqrt(np.sum(toy.sigma**2))
    exact = ndtr((-np.log1p(-GRID) - toy.limit) / spread)
    result = curve(found, GRID)
    errors = standard_error(result.low, result.high, 16)
    assert np.all(np.abs(result.probability - exact) <= 4 * errors)
    assert np.all(np.diff(result.probability) > 0)
    assert result.table("blockage").columns.tolist() == ["blockage", "probability", "low", "high"]


def test_given_blockage_with_dependence(sampled):
    toy, z, found = sampled
    grid = GRID[1:5]
    result = given(
        found,
        grid,
        score_at=toy.score(grid),
        score_below=toy.score_below(grid),
        conditional_mean=0.5 * z[..., 0],
        spread=np.sqrt(0.75),
    )
    exact = toy.given_score(toy.score(grid))
    errors = standard_error(result.low, result.high, 16)
    assert np.all(np.abs(result.probability - exact) <= 4 * errors)
    set_by_hand = curve(found, grid).probability
    assert result.probability[2] > 1.5 * set_by_hand[2]  # much debris: probably a large flood
    assert np.all(result.effective < found.size)
    assert result.effective[0] > result.effective[3] > 100


def test_given_clean_as_an_atom():
    # P(over | clean): the score of the blockage lies below Phi^-1(p0); both sides by quadrature.
    toy = Toy(1.0, 0.8, clean=0.7, correlation=0.5)
    z = scores(16, 2048, 5, seed=32)
    grid = np.array([0.0, 0.2])
    result = given(
        critical_blockages(toy, z),
        grid,
        score_at=toy.score(grid),
        score_below=toy.score_below(grid),
        conditional_mean=0.5 * z[..., 0],
        spread=np.sqrt(0.75),
    )
    exact = [toy.exact(high=float(ndtri(0.7))) / 0.7, toy.given_score(toy.score(grid)[1])]
    errors = standard_error(result.low, result.high, 16)
    assert np.all(np.abs(result.probability - exact) <= 4 * errors)


def test_weights_of_an_atom_far_out_keep_their_digits():
    # Two samples, blockage an atom at the top with probability Phi(-9): weights by scipy's survival function.
    mean = np.array([[0.0, 0.5], [0.0, 0.5]])
    result = given(
        np.array([[0.2, 2.0], [0.2, 2.0]]),
        np.array([1.0]),
        score_at=np.array([np.inf]),
        score_below=np.array([9.0]),
        conditional_mean=mean,
        spread=0.8,
    )
    weights = stats.norm.sf((9.0 - mean[0]) / 0.8)
    assert result.probability[0] == pytest.approx(weights[0] / weights.sum(), rel=1e-9)


def test_given_equals_set_when_independent(sampled):
    toy, _, found = sampled
    result = given(
        found,
        GRID,
        score_at=toy.score(GRID),
        score_below=toy.score_below(GRID),
        conditional_mean=np.zeros(found.shape),
        spread=1.0,
    )
    assert np.array_equal(result.probability, curve(found, GRID).probability)
    assert np.all(result.effective == found.size)


def test_nothing_is_claimed_where_no_sample_speaks(sampled):
    toy, z, found = sampled
    result = given(
        found,
        GRID,
        score_at=toy.score(GRID),
        score_below=toy.score_below(GRID),
        conditional_mean=0.5 * z[..., 0],
        spread=np.sqrt(0.75),
    )
    assert np.isnan([result.probability[0], result.low[0], result.high[0]]).all()  # b = 0 without an atom
    assert result.effective[0] == 0.0
    assert "effective samples" in result.note


def test_largest_allowed_blockage_is_the_quantile_of_the_closed_form(sampled):
    toy, _, found = sampled
    spread = np.sqrt(np.sum(toy.sigma**2))
    for target in (0.05, 0.2, 0.5):
        exact = -np.expm1(-(toy.limit + spread * ndtri(target)))
        allowed = largest_within(found, target)
        assert abs(allowed.value - exact) <= 4 * standard_error(allowed.low, allowed.high, 16)
        assert allowed.note == ""
        assert curve(found, np.array([allowed.value])).probability[0] == pytest.approx(target, abs=1e-3)


def test_where_none_exists_nothing_is_given():
    always, never = np.full((4, 16), -np.inf), np.full((4, 16), np.inf)
    none = largest_within(always, 0.05)
    assert np.isnan([none.value, none.low, none.high]).all()
    assert none.note.startswith("none: even clean exceeds the target")
    every = largest_within(never, 0.05)
    assert (every.value, every.low, every.high) == (1.0, 1.0, 1.0)
    assert every.note.startswith("even fully blocked meets the target")
    barely = np.where(np.arange(64) < 4, -np.inf, 0.3).reshape(16, 4).T  # 1 in 16 over when clean, by chance
    assert np.isnan(largest_within(barely, 0.05).value)
    assert largest_within(barely, 0.05).high == pytest.approx(0.3)


def test_the_largest_is_looked_for_from_0_to_1(sampled):
    # The blockage is assumed to be anywhere; set to, it is the quantile of the closed form.
    toy, _, found = sampled
    spread = np.sqrt(np.sum(toy.sigma**2))
    for target in (0.05, 0.5, 0.99):
        exact = -np.expm1(-(toy.limit + spread * ndtri(target)))
        allowed = largest_within(found, target)
        assert abs(allowed.value - exact) <= 4 * standard_error(allowed.low, allowed.high, 16)
    alike = largest_within(found, 0.2, np.full(found.shape, 1.0 / found.size))
    assert alike.value == pytest.approx(largest_within(found, 0.2).value, abs=1e-4)
    doubled = np.where(found > np.median(found), 2.0, 1.0)
    # twice the weight above the median: the 0.2 quantile is that of 0.3 (closed form)
    assert largest_within(found, 0.2, doubled / doubled.sum()).value == pytest.approx(
        largest_within(found, 0.3).value, abs=1e-3
    )


def test_weighted_samples_count_by_their_weight():
    critical = np.array([[0.2, 0.4, 0.6, np.nan], [0.2, 0.4, 0.6, 0.8]])
    weights = np.array([[1.0, 2.0, 3.0, 9.0], [1.0, 2.0, 3.0, 4.0]])
    found = curve(critical, np.array([0.1, 0.5, 0.9]), weights)
    assert found.probability == pytest.approx([0.0, 6.0 / 16.0, 1.0])
    assert "1 of 8 samples failed" in found.note
    alike = curve(critical, np.array([0.1, 0.5, 0.9]), np.ones((2, 4)))
    assert alike.probability == pytest.approx([0.0, 4.0 / 7.0, 1.0])


def test_the_grid_spans_0_to_1_with_the_lumps():
    places = grid((0.333, 1.0))
    assert (places[0], places[-1], places.size) == (0.0, 1.0, 102)
    assert 0.333 in places


def test_failures_are_counted():
    values = np.tile(np.linspace(0.05, 0.95, 10), (3, 1))
    values[1, 3] = np.nan
    result = curve(values, np.array([0.5]))
    assert "1 of 30 samples failed" in result.note
    assert result.replicates[1, 0] == pytest.approx(4 / 9)
    dependent = given(
        values,
        np.array([0.5]),
        score_at=np.zeros(1),
        score_below=np.zeros(1),
        conditional_mean=np.linspace(0, 1, 30).reshape(3, 10),
        spread=0.9,
    )
    assert "1 of 30 samples failed" in dependent.note


def test_certain_ends_of_the_curve_keep_an_open_band():
    result = curve(np.full((4, 25), 0.5), np.array([0.4, 0.6]))
    assert result.probability.tolist() == [0.0, 1.0]
    assert result.high[0] == pytest.approx(1 - 0.05**0.01)
    assert result.low[1] == pytest.approx(0.05**0.01)


def test_nonsense_is_refused(sampled):
    _, _, found = sampled
    with pytest.raises(DomainError, match="that rise"):
        curve(found, np.array([0.5, 0.5]))
    with pytest.raises(DomainError, match="no sample left"):
        curve(np.full((2, 3), np.nan), GRID)
    with pytest.raises(DomainError, match="spread above 0"):
        given(found, GRID, score_at=GRID, score_below=GRID, conditional_mean=found, spread=0.0)
    with pytest.raises(DomainError, match="between 0 and 1"):
        largest_within(found, 0.0)
