"""Model runs to a coefficient of variation of 10 %, near 1e-2, 1e-4 and 1e-6, on a real crossing.

Run with `pytest -m benchmark tests/benchmarks/test_rare.py -s`. Coefficients of variation are the scatter of repeated
runs, never what a method says of itself. Ours counts the runs of the pilot, of the search, of the ladder and of the
polish; it is given the smallest of a few sample sizes that reaches 10 %. Plain Monte Carlo needs 100 (1 - P)/P runs.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from benchmarks import rare_sites
from benchmarks.rare_sites import Array, Site

pytestmark = pytest.mark.benchmark

BANKS = {"blockage rules": (31.574, 32.01, 32.92), "flow rules": (31.925, 32.54, 33.36)}
SIZES = (64, 128, 256, 512)
REPEATS = 40
PLAIN = 2**21
WANTED = 0.1


def scatter(values: list[float]) -> tuple[float, float]:
    """Mean and coefficient of variation of repeated runs."""
    return float(np.mean(values)), float(np.std(values, ddof=1) / np.mean(values))


def our_runs(site: Site) -> tuple[int, float, float, float]:
    """Sample size, mean, coefficient of variation and model runs of the first size that reaches 10 %."""
    for samples in SIZES:
        site.runs = 0
        mean, variation = scatter([rare_sites.ours(site, samples, seed).value for seed in range(REPEATS)])
        if variation <= WANTED:
            return samples, mean, variation, site.runs / REPEATS
    raise AssertionError(f"{site.name}: {variation:.0%} with {samples} samples")


def subset_runs(site: Site) -> tuple[float, float, float, float]:
    """Mean, coefficient of variation, model runs, and those runs scaled to 10 %."""
    site.runs = 0
    mean, variation = scatter([rare_sites.subset_simulation(site, seed) for seed in range(REPEATS)])
    runs = site.runs / REPEATS
    return mean, variation, runs, runs * (variation / WANTED) ** 2


def plain_levels(site: Site) -> Array:
    rng = np.random.default_rng(1)
    pieces = [rng.standard_normal((PLAIN // 8, site.inputs.dimension)) for _ in range(8)]
    return np.concatenate([site.levels(piece) for piece in pieces])


def check(exact: float, mean: float, variation: float, count: float) -> None:
    """Within four standard errors of each other; `exact` is known to 1 %."""
    assert abs(mean / exact - 1) < 4 * np.hypot(variation / np.sqrt(count), 0.01), (exact, mean, variation)


def test_runs_to_ten_percent(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    lines = [f"{'':24}{'P':>9} {'plain':>11} {'subset':>9} {'(CoV, runs)':>16} {'ours':>7} {'(CoV, samples)':>15} "]
    for site in rare_sites.sites(tmp_path):
        levels = plain_levels(site)
        for bank in BANKS[site.name]:
            site.bank = bank
            exact = rare_sites.ours(site, 2**14, seed=1000).value
            samples, mean, variation, ours = our_runs(site)
            check(exact, mean, variation, REPEATS)
            subset_mean, subset_variation, runs, subset = subset_runs(site)
            check(exact, subset_mean, subset_variation, REPEATS)
            events = np.count_nonzero(levels > bank)
            check(exact, events / PLAIN, np.sqrt(1 / (exact * PLAIN)), 1)
            plain = 100 * (1 - exact) / exact
            lines.append(
                f"{site.name:24}{exact:9.2e} {plain:11,.0f} {subset:9,.0f} {subset_variation:8.0%},{runs:7,.0f} "
                f"{ours:7,.0f} {variation:9.1%},{samples:5} {plain / ours:10,.0f} x plain {subset / ours:6.1f} x subset"
            )
            assert ours < subset
            assert exact > 1e-3 or plain > 100 * ours
    with capsys.disabled():
        print("\nmodel runs to 10 %\n" + "\n".join(lines))
