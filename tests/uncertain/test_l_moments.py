"""L-moments and the parameters that have them: against lmoments3 on open data, and against their own definition."""

from __future__ import annotations

import numpy as np
import pytest
from lmoments3 import distr, lmom_ratios
from records import nidd
from scipy.integrate import quad

from overbank.uncertain import l_moments
from overbank.uncertain.extremes import GeneralisedExtremeValue, GeneralisedLogistic

# Of lmoments3's own tests (test_samlmu), which take them from Hosking's Fortran routines.
LISTED = [2.0, 3.0, 4.0, 2.4, 5.5, 1.2, 5.4, 2.2, 7.1, 1.3, 1.5]
LISTED_RATIOS = (3.23636364, 1.14181818, 0.27388535, 0.02335456)


def test_sample_l_moments_of_a_published_list() -> None:
    assert np.allclose(l_moments.l_moments(LISTED), LISTED_RATIOS, atol=5e-9)


def test_sample_l_moments_against_the_library() -> None:
    # Reference library: lmoments3, River Nidd annual maxima (35 floods).
    assert np.allclose(l_moments.l_moments(nidd()), lmom_ratios(nidd(), nmom=4), rtol=1e-12)


@pytest.mark.parametrize(
    ("family", "library", "names", "rtol"),
    [
        (l_moments.gumbel, distr.gum, ("loc", "scale"), 1e-12),
        (l_moments.gev, distr.gev, ("loc", "scale", "c"), 2e-6),  # the library stops Newton's method earlier
        (l_moments.generalised_logistic, distr.glo, ("loc", "scale", "k"), 1e-12),
    ],
)
def test_fits_to_the_nidd_against_the_library(family, library, names, rtol) -> None:  # type: ignore[no-untyped-def]
    # Reference library: lmoments3, River Nidd annual maxima (35 floods).
    found = family(l_moments.l_moments(nidd()))
    reference = library.lmom_fit(nidd())
    assert np.allclose(found[: len(names)], [reference[name] for name in names], rtol=rtol)


def ratios_by_quadrature(quantile) -> tuple[float, float, float]:  # type: ignore[no-untyped-def]
    """l1, l2 and t3 from the definition l_r = integral of x(F) P*_{r-1}(F) (closed form of the integrand)."""
    polynomials = (np.ones_like, lambda u: 2 * u - 1, lambda u: 6 * u**2 - 6 * u + 1)
    first, second, third = (quad(lambda u, p=p: quantile(u) * p(u), 0.0, 1.0, limit=400)[0] for p in polynomials)
    return first, second, third / second


@pytest.mark.parametrize("shape", [-0.4, -0.1, 0.0, 1e-9, 0.2, 0.6])
@pytest.mark.parametrize(
    ("family", "curve"),
    [(l_moments.gev, GeneralisedExtremeValue), (l_moments.generalised_logistic, GeneralisedLogistic)],
)
def test_parameters_come_back_from_the_l_moments_of_their_definition(family, curve, shape) -> None:  # type: ignore[no-untyped-def]
    distribution = curve(100.0, 40.0, shape)
    first, second, skew = ratios_by_quadrature(lambda u: float(distribution.quantile(u)))
    moments = l_moments.LMoments(*map(np.array, (first, second, skew, 0.0)))
    assert np.allclose(family(moments), [100.0, 40.0, shape], rtol=1e-6, atol=1e-6)


def test_the_skew_is_met_to_the_last_digits_far_from_the_approximation() -> None:
    skew = np.linspace(-0.9, 0.95, 38)
    shape = l_moments.gev(l_moments.LMoments(np.zeros(38), np.ones(38), skew, np.zeros(38)))[:, 2]
    met = 2.0 * (1.0 - 3.0**-shape) / (1.0 - 2.0**-shape) - 3.0  # closed form
    assert np.allclose(met, skew, atol=1e-12)


def test_many_samples_at_once_are_as_one_by_one() -> None:
    samples = np.random.default_rng(1).gumbel(100.0, 40.0, (5, 30))
    together = l_moments.gev(l_moments.l_moments(samples))
    assert np.array_equal(together, [l_moments.gev(l_moments.l_moments(sample)) for sample in samples])


@pytest.mark.parametrize(("values", "words"), [([1.0, 2.0, 3.0], "at least 4 values"), ([2.0] * 9, "all alike")])
def test_refusals(values: list[float], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        l_moments.l_moments(values)
