"""Figures in words: no digit that the interval does not support; expected words worked out by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest

from overbank.analysis.intervals import Estimate
from overbank.words import change, known_decimals, measure, one_in, rounded, scaled, share_words

S = "\u00a0"


@pytest.mark.parametrize(
    ("value", "low", "high", "unit", "said", "interval"),
    [
        (0.201096, 0.201000, 0.201192, "p", "20.1 %", "20.1 to 20.2 %"),
        (0.021768, 0.021366, 0.022171, "p", "2.18 %", "2.13 to 2.22 %"),
        (0.22, 0.20, 0.24, "p", "22 %", "20 to 24 %"),
        (0.000123, 0.000101, 0.000145, "p", "0.012 %", "0.010 to 0.015 %"),
        (0.0, 0.0, 0.0029, "p", "0 %", "below 0.29 %"),
        (1.0, 0.9971, 1.0, "p", "100 %", "above 99.71 %"),
        (0.9996, 0.9994, 0.9998, "p", "99.96 %", "99.94 to 99.98 %"),
        (32.568759, 32.568568, 32.568949, "m", "32.57 m", "32.56 to 32.57 m"),
        (32.5, 32.1, 32.9, "m", "32.5 m", "32.1 to 32.9 m"),
        (-1.234, -1.236, -1.232, "m", "-1.23 m", "-1.24 to -1.23 m"),
        (0.409388, 0.405794, 0.411241, "%", "41 %", "40 to 42 %"),
        (-0.001, -0.014, 0.012, "%", "0 %", "-2 to 2 %"),
        (math.inf, 33.0, math.inf, "m", "above every level looked at", "33.00 m to above every level looked at"),
        (0.1, math.nan, math.nan, "p", "10.0 %", "none can be given"),
    ],
)
def test_rounding(value: float, low: float, high: float, unit: str, said: str, interval: str) -> None:
    found = rounded(Estimate(value, low, high, ""), unit)
    assert found.value.replace(S, " ") == said
    assert found.interval.replace(S, " ") == interval


@pytest.mark.parametrize("unit", ["p", "m", "%"])
def test_an_interval_in_words_holds_the_interval_and_the_value(unit: str) -> None:
    random = np.random.default_rng(4)
    scale = 1.0 if unit == "m" else 100.0
    for _ in range(300):
        value, half = random.uniform(0.05, 0.95), 10.0 ** random.uniform(-6.0, -1.5)
        found = rounded(Estimate(value, value - half, value + half, ""), unit)
        low, high = (float(part.split(S)[0]) / scale for part in found.interval.split(" to "))
        assert low <= value - half + 1e-9
        assert value + half - 1e-9 <= high
        assert low - 1e-9 <= float(found.value.split(S)[0]) / scale <= high + 1e-9


def test_the_last_digit_is_the_first_that_the_interval_reaches() -> None:
    assert known_decimals(Estimate(1.0, 0.97, 1.03, ""), 9) == 2  # half width 0.03
    assert known_decimals(Estimate(1.0, 0.7, 1.3, ""), 9) == 1
    assert known_decimals(Estimate(50.0, 20.0, 80.0, ""), 9) == 0


@pytest.mark.parametrize(
    ("value", "low", "high", "unit", "said", "interval"),
    [
        (0.0912, 0.0214, 0.1562, "hours", "+0.09 hours", "+0.02 to +0.16"),
        (-0.1042, -0.1271, -0.0612, "hours", "\u22120.10 hours", "\u22120.13 to \u22120.06"),
        (-0.00004, -0.00031, 0.00021, "p", "+0.00 points", "\u22120.04 to +0.03"),
        (-0.0224, -0.0249, -0.0202, "m", "\u22120.022 m", "\u22120.025 to \u22120.020"),
    ],
)
def test_a_change_has_a_sign_and_nought_no_minus(
    value: float, low: float, high: float, unit: str, said: str, interval: str
) -> None:
    found = change(Estimate(value, low, high, ""), unit)
    assert found.value.replace(S, " ") == said
    assert found.interval == interval


def test_a_length_that_rounds_to_nought_has_no_minus() -> None:
    assert measure(-0.004, "m") == f"0.00{S}m"
    assert measure(-0.004, "m", signed=True) == f"+0.00{S}m"
    assert measure(-0.006, "m", signed=True) == f"\u22120.01{S}m"


def test_shares_and_small_probabilities() -> None:
    assert share_words(0.05) == f"5{S}%"
    assert share_words(0.005) == f"0.5{S}%"
    assert one_in(0.0063) == "1 in 160"


@pytest.mark.parametrize(
    ("value", "low", "high", "scale", "unit", "most", "said", "interval"),
    [
        (0.0123, 0.0101, 0.0146, 1000.0, "mm", 1, "12 mm", "10 to 15"),
        (0.00005, -0.0032, 0.0033, 1000.0, "mm", 1, "0 mm", "\u22124 to 4"),
        (-0.0002, -0.006, 0.0056, 1000.0, "mm", 1, "0 mm", "\u22126 to 6"),
        (0.0172, 0.01713, 0.01727, 100.0, "points", 2, "1.72 points", "1.71 to 1.73"),
        (0.0, 0.0, 0.0, 1000.0, "mm", 1, "0 mm", "no scatter"),
        (5414.8, 5308.7, 5520.9, 1.0, "", 0, "5,400", "5,300 to 5,600"),
        (1876.5, 1875.2, 1877.8, 1.0, "", 0, "1,876", "1,875 to 1,878"),
        (0.0, 0.0, 3.9, 1.0, "", 0, "0", "0 to 4"),
        (math.inf, 0.0, math.inf, 1.0, "mm", 0, "endless", "none can be given"),
        (2.0, math.nan, math.nan, 1.0, "mm", 0, "2 mm", "none can be given"),
        (math.nan, math.nan, math.nan, 1.0, "mm", 0, "unknown", "none can be given"),
    ],
)
def test_scaled(
    value: float, low: float, high: float, scale: float, unit: str, most: int, said: str, interval: str
) -> None:
    found = scaled(Estimate(value, low, high, ""), scale, unit, most)
    assert found == (said.replace(" mm", f"{S}mm").replace(" points", f"{S}points"), interval)
