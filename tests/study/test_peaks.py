"""Peaks over a threshold in a study: read, fitted, told in words, and refused with one message."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from overbank.errors import StudyError
from overbank.report.page import page
from overbank.run import run
from overbank.study.load import Study, read_study
from pond import pond

GIVEN = """basis = "invented" }
peaks = { file = "peaks.csv", threshold_m3_s = 2.0, years = 30 }
fit = { family = "gumbel", method = "maximum_likelihood", basis = "gauge (invented)" }

[tail"""
FEW = ("samples = 8192", "samples = 512")


def watched(folder: Path, *changes: tuple[str, str]) -> Study:
    """The pond with 60 invented peaks over 2 m3/s in 30 years, exponential with a mean excess of 0.8 m3/s."""
    excess = stats.expon.ppf((np.arange(1, 61) - 0.5) / 60.0, scale=0.8)
    rows = "".join(f"{1990 + place // 2},{flow:.4f}\n" for place, flow in enumerate(2.0 + excess))
    (folder / "peaks.csv").write_text(f"year,flow_m3_s\n{rows}", encoding="utf-8")
    text = GIVEN
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    return pond(folder, ('basis = "invented" }\n\n[tail', text), FEW)


def test_the_floods_of_a_year_are_those_of_the_peaks(tmp_path: Path) -> None:
    """Over the bank at 10.6 m above 10 + Q/10 + shift: 1 - exp(-2 P(excess)), the shift N(0, 0.1), by quadrature."""
    made = run(watched(tmp_path), only=("annual",))
    assert made.annual is not None
    nodes, weights = np.polynomial.hermite_e.hermegauss(60)
    capacity = 10.0 * (0.6 - 0.1 * nodes)
    mean = float(np.mean(2.0 + stats.expon.ppf((np.arange(1, 61) - 0.5) / 60.0, scale=0.8))) - 2.0

    def by(scale: float, rate: float) -> float:
        return float(weights @ -np.expm1(-rate * np.exp(-(capacity - 2.0) / scale)) / weights.sum())

    drawn = np.random.default_rng(1)
    scales = stats.invgamma(59, scale=60 * mean).rvs(4000, random_state=drawn)
    rates = stats.gamma(60, scale=1 / 30).rvs(4000, random_state=drawn)
    right = float(np.mean([by(s, r) for s, r in zip(scales, rates, strict=True)]))
    assert made.annual.probability.value == pytest.approx(right, rel=0.06)
    text = " ".join(page(made, {}).replace("\u00a0", " ").split())
    assert "60 peaks over 2 m³/s in 30 years (2 a year)" in text
    assert "below it, for probabilities above 86 % a year, the curve is carried on" in text


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("threshold_m3_s = 2.0", "threshold_m3_s = 2.5", "a threshold below every peak"),
        (', method = "maximum_likelihood"', "", "maximum_likelihood, for peaks over a threshold"),
        ("\nfit = {", "\nfat = {", "a fit beside peaks"),
        ("\nfit", '\nannual_maxima = "peaks.csv"\nfit', "annual, annual_maxima or peaks"),
        ("\nfit", "\nhistoric = { years = 10, threshold_m3_s = 9.0 }\nfit", "historic only beside annual_maxima"),
        ('"gumbel", ', '"gumbel", ignore_below_m3_s = 2.1, ', "ignore_below_m3_s only beside annual_maxima"),
        ("years = 30", "years = 0", "years"),
    ],
)
def test_peaks_that_cannot_be_are_refused(tmp_path: Path, old: str, new: str, told: str) -> None:
    with pytest.raises(StudyError, match=told):
        watched(tmp_path, (old, new))


def test_a_flow_that_no_site_has_is_told_with_its_row(tmp_path: Path) -> None:
    watched(tmp_path)
    (tmp_path / "peaks.csv").write_text("flow_m3_s\n3.0\n0.0\n", encoding="utf-8")
    with pytest.raises(StudyError, match=r"row 3.*a flow \[m3/s\] from 0.0001"):
        read_study(tmp_path)
