"""Model runs to a coefficient of variation of 10 %, near 1e-2, 1e-4 and 1e-6, on a real crossing.

Coefficients of variation are the scatter of repeated runs, never what a method says of itself. Ours counts the runs of
the pilot, of the search, of the ladder and of the polish; it is given the smallest of a few sample sizes that reaches
10 %. Plain Monte Carlo needs 100 (1 - P)/P runs. Those of the subset simulation are scaled to 10 %. The goals are for
1e-4; fewer runs than subset simulation are asked everywhere, and at 1e-6 as much against plain Monte Carlo.
"""

from __future__ import annotations

import numpy as np
import pytest

from benchmarks import rare_sites
from benchmarks.rare_sites import Array, Site
from benchmarks.table import Table

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


@pytest.fixture(scope="module")
def both(tmp_path_factory: pytest.TempPathFactory) -> dict[str, tuple[Site, Array]]:
    """The sites by name, each with the levels of a plain Monte Carlo sample."""
    found = rare_sites.sites(tmp_path_factory.mktemp("sites"))
    return {site.name: (site, plain_levels(site)) for site in found}


@pytest.mark.parametrize(("name", "rank"), [(name, rank) for name in BANKS for rank in range(3)])
def test_runs_to_ten_percent(both: dict[str, tuple[Site, Array]], table: Table, name: str, rank: int) -> None:
    site, levels = both[name]
    site.bank = BANKS[name][rank]
    exact = rare_sites.ours(site, 2**14, seed=1000).value
    samples, mean, variation, ours = our_runs(site)
    check(exact, mean, variation, REPEATS)
    subset_mean, subset_variation, runs, subset = subset_runs(site)
    check(exact, subset_mean, subset_variation, REPEATS)
    check(exact, np.count_nonzero(levels > site.bank) / PLAIN, np.sqrt(1 / (exact * PLAIN)), 1)
    plain = 100 * (1 - exact) / exact
    what = f"{name}, P = {exact:.2e}, model runs to 10 %"
    said = f"{ours:,.0f} ({variation:.1%} with {samples} samples)"
    table.ratio(f"{what}: plain Monte Carlo", said, f"{plain:,.0f}", plain / ours, None if exact > 1e-3 else 100.0)
    theirs = f"{subset:,.0f} ({subset_variation:.0%} with {runs:,.0f})"
    table.ratio(f"{what}: subset simulation", said, theirs, subset / ours, 1.0)
