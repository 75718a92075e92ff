"""Relief barrels from a study file to the level: what is built, what is refused, what they do."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from overbank.errors import StudyError
from overbank.hydraulics import crossing, relief, sections
from overbank.hydraulics.culverts import Ends, InletRow
from overbank.hydraulics.tables import inlets
from overbank.outputs.medians import deterministic_run
from overbank.outputs.outcome import Outcome
from overbank.run import run
from overbank.study.build import build
from small import DEPENDENCE, ROAD, study

RELIEF = """[element.relief]
barrel = { shape = "pipe", count = 2, diameter_m = 0.9, length_m = 20.0, upstream_invert_m = 31.2, downstream_invert_m = 31.1, manning_n = 0.013 }
inlet = { edge = "EDGE" }
blockage = { beta = { a = 1.5, b = 3.0 } }

"""  # noqa: E501
EDGE = "square edge in headwall"


def with_relief(*changes: tuple[str, str]) -> tuple[str, str]:
    """The small study's road with relief barrels before it."""
    text = RELIEF.replace("EDGE", EDGE)
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    return ROAD, text + ROAD


@pytest.fixture(scope="module")
def outcome(tmp_path_factory: pytest.TempPathFactory) -> Outcome:
    changes = with_relief(), ("samples = 4096", "samples = 256")
    return run(study(tmp_path_factory.mktemp("relief"), *changes), only=("headwater", "overtopping"))


def test_the_level_is_that_of_the_formula(tmp_path: Path) -> None:
    problem = build(study(tmp_path, with_relief()))
    numbers = problem.medians()
    found = problem.site.march(numbers, 1).element("lane")
    entry = inlets()["pipe", EDGE]
    row = InletRow(float(entry.form), entry.K, entry.M, entry.c, entry.Y, entry.slope_factor)
    blockage = float(numbers["lane.relief.blockage"])
    lay = (2.0, 20.0, 31.2, 31.1, 1.0, entry.entrance_loss, 1.0, blockage, 0.0)
    garden = Ends(0.0, sections.trapezoid(2.5, 1.5, 0.05), float(numbers["garden.bed_level_m"]))
    beside = crossing.Barrels(sections.pipe(0.9, 0.013), row, *lay, ends=garden)
    road = crossing.Road(32.6, 14.0, float(numbers["lane.road.coefficient"]))
    in_relief = float(found.results["relief_flow"][0])
    over_road = float(found.results["road_flow"][0])
    expected = crossing.pool_level(beside, relief.NO_SCREEN, road, in_relief + over_road, 31.0)
    assert in_relief > 0.1
    assert found.level[0] == pytest.approx(expected, abs=1e-6)


def test_relief_barrels_lower_the_level_and_the_probability(outcome: Outcome, tmp_path: Path) -> None:
    without = run(study(tmp_path, ("samples = 4096", "samples = 256")), only=("headwater", "overtopping"))
    assert outcome.headwater.quantiles[0.9].high < without.headwater.quantiles[0.9].low
    assert outcome.overtopping.best.high < without.overtopping.best.low
    assert outcome.overtopping.integrated == "lane.screen.blockage"


def test_their_share_of_the_flow_is_told(outcome: Outcome) -> None:
    results = outcome.samples.site.element("lane").results
    total = results["barrel_flow"] + results["relief_flow"] + results["road_flow"]
    np.testing.assert_allclose(total, outcome.samples.site.flow, rtol=1e-12)


def test_the_check_tells_their_flow(tmp_path: Path) -> None:
    told = deterministic_run(study(tmp_path, with_relief())).as_json()["elements"][0]
    assert told["relief_flow_m3_s"] > 0.0
    assert "part of the flow through the relief barrels" in told["regime"]


def test_left_out_their_inlets_are_clean(tmp_path: Path) -> None:
    change = with_relief(("blockage = { beta = { a = 1.5, b = 3.0 } }\n", ""))
    problem = build(study(tmp_path, change, (DEPENDENCE, "")))
    assert problem.fixed["lane.relief.blockage"] == 0.0
    assert problem.fixed["lane.relief.pattern"] == 0.0


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        (EDGE, "square edge with no name", "the words of the table of inlets for a barrel of the shape pipe"),
        (
            "downstream_invert_m = 31.1",
            "downstream_invert_m = 32.1",
            "an outlet invert above the inlet invert by no more",
        ),
        ("upstream_invert_m = 31.2", "upstream_invert_m = 32.7", "a road above the inlet invert"),
        ("inlet = { edge", "inlet = { face = 1, edge", "face"),
        ("diameter_m = 0.9", "span_m = 0.9", "diameter_m"),
    ],
)
def test_faults(tmp_path: Path, old: str, new: str, expected: str) -> None:
    with pytest.raises(StudyError, match="fault") as caught:
        study(tmp_path, with_relief((old, new)))
    assert expected in str(caught.value)
