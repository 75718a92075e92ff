"""Censored and historic floods, zero years, low outliers, log-Pearson III and the average of families.

D1 is the 24-year station of Bulletin 17B, appendix 12, first example (read in a page that reprints it). The values
beside it were computed for this project by plain SciPy, apart from this program, unless marked otherwise.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from scipy import stats
from scipy.integrate import quad
from scipy.special import ndtr

from overbank.uncertain.averaged import Averaged
from overbank.uncertain.distributions import Lognormal
from overbank.uncertain.extremes import Gumbel
from overbank.uncertain.flood_record import FloodRecord, Historic, low_outliers
from overbank.uncertain.floods import FloodOf, Floods
from overbank.uncertain.likely_floods import LikelyFit, averaged, fit_likeliest, log_likelihood

D1 = (2290, 1470, 2220, 2970, 3020, 1210, 2490, 3170, 3220, 1760, 8800, 8280, 1310, 2500, 1960, 2140, 4340, 3060, 1780)
D1 = tuple(map(float, (*D1, 1380, 980, 1040, 1580, 3630)))
PAST = Historic(50, 10_000.0, (12_000.0,))
OUTLYING = (*D1, 30.0, 110.0, 150.0)


@cache
def fitted(family: str) -> Floods:
    return fit_likeliest(family, FloodRecord(D1, 0.0, PAST), 1)


def of(floods: Floods) -> LikelyFit:
    assert isinstance(floods.fit, LikelyFit)
    return floods.fit


def test_likelihood_of_a_historic_record_by_log_pearson_3() -> None:
    """CE09: -2.2404819, of the logarithm; the density of the flow itself has ln(x ln 10) more in each known flood."""
    record = FloodRecord(D1, 0.0, PAST)
    logs = np.log10(D1)
    found = float(log_likelihood("log_pearson3", record, np.array([logs.mean(), logs.std(ddof=1), 0.7]))[0])
    turned = float(np.sum(np.log(np.array([*D1, 12_000.0]) * np.log(10.0))))
    assert found + turned == pytest.approx(-2.2404819, abs=1e-5)


@pytest.mark.parametrize("past", [PAST, Historic(50, 10_000.0, (), 1), Historic(50, 10_000.0)])
def test_a_lognormal_as_log_pearson_3_without_skew_agrees_with_scipy(past: Historic) -> None:
    """CE01, CE06: a sum written out with SciPy's normal distribution, over several parameters."""
    record = FloodRecord((*D1, 30.0), 900.0, past)
    for mean, sd in ((3.384433, 0.259716), (3.3, 0.3)):
        logs = np.log10([*D1, *past.floods])
        law = stats.norm(mean, sd)
        expected = float(np.sum(law.logpdf(logs) - np.log(10.0**logs * np.log(10.0))))
        expected += past.quiet * law.logcdf(4.0) + past.more * law.logsf(4.0) + law.logcdf(np.log10(900.0))
        found = float(log_likelihood("log_pearson3", record, np.array([mean, sd, 0.0]))[0])
        assert found == pytest.approx(expected, abs=1e-8)


@pytest.mark.parametrize(
    ("family", "likelihood", "parameters"),
    [("gumbel", -208.1130, (2035.553, 1086.777, 0.0)), ("gev", -204.9272, (1822.219, 835.976, -0.41069))],
)
def test_families_at_the_maximum_of_their_likelihood(
    family: str, likelihood: float, parameters: tuple[float, ...]
) -> None:
    """Section 1.7: both families by maximum likelihood on D1; the shape has the sign of SciPy."""
    (best,) = of(fit_likeliest(family, FloodRecord(D1), 1)).families
    assert best.log_likelihood == pytest.approx(likelihood, abs=1e-3)
    assert best.parameters == pytest.approx(parameters, rel=2e-3, abs=1e-3)


def test_no_other_parameters_are_likelier_with_a_historic_flood() -> None:
    """An independent search by SciPy over the four families' own densities gives no more."""
    for family in ("gumbel", "gev", "log_pearson3"):
        (best,) = of(fitted(family)).families
        a, b, c = best.parameters
        laws = {
            "gumbel": lambda p: stats.gumbel_r(p[0], p[1]),
            "gev": lambda p: stats.genextreme(p[2], p[0], p[1]),
            "log_pearson3": lambda p: stats.pearson3(p[2], p[0], p[1]),
        }
        rng = np.random.default_rng(3)
        flows = np.array([*D1, 12_000.0])
        of_logs = family == "log_pearson3"

        def told(p: np.ndarray, law=laws[family], of_logs: bool = of_logs, flows: np.ndarray = flows) -> float:  # type: ignore[no-untyped-def]
            x, bound = (np.log10(flows), 4.0) if of_logs else (flows, 1e4)
            found = float(np.sum(law(p).logpdf(x)) + 49 * law(p).logcdf(bound))
            return found - (float(np.sum(np.log(flows * np.log(10.0)))) if of_logs else 0.0)

        top = told(np.array([a, b, c]))
        assert top == pytest.approx(best.log_likelihood, abs=1e-6)
        for _ in range(60):
            near = np.array([a + 0.2 * b * rng.normal(), b * np.exp(0.2 * rng.normal()), c + 0.1 * rng.normal()])
            assert told(near) <= top + 1e-6


def test_what_is_not_known_is_the_posterior_by_quadrature() -> None:
    """The Gumbel family on D1 alone: mean and sd of the location over alternatives, against integrals by SciPy."""
    floods = fit_likeliest("gumbel", FloodRecord(D1), 4)
    (best,) = of(floods).families
    a, b, _ = best.parameters
    x = np.array(D1)

    def weight(scale: float, power: int) -> float:
        def inner(location: float) -> float:
            return location**power * np.exp(np.sum(stats.gumbel_r.logpdf(x, location, scale)) - best.log_likelihood)

        return quad(inner, a - 6.0 * b / 4.0, a + 6.0 * b / 4.0, limit=60)[0] / scale  # flat in ln scale

    moments = [quad(weight, b / 2.2, 2.2 * b, args=(power,), limit=40, epsrel=1e-5)[0] for power in range(3)]
    mean = moments[1] / moments[0]
    sd = np.sqrt(moments[2] / moments[0] - mean**2)
    locations = np.array([each.location for each in floods.alternatives])  # type: ignore[attr-defined]
    assert locations.mean() == pytest.approx(mean, abs=0.03 * sd)
    assert locations.std() == pytest.approx(sd, rel=0.05)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_flood_of_a_probability_has_the_posterior_by_quadrature(seed: int) -> None:
    """The Gumbel family on D1: P(1 % flood below x) over a grid of location and ln scale, SciPy's likelihood.

    From the 4096 alternatives it errs by 0.8 % (standard error); a grid twice as fine moves it by less than 1e-5.
    """
    floods = fit_likeliest("gumbel", FloodRecord(D1), seed)
    a, b, _ = of(floods).families[0].parameters
    location, scale = np.meshgrid(np.linspace(a - 2.0 * b, a + 2.0 * b, 501), b * np.exp(np.linspace(-1.2, 1.2, 501)))
    logs = sum(stats.gumbel_r.logpdf(x, location, scale) for x in D1)
    weights = np.exp(logs - np.max(logs))
    flow = (location - scale * np.log(-np.log(0.99))).ravel()
    order = np.argsort(flow)
    below = np.cumsum(weights.ravel()[order]) / weights.sum()
    at = np.interp([0.1, 0.5, 0.9], below, flow[order])
    missed = ndtr(FloodOf(floods, 0.01).score(at)) - [0.1, 0.5, 0.9]
    assert np.abs(missed).max() < 3.5 * 0.5 / np.sqrt(2**16 * 0.6)  # proposals count six tenths at the least


def test_the_flood_of_a_probability_by_all_families_is_that_of_the_alternatives() -> None:
    floods = fitted("average")
    known = floods.flood(0.01)
    missed = ndtr(FloodOf(floods, 0.01).score(np.quantile(known, [0.1, 0.5, 0.8]))) - [0.1, 0.5, 0.8]
    assert np.abs(missed).max() < 3.5 * 0.5 / np.sqrt(4096)


def test_weights_and_the_average() -> None:
    """Section 1.7: mixed exceedance, not averaged quantiles: the 1 % flood is 251.055 (averaged: 249.015)."""
    mixed = Averaged((Gumbel(100.0, 30.0), Lognormal(110.0, np.sqrt(np.expm1(0.16)))), (0.7310586, 0.2689414))
    assert float(mixed.quantile(0.99)) == pytest.approx(251.055, abs=1e-3)
    assert float(mixed.score(mixed.value(1.7))) == pytest.approx(1.7, abs=1e-9)
    by_criterion = of(fit_likeliest("average", FloodRecord(D1), 1)).families
    ratio = {each.name: each.weight for each in by_criterion}
    # AICc weights of Gumbel and GEV among three families: .06363 and .41347 (section 1.7); their ratio holds in any set
    assert ratio["gumbel"] / ratio["gev"] == pytest.approx(0.06363 / 0.41347, rel=5e-3)
    assert sum(ratio.values()) == pytest.approx(1.0)
    assert averaged(list(by_criterion)) == list(by_criterion)


def test_alternatives_come_from_each_family_by_its_weight() -> None:
    floods = fitted("average")
    fit = of(floods)
    kinds = [type(each).__name__ for each in floods.alternatives]
    for each in fit.families:
        share = kinds.count(type(each.best).__name__) / len(kinds)
        same = sum(other.weight for other in fit.families if type(other.best) is type(each.best))
        assert share == pytest.approx(same, abs=2e-3)
    low, high = np.quantile(floods.flood(0.01), [0.05, 0.95])
    assert low < float(floods.best.quantile(0.99)) < high


def test_low_outliers_by_the_multiple_test() -> None:
    """LO12: three stand out, the threshold is 980; the single test flags one of them."""
    found = low_outliers(OUTLYING)
    assert (found.count, found.threshold) == (3, pytest.approx(980.0))
    assert low_outliers(D1).count == 0


def test_outliers_and_dry_years_count_as_below() -> None:
    """CE10: the lognormal fit of the recoded record has its maximum at 3.3107938, 0.2819903."""
    dry = FloodRecord((*D1, 0.0, 0.0))
    assert dry.below == ((980.0, 2),)
    record = FloodRecord(OUTLYING, 980.0)
    assert record.below == ((980.0, 3),)
    best = np.array([3.3107938, 0.2819903, 0.0])
    top = float(log_likelihood("log_pearson3", record, best)[0])
    for step in ((0.002, 0.0), (-0.002, 0.0), (0.0, 0.002), (0.0, -0.002)):
        assert float(log_likelihood("log_pearson3", record, best + np.array([*step, 0.0]))[0]) < top


def test_plotting_positions_with_a_period_before(monkeypatch: pytest.MonkeyPatch) -> None:
    """PP02, PP03: s=58, h=98, l=5, e=3, a=0.4: 0.00375235 and 0.0615942 (counts read in a textbook page)."""
    monkeypatch.setattr("overbank.uncertain.flood_record.GRINGORTEN", 0.4)
    record = FloodRecord((*np.linspace(10.0, 90.0, 55), 110.0, 120.0, 130.0), 0.0, Historic(98, 100.0, (140.0,), 4))
    flows, positions = record.points()
    assert flows[-1] == 140.0
    assert positions[-1] == pytest.approx(0.003752345216, abs=1e-9)
    below = positions[flows < 100.0]
    assert below[-1] == pytest.approx(0.0615942029, abs=1e-9)
    assert np.all(np.diff(positions) < 0.0)
