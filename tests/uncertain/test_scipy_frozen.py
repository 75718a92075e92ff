"""A user's own SciPy distribution, against closed forms of the Weibull distribution."""

import math

import numpy as np
import pytest
from scipy import stats
from scipy.special import ndtr

from overbank.uncertain.scipy_frozen import FromSciPy

WEIBULL = FromSciPy(stats.weibull_min(1.8, scale=0.3))


def test_both_tails_are_the_closed_form():
    # Closed form: x = scale (-ln(1 - p))^(1/shape).
    z = np.linspace(-7.0, 7.0, 57)
    expected = 0.3 * (-np.log(ndtr(-z))) ** (1.0 / 1.8)
    np.testing.assert_allclose(WEIBULL.value(z)[z > 0], expected[z > 0], rtol=1e-12)
    np.testing.assert_allclose(WEIBULL.value(z)[z <= 0], 0.3 * (-np.log1p(-ndtr(z[z <= 0]))) ** (1 / 1.8), rtol=1e-12)
    np.testing.assert_allclose(WEIBULL.score(WEIBULL.value(z)), z, atol=1e-10)


def test_median_moments_and_words():
    assert WEIBULL.median == pytest.approx(0.3 * math.log(2.0) ** (1.0 / 1.8))
    assert WEIBULL.mean == pytest.approx(0.3 * math.gamma(1.0 + 1.0 / 1.8))
    assert WEIBULL.sd == pytest.approx(0.3 * math.sqrt(math.gamma(1.0 + 2.0 / 1.8) - math.gamma(1.0 + 1.0 / 1.8) ** 2))
    assert WEIBULL.words == "SciPy weibull_min (1.8, scale 0.3)"


@pytest.mark.parametrize("thing", [stats.poisson(3.0), stats.norm, 3.0])
def test_anything_but_a_frozen_continuous_distribution_is_refused(thing):
    with pytest.raises(ValueError, match=r"expected a frozen continuous distribution of scipy\.stats, got"):
        FromSciPy(thing)


def test_parameters_that_scipy_itself_cannot_use_are_refused():
    with pytest.raises(ValueError, match=r"expected parameters that SciPy accepts, got SciPy norm \(0, -1\)"):
        FromSciPy(stats.norm(0.0, -1.0))
