"""What the live page answers is what the study would with the same numbers in its file: levels, counts, arrangements.

The other way is `with_values`, or the copy read back, and a run's own samples.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from overbank.analysis.overtopping import plain
from overbank.live.answers import Live
from overbank.live.copies import edited
from overbank.outputs.medians import deterministic_run
from overbank.sampling.run import Run, common_columns
from overbank.study.load import Study, make_study
from small import DEPENDENCE, ROAD
from small import study as small_study

from .lane import lane

FLOW, BLOCKAGE, TAILWATER, BANK = (
    "flow.design_m3_s",
    "lane.screen.blockage",
    "tailwater.level_m",
    "lane.bank_level_m",
)


@pytest.fixture(scope="module")
def study(tmp_path_factory: pytest.TempPathFactory) -> Study:
    return lane(tmp_path_factory.mktemp("live"))


@pytest.fixture(scope="module")
def live(study: Study) -> Live:
    return Live(study)


HELD = [
    {},
    {FLOW: 7.3},
    {BLOCKAGE: 0.0},
    {BLOCKAGE: 1.0, BANK: 32.0},
    {FLOW: 8.1, BLOCKAGE: 0.66, TAILWATER: 31.72, BANK: 32.45},
]


@pytest.mark.parametrize("held", HELD, ids=str)
def test_one_run_is_that_of_the_study_with_these_numbers(live: Live, study: Study, held: dict[str, float]) -> None:
    once, apart = live.base.once(held), deterministic_run(study.with_values(held) if held else study)
    place = apart.outcome.element("lane")
    assert place.bank_level is not None
    assert once.level == place.level[0]
    assert once.bank == place.bank_level[0]
    assert [element.governs() for element in once.outcome.elements] == [
        element.governs() for element in apart.outcome.elements
    ]


@pytest.mark.parametrize("held", HELD, ids=str)
def test_the_samples_are_those_of_the_study_with_these_numbers(held: dict[str, float], tmp_path: Path) -> None:
    """Without a dependence the very same samples, so that the counts agree to the last one."""
    study = small_study(tmp_path, (DEPENDENCE, ""), ("samples = 4096", "samples = 512"))
    changed = make_study(edited(study.text, held), study.folder)
    samples = Run(changed, common_columns(study)).sampling.samples
    found = Live(study).base.sampled(held)
    assert found.over.value == np.mean(samples.depth_over_bank > 0.0)
    assert found.samples == samples.levels.size
    assert found.curve is not None
    share = np.mean(samples.levels[:, :, None] > found.curve.at, axis=(0, 1))
    np.testing.assert_allclose(found.curve.probability, share, atol=1e-12)


@pytest.mark.parametrize("held", [{FLOW: 7.3}, {BLOCKAGE: 0.8}], ids=str)
def test_what_is_held_depends_on_nothing(held: dict[str, float], tmp_path: Path) -> None:
    """Where what is held belonged to a dependence the samples are others of the same law: within 3.5 joint errors."""
    found = Live(small_study(tmp_path)).base.sampled(held).over
    apart = plain(Run(make_study(edited(small_study(tmp_path).text, held))).sampling.samples.depth_over_bank, "sobol")
    error = np.hypot(found.high - found.low, apart.high - apart.low) / (2 * 1.96)
    assert abs(found.value - apart.value) < 3.5 * error


def test_an_arrangement_keeps_what_it_sets_itself(live: Live, study: Study) -> None:
    """As the alternative of the copy does."""
    held = {FLOW: 7.3, BLOCKAGE: 0.9}
    changed = make_study(edited(study.text, held), study.folder)
    wide, raked = live.others
    for arrangement in (wide, raked):
        apart = deterministic_run(changed.alternative(arrangement.name)).outcome.element("lane")
        assert arrangement.once(held).level == apart.level[0]
    assert set(raked.taken(held)) == {FLOW}
    assert raked.once({BLOCKAGE: 0.9}).level == raked.once({}).level
    assert wide.once({BLOCKAGE: 0.9}).level > wide.once({}).level


def test_a_tailwater_held_takes_the_place_of_normal_depth() -> None:
    folder = Path(__file__).parents[2] / "studies" / "quillet-lane"
    text = (folder / "study.toml").read_text(encoding="utf-8").replace("16384", "512")
    study = make_study(text, folder)
    live, held = Live(study), {TAILWATER: 31.9}
    level = live.base.once(held)
    assert level.outcome.tailwater[0] == 31.9
    again = make_study(edited(text, held), folder)
    assert deterministic_run(again).outcome.element("lane").level[0] == level.level
    samples = Run(again, common_columns(study)).sampling.samples
    assert live.base.sampled(held).over.value == np.mean(samples.depth_over_bank > 0.0)


def test_samples_without_a_way_through_are_told(tmp_path: Path) -> None:
    """A screen shut to the top, with no road: every sample is endless, counts as over, and has no curve."""
    shut = small_study(
        tmp_path, (ROAD, ""), ("overflow = true", "overflow = false"), ("samples = 4096", "samples = 512")
    )
    found = Live(shut).base.sampled({BLOCKAGE: 1.0})
    assert found.endless == found.samples == 512
    assert found.over.value == 1.0
    assert found.curve is None
