"""Silt in the barrels and debris on the screen together, from a study to its report's numbers."""

from __future__ import annotations

from pathlib import Path

import pytest

from overbank.errors import StudyError
from overbank.run import run
from overbank.study.build import build
from small import BLOCKAGE, DEPENDENCE, study

DEBRIS = 'debris_m3 = { lognormal = { median = 0.9, cov = 0.4 }, basis = "invented" }\ndebris_thickness_m = 0.3\n'
SILT = 'id = "lane"\nsilt = { beta = { a = 3.0, b = 7.0 }, basis = "invented" }\n'
BOTH = (('id = "lane"\n', SILT), (BLOCKAGE + "\n", DEBRIS), (DEPENDENCE, ""))


def test_both_are_numbers_of_their_own_and_each_raises_the_water(tmp_path: Path) -> None:
    """A full barrel with silt: friction by (sum P n^1.5 / P)^(2/3), HDS-5 p. 34; then the drop of the screen."""
    problem = build(study(tmp_path, *BOTH))
    assert {"lane.silt", "lane.screen.debris_m3"} <= set(problem.inputs.names)
    assert problem.fixed["lane.barrel.silt_manning_n"] == 0.03
    numbers = {**problem.medians(), "tailwater.level_m": 32.0, "lane.road.level_m": 60.0}
    state = problem.site.march(numbers, 1).element("lane").results
    found = {name: float(value[0]) for name, value in state.items()}
    height = (1.0 - float(numbers["lane.silt"])) * 1.5
    area, perimeter = 2.4 * height, 2.0 * (2.4 + height)
    mean = ((2.4 * 0.03**1.5 + (perimeter - 2.4) * 0.014**1.5) / perimeter) ** (2.0 / 3.0)
    friction = (mean * 6.0 / area) ** 2 * (perimeter / area) ** (4.0 / 3.0) * 22.0
    energy = 32.0 + friction + 1.4 * (6.0 / area) ** 2 / 19.62
    depth = found["outlet_level"] - 30.1
    own = 1.4 * (6.0 / ((2.5 + 1.5 * depth) * depth)) ** 2 / 19.62  # Ke counts on the difference of velocity heads
    assert found["outlet_level"] + own == pytest.approx(energy, abs=1e-5)
    assert found["level"] == pytest.approx(found["barrel_level"] + found["screen_drop"], abs=1e-9)
    for one in ("lane.silt", "lane.screen.debris_m3"):
        less = problem.site.levels({**numbers, one: 0.0}, 1, ("lane",))[0, 0]
        assert less < found["level"] - 0.005


def test_both_in_a_run(tmp_path: Path) -> None:
    outcome = run(study(tmp_path, *BOTH, ("samples = 4096", "samples = 256")), only=("headwater",))
    clean = run(study(tmp_path, *BOTH[1:], ("samples = 4096", "samples = 256")), only=("headwater",))
    assert outcome.headwater.quantiles[0.9].value > clean.headwater.quantiles[0.9].value


@pytest.mark.parametrize(("old", "new"), [("a = 3.0", "a = -3.0"), ("silt = {", "silt = 1.5 #")])
def test_silt_that_cannot_be(tmp_path: Path, old: str, new: str) -> None:
    with pytest.raises(StudyError) as refused:
        study(tmp_path, ('id = "lane"\n', SILT.replace(old, new)), (BLOCKAGE + "\n", DEBRIS), (DEPENDENCE, ""))
    assert "lane.silt" in str(refused.value)
