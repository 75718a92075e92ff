"""Two small sites (invented) on which going over the bank is rare: one ruled by blockage, one by the flow.

Each is run through the study and site machinery in three ways: the plain count, the threshold method with importance
sampling, and the subset simulation of OpenTURNS, a general-purpose library. All count their model runs.
"""
# ruff: noqa: E501  (long lines of a study)

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from overbank.analysis import ladder, pilot, rare, short_ladder
from overbank.analysis.overtopping import Probability, threshold
from overbank.analysis.polish import DepthAt
from overbank.model import Model
from overbank.study.build import build
from overbank.study.load import read_study
from overbank.uncertain.dependence import Copula
from overbank.uncertain.designs import scores
from overbank.uncertain.inputs import Inputs

Array = NDArray[np.float64]

STUDY = """\
title = "Rarely over the bank (invented)"

[run]
samples = 4096

[decision]
target_probability = 0.01
assurance = 0.9

[flow]
design_m3_s = {{ lognormal = {{ median = 4.5, cov = {flow_cov} }} }}

[tailwater]
level_m = {{ normal = {{ mean = 31.0, sd = 0.10 }} }}

[[element]]
kind = "culvert"
id = "lane"
bank_level_m = 32.0
barrel = {{ shape = "box", span_m = 2.4, rise_m = 1.5, length_m = 22.0, upstream_invert_m = 30.10, downstream_invert_m = 30.00, manning_n = {{ triangular = {{ low = 0.012, mode = 0.014, high = 0.018 }} }} }}

[element.inlet]
edge = "wingwalls 30 to 75 deg"
head_factor = {{ normal = {{ mean = 1.0, sd = 0.05 }} }}
entrance_loss = {{ triangular = {{ low = 0.24, mode = 0.40, high = 0.60 }} }}

[element.screen]
width_m = 3.6
height_m = 2.5
bar_m = 0.020
gap_m = 0.125
overflow = {overflow}
blockage = {{ beta = {{ a = {a}, b = {b} }} }}

[element.road]
level_m = 34.5
length_m = 14.0
coefficient = {{ uniform = {{ low = 1.4, high = 1.7 }} }}

[[dependence]]
between = ["flow.design_m3_s", "lane.screen.blockage"]
rank_correlation = 0.4
"""

BLOCKAGE, FLOW, TAILWATER = "lane.screen.blockage", "flow.design_m3_s", "tailwater.level_m"
BLOCKAGE_NODES = np.array([0.0, 0.2, 0.4, 0.6, 0.8, 1.0])
SCORE_NODES = np.array([-6.0, -2.0, 0.0, 2.0, 4.0, 8.0])

FEW = [0, 4, 5]
"""Of the nodes above, those of the short ladder: both ends, and one in the tail. With the polish to `ACCURACY` that
costs 4 to 9 runs a sample; without the middle one as many, and with more nodes one or two more (measured)."""

ACCURACY = 1e-3
"""Tolerance of a critical value, as a share of the ladder's range: 0.1 to 0.5 % of a conditional probability."""

PILOT, ROUND, REPLICATES = 64, 32, 16

WORTH_SEARCHING = 2e-2
"""Pilot probability below which the search pays for itself."""


@dataclass
class Site:
    """A site with a bank to set, and the count of its model runs."""

    name: str
    model: Model
    bank: float = np.nan
    runs: int = 0

    @property
    def inputs(self) -> Inputs:
        return self.model.problem.inputs

    def levels(self, independent: Array) -> Array:
        """Levels for independent normal scores (M, d)."""
        self.runs += len(independent)
        return self.model.levels(self.inputs.values(self.inputs.copula.correlate(independent)))

    def depth_of_rows(self, rows: Array) -> Array:
        self.runs += len(rows)
        return self.model.levels(rows) - self.bank


def sites(folder: Path) -> tuple[Site, Site]:
    """The site that blockage rules and the site that the flow rules."""
    found = []
    for name, changes in {
        "blockage rules": {"flow_cov": 0.05, "a": 1.2, "b": 9, "overflow": "false"},
        "flow rules": {"flow_cov": 0.25, "a": 2.0, "b": 30, "overflow": "true"},
    }.items():
        place = folder / name.replace(" ", "-")
        place.mkdir()
        (place / "study.toml").write_text(STUDY.format(**changes), encoding="utf-8")
        found.append(Site(name, Model(build(read_study(place)))))
    return found[0], found[1]


class IntegratedInput:
    """One input of a site as the integrated input: its nodes, and how it depends on the others."""

    def __init__(self, site: Site, name: str) -> None:
        inputs = site.inputs
        self.site, self.name, self.column = site, name, inputs.index(name)
        self.distribution = inputs.items[self.column].distribution
        low, high = self.distribution.support
        is_blockage = name == BLOCKAGE
        self.nodes = low + (high - low) * BLOCKAGE_NODES if is_blockage else self.distribution.value(SCORE_NODES)
        self.given = inputs.copula.conditional(self.column)
        correlation = np.delete(np.delete(inputs.copula.correlation, self.column, 0), self.column, 1)
        self.others = Copula(tuple(n for n in inputs.names if n != name), correlation)

    def depth_at(self, z: Array) -> DepthAt:
        """The model for samples whose other inputs have the correlated scores z (M, d - 1)."""
        rows = self.site.inputs.values(np.insert(z, self.column, 0.0, axis=1))

        def depth_over_bank(x: Array, sample: NDArray[np.intp]) -> Array:
            chosen = rows[sample]
            chosen[:, self.column] = x
            return self.site.depth_of_rows(chosen)

        return depth_over_bank

    def tails(self, critical: Array, z: Array) -> Array:
        mean = z @ self.given.weights
        return ladder.tail_probability(critical, self.distribution.score_below, mean, self.given.spread)

    def trial(self, z: Array) -> pilot.Trial:
        """All nodes and no polish, for the pilot."""
        depth_over_bank, everyone = self.depth_at(z), np.arange(len(z))
        depths = np.array([depth_over_bank(np.full(len(z), node), everyone) for node in self.nodes])
        critical = ladder.critical(self.nodes, depths[:, None, :]).value[0]
        return pilot.Trial(self.name, depths, self.tails(critical, z))

    def conditional(self, independent: Array) -> Array:
        """P(over | independent scores of the others)."""
        z = self.others.correlate(independent)
        tolerance = ACCURACY * float(np.ptp(self.nodes))
        found = short_ladder.critical_values(self.depth_at(z), self.nodes[FEW], len(z), tolerance)
        return self.tails(found.value, z)


def ours(site: Site, samples: int, seed: int) -> Probability:
    """Pilot, choice of the integrated input, and the figure from as many samples of the others."""
    z = site.inputs.copula.correlate(scores("sobol", PILOT, site.inputs.dimension, seed, 1)[0])
    stairs = {name: IntegratedInput(site, name) for name in (BLOCKAGE, FLOW, TAILWATER)}
    others = {name: np.delete(z, integrated.column, axis=1) for name, integrated in stairs.items()}
    trials = {name: integrated.trial(others[name]) for name, integrated in stairs.items()}
    name = pilot.choose(list(trials.values()), tolerance=1e-4).name
    integrated, probabilities = stairs[name], trials[name].probabilities
    if np.mean(probabilities) >= WORTH_SEARCHING:
        drawn = scores("sobol", samples, site.inputs.dimension - 1, seed + 1, REPLICATES)
        return threshold(integrated.conditional(drawn.reshape(samples, -1)).reshape(REPLICATES, -1))
    independent = np.linalg.solve(np.linalg.cholesky(integrated.others.correlation), others[name].T).T
    return rare.probability(
        integrated.conditional,
        independent,
        probabilities,
        seed=seed,
        samples=samples,
        replicates=REPLICATES,
        round_samples=ROUND,
    )


def subset_simulation(site: Site, seed: int) -> float:
    """OpenTURNS, 4000 samples a level in blocks of 100; only here, for the normal tests run without it."""
    import openturns

    def depths(z: openturns.Sample) -> Array:
        levels = site.levels(np.asarray(z))
        return np.minimum(levels - site.bank, 1e3)[:, None]  # an endless level would spoil its quantiles

    openturns.RandomGenerator.SetSeed(seed)
    dimension = site.inputs.dimension
    vector = openturns.RandomVector(openturns.Normal(dimension))
    model = openturns.PythonFunction(dimension, 1, func_sample=depths)
    event = openturns.ThresholdEvent(openturns.CompositeRandomVector(model, vector), openturns.Greater(), 0.0)
    algorithm = openturns.SubsetSampling(event)
    algorithm.setMaximumOuterSampling(40)
    algorithm.setBlockSize(100)
    algorithm.run()
    return float(algorithm.getResult().getProbabilityEstimate())
