"""First-order and total indices with intervals, eight inputs, 2^14 base samples: time, side by side in one run.

Ours: scrambled Sobol' points, our inputs, the compiled crossing of the benchmark's site on all cores, replicated
intervals. The rival: SALib's `sample.sobol` and `analyze.sobol`, no second order, its default bootstrap, SciPy's
distributions and the vectorised NumPy model of the same site. Both run their model 10 x 2^14 times. The eighth input is
the bank: the output is the level over it. That both find the same indices is asserted.
"""

from __future__ import annotations

import numpy as np
import pytest
from pytest_benchmark.fixture import BenchmarkFixture
from scipy import stats

from benchmarks import rivals, site
from benchmarks.rivals import Array, Samples
from benchmarks.table import OURS, Table
from overbank.analysis.sensitivity import Indices, blocks, indices
from overbank.uncertain.bounded import InflatedBeta
from overbank.uncertain.dependence import Copula
from overbank.uncertain.designs import scores
from overbank.uncertain.distributions import Lognormal, Normal, Triangular, Uniform
from overbank.uncertain.inputs import Input, Inputs

pytestmark = pytest.mark.benchmark

BASE, REPLICATES, SPREAD = 2**14, 16, 0.18
DISTRIBUTIONS = {
    "flow": Lognormal(7.5, float(np.sqrt(np.expm1(SPREAD**2)))),
    "tailwater": Normal(31.1, 0.15),
    "manning": Triangular(0.012, 0.014, 0.018),
    "factor": Normal(1.0, 0.05),
    "entrance": Triangular(0.24, 0.40, 0.60),
    "blockage": InflatedBeta(0.2, 1.5, 2.5, 0.0),
    "road": Uniform(1.4, 1.7),
    "bank": Normal(32.7, 0.05),
}
NAMES = tuple(DISTRIBUTIONS)
INPUTS = Inputs(
    tuple(Input(name, distribution) for name, distribution in DISTRIBUTIONS.items()), Copula(NAMES, np.eye(len(NAMES)))
)


def from_scipy(u: Array) -> Array:
    """The same inputs from uniform numbers, as a user of SciPy would write them."""
    return np.column_stack(
        [
            stats.lognorm.ppf(u[:, 0], SPREAD, scale=7.5),
            stats.norm.ppf(u[:, 1], 31.1, 0.15),
            stats.triang.ppf(u[:, 2], 1 / 3, 0.012, 0.006),
            stats.norm.ppf(u[:, 3], 1.0, 0.05),
            stats.triang.ppf(u[:, 4], 16 / 36, 0.24, 0.36),
            stats.beta.ppf(np.maximum(u[:, 5] - 0.2, 0.0) / 0.8, 1.5, 2.5),
            1.4 + 0.3 * u[:, 6],
            stats.norm.ppf(u[:, 7], 32.7, 0.05),
        ]
    )


def over_bank(values: Array, model: str) -> Array:
    samples = Samples(*values.T[:7])
    level = site.compiled_levels(samples) if model == "compiled" else rivals.numpy_levels(samples)
    return np.asarray(level - values[:, 7])


def ours() -> Indices:
    d = len(NAMES)
    both = scores("sobol", BASE, 2 * d, 1, REPLICATES)
    outputs = [
        over_bank(INPUTS.values(table).reshape(-1, d), "compiled").reshape(table.shape[:2])
        for table in blocks(both[..., :d], both[..., d:])
    ]
    return indices(np.stack(outputs, axis=1), NAMES)


def salib(model: str) -> dict[str, Array]:
    from SALib.analyze import sobol as analyze
    from SALib.sample import sobol as sample

    problem = {"num_vars": len(NAMES), "names": list(NAMES), "bounds": [[0.0, 1.0]] * len(NAMES)}
    values = from_scipy(sample.sample(problem, BASE, calc_second_order=False, seed=1))
    found: dict[str, Array] = analyze.analyze(problem, over_bank(values, model), calc_second_order=False, seed=1)
    return found


GROUP = f"indices of {len(NAMES)} inputs, 2^14 base samples, {(len(NAMES) + 2) * BASE:,} model runs"


def test_inputs_are_the_same() -> None:
    u = np.random.default_rng(1).random((2000, len(NAMES)))
    values = from_scipy(u)
    np.testing.assert_allclose(INPUTS.values(stats.norm.ppf(u)), values, rtol=1e-6, atol=1e-9)
    np.testing.assert_allclose(over_bank(values, "compiled"), over_bank(values, "NumPy"), atol=1e-4)


def test_ours(benchmark: BenchmarkFixture, table: Table) -> None:
    table.time(benchmark, GROUP, OURS, ours, rounds=5)


@pytest.mark.parametrize(("model", "least"), [("NumPy", 3.0), ("compiled", None)], ids=["NumPy", "compiled"])
def test_salib(benchmark: BenchmarkFixture, table: Table, model: str, least: float | None) -> None:
    """Under a third of its time with the vectorised model; with our compiled model under it, for the eye."""
    name = f"SALib, {'vectorised NumPy' if model == 'NumPy' else 'our compiled'} model"
    found: dict[str, Array] = {}
    table.time(benchmark, GROUP, name, lambda: found.update(salib(model)), rounds=3, warm=0)
    own = ours().table.iloc[:-1]
    for ours_name, theirs in (("first", "S1"), ("total", "ST")):
        assert np.all(np.abs(own[ours_name] - found[theirs]) < 0.02)
    table.times_faster(GROUP, name, least)
