"""Maximum likelihood against SciPy's own fits."""

from __future__ import annotations

import numpy as np
import pytest
from records import nidd
from scipy.stats import genextreme, gumbel_r, kappa4

from overbank.uncertain import l_moments, likelihood

MOMENTS = l_moments.l_moments(nidd()[np.newaxis, :])


def test_gev_to_the_nidd_against_scipy() -> None:
    # Reference library: scipy.stats.genextreme.fit, River Nidd annual maxima (35 floods).
    found = likelihood.most_likely(nidd()[np.newaxis], l_moments.gev(MOMENTS), likelihood.extreme_value, 3)
    shape, location, scale = genextreme.fit(nidd())
    assert found.settled.all()
    assert np.allclose(found.parameters[0], [location, scale, shape], rtol=1e-5)


def test_gumbel_to_the_nidd_against_scipy() -> None:
    # Reference library: scipy.stats.gumbel_r.fit, River Nidd annual maxima (35 floods).
    found = likelihood.most_likely(nidd()[np.newaxis], l_moments.gumbel(MOMENTS), likelihood.extreme_value, 2)
    assert np.allclose(found.parameters[0], [*gumbel_r.fit(nidd()), 0.0], rtol=1e-6)


def test_generalised_logistic_to_the_nidd_against_scipy() -> None:
    # Reference library: scipy.stats.kappa4 with h = -1, which is the generalised logistic distribution.
    start = l_moments.generalised_logistic(MOMENTS)
    found = likelihood.most_likely(nidd()[np.newaxis], start, likelihood.logistic, 3)
    _, shape, location, scale = kappa4.fit(nidd(), f0=-1, loc=120.0, scale=30.0)
    assert np.allclose(found.parameters[0], [location, scale, shape], rtol=1e-5)


@pytest.mark.parametrize("shape", [-0.25, 0.2])
def test_many_samples_at_once_against_scipy(shape: float) -> None:
    # Reference library: scipy.stats.genextreme.fit begun at our answer, which it can only improve.
    samples = genextreme.rvs(shape, 100.0, 40.0, size=(6, 60), random_state=4)
    start = l_moments.gev(l_moments.l_moments(samples))
    found = likelihood.most_likely(samples, start, likelihood.extreme_value, 3)
    assert found.settled.all()
    for sample, (location, scale, k) in zip(samples, found.parameters, strict=True):
        best = genextreme.fit(sample, k, loc=location, scale=scale)
        assert np.allclose(best, (k, location, scale), rtol=2e-4)


def test_a_start_outside_its_own_bound_is_left() -> None:
    # The largest value lies far beyond the upper bound of the starting distribution, 100 + 10/0.5.
    samples = genextreme.rvs(0.1, 100.0, 40.0, size=(1, 60), random_state=2)
    found = likelihood.most_likely(samples, np.array([[100.0, 10.0, 0.5]]), likelihood.extreme_value, 3)
    shape, location, scale = genextreme.fit(samples[0])
    assert found.settled.all()
    assert np.allclose(found.parameters[0], [location, scale, shape], rtol=1e-3)


def test_a_likelihood_without_maximum_is_told() -> None:
    # Values that crowd against their greatest: the likelihood of a bounded tail grows without end (closed form).
    crowded = 100.0 - 0.01 * np.arange(12.0) ** 4
    start = l_moments.gev(l_moments.l_moments(crowded[np.newaxis]))
    found = likelihood.most_likely(crowded[np.newaxis], start, likelihood.extreme_value, 3)
    assert not found.settled.any()
