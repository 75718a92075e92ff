"""The referee's own distributions beside SciPy's, which share no formula with them but the special functions."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy import stats

from referee import families, floods
from referee.families import Array

Z = np.array([-5.0, -2.0, -0.3, 0.0, 0.7, 2.5, 5.0])

CASES: list[tuple[str, dict[str, float], Any]] = [
    ("normal", {"mean": 3.0, "sd": 0.5}, stats.norm(3.0, 0.5)),
    ("lognormal", {"median": 4.0, "cov": 0.3}, stats.lognorm(np.sqrt(np.log(1.09)), scale=4.0)),
    ("uniform", {"low": 0.4, "high": 0.7}, stats.uniform(0.4, 0.3)),
    ("triangular", {"low": 1.0, "mode": 1.5, "high": 4.0}, stats.triang(1.0 / 6.0, 1.0, 3.0)),
    ("beta", {"a": 1.3, "b": 2.7}, stats.beta(1.3, 2.7)),
    ("pert", {"low": 0.0, "mode": 0.25, "high": 1.0}, stats.beta(2.0, 4.0)),
    ("gumbel", {"location": 3.0, "scale": 0.6}, stats.gumbel_r(3.0, 0.6)),
    ("gev", {"location": 3.0, "scale": 0.6, "shape": -0.12}, stats.genextreme(-0.12, 3.0, 0.6)),
    ("gev", {"location": 3.0, "scale": 0.6, "shape": 0.2}, stats.genextreme(0.2, 3.0, 0.6)),
    ("normal", {"mean": 3.0, "sd": 0.5, "low": 2.8}, stats.truncnorm(-0.4, np.inf, 3.0, 0.5)),
]


@pytest.mark.parametrize(
    ("family", "given", "reference"), CASES, ids=lambda each: each if isinstance(each, str) else ""
)
def test_values_at_scores(family: str, given: dict[str, float], reference: Any) -> None:
    expected = np.where(Z < 0.0, reference.ppf(stats.norm.cdf(Z)), reference.isf(stats.norm.sf(Z)))
    np.testing.assert_allclose(families.value(family, given, Z), expected, rtol=1e-7)


def test_generalised_logistic() -> None:
    # Hosking's: F = 1/(1 + (1 - k (x - xi)/alpha)^(1/k)); solved here for F at the values that came
    given = {"location": 3.0, "scale": 0.4, "shape": -0.15}
    x = families.value("generalised_logistic", given, Z)
    below = 1.0 / (1.0 + (1.0 + 0.15 * (x - 3.0) / 0.4) ** (-1.0 / 0.15))
    np.testing.assert_allclose(below, stats.norm.cdf(Z), rtol=1e-9)


@pytest.mark.parametrize("skew", [-0.5, 0.7])
def test_log_pearson(skew: float) -> None:
    given = {"mean_log10": 0.5, "sd_log10": 0.15, "skew_log10": skew}
    reference = stats.pearson3(skew, 0.5, 0.15)
    np.testing.assert_allclose(
        np.log10(families.value("log_pearson3", given, Z)), reference.ppf(stats.norm.cdf(Z)), atol=1e-7
    )


def test_lumps() -> None:
    given = {"at_zero": 0.2, "a": 1.5, "b": 2.5, "at_one": 0.1}
    shares = np.array([0.1, 0.2, 0.5, 0.89, 0.95])
    found = families.value("inflated_beta", given, stats.norm.ppf(shares))
    expected = [0.0, 0.0, *stats.beta(1.5, 2.5).ppf([0.3 / 0.7, 0.69 / 0.7]), 1.0]
    np.testing.assert_allclose(found, expected, atol=1e-9)


def test_parameters_may_differ_from_sample_to_sample() -> None:
    means = np.linspace(1.0, 2.0, Z.size)
    np.testing.assert_allclose(families.value("normal", {"mean": means, "sd": 0.5}, Z), means + 0.5 * Z)


def test_fits_recover_what_long_records_were_made_from() -> None:
    rng = np.random.default_rng(4)
    for family, given in (
        ("gumbel", {"location": 3.0, "scale": 0.6}),
        ("gev", {"location": 3.0, "scale": 0.6, "shape": -0.12}),
        ("generalised_logistic", {"location": 3.0, "scale": 0.4, "shape": -0.15}),
    ):
        records = families.value(family, given, rng.standard_normal((1, 400_000)))
        fitted = (float(each[0]) for each in floods.fitted(family, records))
        found = dict(zip(("location", "scale", "shape"), fitted, strict=True))
        for key, expected in given.items():
            assert found[key] == pytest.approx(expected, abs=0.006), (family, key)


def test_alternatives_of_a_long_record_are_close_to_it() -> None:
    given = {"location": 3.0, "scale": 0.6}
    found: dict[str, Array] = floods.alternatives("gumbel", given, 50, np.random.default_rng(3), 20_000)
    # asymptotic spread of a Gumbel scale by L-moments, 0.6 sqrt(0.8/n) nearly (Hosking and Wallis 1997, from memory)
    assert float(np.std(found["scale"])) == pytest.approx(0.6 * np.sqrt(0.8 / 50), rel=0.1)
