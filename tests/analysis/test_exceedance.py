"""Exceedance curves against closed forms and independent reference values."""

import numpy as np
import pytest
from known_answers import (
    WIDE_LEVELS,
    WideChannel,
    is_within,
    river_depth,
    river_flow_score,
    river_inputs,
    river_overflow,
    scores,
    standard_error,
)
from scipy.special import ndtri

from overbank.analysis.bands import Curve
from overbank.analysis.exceedance import conditional, count, plain, plain_quantile, quantile, with_steps
from overbank.errors import DomainError


def wide_curve(channel, grid, samples=2048, nodes=16):
    z = scores(16, samples, 2, seed=41)
    rho, z_n = channel.correlation, z[..., 0]
    spread = np.sqrt(1 - rho**2)
    flows = 12 * np.exp(0.35 * np.linspace(-7, 7, nodes))
    own = channel.depth(12 * np.exp(0.35 * (rho * z_n + spread * z[..., 1])), z_n)
    found = conditional(
        [
            count(
                flows,
                channel.depth(flows[:, None, None], z_n),
                grid,
                score_below=channel.flow_score,
                conditional_mean=rho * z_n,
                conditional_spread=spread,
                own_levels=own,
                tolerance=1e-6,
            )
        ]
    )
    return found, own


# Closed form: ln h is normal; the figures were computed independently.
@pytest.mark.parametrize(
    ("correlation", "reference"),
    [
        (0.0, [0.36092109, 0.10052199, 0.0067934804, 3.4871568e-4, 1.7035692e-5]),
        (0.5, [0.38299648, 0.14255348, 0.019542448, 0.0022942343, 2.6532835e-4]),
    ],
)
def test_wide_channel(correlation, reference):
    channel = WideChannel(correlation)
    np.testing.assert_allclose(channel.exceedance(WIDE_LEVELS), reference, rtol=1e-7)
    by_ladder, own = wide_curve(channel, WIDE_LEVELS)
    counted = plain(own, WIDE_LEVELS)
    for found in (by_ladder, counted):
        errors = standard_error(found.low, found.high, 16)
        assert np.all(np.abs(found.probability - reference) <= 4 * errors + 2e-5 * np.array(reference))
    assert np.all(np.diff(by_ladder.probability) < 0)
    assert by_ladder.probability[4] == pytest.approx(reference[4], rel=0.15)  # 1 in 59 000 from 32 768 samples


def test_quantiles_of_the_wide_channel():
    channel, grid = WideChannel(), np.linspace(0.4, 4.0, 181)
    by_ladder, own = wide_curve(channel, grid)
    for probability in (0.5, 0.1, 0.01):
        exact = 1.100998135 * np.exp(0.241867732 * -ndtri(probability))  # median and log sd in closed form
        smooth, counted = quantile(by_ladder, probability), plain_quantile(own, probability, "sobol")
        assert abs(smooth.value - exact) <= 4 * standard_error(smooth.low, smooth.high, 16) + 1e-4
        assert is_within(counted.value, counted.low, counted.high, exact)
        assert smooth.high - smooth.low < counted.high - counted.low


@pytest.fixture(scope="module")
def river():
    z = scores(16, 4096, 8, seed=42)
    x = river_inputs(z)
    nodes = np.linspace(500.0, 3000.0, 11)
    at_nodes = [[np.full(z.shape[:2], flow), *x[1:]] for flow in nodes]
    return x, nodes, at_nodes


def river_curve(river, model, grid):
    x, nodes, at_nodes = river
    return conditional(
        [
            count(
                nodes,
                np.array([model(inputs) for inputs in at_nodes]),
                grid,
                score_below=river_flow_score,
                conditional_mean=0.0,
                conditional_spread=1.0,
                own_levels=model(x),
                tolerance=1e-9,
            )
        ]
    )


# Computed independently with 16 scrambles of 2^18 points and one input integrated out; its standard errors.
RIVER_S = np.array([-11.0, -10.0, -9.0, -8.0, -7.0, -6.0])
RIVER_P = np.array([0.5026514, 0.1893765, 0.0438302, 0.00638036, 5.53069e-4, 1.9459e-5])
RIVER_SE = np.array([2e-6, 2e-6, 2e-6, 1.4e-6, 8e-7, 2e-7])


def test_river_overflow_curve(river):
    found = river_curve(river, river_overflow, RIVER_S)
    errors = np.hypot(standard_error(found.low, found.high, 16), RIVER_SE)
    assert np.all(np.abs(found.probability - RIVER_P) <= 4 * errors)
    counted = plain(river_overflow(river[0]), RIVER_S)
    errors = np.hypot(standard_error(counted.low, counted.high, 16), RIVER_SE)
    assert np.all(np.abs(counted.probability - RIVER_P) <= 4 * errors)
    tighter = (found.high - found.low)[1:] < (counted.high - counted.low)[1:]
    assert tighter.all()


def test_river_depth_curve(river):
    # Computed independently with 10 scrambles of 2^19 points; its standard errors.
    reference = np.array([0.25693, 0.046367, 0.0047617, 1.303e-4])
    own_error = np.array([2.6e-5, 1.1e-5, 6.8e-6, 2.2e-6])
    found = river_curve(river, river_depth, np.array([3.0, 4.0, 5.0, 6.0]))
    errors = np.hypot(standard_error(found.low, found.high, 16), own_error)
    assert np.all(np.abs(found.probability - reference) <= 4 * errors)


@pytest.mark.parametrize(
    ("probability", "reference", "error"),
    [
        (0.5, -10.9929, 1e-3),
        (0.1, -9.5231, 1e-3),
        (0.05, -9.0786, 1e-3),
        (0.01, -8.2134, 1e-3),
        (0.001, -7.219, 3e-3),
    ],
)
def test_river_quantiles(river, probability, reference, error):
    # Computed independently with 10 scrambles of 2^19 points.
    smooth = quantile(river_curve(river, river_overflow, np.linspace(-14, -5, 226)), probability)
    counted = plain_quantile(river_overflow(river[0]), probability, "sobol")
    assert is_within(smooth.value, smooth.low, smooth.high, reference, error=error)
    assert is_within(counted.value, counted.low, counted.high, reference, error=error)


def test_bad_ladders_and_failures_fall_back_on_the_sampled_level():
    nodes = np.array([0.0, 0.5, 1.0])
    good, falling, failed = [1.0, 2.0, 3.0], [1.0, 3.0, 2.0], [1.0, np.nan, 3.0]
    levels = np.array([good, falling, failed, failed]).T[:, None, :].repeat(2, axis=1)
    own = np.array([[9.0, 2.6, 1.5, np.nan]]).repeat(2, axis=0)
    found = conditional(
        [
            count(
                nodes,
                levels,
                np.array([2.0]),
                score_below=ndtri,
                conditional_mean=0.0,
                conditional_spread=1.0,
                own_levels=own,
                tolerance=0.01,
            )
        ]
    )
    assert found.probability[0] == pytest.approx((0.5 + 1.0 + 0.0) / 3)
    assert "plain count in 4 samples" in found.note
    assert "2 of 8 samples failed" in found.note


def test_levels_without_bound_exceed_everything():
    grid = np.array([1.0, 10.0, 1000.0])
    counted = plain(np.array([[0.5, 5.0, np.inf, np.inf]] * 2), grid)
    assert counted.probability.tolist() == [0.75, 0.5, 0.5]
    levels = np.array([[1.0], [2.0], [np.inf]])[:, :, None].repeat(4, axis=1)
    found = conditional(
        [
            count(
                np.array([0.0, 0.5, 1.0]),
                levels,
                grid,
                score_below=ndtri,
                conditional_mean=0.0,
                conditional_spread=1.0,
                own_levels=np.ones((4, 1)),
                tolerance=0.01,
            )
        ]
    )
    # Between the last finite node, 0.5, and the infinite one the level grows like A + B/(1 - x)^2 (B = 1/3), so that
    # P(H > h) = P(1 - X < 1/sqrt(4 + 3 (h - 2))) for uniform X (closed form).
    assert found.probability == pytest.approx([1.0, 28.0**-0.5, 2998.0**-0.5])
    above = quantile(found, 0.01)
    assert above.value == np.inf
    assert above.high == np.inf
    assert "above the range looked at" in above.note
    assert plain_quantile(np.array([[0.5, 5.0, np.inf, np.inf]] * 2), 0.3, "sobol").value == np.inf


def test_pieces_do_not_change_the_result(monkeypatch):
    channel, grid = WideChannel(0.5), np.linspace(0.5, 3.0, 11)
    whole, _ = wide_curve(channel, grid, samples=64)
    monkeypatch.setattr("overbank.analysis.exceedance.PIECE", 100)
    monkeypatch.setenv("OVERBANK_THREADS", "1")
    pieces, _ = wide_curve(channel, grid, samples=64)
    np.testing.assert_allclose(pieces.replicates, whole.replicates, rtol=1e-13)


def test_plain_counts_failures_and_bounds_an_empty_tail():
    levels = np.random.default_rng(6).normal(size=(4, 100))
    levels[2, :7] = np.nan
    found = plain(levels, np.array([0.0, 50.0]))
    assert "7 of 400 samples failed" in found.note
    assert found.probability[1] == 0.0
    assert found.high[1] == pytest.approx(1 - 0.05 ** (1 / 393))
    independent = plain_quantile(levels, 0.5, "monte_carlo")
    assert "order statistics" in independent.method
    assert "7 of 400 samples failed" in independent.note


def test_quantiles_off_the_grid_and_single_replicates():
    grid = np.array([0.0, 1.0, 2.0])
    rows = np.array([[0.9, 0.5, 0.2], [0.8, 0.4, 0.1], [0.85, 0.45, 0.15]])
    curve = Curve(grid, rows.mean(axis=0), rows.min(axis=0), rows.max(axis=0), rows, "test")
    inside = quantile(curve, 0.45)
    assert inside.value == pytest.approx(1.0)
    assert inside.low < 1.0 < inside.high
    below, above = quantile(curve, 0.95), quantile(curve, 0.05)
    assert (below.value, above.value) == (-np.inf, np.inf)
    assert "below the range" in below.note
    near = quantile(curve, 0.16)
    assert np.isfinite(near.value)
    assert near.high == np.inf
    assert "an end of the interval" in near.note
    single = quantile(Curve(grid, rows[0], rows[0], rows[0], rows[:1], "test"), 0.45)
    assert np.isnan([single.low, single.high]).all()
    for probability in (0.0, 1.0):
        with pytest.raises(DomainError, match="between 0 and 1"):
            quantile(curve, probability)


def test_no_sample_left_is_refused():
    lost = np.full((2, 3), np.nan)
    with pytest.raises(DomainError, match="no sample left"):
        plain(lost, WIDE_LEVELS)
    with pytest.raises(DomainError, match="no sample left"):
        conditional(
            [
                count(
                    np.array([0.0, 1.0]),
                    np.full((2, 2, 3), np.nan),
                    WIDE_LEVELS,
                    score_below=ndtri,
                    conditional_mean=0.0,
                    conditional_spread=1.0,
                    own_levels=lost,
                    tolerance=0.01,
                )
            ]
        )


# Levels that only a few values can have: 33.00 with 0.70, 33.034 with 0.18 and 33.2 with 0.12 (closed form).
LEVELS, CHANCES = np.array([33.0, 33.034, 33.2]), np.array([0.70, 0.18, 0.12])


def discrete_levels(replicates, samples, seed):
    u = np.random.default_rng(seed).random((replicates, samples))
    return LEVELS[np.searchsorted(np.cumsum(CHANCES)[:-1], u)]


@pytest.mark.parametrize(("probability", "exact"), [(0.2, 33.034), (0.5, 33.0), (0.05, 33.2), (0.14, 33.034)])
def test_quantile_of_discrete_levels_is_one_of_them(probability, exact):
    levels = discrete_levels(16, 512, 3)
    curve = plain(levels, np.linspace(32.9, 33.3, 23))
    assert quantile(curve, probability).value != pytest.approx(exact, abs=1e-6)  # between levels of the grid
    found = quantile(curve, probability, levels)
    assert found.value == pytest.approx(exact, abs=1e-12)
    assert is_within(found.value, found.low, found.high, exact)


def test_levels_that_the_grid_holds_are_steps_as_well():
    # A straight line up from the level of the grid before would give a level that no sample has.
    levels = discrete_levels(16, 512, 3)
    curve = plain(levels, np.unique([*np.linspace(32.9, 33.3, 23), *LEVELS]))
    for probability, exact in ((0.2, 33.034), (0.5, 33.0), (0.05, 33.2)):
        assert quantile(curve, probability, levels).value == pytest.approx(exact, abs=1e-12)


def test_interval_of_a_discrete_quantile_holds_the_truth_and_widens_at_an_edge():
    # 0.12 of the samples are at 33.2: the level exceeded with 0.12 is 33.034, with any less 33.2.
    held, both = 0, 0
    for seed in range(200):
        levels = discrete_levels(8, 64, seed)
        found = quantile(plain(levels, np.linspace(32.9, 33.3, 23)), 0.12, levels)
        held += found.low <= 33.034 + 1e-9 and found.high >= 33.034 - 1e-9
        both += found.high > found.low + 0.1
    assert held >= 180
    assert both >= 150  # so near to an edge the interval says that it may be either


def test_lumps_among_other_levels_take_their_share():
    # Half of the samples at 31.0, the others normal: P(H > 31) = 0.25 (1 of 2 halves), P(H >= 31) = 0.75.
    rng = np.random.default_rng(5)
    levels = np.where(rng.random((16, 4096)) < 0.5, 31.0, rng.normal(31.0, 0.5, (16, 4096)))
    curve = with_steps(plain(levels, np.linspace(29.0, 33.03, 40)), levels)
    at = np.flatnonzero(curve.at == 31.0)[0]
    assert curve.probability[at - 1 : at + 1] == pytest.approx([0.75, 0.25], abs=0.01)
    assert np.all(np.diff(curve.probability) <= 0.0)
    assert quantile(curve, 0.5, levels).value == pytest.approx(31.0, abs=1e-12)


def test_levels_that_all_differ_leave_the_curve_as_it_is():
    _, own = wide_curve(WideChannel(), np.linspace(0.4, 4.0, 91))
    curve = plain(own, np.linspace(0.4, 4.0, 91))
    assert with_steps(curve, own) is curve


def test_levels_where_full_blockage_leaves_no_way_through():
    """A closing opening (invented): level 30 + q^2/(1 - b)^2, endless where it is shut; b uniform, with 2 % shut.

    Truth by total probability: H > h where b > 1 - q/sqrt(h - 30), over SciPy's lognormal flows.
    """
    nodes = np.array([0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0])
    flow = 0.2 * np.exp(0.3 * scores(16, 256, 1, seed=7)[..., 0])
    u = np.random.default_rng(8).random(flow.shape)

    def level(blockage):
        with np.errstate(divide="ignore"):
            return np.where(blockage >= 1.0, np.inf, 30.0 + flow**2 * (1.0 - np.minimum(blockage, 1.0)) ** -2.0)

    def score_below(blockage):
        return ndtri(0.98 * np.clip(blockage, 0.0, 1.0))

    table = np.array([level(np.full(flow.shape, node)) for node in nodes])
    own = level(np.where(u > 0.98, 1.0, u / 0.98))
    grid = np.linspace(30.0, 60.0, 1501)
    curve = conditional([count(nodes, table, grid, score_below=score_below, own_levels=own, tolerance=1e-6)])
    q = 0.2 * np.exp(0.3 * ndtri((np.arange(20_000) + 0.5) / 20_000))
    exact = [1.0 - 0.98 * np.mean(np.clip(1.0 - q / np.sqrt(h - 30.0), 0.0, 1.0)) for h in grid[1:]]
    np.testing.assert_allclose(curve.probability[1:], exact, atol=0.006)
    for probability in (0.2, 0.1):
        truth = np.interp(-probability, -np.array(exact), grid[1:])
        assert quantile(curve, probability).value == pytest.approx(truth, abs=0.02 * (truth - 30.0) + 0.02)
