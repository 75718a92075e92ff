"""The bracketing solver against closed forms and SciPy's own version of the same method."""

from __future__ import annotations

from collections.abc import Callable
from math import cos, exp, inf, log

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.optimize.elementwise import find_root

from overbank.hydraulics import roots

FORMULAS: dict[str, tuple[Callable[[float], float], float, float]] = {
    "cubic": (lambda x: x**3 - 2 * x - 5, 2.0, 3.0),
    "cosine": (lambda x: cos(x) - x, 0.0, 1.0),
    "exponential": (lambda x: exp(-10 * x) - 1e-3, 0.0, 5.0),
    "flat at the root": (lambda x: (x - 0.3) ** 5, 0.0, 1.0),
    "steep at the root": (lambda x: np.cbrt(x - 0.3), 0.0, 1.0),
    "root at an end, nearly": (lambda x: x - 1e-9, 0.0, 1.0),
    "falling": (lambda x: 1.0 - x**1.5, 0.0, 7.0),
}


def solve(formula: Callable[[float], float], low: float, high: float, tolerance: float) -> tuple[float, int]:
    bracket = roots.start(low, formula(low), high, formula(high))
    evaluations = 2
    while roots.is_open(bracket, tolerance):
        x = roots.propose(bracket)
        bracket = roots.narrow(bracket, x, formula(x))
        evaluations += 1
    return roots.best(bracket), evaluations


@pytest.mark.parametrize("name", FORMULAS)
def test_root_is_brentqs(name: str) -> None:
    formula, low, high = FORMULAS[name]
    found, evaluations = solve(formula, low, high, 1e-12)
    if name == "flat at the root":
        assert found == pytest.approx(0.3, abs=1e-3)  # closer than (2e-16)^(1/5) its neighbours look alike
    else:
        assert found == pytest.approx(brentq(formula, low, high, xtol=1e-15), abs=3e-12)
    assert evaluations < 120


@pytest.mark.parametrize("name", ["cubic", "cosine", "falling"])
def test_needs_no_more_evaluations_than_scipys(name: str) -> None:
    formula, low, high = FORMULAS[name]
    _, evaluations = solve(formula, low, high, 1e-10)
    scipys = find_root(np.vectorize(formula), (low, high), tolerances={"xatol": 1e-10, "xrtol": 0.0})
    assert evaluations <= scipys.nfev + 2


def test_infinite_values_at_an_end_are_bisected_away() -> None:
    found, evaluations = solve(lambda x: log(x) if x > 0 else -inf, 0.0, 5.0, 1e-12)
    assert found == pytest.approx(1.0, abs=1e-11)
    assert evaluations < 60


def test_a_jump_is_bracketed_and_its_higher_end_given() -> None:
    bracket = roots.start(0.0, -1.0, 1.0, 1.0)
    while roots.is_open(bracket, 1e-9):
        x = roots.propose(bracket)
        bracket = roots.narrow(bracket, x, 1.0 if x >= 0.7 else -1.0)
    assert 0.7 <= roots.upper(bracket) <= 0.7 + 4e-9


def test_a_missing_value_ends_the_search() -> None:
    bracket = roots.start(0.0, -1.0, 1.0, 1.0)
    turns = 0
    while roots.is_open(bracket, 1e-9):
        bracket = roots.narrow(bracket, roots.propose(bracket), float("nan"))
        turns += 1
        assert turns < 300
