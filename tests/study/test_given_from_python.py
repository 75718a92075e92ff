"""A distribution of SciPy in place of one of the file: what it does to a run, and what is refused."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from scipy import stats

import overbank
from overbank.errors import Fault
from overbank.model import Model
from overbank.run import run
from overbank.study.build import build
from small import study

BLOCKAGE = "lane.screen.blockage"
BETA = stats.beta(1.5, 2.5, 0.1, 0.8)
FEW = ("samples = 4096", "samples = 1024")


def test_a_run_with_it_agrees_with_many_plain_runs(tmp_path: Path) -> None:
    """Its own draws by SciPy, the flow's by SciPy too, pushed through the site and counted."""
    own = study(tmp_path, FEW).with_value(BLOCKAGE, BETA, "seen by the owner (invented)")
    own = own.with_value("flow.design_m3_s", stats.weibull_min(4.0, loc=3.0, scale=4.0))
    over = run(own, only=("overtopping",)).overtopping.best
    problem, generator, count = build(own), np.random.default_rng(3), 2**16
    flow, blocked = (problem.inputs.index(name) for name in ("flow.design_m3_s", BLOCKAGE))
    rows = problem.inputs.values(generator.standard_normal((count, problem.inputs.dimension)))
    together = 2.0 * np.sin(np.pi * 0.4 / 6.0)  # rank correlation 0.4 of the study, as that of two normal scores
    pair = generator.multivariate_normal([0.0, 0.0], [[1.0, together], [together, 1.0]], size=count)
    rows[:, flow] = stats.weibull_min(4.0, loc=3.0, scale=4.0).ppf(stats.norm.cdf(pair[:, 0]))
    rows[:, blocked] = BETA.ppf(stats.norm.cdf(pair[:, 1]))
    model = Model(problem)
    counted = np.mean(model.levels(rows) > model.banks(rows))
    error = np.hypot(np.sqrt(counted * (1 - counted) / count), (over.high - over.low) / 4)
    assert over.value == pytest.approx(counted, abs=4 * error)
    item = problem.inputs.items[blocked]
    assert (item.distribution.words, item.basis) == (
        "SciPy beta (1.5, 2.5, 0.1, 0.8)",
        "seen by the owner (invented)",
    )
    assert "flow.design_m3_s" in problem.gaps()


def test_samples_alternatives_and_the_file_stay(tmp_path: Path) -> None:
    wider = '\n[[alternative]]\nname = "Wider"\nset = { "lane.screen.width_m" = 5.0 }\n'
    first = study(tmp_path)
    (tmp_path / "study.toml").write_text(first.text + wider, encoding="utf-8")
    own = overbank.read_study(tmp_path).with_samples(512).with_value(BLOCKAGE, BETA)
    assert own.content.run.samples == 512
    inputs = build(own.alternative("Wider")).inputs
    assert inputs.items[inputs.index(BLOCKAGE)].distribution.words == "SciPy beta (1.5, 2.5, 0.1, 0.8)"
    assert first.given == {}


@pytest.mark.parametrize(
    ("name", "frozen", "fault"),
    [
        (
            BLOCKAGE,
            stats.norm(0.5, 0.4),
            Fault(
                f"line 31, {BLOCKAGE}",
                "a blocked share from 0 to 1",
                "values down to -1.1 (1 chance in 30 000)",
                "Narrow the distribution, or cut it off with low = 0.",
            ),
        ),
        (
            "lan.screen.blockage",
            BETA,
            Fault(
                "lan.screen.blockage",
                'a dotted name that begins with "flow", "tailwater", "shared", "run", "decision", "lane" or "garden"',
                'the text "lan.screen.blockage"',
                'Did you mean "lane"?',
            ),
        ),
        (
            "flow.design_m3_s",
            stats.poisson(3.0),
            Fault(
                "flow.design_m3_s",
                "a frozen continuous distribution of scipy.stats",
                "rv_discrete_frozen",
                "Give scipy.stats.weibull_min(1.8, scale=0.3), for example.",
            ),
        ),
    ],
)
def test_what_no_number_can_be_is_refused(name: str, frozen: object, fault: Fault, tmp_path: Path) -> None:
    with pytest.raises(overbank.StudyError) as caught:
        study(tmp_path).with_value(name, frozen)
    assert caught.value.faults == (fault,)


def test_a_distribution_for_a_table_is_refused(tmp_path: Path) -> None:
    with pytest.raises(overbank.StudyError, match=r"lane\.screen: .* got a distribution that Python gives"):
        study(tmp_path).with_value("lane.screen", BETA)
