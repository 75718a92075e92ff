"""Barrels, parts and openings traced by points, from a study to the level; what cannot be."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from overbank.errors import StudyError
from overbank.report.worked import worked_case
from overbank.site.by_hand.steps import Case
from overbank.site.culvert import UNTESTED
from overbank.site.validity import remarks
from overbank.study.build import Problem, build
from overbank.study.load import read_study
from small import BLOCKAGE, DEPENDENCE, study

BOX = 'shape = "box", span_m = 2.4, rise_m = 1.5'
AS_POINTS = 'shape = "traced", points = [[0, 0, 1.5], [2.4, 0, 1.5]]'
VAULT = "offset_m,floor_m,roof_m\n0,101.1,101.7\n0.8,101.0,102.4\n1.6,101.0,102.5\n2.4,101.1,101.8\n"
FROM_FILE = 'shape = "traced", points = "vault.csv"'
CLEAN = ((BLOCKAGE, "blockage = 0.0"), (DEPENDENCE, ""))


def of_file(folder: Path, *changes: tuple[str, str], rows: str = VAULT) -> Problem:
    folder.mkdir(exist_ok=True)
    (folder / "vault.csv").write_text(rows, encoding="utf-8")
    return build(study(folder, (BOX, FROM_FILE), *changes))


def test_a_box_as_points_has_the_level_of_the_box(tmp_path: Path) -> None:
    """With a screen, debris on it and a road, drowned or not."""
    rng = np.random.default_rng(8)
    drawn = {
        "flow.design_m3_s": rng.uniform(0.2, 16.0, 256),
        "tailwater.level_m": rng.uniform(30.0, 32.5, 256),
        "lane.screen.blockage": rng.uniform(0.0, 0.95, 256),
    }
    levels = []
    for name, shape in (("box", BOX), ("points", AS_POINTS)):
        found = build(study(tmp_path / name, (BOX, shape)))
        levels.append(found.site.march({**found.medians(), **drawn}, 256).element("lane").level)
    np.testing.assert_allclose(levels[0], levels[1], atol=1e-6)


def test_full_of_water_it_is_a_plain_sum(tmp_path: Path) -> None:
    """HDS-5 p. 34: exit, friction by Manning, entrance; area and perimeter by hand from the file."""
    found = of_file(tmp_path, *CLEAN, ("level_m = 32.6", "level_m = 39.0"))
    area = 0.8 * ((0.6 + 1.4) / 2 + (1.4 + 1.5) / 2 + (1.5 + 0.7) / 2)
    floor, roof = 2 * np.hypot(0.8, 0.1) + 0.8, 2 * np.hypot(0.8, 0.7) + np.hypot(0.8, 0.1)
    perimeter, flow, g2 = floor + roof + 0.6 + 0.7, 5.0, 19.62
    friction = (0.014 * flow / area) ** 2 * (perimeter / area) ** (4 / 3) * 22.0
    water = {"flow.design_m3_s": flow, "tailwater.level_m": 34.0}
    lane = found.site.march({**found.medians(), **water}, 1).element("lane")
    level = float(lane.results["outlet_level"][0])
    y = level - 30.1
    approach = 1.4 / g2 * (flow / ((2.5 + 1.5 * y) * y)) ** 2
    assert level + approach == pytest.approx(34.0 + friction + 1.4 * (flow / area) ** 2 / g2, abs=1e-5)


def test_worked_by_hand_and_what_is_said_of_its_inlet(tmp_path: Path) -> None:
    found = of_file(tmp_path, *CLEAN)
    once = found.site.march(found.medians(), 1)
    worked = worked_case(Case(found.medians(), "lane", once))
    assert not worked.refusal
    assert worked.steps[-1].result == pytest.approx(float(once.element("lane").level[0]), abs=1e-6)
    assert UNTESTED in {each.words for each in remarks(found.site, once, found.medians())}


PART = (
    "manning_n = 0.014 }",
    "manning_n = 0.014, part = [{{ {}, length_m = 10.0, downstream_invert_m = 29.95, manning_n = 0.014 }}] }}",
)
RELIEF = (
    "\n[element.road]",
    """
[element.relief]
barrel = {{ {}, length_m = 22.0, upstream_invert_m = 30.6, downstream_invert_m = 30.5, manning_n = 0.014 }}
inlet = {{ edge = "wingwalls 30 to 75 deg" }}

[element.road]""",
)


@pytest.mark.parametrize("change", [PART, RELIEF], ids=["part", "relief"])
def test_a_part_and_relief_barrels_of_points(tmp_path: Path, change: tuple[str, str]) -> None:
    """A box cut into two parts, one of them by points, or a relief barrel by points: the level of boxes all through."""
    levels = []
    for name, shape in (("box", BOX), ("points", AS_POINTS)):
        found = build(study(tmp_path / name, (change[0], change[1].format(shape)), *CLEAN))
        levels.append(found.site.march(found.medians(), 1).element("lane").level[0])
    assert levels[0] == pytest.approx(levels[1], abs=1e-6)


BRIDGE = """\
title = "An opening traced by points (invented)"
[run]
samples = 64
replicates = 2
seed = 3
[decision]
target_probability = 0.05
assurance = 0.9
[flow]
design_m3_s = { lognormal = { median = 9.0, cov = 0.5 }, basis = "invented" }
[tailwater]
level_m = { uniform = { low = 10.6, high = 12.4 }, basis = "invented" }
[[element]]
kind = "bridge"
id = "span"
bank_level_m = 13.0
opening = OPENING
approach = { bed_level_m = 10.0, section = { shape = "rectangle", width_m = 6.0 } }
deck = { level_m = 12.6, length_m = 8.0 }
"""


def test_an_opening_by_points_is_the_same_opening(tmp_path: Path) -> None:
    """A box; and an arch of which the points are so near that its levels differ by under 2 mm."""
    angles = np.linspace(-np.pi / 2, np.pi / 2, 121)
    crown = ", ".join(f"[{1.5 * np.sin(a)}, 0.0, {0.6 + 1.5 * np.cos(a)}]" for a in angles)
    pairs = (
        ('shape = "box", span_m = 4.0, rise_m = 1.8', 'shape = "traced", points = [[1, 2, 3.8], [5, 2, 3.8]]', 1e-6),
        (
            'shape = "arch", span_m = 3.0, rise_m = 2.1, wall_height_m = 0.6',
            f'shape = "traced", points = [{crown}]',
            2e-3,
        ),
    )
    for place, (own, points, near) in enumerate(pairs):
        levels = []
        for k, shape in enumerate((own, points)):
            file = tmp_path / f"{place}{k}" / "study.toml"
            file.parent.mkdir()
            file.write_text(BRIDGE.replace("OPENING", f"{{ {shape}, bed_level_m = 10.0 }}"), encoding="utf-8")
            found = build(read_study(file))
            drawn = {
                "flow.design_m3_s": np.linspace(0.5, 24.0, 64),
                "tailwater.level_m": 10.6 + np.linspace(0, 9, 64) % 1.8,
            }
            levels.append(found.site.march({**found.medians(), **drawn}, 64).element("span").level)
        np.testing.assert_allclose(levels[0], levels[1], atol=near)


FAULTS = {
    "missing": ("points = [[0, 0, 1.5]]", "from two to 200 rows", "1"),
    "no number": ('points = [[0, 0, 1.5], [2.4, 0, "x"]]', "offset, floor and roof [m] as three numbers", ""),
    "two numbers": ("points = [[0, 1.5], [2.4, 1.5]]", "offset, floor and roof [m] as three numbers", ""),
    "back": ("points = [[0, 0, 1.5], [2.4, 0, 1.5], [2.0, 0, 1.5]]", "not below that of the row before it, 2.4", "2"),
    "roof below": ("points = [[0, 0, 1.5], [1, 2, 1.5], [2.4, 0, 1.5]]", "a roof above the floor", "floor 2, roof 1.5"),
    "pinched": ("points = [[0, 0, 1.5], [1, 1.5, 1.5], [2.4, 0, 1.5]]", "they may only meet at the two ends", ""),
    "step": ("points = [[0, 0, 1], [1, 0, 1], [1, 1, 2], [2, 1, 2]]", "leaves a way between floor and roof", ""),
    "flat": ("points = [[0, 1, 1], [2.4, 1, 1]]", "a rise of the points from 0.01 to 50 m", "0"),
    "slanting line": ("points = [[0, 1, 1], [2.4, 2, 2]]", "a roof above the floor", "none"),
    "narrow": ("points = [[0, 0, 1], [0.001, 0, 1]]", "a span of the points from 0.01 to 50 m", "0.001"),
    "ledge": ("points = [[0, 0.4, 1.5], [1, 0.4, 1.5], [1, 0, 1.5], [2.4, 0, 1.5]]", "one critical depth", "0.4 m"),
    "no file": ('points = "vaults.csv"', "the name of a CSV file in the study's own folder", "not there"),
    "a number": ("points = 3", "the name of a CSV file in the study's own folder", "3"),
    "span": ("points = [[0, 0, 1.5], [2.4, 0, 1.5]], span_m = 2.4", "one of the keys", "unknown key span_m"),
}


@pytest.mark.parametrize("what", FAULTS)
def test_faults(tmp_path: Path, what: str) -> None:
    points, expected, got = FAULTS[what]
    with pytest.raises(StudyError) as caught:
        study(tmp_path, (BOX, f'shape = "traced", {points}'))
    (fault,) = caught.value.faults
    assert expected in fault.expected
    assert got in fault.got
    assert "lane.barrel" in fault.place


def test_a_file_with_another_header(tmp_path: Path) -> None:
    with pytest.raises(StudyError, match="the header offset_m,floor_m,roof_m"):
        of_file(tmp_path, rows="offset_m,level_m\n0,1\n")
