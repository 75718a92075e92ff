"""First-order and total indices with intervals, eight inputs, 2^14 base samples: time, side by side in one run.

Ours: scrambled Sobol' points, our inputs, the compiled crossing of the benchmark's site on all cores, replicated
intervals. The rival: SALib's `sample.sobol` and `analyze.sobol`, no second order, its default bootstrap, SciPy's
distributions and the vectorised NumPy model of the same site. Both run their model 10 x 2^14 times. The eighth input is
the bank: the output is the level over it. Nothing asserts a time; that both find the same indices is asserted.

Run with `pytest -m benchmark tests/benchmarks -s`.
"""

from __future__ import annotations

import time

import numpy as np
import pytest
from scipy import stats

from benchmarks import rivals, site
from benchmarks.rivals import Array, Samples
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


def ours(model: str) -> tuple[Indices, float]:
    """Indices, and the share of the time that the model took [s]."""
    d = len(NAMES)
    both = scores("sobol", BASE, 2 * d, 1, REPLICATES)
    outputs, spent = [], 0.0
    for table in blocks(both[..., :d], both[..., d:]):
        values = INPUTS.values(table).reshape(-1, d)
        start = time.perf_counter()
        outputs.append(over_bank(values, model).reshape(table.shape[:2]))
        spent += time.perf_counter() - start
    return indices(np.stack(outputs, axis=1), NAMES), spent


def salib(model: str) -> tuple[dict[str, Array], float]:
    from SALib.analyze import sobol as analyze
    from SALib.sample import sobol as sample

    problem = {"num_vars": len(NAMES), "names": list(NAMES), "bounds": [[0.0, 1.0]] * len(NAMES)}
    values = from_scipy(sample.sample(problem, BASE, calc_second_order=False, seed=1))
    start = time.perf_counter()
    outputs = over_bank(values, model)
    spent = time.perf_counter() - start
    return analyze.analyze(problem, outputs, calc_second_order=False, seed=1), spent


def test_indices_of_eight_inputs(capsys: pytest.CaptureFixture[str]) -> None:
    u = np.random.default_rng(1).random((2000, len(NAMES)))
    values = from_scipy(u)
    np.testing.assert_allclose(INPUTS.values(stats.norm.ppf(u)), values, rtol=1e-6, atol=1e-9)
    np.testing.assert_allclose(over_bank(values, "compiled"), over_bank(values, "NumPy"), atol=2e-5)

    rows, found = [], {}
    for name, run, model in (
        ("ours, compiled model", ours, "compiled"),
        ("SALib, vectorised NumPy model", salib, "NumPy"),
        ("SALib, compiled model", salib, "compiled"),
    ):
        taken = []
        for _ in range(3 if model == "compiled" else 1):
            start = time.perf_counter()
            found[name], spent = run(model)
            taken.append((time.perf_counter() - start, spent))
        rows.append((name, *min(taken)))
    (_, best, _), _, _ = rows
    table = found["ours, compiled model"].table.iloc[:-1]
    rival = found["SALib, vectorised NumPy model"]
    for ours_name, theirs in (("first", "S1"), ("total", "ST")):
        assert np.all(np.abs(table[ours_name] - rival[theirs]) < 0.02)
    narrower = np.median(2 * rival["ST_conf"] / (table["total_high"] - table["total_low"]))
    with capsys.disabled():
        print(f"\nfirst and total indices with intervals, {len(NAMES)} inputs, 2^14 base samples, 163 840 model runs")
        for name, seconds, spent in rows:
            print(
                f"{name:32} {seconds:8.2f} s, of which model {spent:7.2f} s, the rest {seconds - spent:6.2f} s; "
                f"ours takes {best / seconds:6.1%} of it"
            )
        print(f"our intervals of the total indices are {narrower:.1f} times narrower (median)")
