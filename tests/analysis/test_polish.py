"""The polish against scipy's elementwise root finder, closed forms, jumps and failures."""

import numpy as np
import pytest
from known_answers import FLOW_RULES, TOY_NODES, scores
from scipy.optimize import elementwise

from overbank.analysis.ladder import critical
from overbank.analysis.polish import polish
from overbank.errors import DomainError


@pytest.fixture(scope="module")
def toy_crossing():
    load = FLOW_RULES.load(scores(4, 512, 5, seed=8))
    return load, critical(TOY_NODES, FLOW_RULES.depth_over_bank(TOY_NODES[:, None, None], load))


@pytest.mark.parametrize("tolerance", [1e-3, 1e-6, 1e-10])
def test_polish_reaches_the_closed_form_in_few_runs(toy_crossing, tolerance):
    load, crossing = toy_crossing
    flat = load.ravel()
    spent = []

    def depth_at(b, sample):
        spent.append(b.size)
        return FLOW_RULES.depth_over_bank(b, flat[sample])

    found = polish(depth_at, crossing, tolerance)
    inside = crossing.solvable
    exact = -np.expm1(load - FLOW_RULES.limit)
    assert np.max(np.abs(found.value - exact)[inside]) <= tolerance
    assert np.array_equal(found.value[~inside], crossing.value[~inside])
    assert found.runs == sum(spent)
    assert found.failed == 0
    assert found.runs <= 4.5 * inside.sum()


def test_polish_agrees_with_scipy_and_needs_fewer_runs(toy_crossing):
    load, crossing = toy_crossing
    inside = crossing.solvable & (crossing.high < 1)  # scipy refuses an infinite end
    theirs = elementwise.find_root(
        FLOW_RULES.depth_over_bank,
        (crossing.low[inside], crossing.high[inside]),
        args=(load[inside],),
        tolerances={"xatol": 1e-8},
    )
    flat = load.ravel()
    ours = polish(lambda b, sample: FLOW_RULES.depth_over_bank(b, flat[sample]), crossing, 1e-8, where=inside)
    np.testing.assert_allclose(ours.value[inside], theirs.x, atol=2e-8)
    assert ours.runs < 0.7 * theirs.nfev.sum()
    assert np.array_equal(ours.value[~inside], crossing.value[~inside])


def test_a_jump_to_infinity_inside_the_bracket_is_found():
    nodes = np.array([0.0, 0.5, 1.0])
    jumps = np.array([0.5, 0.600000001, 0.83, 1.0])

    def depth_over_bank(b, jump):
        return np.where(b > jump, np.inf, -0.3 + 0.1 * b)

    with np.errstate(invalid="ignore"):
        crossing = critical(nodes, depth_over_bank(nodes[:, None, None], jumps[None, None, :]))
    found = polish(lambda b, sample: depth_over_bank(b, jumps[sample]), crossing, 1e-6)
    np.testing.assert_allclose(found.value[0, :3], jumps[:3], atol=1e-6)
    assert found.value[0, 3] == np.inf
    assert np.all(found.value[0, :3] > crossing.low[0, :3])  # above the node that does not overtop


def test_a_fully_blocked_end_without_a_way_through_keeps_its_probability():
    # Only x = 1 itself goes over: the polished value must not slip below the node at 0.9 nor above 1.
    crossing = critical(np.array([0.0, 0.9, 1.0]), np.array([-1.0, -0.9, np.inf])[:, None, None])
    found = polish(lambda b, _: np.where(b >= 1.0, np.inf, -0.9), crossing, 1e-9)
    assert 1.0 - 1e-9 <= found.value[0, 0] <= 1.0


def test_a_failed_run_fails_its_sample_only():
    nodes = np.array([0.0, 1.0])
    slopes = np.array([[1.0, 2.0, 3.0]])
    crossing = critical(nodes, slopes * nodes[:, None, None] - 0.6)

    def depth_at(b, sample):
        return np.where(sample == 1, np.nan, slopes[0, sample] * b**2 - 0.6)

    found = polish(depth_at, crossing, 1e-8)
    assert np.isnan(found.value[0, 1])
    assert found.failed == 1
    np.testing.assert_allclose(found.value[0, [0, 2]], np.sqrt([0.6, 0.2]), atol=1e-8)


def test_nothing_to_solve_costs_nothing():
    crossing = critical(np.array([0.0, 1.0]), np.array([[-2.0, 1.0, np.nan], [-1.0, 2.0, 0.0]])[:, None, :])
    found = polish(lambda b, _: b, crossing, 1e-6)
    assert found.runs == 0
    assert found.value[0].tolist()[:2] == [np.inf, -np.inf]
    assert np.isnan(found.value[0, 2])


def test_a_tolerance_of_zero_is_refused(toy_crossing):
    with pytest.raises(DomainError, match="above 0"):
        polish(lambda b, _: b, toy_crossing[1], 0.0)
