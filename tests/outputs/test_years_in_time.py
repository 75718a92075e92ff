"""The floods of a year in time: closed forms, steady runs where nothing changes, and years simulated step by step."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.stats import gumbel_r, norm

from overbank.model import Model
from overbank.outputs.outcome import Outcome
from overbank.outputs.years_in_time import LASTING, YearsInTime
from overbank.report.passing import year_lines
from overbank.run import run
from overbank.study.build import Problem
from pond import BANK, DESIGN, SHIFT_SD, pond
from small import BLOCKAGE, DEPENDENCE, FLOW, study

Array = NDArray[np.float64]

LOCATION, SCALE, YEARS = 3.0, 0.8, 20
ANNUAL = f"annual = {{ gumbel = {{ location = {LOCATION}, scale = {SCALE} }} }}\ndesign_life_years = {YEARS}"
TRIANGLE = 'hydrograph = { shape = "triangle", hours_to_peak = 3.0, falling_ratio = 2.0 }'
GAMMA = 'hydrograph = { shape = "gamma", hours_to_peak = 3.0, base_flow_m3_s = 0.5 }'
DEBRIS = 'debris = { rate_per_hour = 0.2, grows_with = "flow", ceiling = 0.9 }'
CREW = "crew = { call_level_m = 30.9, travel_hours = 0.5, clears_per_hour = 0.4 }"
LOW = ("mean = 32.2, sd = 0.05 }", "mean = 31.5, sd = 0.05 }")
FEW, MORE = (("samples = 4096", f"samples = {samples}") for samples in (512, 1024))


def in_time(made: Outcome) -> YearsInTime:
    assert made.years_in_time is not None
    return made.years_in_time


def small(
    folder: Path, *tables: str, samples: tuple[str, str] = FEW, more: tuple[tuple[str, str], ...] = ()
) -> Outcome:
    text = "\n".join((FLOW, ANNUAL, *tables))
    return run(study(folder, samples, (FLOW, text), (DEPENDENCE, ""), *more), only=("annual", "years_in_time"))


def test_a_pond_has_the_years_of_its_closed_form(tmp_path: Path) -> None:
    """Level 10 + Q/10 + shift: time over a capacity q* (1 - q*/Q) Tb, volume (1 - q*/Q)^2 Q Tb/2, Q of Gumbel's law
    and the shift normal, by SciPy on a grid of both."""
    made = run(
        pond(tmp_path, (DESIGN, f"{DESIGN}\n{ANNUAL}\n{TRIANGLE}"), ("samples = 8192", "samples = 4096")),
        only=("years_in_time",),
    )
    found = in_time(made)
    chances = (np.arange(400) + 0.5) / 400
    capacity = 10.0 * (BANK - 10.0 - SHIFT_SD * norm.ppf(chances))
    over = gumbel_r.sf(capacity, LOCATION, SCALE)
    tails = over[:, None] * (np.arange(2000) + 0.5) / 2000
    share = 1.0 - capacity[:, None] / gumbel_r.isf(tails, LOCATION, SCALE)
    hours, of_one = 9.0 * over @ share.mean(axis=1) / 400, 9.0 * over @ share.mean(axis=1) / over.sum()
    flows = gumbel_r.isf(tails, LOCATION, SCALE)
    volume = 0.5 * 9.0 * 3600.0 * over @ (share**2 * flows).mean(axis=1) / 400
    assert found.nobody is None
    assert found.probability.value == pytest.approx(over.mean(), rel=2e-3)
    for estimate, exact in ((found.hours, hours), (found.of_one, of_one), (found.volume, volume)):
        assert estimate.value == pytest.approx(exact, rel=0.02)
        assert estimate.low <= exact <= estimate.high
    assert found.life is not None
    assert found.life.probability.value == pytest.approx(np.mean(1.0 - (1.0 - over) ** YEARS), rel=3e-3)
    for least in LASTING[:4]:
        longer = gumbel_r.sf(capacity / (1.0 - least / 9.0), LOCATION, SCALE).mean()
        assert found.lasting[least].value == pytest.approx(longer, rel=0.05)
        assert found.lasting[least].low <= longer <= found.lasting[least].high
    assert found.lasting[12.0].value == 0.0


def test_where_nothing_changes_in_time_a_year_is_that_of_steady_runs(tmp_path: Path) -> None:
    still = small(tmp_path / "still", GAMMA)
    no_debris = small(tmp_path / "none", GAMMA, "debris = { rate_per_hour = 0.0 }")
    assert still.annual is not None
    steady = still.annual.probability
    assert in_time(still).probability.value == pytest.approx(steady.value, rel=1e-3)
    assert in_time(no_debris).probability.value == pytest.approx(steady.value, rel=1e-3)
    for steps, closed in (
        (in_time(no_debris).hours, in_time(still).hours),
        (in_time(no_debris).volume, in_time(still).volume),
    ):
        assert steps.low < closed.value < steps.high  # one flood of each sample, not eight
    assert still.annual.life is not None
    life = in_time(still).life
    assert life is not None
    assert life.probability.value == pytest.approx(still.annual.life.probability.value, rel=2e-3)


def simulated(problem: Problem, years: int, steps: int = 90) -> tuple[dict[str, float], dict[str, float]]:
    """Probability in a year and mean hours over the bank, with nobody and with the crew: everything drawn by NumPy and
    SciPy, explicit steps, the site alone asked for its levels."""
    generator = np.random.default_rng(5)
    inputs = problem.inputs
    scores = generator.standard_normal((years, inputs.dimension))
    rows = np.column_stack([item.distribution.value(scores[:, j]) for j, item in enumerate(inputs.items)])
    numbers, banks = problem.numbers(rows), Model(problem).banks(rows)
    peak = gumbel_r.isf(generator.random(years), LOCATION, SCALE)
    start = np.asarray(numbers["lane.screen.blockage"])
    found: tuple[dict[str, float], dict[str, float]] = ({}, {})
    for told, clears in zip(found, (0.0, 0.4), strict=True):
        blocked, arrives = start.copy(), np.full(years, np.inf)
        highest, hours = np.full(years, -np.inf), np.zeros(years)
        step = 12.0 / steps
        for time in np.arange(steps) * step:
            share = (time / 3.0 * np.exp(1.0 - time / 3.0)) ** 3.697
            flow = np.minimum(0.5, peak) + np.maximum(peak - 0.5, 0.0) * share
            changed: dict[str, Any] = {**numbers, "flow.design_m3_s": flow, "lane.screen.blockage": blocked}
            level = problem.site.levels(changed, years, ("lane",))[0]
            highest, hours = np.maximum(highest, level), hours + step * (level > banks)
            arrives = np.where((level >= 30.9) & np.isinf(arrives), time + 0.5, arrives)
            grown = 0.2 * flow / 6.0 * np.maximum(1.0 - blocked / 0.9, 0.0)
            blocked = np.maximum(blocked + step * (grown - clears * (time >= arrives)), 0.0)
        told |= {"over": float(np.mean(highest > banks)), "hours": float(np.mean(hours))}
        told["error"] = float(np.std(hours)) / np.sqrt(years)
    return found


def test_debris_and_a_crew_against_years_simulated_step_by_step(tmp_path: Path) -> None:
    anew = BLOCKAGE.replace(
        "inflated_beta = { at_zero = 0.2, a = 1.5, b = 2.5, at_one = 0.05 }", "beta = { a = 2, b = 3 }"
    )
    lower = (LOW[0], LOW[1].replace("31.5", "31.2"))
    made = small(tmp_path, GAMMA, DEBRIS, CREW, samples=MORE, more=((BLOCKAGE, anew), lower))
    found = in_time(made)
    years = 1500
    alone, helped = simulated(made.problem, years)
    assert found.nobody is not None
    assert made.annual is not None
    assert helped["over"] < alone["over"] - 0.02
    for estimate, told in ((found.nobody, alone), (found.probability, helped)):
        error = np.sqrt(told["over"] * (1.0 - told["over"]) / years)
        assert abs(estimate.value - told["over"]) < 3.0 * error + 0.5 * (estimate.high - estimate.low)
    assert abs(found.hours.value - helped["hours"]) < 3.0 * helped["error"] + 0.5 * (found.hours.high - found.hours.low)
    assert found.nobody.value > found.probability.value
    assert found.nobody.low > made.annual.probability.high


def test_a_pool_makes_going_over_rarer(tmp_path: Path) -> None:
    (tmp_path / "few").mkdir()
    (tmp_path / "few" / "pool.csv").write_text("level_m,area_m2\n29,20000\n33,20000\n", encoding="utf-8")
    few = (("replicates = 8", "replicates = 4"), (BLOCKAGE, "blockage = 0.3"), LOW)
    changes = (FLOW, "\n".join((FLOW, ANNUAL, GAMMA, 'pool = { table = "pool.csv" }')))
    made = study(tmp_path / "few", ("samples = 4096", "samples = 64"), changes, (DEPENDENCE, ""), *few)
    found = run(made, only=("annual", "years_in_time"))
    nobody, steady = in_time(found).nobody, found.annual
    assert nobody is not None
    assert steady is not None
    assert nobody.value == pytest.approx(steady.probability.value, rel=1e-3)
    assert in_time(found).probability.value < 0.9 * nobody.value


def test_a_bank_that_no_flood_reaches(tmp_path: Path) -> None:
    """A level of 20 m needs 100 m3/s, which Gumbel's law brings once in some 1e52 years."""
    high = ("bank_level_m = 10.6", "bank_level_m = 20.0")
    changes = (DESIGN, f"{DESIGN}\n{ANNUAL}\n{TRIANGLE}"), ("samples = 8192", "samples = 256"), high
    found = in_time(run(pond(tmp_path, *changes), only=("years_in_time",)))
    assert (found.probability.value, found.probability.low) == (0.0, 0.0)
    assert 0.0 < found.probability.high < 1e-5
    assert np.isnan(found.hours.value)
    assert found.hours.note == "in no state does any flood of the ladder go over"
    assert dict(year_lines(found))["time over the bank in a year, mean of all years"].value


def test_without_annual_maxima_or_a_shape_there_is_nothing(tmp_path: Path) -> None:
    assert small(tmp_path / "no shape").years_in_time is None
    text = "\n".join((FLOW, GAMMA))
    assert run(study(tmp_path / "no years", FEW, (FLOW, text)), only=("years_in_time",)).years_in_time is None
