"""Annual probabilities against closed forms and quadrature."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import quad
from scipy.special import ndtr, ndtri
from scipy.stats import beta, genextreme, gumbel_r, multivariate_normal, norm

from overbank.analysis import annual, inner, rare
from overbank.analysis.intervals import Estimate
from overbank.errors import DomainError
from overbank.uncertain.blockage_models import InflatedBetaModels
from overbank.uncertain.bounded import InflatedBeta
from overbank.uncertain.dependence import Copula
from overbank.uncertain.distributions import Normal
from overbank.uncertain.extremes import GeneralisedExtremeValue, Gumbel
from overbank.uncertain.fitting import fit
from overbank.uncertain.floods import fitted_floods
from overbank.uncertain.nested import nested_scores, net_shifts, weighted_floods
from overbank.uncertain.parameters import UncertainParameters, chosen

Array = NDArray[np.float64]

# A crest at 10.6 m against stages that are Gumbel(8.5, 0.4) [m], with a knowledge error of 0.25 m in the stage.
CREST, STAGE, ERROR = 10.6, Gumbel(8.5, 0.4), 0.25


def stages() -> Array:
    """Annual probability of each state (R, S) of the linear model: the stage alone, and its error."""
    z = nested_scores("sobol", 512, 1, 1, 0, seed=1, replicates=8)[..., 0]
    return inner.by_state(annual.exceedance(STAGE.score_below(CREST - ERROR * z), 0.0, 1.0))


def exceeded(error: float) -> float:
    """P(stage + error > crest), SciPy's Gumbel."""
    return float(gumbel_r.sf(CREST - error, 8.5, 0.4))


def mean(of: Callable[[Array], Array]) -> Array:
    """Mean of a function of a standard normal number along its last axis, by Gauss-Hermite quadrature."""
    at, weights = np.polynomial.hermite_e.hermegauss(80)
    return np.asarray(of(at) @ (weights / weights.sum()))


def near(found: Estimate, exact: float, rel: float = 1e-3) -> None:
    """The value is near the exact one, and the interval is not wider than that."""
    assert found.value == pytest.approx(exact, rel=rel)
    assert found.low <= found.value <= found.high
    assert found.high - found.low < 8 * rel * exact


def test_expected_probability_of_a_linear_model() -> None:
    # closed form at the best estimate: 1 - exp(-exp(-(10.6 - 8.5)/0.4)); quadrature for the expected one
    assert exceeded(0.0) == pytest.approx(0.00523377, rel=1e-5)
    exact = quad(lambda z: norm.pdf(z) * exceeded(ERROR * z), -9, 9)[0]
    assert exact == pytest.approx(0.00634943, rel=1e-5)
    near(annual.expected(stages()), exact)


def test_quantiles_over_knowledge_of_a_linear_model() -> None:
    found = annual.over_knowledge(stages())
    for share, estimate in found.items():
        near(estimate, exceeded(ERROR * float(ndtri(share))), 0.01)  # monotone in the error: closed form


@pytest.mark.parametrize("years", [1, 30, 100])
def test_over_years_what_is_not_known_stays_the_same(years: int) -> None:
    exact = quad(lambda z: norm.pdf(z) * -np.expm1(years * np.log1p(-exceeded(ERROR * z))), -9, 9)[0]
    found = annual.over_years(stages(), years)
    near(found, exact)
    shortcut = 1.0 - (1.0 - annual.expected(stages()).value) ** years
    assert found.value < shortcut or years == 1  # Jensen's inequality


@pytest.mark.parametrize(("probability", "printed"), [(0.01, 0.26), (0.1, 0.96)])
def test_thirty_years(probability: float, printed: float) -> None:
    # Institute for Water Resources, USACE, page of questions on flood risk: "26 %" and "96 %" in 30 years
    # (read in the source).
    assert annual.over_years(np.full((2, 4), probability), 30).value == pytest.approx(printed, abs=0.005)


def test_certain_and_impossible() -> None:
    always, never = annual.over_years(np.ones((2, 4)), 7), annual.over_years(np.zeros((2, 4)), 7)
    assert (always.value, always.high) == (1.0, 1.0)
    assert (never.value, never.low) == (0.0, 0.0)
    assert [never.high, 1.0 - always.low] == pytest.approx([1.0 - 0.05 ** (1 / 8)] * 2)  # closed form: none of 8 states
    ends = annual.exceedance(np.array([-np.inf, np.inf, np.nan]), 0.3, 0.9)
    assert np.array_equal(ends, [1.0, 0.0, np.nan], equal_nan=True)
    with pytest.raises(DomainError, match="spread above 0"):
        annual.exceedance(np.zeros(2), 0.0, 0.0)


def test_blockage_in_each_flood_against_a_lognormal_capacity() -> None:
    # Capacity q* = 6 exp(0.2 x - 0.3 y) with knowledge x and each flood's y; GEV floods. Quadrature over both.
    flow = GeneralisedExtremeValue(3.0, 1.0, -0.1)
    z = nested_scores("sobol", 64, 32, 1, 2, seed=4, replicates=16, nets=2)
    z, weights = weighted_floods(z, Copula.from_rank_correlations("xyq", {}), {1: Normal(0.0, 1.0)})
    capacity = 6.0 * np.exp(0.2 * z[..., 0] - 0.3 * z[..., 1])
    each = annual.exceedance(flow.score_below(capacity), 0.0, 1.0)
    states, variance = inner.told(each, weights)

    def in_state(x: Array, debris: float = 0.3) -> Array:
        return mean(lambda y: genextreme.sf(6.0 * np.exp(0.2 * x[:, None] - debris * y), -0.1, 3.0, 1.0))

    exact = mean(in_state)
    near(annual.expected(states), exact, 2e-3)
    over_years = annual.over_years(states, 50, variance)
    near(over_years, mean(lambda x: -np.expm1(50 * np.log1p(-in_state(x)))), 1e-3)
    near(annual.over_knowledge(states, variance)[0.95], float(in_state(ndtri([0.05]))[0]), 0.02)
    clean = inner.by_state(annual.exceedance(flow.score_below(6.0 * np.exp(0.2 * z[:, :, :1, 0])), 0.0, 1.0))
    near(annual.times_as_likely(states, clean), exact / mean(lambda x: in_state(x, 0.0)), 3e-3)


def test_debris_that_goes_with_the_flood() -> None:
    # Normal floods and capacity: P(z + y > 4), correlation 0.6 between them: Phi(-4/sqrt(2 + 1.2)), closed form.
    y = nested_scores("sobol", 256, 16, 0, 1, seed=4, replicates=8)[..., 0]
    found = annual.expected(inner.by_state(annual.exceedance(4.0 - y, 0.6 * y, 0.8)))
    near(found, float(ndtr(-4.0 / np.sqrt(3.2))), 5e-3)


def test_assurance_of_a_linear_model() -> None:
    # closed form: stage of the 1 % flood 10.3401 m, so Phi((10.6 - 10.3401)/0.25) = 0.850775
    z = nested_scores("sobol", 1024, 1, 1, 0, seed=2, replicates=8)
    level = float(gumbel_r.isf(0.01, 8.5, 0.4)) + ERROR * z[..., 0]
    found = annual.assurance(level - CREST)
    assert found.value == pytest.approx(0.850775, abs=1e-3)
    assert found.low < 0.850775 < found.high


def test_assurance_with_three_states_of_blockage() -> None:
    # Median level 10.0, sd 0.30 of the flow and 0.25 of the hydraulics, crest 10.6; rises of 0, 0.2 and 0.9 m in 0.6,
    # 0.3 and 0.1 of the floods. Total probability: 0.838934 (closed form); 0.875 at the mean rise would be wrong.
    sd, rises, shares = float(np.hypot(0.30, 0.25)), np.array([0.0, 0.2, 0.9]), np.array([0.6, 0.3, 0.1])
    exact = float(shares @ ndtr((10.6 - 10.0 - rises) / sd))
    assert exact == pytest.approx(0.838934, abs=1e-6)
    z = nested_scores("sobol", 512, 16, 1, 1, seed=3, replicates=8)
    rise = rises[np.searchsorted(np.cumsum(shares)[:2], ndtr(z[..., 1]))]
    assert annual.assurance(10.0 + sd * z[..., 0] + rise - 10.6).value == pytest.approx(exact, abs=2e-3)


def test_assurance_that_never_or_always_fails_has_an_exact_limit() -> None:
    held, lost = annual.assurance(np.full((4, 25, 2), -1.0)), annual.assurance(np.full((4, 25, 2), np.inf))
    # closed form: 0.05^(1/n) over the 100 states
    assert (held.value, held.low, held.high) == pytest.approx((1.0, 0.05 ** (1 / 100), 1.0))
    assert (lost.value, lost.low, lost.high) == pytest.approx((0.0, 0.0, 1.0 - 0.05 ** (1 / 100)))


def test_failed_runs_are_left_out_and_counted() -> None:
    depths = np.full((4, 25, 2), -1.0)
    depths[0, :5, 0], depths[:, ::2, 1], depths[1, 3] = np.nan, 1.0, np.nan
    found = annual.counted(depths)
    assert found.failed == 7
    assert found.samples == 99
    assert "7 of 200 runs failed" in found.note
    with pytest.raises(DomainError, match="All runs of the site failed"):
        annual.counted(np.full((2, 3, 1), np.nan))


def test_a_state_is_the_mean_of_its_floods_that_have_a_number() -> None:
    table = np.array([[[0.2, np.nan], [np.nan, np.nan], [0.1, 0.3]]])
    assert np.allclose(inner.by_state(table), [[0.2, np.nan, 0.2]], equal_nan=True)


def test_return_period_turns_the_interval_round() -> None:
    found = annual.return_period(Estimate(0.02, 0.01, 0.025, "m"))
    assert (found.value, found.low, found.high) == pytest.approx((50.0, 40.0, 100.0))
    assert annual.return_period(Estimate(0.01, 0.0, 0.02, "m")).high == np.inf


def test_no_ratio_where_nothing_goes_over_unblocked() -> None:
    found = annual.times_as_likely(np.full((2, 3), 0.1), np.array([[0.0, 0.0, 0.0], [0.1, 0.1, 0.1]]))
    assert np.isnan(found.value)
    assert "never goes over in some replicate" in found.note


def test_frequency_of_levels_of_a_linear_model() -> None:
    # Level = flow + 0.3 x + 0.2 y: the probability of each level by quadrature over x and y.
    flow = Gumbel(8.0, 0.5)
    z = nested_scores("sobol", 64, 16, 1, 1, seed=6, replicates=8)
    added = 0.3 * z[..., 0] + 0.2 * z[..., 1]
    nodes = np.linspace(0.0, 30.0, 31)
    levels = nodes[:, None, None, None] + added
    own = flow.value(np.random.default_rng(1).standard_normal(added.shape)) + added
    trusted = np.ones(added.shape, dtype=bool)
    grid = np.array([8.0, 9.0, 10.0, 11.0])

    def probability(flows: Array) -> Array:
        return annual.exceedance(flow.score_below(flows), 0.0, 1.0)

    found = annual.level_frequency(nodes, levels, grid, probability, (own, trusted))
    for level, value, high in zip(grid, found.expected.probability, found.knowledge[0.95], strict=True):

        def in_state(x: Array, level: float = level) -> Array:
            return mean(lambda y: gumbel_r.sf(level - 0.3 * x[:, None] - 0.2 * y, 8.0, 0.5))

        assert value == pytest.approx(float(mean(in_state)), rel=0.01)
        assert high == pytest.approx(float(in_state(ndtri([0.95]))[0]), rel=0.05)
    counted = annual.level_frequency(nodes, levels, grid, probability, (own, ~trusted))
    assert np.allclose(counted.expected.probability, np.mean(own[..., None] > grid, axis=(0, 1, 2)))


def test_the_quadratures_themselves() -> None:
    # The correlated pair once more, by SciPy's bivariate normal: P(u < -a) with u = z + y.
    joint = multivariate_normal([0.0, 0.0], [[1.0, 0.6], [0.6, 1.0]])
    sample = joint.rvs(size=200_000, random_state=1)
    counted = float(np.mean(sample.sum(axis=1) > 4.0))
    assert counted == pytest.approx(float(ndtr(-4.0 / np.sqrt(3.2))), abs=4 * np.sqrt(0.0127 / 200_000))


# A crossing (invented): capacity 8 exp(0.15 x) (1 - b)^0.7 m3/s with knowledge x and each flood's blockage b, and none
# at all where the screen is shut; annual maxima are Gumbel(3, 1). Truth by quadrature over both.
def crossing_capacity(x: Array, blockage: Array) -> Array:
    return np.where(blockage >= 1.0, -np.inf, 8.0 * np.exp(0.15 * x) * (1.0 - np.minimum(blockage, 1.0)) ** 0.7)


def crossing(screen: InflatedBeta, known: float, states: int, floods: int, seed: int) -> tuple[Array, Array]:
    """Annual probability of every state (R, S), and the variance of its inner error; x times `known`."""
    copula = Copula.from_rank_correlations(("x", "b", "q"), {})
    z = nested_scores("sobol", states, floods, 1, 2, seed, 16, nets=2)
    shifts = net_shifts(z[..., 1:2], 2)
    z, weights = weighted_floods(z, copula, {1: screen})
    capacity = crossing_capacity(known * z[..., 0], screen.value(z[..., 1]))
    each = annual.exceedance(STREAM.score_below(capacity), 0.0, 1.0)
    return inner.told(each, weights, shifts)


def crossing_truth(screen: InflatedBeta, x: float) -> float:
    """P(over in a year | x): lumps by themselves, and SciPy's beta between them."""

    def over(b: float) -> float:
        return float(beta.pdf(b, screen.a, screen.b) * gumbel_r.sf(8.0 * np.exp(0.15 * x) * (1.0 - b) ** 0.7, 3.0, 1.0))

    parts = quad(over, 0.0, 1.0, epsabs=1e-10)[0]
    clean = gumbel_r.sf(8.0 * np.exp(0.15 * x), 3.0, 1.0)
    return float(screen.at_one + screen.at_zero * clean + (1.0 - screen.at_one - screen.at_zero) * parts)


STREAM = Gumbel(3.0, 1.0)
SHUT = InflatedBeta(0.95, 2.0, 2.0, 0.05)
DEBRIS = InflatedBeta(0.2, 1.5, 2.5, 0.01)


@pytest.mark.parametrize(("states", "floods"), [(4, 32), (16, 8), (128, 32)])
def test_where_nothing_is_unknown_the_band_is_one_point(states: int, floods: int) -> None:
    """A screen that shuts in 5 % of the floods and else is clean: 2048 samples and 65536."""
    found, variance = crossing(SHUT, 0.0, states, floods, 1)
    exact = 0.05 + 0.95 * float(gumbel_r.sf(8.0, 3.0, 1.0))  # total probability, closed form
    assert annual.expected(found).value == pytest.approx(exact, rel=1e-9)
    for estimate in annual.over_knowledge(found, variance).values():
        assert (estimate.value, estimate.low, estimate.high) == pytest.approx([exact] * 3, rel=1e-6)
        assert "nothing that is the same in all floods matters here" in estimate.note
    assert annual.over_years(found, 50, variance).value == pytest.approx(1.0 - (1.0 - exact) ** 50, rel=1e-9)


@pytest.mark.parametrize(("states", "floods", "width"), [(4, 32, 2e-3), (128, 32, 2e-3), (128, 16, 0.01)])
def test_inner_noise_is_no_lack_of_knowledge(states: int, floods: int, width: float) -> None:
    """All blockages, and nothing unknown: the band closes on the truth."""
    found, variance = crossing(DEBRIS, 0.0, states, floods, 1)
    exact = crossing_truth(DEBRIS, 0.0)
    band = annual.over_knowledge(found, variance)
    for estimate in band.values():
        assert estimate.value == pytest.approx(exact, rel=width)
        assert estimate.low * (1.0 - 1e-6) <= exact <= estimate.high * (1.0 + 1e-6)
    assert annual.over_years(found, 50, variance).value == pytest.approx(1.0 - (1.0 - exact) ** 50, abs=2e-4)


def test_noise_of_plain_floods_is_corrected() -> None:
    """States (known: p = 0.02 exp(0.5 x), x normal) told by two halves with an error of 0.004 each (invented)."""
    shares = (0.05, 0.95)
    truth = [0.02 * np.exp(0.5 * float(ndtri(share))) for share in shares]  # closed form
    truth.append(float(mean(lambda x: -np.expm1(50 * np.log1p(-np.minimum(0.02 * np.exp(0.5 * x), 0.999))))))
    misses, held = [], []
    for seed in range(30):
        rng = np.random.default_rng(seed)
        p = 0.02 * np.exp(0.5 * rng.standard_normal((16, 256)))
        halves = np.maximum(p[..., np.newaxis] + 0.004 * rng.standard_normal((16, 256, 2)), 0.0)
        found, variance = inner.told(halves)
        figures = []
        for given in (None, variance):
            band = annual.over_knowledge(found, given)
            figures += [*(band[share] for share in shares), annual.over_years(found, 50, given)]
        misses.append([each.value - exact for each, exact in zip(figures, [*truth, *truth], strict=True)])
        held.append([each.low <= exact <= each.high for each, exact in zip(figures[3:], truth, strict=True)])
    assert variance.mean() == pytest.approx(0.004**2 / 2.0, rel=0.1)
    raw, corrected = np.abs(np.mean(misses, axis=0)).reshape(2, 3)
    assert np.all(corrected < 0.6 * raw), (raw, corrected)
    assert np.all(np.mean(held, axis=0) >= 0.9)


@pytest.mark.parametrize("height", [7.0, 9.0, 11.0])
def test_a_rare_year_is_found_by_importance_sampling(height: float) -> None:
    # ln Q is normal; capacity ln q* = 7 s, 9 s, 11 s and 0.8 x + 0.5 y of it: Phi(-height/sqrt(1.89)), closed form:
    # 1.8e-7, 2.9e-11, 6.2e-16 a year. An ordinary sample of 4096 states sees next to nothing of it.
    def conditional(z: Array) -> Array:
        return annual.exceedance(height + z @ [0.8, 0.5], 0.0, 1.0)

    z = nested_scores("sobol", 64, 1, 2, 0, seed=1, replicates=16).reshape(-1, 2)
    found = rare.probability(conditional, z, conditional(z), seed=3)
    exact = float(ndtr(-height / np.sqrt(1.89)))
    assert found.low <= exact <= found.high
    assert found.value == pytest.approx(exact, rel=0.1)


def test_what_the_ladder_cannot_see_is_bounded_not_impossible() -> None:
    """A bank that needs a Gumbel(3, 1) flood beyond the one of 1e-7, where the ladder ends."""
    top = float(gumbel_r.isf(1e-7, 3.0, 1.0))
    states, beyond = np.zeros((4, 8)), np.full((4, 8), float(gumbel_r.sf(top, 3.0, 1.0)))
    found = annual.expected(states, beyond)
    assert (found.value, found.low) == (0.0, 0.0)
    assert found.high == pytest.approx(1e-7, rel=1e-6)
    assert "impossible within the bounds" not in found.note
    assert "not impossible" in found.note
    some = annual.expected(states + 0.01, beyond + 0.01)
    assert some.value == pytest.approx(0.01)
    assert some.high >= 0.01 + 1e-7
    assert "impossible within the bounds" in annual.expected(states, states).note  # floods that do have a bound


@pytest.mark.parametrize(("looks", "shut"), [(3, 0), (60, 3)])
def test_few_visits_widen_the_band_and_many_close_it(looks: int, shut: int) -> None:
    """A screen seen shut so often in so many looks, else clean: the chance of shut is a Beta over what is known.

    Dirichlet prior 4.75 looks of clean and 0.25 of shut (closed form); a shut screen goes over, a clean one in the
    floods above 8 m3/s.
    """
    law = beta(0.25 + shut, 4.75 + looks - shut)
    at_one = law.ppf((np.arange(2048) + 0.5) / 2048)
    models = InflatedBetaModels.ranked(1.0 - at_one, np.full(2048, 1.0), np.full(2048, 1.0), at_one)
    screen = UncertainParameters(models, "a screen")
    z = nested_scores("sobol", 64, 16, 1, 2, 2, 16, nets=2)
    place = chosen(models, z[:, :, 0, 0])
    z, weights = weighted_floods(z[..., 1:], Copula.from_rank_correlations("bq", {}), {0: screen}, {0: (models, place)})
    blocked = models.value(z[..., 0], np.broadcast_to(place[:, :, np.newaxis], weights.shape))
    each = annual.exceedance(STREAM.score_below(crossing_capacity(np.zeros(blocked.shape), blocked)), 0.0, 1.0)
    states, variance = inner.told(each, weights)
    clean = float(gumbel_r.sf(8.0, 3.0, 1.0))
    assert annual.expected(states).value == pytest.approx(clean + (1.0 - clean) * law.mean(), rel=1e-2)
    for share, found in annual.over_knowledge(states, variance).items():
        exact = clean + (1.0 - clean) * float(law.ppf(share))
        assert found.value == pytest.approx(exact, rel=0.02)
        assert found.low <= exact <= found.high


def test_states_that_weigh_differently_have_the_life_without_their_inner_error() -> None:
    """True p from 1 to 5 % a year, each told with an error of 1 %: weighted mean of 1 - (1 - p)^50, in closed form."""
    rng = np.random.default_rng(8)
    true = rng.uniform(0.01, 0.05, (16, 4096))
    first, second = (true + rng.choice([-0.01, 0.01], true.shape) for _ in range(2))
    states, variance = 0.5 * (first + second), 0.25 * (first - second) ** 2
    weights = true / true.sum()
    exact = float(np.sum(weights * (1.0 - (1.0 - true) ** 50)))
    found = float(np.sum(weights * annual.over_years_by_state(states, 50, variance)))
    raw = float(np.sum(weights * annual.at_least_once(states, 50)))
    assert found == pytest.approx(exact, abs=1.5e-3)
    assert raw < exact - 5e-3


def test_a_band_holds_a_skewed_truth_that_the_inner_error_hides() -> None:
    """Most states are alike and a few are worse; each is told with an error as wide as they scatter."""
    rng, held, shares = np.random.default_rng(9), 0, (0.05, 0.5, 0.95)
    exact = [0.05 + 0.005 * float(np.expm1(ndtri(share))) for share in shares]
    for _ in range(40):
        true = 0.05 + 0.005 * np.expm1(rng.standard_normal((16, 16)))
        sd = 0.009 * np.sqrt(2.0)
        first, second = (true + sd * rng.standard_normal(true.shape) for _ in range(2))
        band = annual.over_knowledge(0.5 * (first + second), 0.25 * (first - second) ** 2)
        held += sum(band[share].low <= right <= band[share].high for share, right in zip(shares, exact, strict=True))
    assert held / 120 >= 0.88


@pytest.mark.parametrize("chance", [0.002, 0.01, 0.99])
def test_a_count_of_few_states_holds_the_truth_as_often_as_it_says(chance: float) -> None:
    """Independent floods, whose chance of going over is known; by scatter alone 0.72 of the intervals hold 0.01."""
    rng, trials = np.random.default_rng(5), 400
    held = 0
    for _ in range(trials):
        found = annual.counted(np.where(rng.random((16, 8, 1)) < chance, 1.0, -1.0))
        held += found.low <= chance <= found.high
    assert held / trials >= 0.92


def test_replicates_that_count_alike_do_not_claim_certainty() -> None:
    """Knowledge alone decides, with 0.51 (closed form): of the 8 states of nearly every replicate 4 go over. By
    their scatter alone some 0.76 of the intervals hold it."""
    held = 0
    for seed in range(40):
        z = nested_scores("sobol", 8, 4, 1, 1, seed, 16)[..., 0]
        found = annual.counted(float(ndtri(0.51)) - z)
        held += found.low <= 0.51 <= found.high
        assert found.high - found.low < 0.1
    assert held >= 36


def test_floods_of_different_weight_are_counted_by_it() -> None:
    depths = np.array([[[1.0, -1.0], [1.0, -1.0]], [[1.0, -1.0], [-1.0, -1.0]]])
    weights = np.broadcast_to([0.2, 1.8], depths.shape)
    assert annual.counted(depths, weights).value == pytest.approx(0.075)
    assert annual.assurance(depths, weights).value == pytest.approx(0.925)


def test_frequency_of_levels_by_weighted_floods() -> None:
    """Level = flow + b of a screen that shuts: the band at each level is one point (closed form)."""
    copula = Copula.from_rank_correlations(("b", "q"), {})
    z, weights = weighted_floods(nested_scores("sobol", 16, 32, 0, 2, 5, 8, nets=2), copula, {0: SHUT})
    blocked = SHUT.value(z[..., 0])
    nodes = np.linspace(-2.0, 25.0, 28)
    grid = np.array([4.0, 6.0, 8.0])
    found = annual.level_frequency(
        nodes,
        nodes[:, None, None, None] + blocked,
        grid,
        lambda flows: annual.exceedance(STREAM.score_below(flows), 0.0, 1.0),
        (STREAM.value(z[..., 1]) + blocked, np.ones(blocked.shape, dtype=bool)),
        weights,
    )
    exact = 0.95 * gumbel_r.sf(grid, 3.0, 1.0) + 0.05 * gumbel_r.sf(grid - 1.0, 3.0, 1.0)
    assert found.expected.probability == pytest.approx(exact, rel=1e-6)
    for curve in found.knowledge.values():
        assert curve == pytest.approx(exact, rel=1e-6)


@pytest.mark.slow
@pytest.mark.parametrize(("states", "seeds"), [(4, 300), (128, 100)])
def test_intervals_hold_the_truth_over_seeds(states: int, seeds: int) -> None:
    """With 2048 and with 65536 samples the 95 % intervals hold the truth, by quadrature, in 0.90 to 0.99 of the seeds.

    But for three binomial errors; and the quantiles of few states are rather held too often.
    """
    x = np.linspace(-5.0, 5.0, 81)
    each, weight = np.array([crossing_truth(DEBRIS, value) for value in x]), norm.pdf(x) / norm.pdf(x).sum()
    truth = {"a year": each @ weight, "50 years": weight @ -np.expm1(50 * np.log1p(-each))}
    truth |= {f"quantile {share}": crossing_truth(DEBRIS, -float(ndtri(share))) for share in annual.SHARES}
    held = dict.fromkeys(truth, 0)
    for seed in range(seeds):
        found, variance = crossing(DEBRIS, 1.0, states, 32, seed)
        figures = {"a year": annual.expected(found), "50 years": annual.over_years(found, 50, variance)}
        figures |= {f"quantile {s}": figure for s, figure in annual.over_knowledge(found, variance).items()}
        for name, figure in figures.items():
            held[name] += figure.low <= truth[name] <= figure.high
    for name, count in held.items():
        print(f"{name}: {count / seeds:.3f}")
        assert count / seeds >= 0.90 - 3.0 * np.sqrt(0.09 / seeds), name


@pytest.mark.slow
def test_coverage_over_seeds() -> None:
    """The 95 % intervals hold the mean over 100 seeds as often as they should, alternatives of a fit included."""
    fitted = fit("gev", "l_moments", np.asarray(genextreme.rvs(-0.1, 100.0, 40.0, 35, random_state=3)))
    found: dict[str, list[Estimate]] = {}
    for seed in range(100):
        floods = fitted_floods(fitted, seed)
        z = nested_scores("sobol", 32, 32, 2, 1, seed + 2, 16)
        capacity = 300.0 * np.exp(0.15 * z[..., 1] - 0.25 * z[..., 2])
        chosen = floods.chosen(z[:, :, 0, 0])
        states = inner.by_state(annual.exceedance(floods.scores_below(capacity, chosen), 0.0, 1.0))
        found.setdefault("a year", []).append(annual.expected(states))
        found.setdefault("50 years", []).append(annual.over_years(states, 50))
        for share, estimate in annual.over_knowledge(states).items():
            found.setdefault(f"quantile {share}", []).append(estimate)
    for name, estimates in found.items():
        middle = np.mean([each.value for each in estimates])
        covered = float(np.mean([each.low <= middle <= each.high for each in estimates]))
        print(f"{name}: {covered:.2f}")
        assert covered >= 0.89, name
