"""The tabulated inverse refuses what it cannot hold; references are functions in closed form."""

import numpy as np
import pytest

from overbank.uncertain.spline import ScoreSpline

Z = np.linspace(-8.0, 8.0, 997)


def test_a_smooth_curve_is_held_both_ways():
    table = ScoreSpline(np.sinh, 1e-4, "hyperbolic sine")
    np.testing.assert_allclose(table.height(Z, finish=np.array, exact=np.sinh), np.sinh(Z), rtol=1e-8, atol=1e-9)
    back = table.score(np.sinh(Z), exact=lambda where: np.arcsinh(np.sinh(Z)[where]))
    np.testing.assert_allclose(back, Z, atol=1e-8)


def test_both_ways_agree_to_rounding():
    table = ScoreSpline(np.sinh, 1e-4, "hyperbolic sine")
    heights = table.height(Z, finish=np.array, exact=np.sinh)
    np.testing.assert_allclose(table.score(heights, exact=np.isnan), Z, atol=1e-13)


def test_what_lies_beyond_the_table_is_left_to_the_exact_function():
    table = ScoreSpline(lambda z: np.where(np.abs(z) < 4.0, z, np.nan), 1e-9, "straight line")
    given = np.array([-5.0, 1.0, np.nan, 6.0])
    seen = table.height(given, finish=np.array, exact=lambda z: 100.0 * z)
    np.testing.assert_allclose(seen, [-500.0, 1.0, np.nan, 600.0], atol=1e-12)
    back = table.score(given, exact=lambda where: 100.0 * given[where])
    np.testing.assert_allclose(back, [-500.0, 1.0, np.nan, 600.0], atol=1e-12)


def test_a_curve_with_a_kink_is_refused():
    with pytest.raises(ValueError, match=r"expected a bent line whose inverse a table holds to 1e-09, got an error"):
        ScoreSpline(lambda z: np.where(z < 0.001, z, 3.0 * z - 0.002), 1e-9, "bent line")


def test_a_curve_that_falls_is_refused():
    with pytest.raises(ValueError, match="expected a falling line"):
        ScoreSpline(lambda z: -z, 1e-9, "falling line")


def test_a_curve_without_width_is_refused():
    with pytest.raises(ValueError, match="expected a point that spreads over its range, got one without any"):
        ScoreSpline(lambda z: np.where(z == 0.0, z, np.nan), 1e-9, "point")
