"""The floods of a year of a whole run, against plain simulation of the same site year by year."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.stats import genextreme, norm

from overbank.analysis.intervals import Estimate
from overbank.model import Model
from overbank.outputs.annual import Annual
from overbank.run import run
from overbank.sampling.nested import _shape
from overbank.study.build import Problem
from small import BLOCKAGE, DEPENDENCE, FLOW, ROAD, SCREEN, study

Array = NDArray[np.float64]

GEV = (2.6, 1.0, -0.1)
"""Location, scale and shape of the annual maxima, invented [m3/s]."""

ANNUAL = "annual = { gev = { location = 2.6, scale = 1.0, shape = -0.1 }, basis = 'invented' }"
GOES_WITH = """[[dependence]]
between = ["flow.annual", "lane.screen.blockage"]
rank_correlation = 0.5
"""
RIVER = ('sd = 0.1 }, basis = "invented" }', 'sd = 0.1 }, basis = "invented", kind = "knowledge" }')
"""The level below is the same in all floods here, as the simulation below takes it."""
CERTAIN = f"design_m3_s = 6.0\n{ANNUAL}\ndesign_life_years = 20"
STUDIES = {
    "alone": ((FLOW, CERTAIN), (DEPENDENCE, "")),
    "goes with the flood": ((FLOW, CERTAIN), (DEPENDENCE, GOES_WITH)),
    "never changes": (
        (FLOW, CERTAIN),
        (DEPENDENCE, ""),
        (BLOCKAGE, BLOCKAGE.replace(" }", " }, kind = 'knowledge'", 1).removesuffix("}") + "}"),
    ),
    "from a record": (
        (FLOW, "annual = { gumbel = { location = 2.6, scale = 1.0 }, equivalent_years = 20 }\n"
               "design_annual_probability = 0.02"),
        (DEPENDENCE, ""),
    ),
    "no blockage": (
        (FLOW, CERTAIN),
        (DEPENDENCE, ""),
        (BLOCKAGE, "blockage = 0"),
    ),
}  # fmt: skip


def looked_at(*changes: tuple[str, str]) -> tuple[Problem, Annual]:
    """The floods of a year of the small study, changed."""
    with TemporaryDirectory() as folder:
        made = run(study(Path(folder), ("samples = 4096", "samples = 2048"), RIVER, *changes), only=("annual",))
    assert made.annual is not None
    return made.problem, made.annual


@cache
def known(name: str) -> tuple[Problem, Annual]:
    return looked_at(*STUDIES[name])


def annual(name: str) -> Annual:
    return known(name)[1]


def problem_of(name: str) -> Problem:
    return known(name)[0]


@dataclass(frozen=True)
class Simulated:
    """Share of years, or of lives, in which the water goes over, and its standard error."""

    share: float
    error: float


def simulated(name: str, years: int, lives: int, correlation: float = 0.0, blocked_anew: bool = True) -> Simulated:
    """Plain simulation: everything drawn by NumPy's and SciPy's own generators, a flood each year."""
    problem = problem_of(name)
    generator = np.random.default_rng(17)
    inputs = problem.inputs
    knowledge = np.repeat(generator.standard_normal((lives, inputs.dimension)), years, axis=0)
    flood = generator.standard_normal(lives * years)
    column = inputs.index("lane.screen.blockage")
    if blocked_anew:
        own = generator.standard_normal(lives * years)
        knowledge[:, column] = correlation * flood + np.sqrt(1.0 - correlation**2) * own
    rows = np.column_stack([item.distribution.value(knowledge[:, j]) for j, item in enumerate(inputs.items)])
    flow = genextreme.isf(norm.sf(flood), GEV[2], GEV[0], GEV[1])
    over = levels(problem, rows, flow) > Model(problem).banks(rows)
    lost = over.reshape(lives, years).any(axis=1)
    return Simulated(float(lost.mean()), float(lost.std() / np.sqrt(lives)))


def levels(problem: Problem, rows: Array, flow: Array) -> Array:
    numbers = {**problem.numbers(rows), "flow.design_m3_s": flow}
    return np.asarray(problem.site.levels(numbers, len(rows), ("lane",))[0])


def agrees(found: Estimate, simulation: Simulated) -> None:
    """Within four standard errors of the simulation and the own interval."""
    half = 0.5 * (found.high - found.low)
    assert abs(found.value - simulation.share) < 4.0 * simulation.error + half


@pytest.mark.parametrize(("name", "correlation"), [("alone", 0.0), ("goes with the flood", 2 * np.sin(np.pi / 12))])
def test_a_year_and_a_life_against_plain_simulation(name: str, correlation: float) -> None:
    found = annual(name)
    agrees(found.probability, simulated(name, 1, 30_000, correlation))
    assert found.agree
    assert found.life is not None
    agrees(found.life.probability, simulated(name, 20, 2_000, correlation))


def test_debris_that_goes_with_the_flood_makes_overtopping_likelier() -> None:
    assert annual("goes with the flood").probability.low > 1.1 * annual("alone").probability.high


def test_a_blockage_that_never_changes_is_less_likely_to_be_met_in_a_life() -> None:
    anew, always = annual("alone"), annual("never changes")
    assert "lane.screen.blockage" in always.given.knowledge
    assert always.floods_of_each == 1 or always.given.each_flood
    agrees(always.probability, simulated("alone", 1, 30_000))  # the annual probability is the same
    assert always.life is not None
    assert anew.life is not None
    agrees(always.life.probability, simulated("alone", 20, 2_000, blocked_anew=False))
    assert always.life.probability.high < anew.life.probability.low
    assert always.knowledge[0.95].value > 2.0 * anew.knowledge[0.95].value


def test_with_nothing_blocked() -> None:
    found = annual("alone")
    assert found.unblocked is not None
    problem = problem_of("alone")
    z = np.random.default_rng(3).standard_normal((30_000, problem.inputs.dimension))
    rows = problem.inputs.values(z)
    rows[:, problem.inputs.index("lane.screen.blockage")] = 0.0
    flow = genextreme.rvs(GEV[2], GEV[0], GEV[1], size=len(rows), random_state=8)
    over = levels(problem, rows, flow) > Model(problem).banks(rows)
    agrees(found.unblocked.probability, Simulated(float(over.mean()), float(over.std() / np.sqrt(over.size))))
    ratio = found.probability.value / found.unblocked.probability.value
    assert found.unblocked.times.value == pytest.approx(ratio, rel=0.05)
    assert annual("no blockage").unblocked is None


def test_assurance_in_a_flood_that_debris_goes_with() -> None:
    # Given the flood of 2 %, the normal score of the blockage is normal about r z with spread sqrt(1 - r^2).
    problem, r, z = problem_of("goes with the flood"), 2 * np.sin(np.pi / 12), float(norm.isf(0.02))
    scores = np.random.default_rng(5).standard_normal((40_000, problem.inputs.dimension))
    column = problem.inputs.index("lane.screen.blockage")
    scores[:, column] = r * z + np.sqrt(1 - r**2) * scores[:, column]
    rows = problem.inputs.values(scores)
    flow = np.full(len(rows), genextreme.isf(0.02, GEV[2], GEV[0], GEV[1]))
    held = levels(problem, rows, flow) <= Model(problem).banks(rows)
    line = next(line for line in annual("goes with the flood").lines if line.annual_probability == 0.02)
    agrees(line.assurance, Simulated(float(held.mean()), float(held.std() / np.sqrt(held.size))))
    assert line.flow == pytest.approx(flow[0])


def test_lines_fall_and_rise_as_they_must() -> None:
    lines = annual("alone").lines
    assert [line.annual_probability for line in lines] == sorted(line.annual_probability for line in lines)[::-1]
    assert all(a.flow < b.flow for a, b in pairwise(lines))
    assert all(a.assurance.value >= b.assurance.value for a, b in pairwise(lines))
    assert all(line.levels[0.05].value <= line.levels[0.5].value <= line.levels[0.95].value for line in lines)


def test_the_level_of_the_bank_has_nearly_the_frequency_of_overtopping() -> None:
    # The median bank against an uncertain one of 0.05 m: near, not equal.
    found = annual("alone")
    curve = found.frequency.expected
    assert np.interp(32.2, curve.at, curve.probability) == pytest.approx(found.probability.value, rel=0.1)
    assert np.all(np.diff(curve.probability) <= 1e-12)
    assert np.all(found.frequency.knowledge[0.05] <= found.frequency.knowledge[0.95])


def test_a_design_flood_from_the_floods_of_a_year() -> None:
    with TemporaryDirectory() as folder:
        run_of = run(study(Path(folder), *STUDIES["from a record"]), only=("annual", "overtopping"))
    found = run_of.annual
    assert found is not None
    line = next(line for line in found.lines if line.annual_probability == 0.02)
    # the assurance in the design flood is 1 less the probability of overtopping in it: the same flood, the same site
    gap = abs(1.0 - line.assurance.value - run_of.overtopping.best.value)
    assert gap < 0.5 * (line.assurance.high - line.assurance.low) + 0.5 * (
        run_of.overtopping.best.high - run_of.overtopping.best.low
    )
    assert line.flow == pytest.approx(2.6 - np.log(-np.log(0.98)))  # closed form
    assert line.flow_low < line.flow < line.flow_high
    assert found.life is None
    assert found.fallen == 0


def test_uncertain_parameters_raise_the_annual_probability() -> None:
    # Convexity: the flood of the best estimate alone understates the risk.
    sure = STUDIES["from a record"][0][1].replace(", equivalent_years = 20", "")
    _, found = looked_at((FLOW, sure), (DEPENDENCE, ""))
    assert found.given.floods.known
    assert annual("from a record").probability.value > found.probability.value
    assert np.ptp([each.value for each in annual("from a record").knowledge.values()]) > 1.15 * np.ptp(
        [each.value for each in found.knowledge.values()]
    )


def test_nothing_is_asked_of_a_study_without_annual_maxima(tmp_path: Path) -> None:
    assert run(study(tmp_path), only=("annual",)).annual is None


def test_shut_for_good_goes_over_every_year() -> None:
    shut = SCREEN.replace("overflow = true", "overflow = false").replace(BLOCKAGE, "blockage = 1")
    _, found = looked_at((FLOW, CERTAIN), (DEPENDENCE, ""), (SCREEN, shut), (ROAD, ""))
    assert found.probability.value == 1.0
    assert found.plain.value == 1.0
    assert found.life is not None
    assert found.life.probability.value == 1.0
    assert found.unblocked is not None
    assert found.unblocked.probability.value < 0.5


@pytest.mark.parametrize(
    ("replicates", "each", "several", "shape"),
    [
        (16, 1024, True, (16, 32, 32)),
        (16, 1024, False, (16, 1024, 1)),
        (16, 2**14, True, (16, 64, 32)),
        (16, 4, True, (16, 2, 2)),
        (8, 250, True, (8, 15, 16)),
    ],
)
def test_shapes_of_the_two_loops(replicates: int, each: int, several: bool, shape: tuple[int, int, int]) -> None:
    assert _shape(replicates, each, several) == shape


def test_the_lognormal_of_the_small_study_is_not_used() -> None:
    # The design flow has no part in the floods of a year: dropping its uncertainty changes nothing of them.
    uncertain = f"{FLOW}\n{ANNUAL}\ndesign_life_years = 20"
    _, found = looked_at((FLOW, uncertain), (DEPENDENCE, ""))
    assert found.probability == annual("alone").probability
