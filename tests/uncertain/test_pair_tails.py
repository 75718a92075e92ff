"""Families of pairs against published points, and against integrals that share no code with them."""

import math

import numpy as np
import pytest
from scipy import integrate, stats
from scipy.special import ndtr, ndtri

from overbank.uncertain.pair_tails import (
    GumbelPair,
    StudentPair,
    SurvivalClayton,
    pair_of,
    spearman_clayton,
    spearman_gumbel,
    spearman_t,
)

# h(0.7 | 0.6) and its inverse at 0.3 given 0.6, computed independently from the formulas of the copula library
# VineCopula's documentation (read second hand).
POINTS = [
    (GumbelPair(2.0), 0.7328919, 0.4128067),
    (SurvivalClayton(2.0), 0.7638974, 0.3888921),
    (StudentPair(0.5, 4.0), 0.6983798, 0.3888788),
]
FAMILIES = [each for each, _, _ in POINTS]


@pytest.mark.parametrize(("family", "inner", "outer"), POINTS)
def test_conditional_distribution_and_its_inverse(family, inner, outer):
    assert ndtr(family.inner(ndtri(0.7), ndtri(0.6))) == pytest.approx(inner, abs=1e-7)
    assert ndtr(family.outer(ndtri(0.3), ndtri(0.6))) == pytest.approx(outer, abs=1e-7)


def test_claytons_own_form_is_the_survival_form_turned_about():
    # Clayton 2: h(0.7 | 0.6) = 0.6204274, inverse at 0.3: 0.4756152 (computed independently, as above).
    turned = SurvivalClayton(2.0)
    assert ndtr(-turned.inner(-ndtri(0.7), -ndtri(0.6))) == pytest.approx(0.6204274, abs=1e-7)
    assert ndtr(-turned.outer(-ndtri(0.3), -ndtri(0.6))) == pytest.approx(0.4756152, abs=1e-7)


# Density at a point. Gumbel and Clayton 2 at (0.5, 0.9) and t(0.8, 2): from the tests of the library copulas (read);
# theta 2.5 at (0.2, 0.2): from the documentation of a second library (read); all recomputed.
DENSITIES = [
    (GumbelPair(2.0), 0.5, 0.9, 0.3973548776136501, 1e-12),
    (SurvivalClayton(2.0), 0.5, 0.1, 0.8921974147432954, 1e-12),
    (StudentPair(0.8, 2.0), 0.33706249, 0.6075078, 0.8303065, 1e-6),
    (GumbelPair(2.5), 0.2, 0.2, 2.220596, 1e-6),
    (SurvivalClayton(2.5), 0.8, 0.8, 3.387901, 1e-6),
]


@pytest.mark.parametrize(("family", "u", "v", "density", "tolerance"), DENSITIES)
def test_density_at_published_points(family, u, v, density, tolerance):
    assert math.exp(family.log_density(ndtri(u), ndtri(v))) == pytest.approx(density, rel=tolerance)


@pytest.mark.parametrize("family", FAMILIES)
def test_inverse_and_density_hold_in_both_tails(family):
    e, given = (axis.ravel() for axis in np.meshgrid(np.linspace(-8.0, 8.0, 17), np.linspace(-7.0, 7.0, 15)))
    z = family.outer(e, given)
    assert np.all(np.isfinite(z))
    np.testing.assert_allclose(family.inner(z, given), e, atol=1e-9, rtol=1e-9)
    # the density of z given the other is the slope of the conditional distribution, by differences
    step = 1e-4
    mild = np.abs(e) < 5.0
    z, given = z[mild], given[mild]
    e = family.inner(z, given)
    slope = (family.inner(z + step, given) - family.inner(z - step, given)) / (2.0 * step)
    density = family.log_density(z, given) - 0.5 * z**2 + 0.5 * e**2
    np.testing.assert_allclose(density, np.log(slope), atol=2e-5)


# Chance that both are above their 99 % points, at Kendall's tau 0.5 (closed forms; computed independently).
CORNERS = [
    (StudentPair(math.sqrt(0.5), 4.0), 0.00432338),
    (GumbelPair(2.0), 0.00588721),
    (SurvivalClayton(2.0), 0.00707124),
]


@pytest.mark.parametrize(("family", "chance"), CORNERS)
def test_how_often_both_are_extreme(family, chance):
    at = ndtri(0.99)
    both, _ = integrate.quad(lambda y: stats.norm.pdf(y) * ndtr(-family.inner(at, y)), at, 12.0, epsabs=1e-13)
    assert both == pytest.approx(chance, abs=2e-8)


# tau, theta or r and rank correlation of Gumbel, Clayton and t with 4 degrees (computed independently by double
# integrals); Gumbel and Clayton 2.5 from 12 times the covariance in a library's documentation (read).
SPEARMAN = [
    (spearman_gumbel, (1.25,), 0.293341),
    (spearman_gumbel, (2.0,), 0.682234),
    (spearman_gumbel, (2.5,), 0.787861),
    (spearman_gumbel, (10.0 / 3.0,), 0.876083),
    (spearman_clayton, (0.5,), 0.294944),
    (spearman_clayton, (2.0,), 0.682234),
    (spearman_clayton, (2.5,), 0.742043),
    (spearman_clayton, (14.0 / 3.0,), 0.873715),
    (spearman_t, (math.sqrt(0.5), 4.0), 0.675141),
]


@pytest.mark.parametrize(("spearman", "parameters", "rank"), SPEARMAN)
def test_rank_correlation_of_a_family(spearman, parameters, rank):
    assert spearman(*parameters) == pytest.approx(rank, abs=1e-6)


# Rank correlation to parameter: 0.3, 0.5, 0.7 (root finding, computed independently).
@pytest.mark.parametrize(
    ("rank", "gumbel", "clayton"),
    [(0.3, 1.257372, 0.511126), (0.5, 1.541070, 1.076090), (0.7, 2.065508, 2.132811)],
)
def test_a_family_with_a_given_rank_correlation(rank, gumbel, clayton):
    assert pair_of("gumbel", rank) == GumbelPair(pytest.approx(gumbel, abs=1e-6))
    assert pair_of("survival_clayton", rank) == SurvivalClayton(pytest.approx(clayton, abs=1e-6))
    found = pair_of("t", -rank)
    assert spearman_t(found.r, found.degrees) == pytest.approx(-rank, abs=1e-9)


# Tail coefficients at tau 0.5, and of t (closed forms, computed independently).
@pytest.mark.parametrize(
    ("family", "coefficient"),
    [
        (GumbelPair(2.0), 0.585786),
        (SurvivalClayton(2.0), 0.707107),
        (StudentPair(0.5, 4.0), 0.253170),
        (StudentPair(0.8, 2.0), 0.604181),
        (StudentPair(0.0, 4.0), 0.0755868),
    ],
)
def test_tail_coefficient(family, coefficient):
    assert family.tail_coefficient == pytest.approx(coefficient, abs=1e-6)


@pytest.mark.parametrize(
    ("tail", "rank", "message"),
    [
        ("gumbel", -0.3, "expected a rank correlation from 0.01 to 0.95 for numbers that are high together, got -0.3"),
        ("survival_clayton", 0.97, "got 0.97"),
        ("t", 0.995, "expected a rank correlation between -0.99 and 0.99 for a t, got 0.995"),
        ("frank", 0.5, "expected a tail, one of survival_clayton, gumbel, t, got frank"),
    ],
)
def test_a_family_that_cannot_be_is_refused(tail, rank, message):
    with pytest.raises(ValueError, match=r"^expected") as refusal:
        pair_of(tail, rank)
    assert message in str(refusal.value)
