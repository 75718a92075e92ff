"""Fits to annual maxima and the alternatives to them."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from records import nidd
from scipy.special import ndtri
from scipy.stats import genextreme, gumbel_r

from overbank.uncertain import fitting
from overbank.uncertain.extremes import GeneralisedExtremeValue, Gumbel
from overbank.uncertain.floods import fitted_floods

RARE = -ndtri(0.01)
"""Normal score of the 1 % flood."""


def floods_of(curves: tuple[fitting.Curve, ...]) -> NDArray[np.float64]:
    """The 1 % flood of each."""
    return np.array([float(curve.value(RARE)) for curve in curves])


def test_the_fit_holds_what_a_reader_wants_to_see() -> None:
    fit = fitting.fit("gev", "l_moments", nidd())
    assert fit.years == 35
    assert np.array_equal(fit.maxima, np.sort(nidd()))
    # Gringorten's formula, (i - 0.44)/(n + 0.12) counted from the greatest: closed form.
    assert fit.plotting_positions[-1] == pytest.approx(0.56 / 35.12)
    assert fit.plotting_positions[0] == pytest.approx(34.56 / 35.12)
    assert fit.moments.skew == pytest.approx(0.2535254, abs=1e-7)  # lmoments3: see test_l_moments


@pytest.mark.parametrize(("family", "library"), [("gumbel", gumbel_r), ("gev", genextreme)])
def test_the_one_per_cent_flood_of_the_nidd_by_likelihood(family, library) -> None:  # type: ignore[no-untyped-def]
    # Reference library: SciPy's own fit and quantile.
    fit = fitting.fit(family, "maximum_likelihood", nidd())
    assert float(fit.best.value(RARE)) == pytest.approx(library.isf(0.01, *library.fit(nidd())), rel=1e-5)


def test_too_short_a_record_is_refused() -> None:
    with pytest.raises(ValueError, match="at least 10 annual maxima, got 9"):
        fitting.fit("gev", "l_moments", nidd()[:9])


def test_maxima_without_a_most_likely_fit_are_refused() -> None:
    with pytest.raises(ValueError, match="whose likelihood has a maximum"):
        fitting.fit("gev", "maximum_likelihood", 100.0 - 0.01 * np.arange(12.0) ** 4)


def test_refits_without_a_maximum_are_refused_when_there_are_many() -> None:
    best = GeneralisedExtremeValue(100.0, 40.0, 0.3)
    with pytest.raises(ValueError, match="of such records"):
        fitting.alternatives("gev", "maximum_likelihood", best, 10, 200, seed=1)


def test_alternatives_of_a_gumbel_are_exact() -> None:
    # Pivots: for a location-scale family (estimate - location)/scale and estimate/scale do not depend on the
    # parameters, so the interval of any quantile covers it exactly as often as it says (closed form). Covered in 900
    # of 1000 records but for the scatter of counting, 3 standard errors, and of 500 alternatives.
    truth, inside, records = Gumbel(100.0, 40.0), 0, 1000
    generator = np.random.default_rng(7)
    for record in range(records):
        fit = fitting.fit("gumbel", "l_moments", truth.value(generator.standard_normal(25)))
        found = floods_of(fitting.alternatives("gumbel", "l_moments", fit.best, 25, 200, seed=record))
        low, high = np.quantile(found, [0.05, 0.95])
        inside += bool(low < float(truth.value(RARE)) < high)
    assert inside / records == pytest.approx(0.90, abs=0.035)


def test_alternatives_close_in_on_the_fit_as_the_record_grows() -> None:
    best = GeneralisedExtremeValue(100.0, 40.0, -0.1)
    spread = [
        np.ptp(np.quantile(floods_of(fitting.alternatives("gev", "l_moments", best, years, 400, seed=1)), [0.05, 0.95]))
        for years in (25, 100, 400)
    ]
    # Sampling error falls with the square root of the length (asymptotic).
    assert spread[1] / spread[2] == pytest.approx(2.0, rel=0.25)
    assert spread[0] > 1.7 * spread[1]


@pytest.mark.slow
@pytest.mark.parametrize("method", ["l_moments", "maximum_likelihood"])
@pytest.mark.parametrize(("shape", "years"), [(-0.13, 35), (0.1, 35), (-0.13, 60)])
def test_coverage_of_the_one_per_cent_flood(shape: float, years: int, method: fitting.Method) -> None:
    """The 90 % interval holds the true 1 % flood in 85 to 95 % of records, but for 2 standard errors of the count."""
    truth = GeneralisedExtremeValue(100.0, 40.0, shape)
    generator = np.random.default_rng(11)
    below, above, refused, records = 0, 0, 0, 500
    for record in range(records):
        maxima = truth.value(generator.standard_normal(years))
        try:
            fit = fitting.fit("gev", method, maxima)
            found = floods_of(fitting.alternatives("gev", method, fit.best, years, 300, seed=record))
        except ValueError:
            refused += 1
            continue
        low, high = np.quantile(found, [0.05, 0.95])
        below += bool(high < float(truth.value(RARE)))
        above += bool(low > float(truth.value(RARE)))
    answered = records - refused
    inside = 1.0 - (below + above) / answered
    print(
        f"{method}, shape {shape}, {years} years: {inside:.3f} inside, interval too low {below / answered:.3f}, "
        f"too high {above / answered:.3f}, {refused} records refused"
    )
    assert 0.85 - 0.03 <= inside <= 0.95 + 0.03
    assert refused <= 0.05 * records


def test_alternatives_that_could_not_have_brought_the_largest_flood_get_no_weight():
    # GEV with shape 0.3 (bounded above): of the plain alternatives some end below the largest flood on record.
    record = np.sort(genextreme.rvs(0.3, 10.0, 3.0, 25, random_state=4))
    best = fitting.fit("gev", "l_moments", record).best
    largest = float(record[-1])
    plain = fitting.alternatives("gev", "l_moments", best, 25, 1000, seed=2)
    ends = np.array([genextreme(each.shape, each.location, each.scale).support()[1] for each in plain])
    kept = fitting.alternatives("gev", "l_moments", best, 25, 1000, seed=2, largest=largest)
    assert 0 < np.sum(ends <= largest) < 500
    assert kept == tuple(each for each, end in zip(plain, ends, strict=True) if end > largest)
    with pytest.raises(ValueError, match="expected a gev that could have brought the largest flood on record, 99, got"):
        fitting.alternatives(
            "gev", "l_moments", GeneralisedExtremeValue(10.0, 3.0, 0.5), 100, 200, seed=2, largest=99.0
        )


def test_a_fitted_record_takes_its_largest_flood_into_account():
    record = genextreme.rvs(0.3, 10.0, 3.0, 25, random_state=4)
    floods = fitted_floods(fitting.fit("gev", "l_moments", record), seed=2)
    assert all(each.support[1] > record.max() for each in floods.alternatives)
