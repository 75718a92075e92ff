"""Intervals: exact coverage by summing the binomial distribution, and coverage of repeated sampling."""

import numpy as np
import pytest
from known_answers import scores
from scipy import stats

from overbank.analysis.intervals import (
    least_half_width,
    lopsided_ends,
    order_statistic_quantile,
    over_replicates,
    replicated_quantile,
    share_over_replicates,
    wilson,
)
from overbank.errors import DomainError


def exact_coverage(interval, trials, probability):
    counts = np.arange(trials + 1)
    weight = stats.binom.pmf(counts, trials, probability)
    likely = counts[weight > 1e-12]
    found = [interval(int(count), trials) for count in likely]
    covers = np.array([e.low <= probability <= e.high for e in found])
    return float(np.sum(weight[likely] * covers))


# Exact coverage of a nominal 95 %, computed independently by summing the binomial distribution.
@pytest.mark.parametrize(
    ("trials", "probability", "covered"),
    [(1000, 0.01, 0.964), (1000, 0.001, 0.920), (10000, 0.001, 0.963), (16384, 1e-4, 0.974)],
)
def test_exact_coverage_of_the_binomial_interval(trials, probability, covered):
    assert exact_coverage(wilson, trials, probability) == pytest.approx(covered, abs=5e-4)


@pytest.mark.parametrize(("events", "trials"), [(1, 50), (7, 20), (49, 50), (300, 16384)])
def test_the_binomial_interval_agrees_with_scipy(events, trials):
    theirs = stats.binomtest(events, trials).proportion_ci(0.95, "wilson")
    estimate = wilson(events, trials)
    assert (estimate.low, estimate.high) == pytest.approx((theirs.low, theirs.high), rel=1e-9)


def test_no_event_gives_the_exact_one_sided_limit():
    # closed form: (1 - p)^n = 0.05; about 3/n
    estimate = wilson(0, 1000)
    assert (estimate.value, estimate.low) == (0.0, 0.0)
    assert (1 - estimate.high) ** 1000 == pytest.approx(0.05)
    assert "no event in 1000 samples" in estimate.note
    always = wilson(1000, 1000)
    assert always.low**1000 == pytest.approx(0.05)
    assert always.high == 1.0


@pytest.mark.parametrize(("events", "trials"), [(1, 0), (0, 0), (-1, 5), (6, 5)])
def test_impossible_counts_are_refused(events, trials):
    with pytest.raises(DomainError, match=f"{events} events in {trials} trials"):
        wilson(events, trials)


def test_student_t_over_replicates_agrees_with_scipy_and_covers():
    draws = np.random.default_rng(5).normal(2.0, 3.0, size=(4000, 8))
    found = [over_replicates(row, "test") for row in draws]
    theirs = stats.ttest_1samp(draws[0], 0.0).confidence_interval(0.95)
    assert (found[0].low, found[0].high) == pytest.approx((theirs.low, theirs.high))
    coverage = np.mean([e.low <= 2.0 <= e.high for e in found])
    assert coverage == pytest.approx(0.95, abs=4 * np.sqrt(0.95 * 0.05 / 4000))


def test_interval_of_a_probability_stays_between_0_and_1():
    estimate = over_replicates([0.0, 0.0, 0.01], "test", (0.0, 1.0))
    assert estimate.low == 0.0
    assert over_replicates([0.0, 0.0, 0.01], "test").low < 0.0


def test_one_replicate_has_no_interval_and_says_so():
    estimate = over_replicates([0.3], "test")
    assert estimate.value == 0.3
    assert np.isnan([estimate.low, estimate.high]).all()
    assert "no interval" in estimate.note


def test_lost_replicates_are_counted_and_all_lost_is_refused():
    estimate = over_replicates([1.0, np.nan, 3.0], "test")
    assert estimate.value == 2.0
    assert "1 of 3 replicates" in estimate.note
    with pytest.raises(DomainError, match="2 of nan"):
        over_replicates([np.nan, np.nan], "test")


def test_infinite_replicates_give_an_open_end_not_nan():
    some = over_replicates([1.0, 2.0, np.inf], "test")
    assert (some.value, some.low, some.high) == (2.0, 1.0, np.inf)
    assert "1 of 3 replicates are infinite" in some.note
    below = over_replicates([-np.inf, 2.0, 3.0], "test")
    assert (below.low, below.high) == (-np.inf, 3.0)
    everything = over_replicates([np.inf, np.inf], "test")
    assert (everything.value, everything.low, everything.high) == (np.inf, np.inf, np.inf)


@pytest.mark.parametrize(("count", "probability"), [(50, 0.5), (400, 0.95), (1000, 0.99)])
def test_order_statistics_cover_the_quantile(count, probability):
    # The coverage of ranks does not depend on the distribution: try it on uniform numbers.
    draws = np.random.default_rng(11).random((3000, count))
    found = [order_statistic_quantile(row, probability) for row in draws]
    coverage = np.mean([e.low <= probability <= e.high for e in found])
    assert 0.95 - 4 * np.sqrt(0.95 * 0.05 / 3000) <= coverage <= 0.98


def test_order_statistics_agree_with_scipys_quantile_interval():
    values = np.random.default_rng(2).lognormal(size=300)
    theirs = stats.quantile_test(values, q=0.0, p=0.9).confidence_interval(0.95)
    ours = order_statistic_quantile(values, 0.9)
    assert (ours.low, ours.high) == pytest.approx((theirs.low, theirs.high))


def test_too_small_a_sample_has_an_open_end():
    estimate = order_statistic_quantile(np.arange(20.0), 0.99)
    assert estimate.high == np.inf
    assert "too few" in estimate.note
    lowest = order_statistic_quantile(np.arange(20.0), 1e-12)
    assert (lowest.value, lowest.low) == (0.0, -np.inf)
    with_infinite = order_statistic_quantile(np.r_[np.arange(100.0), np.full(100, np.inf)], 0.75)
    assert with_infinite.value == np.inf
    assert not np.isnan([with_infinite.low, with_infinite.high]).any()


def test_quantile_over_scrambles_covers():
    # Six-dimensional additive load: exact quantile sqrt(6) Phi^-1(p).
    exact = np.sqrt(6) * stats.norm.ppf(0.9)
    inside = []
    for trial in range(150):
        found = replicated_quantile(scores(8, 128, 6, seed=trial).sum(axis=-1), 0.9)
        inside.append(found.low <= exact <= found.high)
    assert np.mean(inside) >= 0.95 - 4 * np.sqrt(0.95 * 0.05 / 150)
    assert np.mean(inside) <= 0.999


def test_too_few_replicated_samples_have_an_open_end():
    found = replicated_quantile(np.arange(40.0).reshape(2, 20), 0.99)
    assert (found.value, found.high) == (39.0, np.inf)
    assert "too few samples to bound" in found.note


def test_quantile_over_replicates_by_hand():
    """0 to 99 dealt to five: 8 to 12 of each lie at or below the median 49. Shares 0.40 to 0.60 have a standard
    deviation of 0.0791; Student's t with 4 degrees of freedom, 2.776 (tables), makes d = 0.0982, so that the ends are
    the 41st and the 60th number."""
    low, high = iter(range(50)), iter(range(50, 100))
    dealt = [[next(low) for _ in range(n)] + [next(high) for _ in range(20 - n)] for n in (8, 9, 10, 11, 12)]
    found = replicated_quantile(np.array(dealt, dtype=float), 0.5)
    assert (found.value, found.low, found.high) == (49.0, 40.0, 59.0)


def test_quantile_over_replicates_counts_failures_and_takes_infinity():
    values = np.array([[1.0, 2.0, np.inf, np.nan], [1.5, 2.5, np.inf, np.inf]])
    found = replicated_quantile(values, 0.9)
    assert found.value == np.inf
    assert found.high == np.inf
    assert "1 of 8 samples failed" in found.note
    assert not np.isnan([found.low, found.high]).any()
    assert np.isnan(replicated_quantile(values[:1], 0.5).low)


@pytest.mark.parametrize("quantile", [order_statistic_quantile, replicated_quantile])
def test_quantile_refuses_nonsense(quantile):
    with pytest.raises(DomainError, match="between 0 and 1"):
        quantile(np.arange(5.0), 1.0)
    with pytest.raises(DomainError, match="3 of nan"):
        quantile(np.full(3, np.nan), 0.5)


@pytest.mark.parametrize("replicates", [4, 16])
def test_replicates_that_may_hide_a_share_of_one_count_hold_it(replicates):
    """Each counts the events of a net of 256 points, k or k + 1: the truth is k + f, whatever f."""
    rng, points, least = np.random.default_rng(5), 256, 37
    for share in (0.003, 0.02, 0.08, 0.3, 0.5, 0.9, 0.99):
        counts = least + (rng.random((400, replicates)) < share)
        found = [share_over_replicates(each / points, points * replicates, "counts") for each in counts]
        truth = (least + share) / points
        assert np.mean([each.low <= truth <= each.high for each in found]) >= 0.90, share


def test_least_half_width_by_hand():
    """Of 16 replicates of 256, one more count in a share f of them: (1 - f)^16 = 0.05, f = 0.17075; f/256 = 6.67e-4."""
    assert float(least_half_width(16 * 256, 16)) == pytest.approx(0.17075 / 256, rel=1e-4)
    assert np.isnan(least_half_width(100, 1))


def test_the_lopsided_interval_solves_its_equation_and_is_student_t_without_skewness():
    replicates = np.random.default_rng(2).normal(size=9)
    mean, error = replicates.mean(), replicates.std(ddof=1) / 3.0
    straight = stats.t.interval(0.95, 8, mean, error)
    np.testing.assert_allclose(lopsided_ends(replicates, 0.0), straight)
    skewness = 0.4
    for end, quantile in zip(lopsided_ends(replicates, skewness), stats.t.ppf((0.975, 0.025), 8), strict=True):
        x = (mean - end) / error
        assert x + skewness * x**2 / 3.0 + skewness**2 * x**3 / 27.0 + skewness / 6.0 == pytest.approx(quantile)


def test_the_lopsided_interval_holds_the_mean_of_skewed_values_more_often():
    """Mean 1 of lognormal values (closed form), eight in each of sixteen replicates: of a skewness of 33."""
    rng, sd = np.random.default_rng(3), 1.5
    values = np.exp(rng.normal(size=(2000, 16, 8)) * sd - 0.5 * sd**2)
    straight, bent = [], []
    for each in values:
        means = each.mean(axis=1)
        low, high = lopsided_ends(means, float(stats.skew(each.ravel())) / each.size**0.5)
        bent.append(low <= 1.0 <= high)
        low, high = lopsided_ends(means, 0.0)
        straight.append(low <= 1.0 <= high)
    assert np.mean(straight) < 0.90
    assert np.mean(bent) > np.mean(straight) + 0.01
