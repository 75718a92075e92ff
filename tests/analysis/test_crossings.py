"""The monotone interpolation against scipy's PchipInterpolator and its edges by hand."""

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator

from overbank.analysis.crossings import fill_crossings


def crossings(nodes, curves, thresholds):
    found = np.empty((len(thresholds), len(curves)))
    fill_crossings(np.asarray(nodes, float), np.asarray(curves, float), np.asarray(thresholds, float), found)
    return found


@pytest.mark.parametrize("count", [2, 3, 4, 12])
def test_a_crossing_put_into_scipys_interpolator_gives_the_threshold(count):
    rng = np.random.default_rng(3)
    nodes = np.sort(rng.random(count))
    curves = np.sort(rng.normal(size=(50, count)), axis=1)
    thresholds = np.linspace(-2, 2, 41)
    found = crossings(nodes, curves, thresholds)
    for column, curve in zip(found.T, curves, strict=True):
        inside = np.isfinite(column)
        assert np.array_equal(inside, (thresholds >= curve[0]) & (thresholds < curve[-1]))
        theirs = PchipInterpolator(nodes, curve)(column[inside])
        np.testing.assert_allclose(theirs, thresholds[inside], atol=1e-9)


def test_beyond_the_ends():
    assert crossings([0, 1], [[1.0, 2.0]], [0.5, 1.5, 2.0, 2.5]).ravel() == pytest.approx(
        [-np.inf, 0.5, np.inf, np.inf]
    )


def test_a_node_on_the_threshold_has_not_passed_it():
    found = crossings([0.0, 0.5, 1.0], [[0.0, 0.0, 1.0]], [0.0])[0, 0]
    assert found == np.nextafter(0.5, 1.0)


def test_an_infinite_node_above_is_grown_towards():
    # Head 2/(1 - x)^2 - 3 (closed form, a flow through a closing opening): passes 0 at 1 - sqrt(2/3), 100 at 0.8607.
    nodes = [0.0, 0.1, 1.0]
    curve = [2.0 / (1.0 - x) ** 2 - 3.0 for x in nodes[:-1]] + [np.inf]
    found = crossings(nodes, [curve], [0.0, 100.0, 1e9])[:, 0]
    assert found == pytest.approx(1.0 - np.sqrt(2.0 / (np.array([0.0, 100.0, 1e9]) + 3.0)), abs=1e-9)
    assert np.all(np.diff(found) > 0.0)
    below = crossings([0.0, 0.5, 1.0], [[-2.0, -1.0, np.inf]], [-1.5])[0, 0]
    assert 0.0 < below < 0.5
    assert crossings([0.0, 1.0], [[np.inf, np.inf]], [0.0])[0, 0] == -np.inf


def test_an_infinite_node_is_met_at_once_where_nothing_tells_how():
    for curve in ([-1.0, np.inf, np.inf], [-1.0, -1.0, np.inf]):
        found = crossings([0.0, 0.5, 1.0], [curve], [0.0])[0, 0]
        assert found == np.nextafter(0.0 if curve[1] == np.inf else 0.5, 1.0)


def test_one_failed_node_fails_the_sample_and_no_other():
    found = crossings([0.0, 0.5, 1.0], [[-1.0, np.nan, 1.0], [-1.0, 0.0, 1.0]], [-0.5, 0.5])
    assert np.isnan(found[:, 0]).all()
    assert np.isfinite(found[:, 1]).all()


def test_small_dips_are_stepped_over_at_the_first_node_above():
    found = crossings([0.0, 1.0, 2.0, 3.0], [[-1.0, 1.0, -0.001, 2.0]], [0.0])[0, 0]
    assert 0.0 < found < 1.0
