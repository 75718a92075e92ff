"""Levels between rungs, endless ones among them, against the curve itself."""

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator

from overbank.analysis.crossings import fill_crossings
from overbank.analysis.refining import interpolated, misses

NODES = np.array([0.0, 0.3, 0.6, 0.9, 1.0])


def closing(x, flow):
    """Head of a flow through a closing opening (invented): endless where it is shut."""
    with np.errstate(divide="ignore"):
        return 30.0 + flow**2 * (1.0 - x) ** -2.0


@pytest.fixture
def table():
    return closing(NODES[:, None], np.array([0.05, 0.1, 0.3]))


def test_towards_an_endless_rung_the_level_grows_as_through_a_closing_opening(table):
    at = np.array([0.92, 0.99, 1.0])
    found = interpolated(NODES, table, at)
    np.testing.assert_allclose(found[:2], closing(at[:2, None], np.array([0.05, 0.1, 0.3])), rtol=1e-12)
    assert np.all(np.isinf(found[2]))


def test_between_finite_rungs_it_is_the_monotone_cubic(table):
    at = np.array([0.1, 0.5, 0.75])
    np.testing.assert_allclose(interpolated(NODES[:4], table[:4], at), PchipInterpolator(NODES[:4], table[:4])(at))


def test_levels_and_crossings_are_the_same_curve(table):
    at = np.array([0.2, 0.7, 0.93, 0.985])
    for sample in range(3):
        levels = interpolated(NODES, table[:, [sample]], at)[:, 0]
        found = np.empty((4, 1))
        fill_crossings(NODES, np.ascontiguousarray(table[:, [sample]].T), levels, found)
        np.testing.assert_allclose(found[:, 0], at, atol=2e-6)


def test_rungs_that_tell_little():
    odd = np.array([[30.0, np.inf, 30.0, np.nan], [np.inf, np.inf, 30.0, 31.0], [np.inf, np.inf, np.inf, 32.0]])
    found = interpolated(np.array([0.0, 0.5, 1.0]), odd, np.array([0.0, 0.25, 0.75]))
    assert found[0].tolist()[:3] == [30.0, np.inf, 30.0]
    assert found[1].tolist()[:3] == [np.inf, np.inf, 30.0]
    assert found[2].tolist()[:3] == [np.inf, np.inf, np.inf]
    assert np.all(np.isnan(found[:, 3]))


def test_an_endless_rung_hides_no_gap():
    """A level that jumps at 0.45 and is endless at 1: the gap with the jump misses by about half of it."""
    flows = np.array([0.01, 0.02])

    def level(x):
        return closing(x, flows) + np.where(x > 0.45, 1.0, 0.0)

    middles = np.array([0.15, 0.45 + 1e-9, 0.75, 0.95])
    found = misses(NODES, level(NODES[:, None]), middles, level(middles[:, None]), top=33.0)
    assert found[1] == pytest.approx(0.5, abs=0.05)
    assert found[[0, 2, 3]].max() < 0.02


def test_above_the_highest_level_asked_for_nothing_is_missed():
    true = np.array([[np.inf, 35.0]])
    levels = np.array([[30.0, 30.0], [34.0, 34.0], [np.inf, np.inf]])
    found = misses(np.array([0.0, 0.5, 1.0]), levels, np.array([0.75]), true, top=33.0)
    assert found.tolist() == [0.0]
    assert misses(np.array([0.0, 0.5, 1.0]), levels, np.array([0.25]), np.full((1, 2), np.nan), 33.0).tolist() == [0.0]
