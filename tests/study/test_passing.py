"""The flood in time as a study writes it: what is taken where it is silent, and one clear message for every fault."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from overbank.errors import StudyError
from overbank.hydraulics.hydrographs import SCS_UNIT, Polygon
from overbank.study.build import build
from small import BLOCKAGE, FLOW, study

HYDROGRAPH = 'hydrograph = { shape = "gamma", hours_to_peak = 3.0 }'
DEBRIS = "debris = { rate_per_hour = 0.1 }"


def test_what_a_shape_leaves_out_stands_among_the_assumptions(tmp_path: Path) -> None:
    made = study(tmp_path, (FLOW, f"{FLOW}\n{HYDROGRAPH}\n{DEBRIS}"))
    problem = build(made)
    assert problem.fixed["flow.hydrograph.sharpness"] == 3.697
    assert problem.fixed["flow.hydrograph.base_flow_m3_s"] == 0.0
    assert problem.fixed["flow.debris.ceiling"] == 1.0
    assert problem.origin("flow.hydrograph.sharpness") == "default"
    scs = study(tmp_path / "scs", (FLOW, f'{FLOW}\nhydrograph = {{ shape = "scs_unit", hours_to_peak = 3.0 }}'))
    assert scs.content.flow.hydrograph is not None
    assert scs.content.flow.hydrograph.form == SCS_UNIT


def test_a_table_gives_its_shape_and_its_time(tmp_path: Path) -> None:
    """By hand: the peak of 8 stands 2 hours after the beginning."""
    (tmp_path / "flood.csv").write_text("hours,flow_m3_s\n1,2\n3,8\n4,4\n7,0\n", encoding="utf-8")
    made = study(tmp_path, (FLOW, f'{FLOW}\nhydrograph = {{ shape = "table", table = "flood.csv" }}'))
    written = made.content.flow.hydrograph
    assert written is not None
    assert written.form == Polygon((0.0, 1.0, 1.5, 3.0), (0.25, 1.0, 0.5, 0.0))
    assert build(made).fixed["flow.hydrograph.hours_to_peak"] == 2.0
    np.testing.assert_allclose(written.form.share(np.array([0.5, 1.25]), np.ones(2)), [0.625, 0.75])


FAULTS = {
    'hydrograph = { shape = "square" }': 'expected "triangle", "gamma", "scs_unit" or "table"',
    'hydrograph = { shape = "gamma" }': 'expected hours_to_peak beside shape = "gamma"; got nothing',
    'hydrograph = { shape = "gamma", hours_to_peak = 0.0 }': "expected hours from 0.02 to 2000",
    'hydrograph = { shape = "gamma", hours_to_peak = 3.0, falling_ratio = 2.0 }': 'only beside shape = "triangle"',
    'hydrograph = { shape = "table", table = "none.csv" }': "which is not there",
    DEBRIS: "debris only beside a table [flow.hydrograph]; got none",
    f"{HYDROGRAPH}\ncrew = {{ call_level_m = 31.5, travel_hours = 1.0, clears_per_hour = 0.2 }}": (
        "crew only beside a table [flow.debris]; got none"
    ),
    f"{HYDROGRAPH}\ndebris = {{ rate_per_hour = 0.1, first_flush = 0.2 }}": "first_flush and first_flush_flow_m3_s, or",
    f"{HYDROGRAPH}\ndebris = {{ rate_per_hour = 0.1, arrival_share = 0.2 }}": "arrivals_per_hour and arrival_share, or",
    f"{HYDROGRAPH}\n{DEBRIS}\ncrew = {{ travel_hours = 1.0, clears_per_hour = 0.2 }}": (
        "expected one of call_level_m, call_rise_m_per_hour, called_hours_before_peak; got neither"
    ),
    f"{HYDROGRAPH}\n{DEBRIS}\ncrew = {{ call_level_m = 31.0, travel_hours = 1.0, clears_per_hour = 0.2, "
    "daylight_hours = [17, 7] }": "expected two hours of the day from 0 to 24, the earlier first",
    'pool = { reach = "garden" }': "pool only beside a table [flow.hydrograph]; got none",
    f"{HYDROGRAPH}\npool = {{ factor = 2.0 }}": "expected one of table and reach; got neither",
    f'{HYDROGRAPH}\npool = {{ reach = "lane" }}': (
        'expected the id of a reach above the place; got the text "lane". Write "garden".'
    ),
    f'{HYDROGRAPH}\npool = {{ table = "none.csv" }}': "which is not there",
    f'{HYDROGRAPH}\npool = {{ reach = "garden", start_level_m = 30.5 }}': (
        "expected a flap at the place, which the water outside can shut; got none"
    ),
}


@pytest.mark.parametrize("tables", FAULTS)
def test_a_fault_gets_one_clear_message(tmp_path: Path, tables: str) -> None:
    with pytest.raises(StudyError) as caught:
        study(tmp_path, (FLOW, f"{FLOW}\n{tables}"))
    assert FAULTS[tables] in str(caught.value)


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ("0,1\n2,5\n1,0\n", "flood.csv row 4: expected hours above those of the row before it, 2"),
        ("0,1\n2,-5\n3,0\n", "flood.csv row 3: expected a flow not below 0"),
        ("0,9\n2,5\n3,0\n", "the largest flow neither in the first nor in the last"),
    ],
)
def test_a_faulty_table_is_refused_with_its_row(tmp_path: Path, rows: str, words: str) -> None:
    (tmp_path / "flood.csv").write_text(f"hours,flow_m3_s\n{rows}", encoding="utf-8")
    with pytest.raises(StudyError) as caught:
        study(tmp_path, (FLOW, f'{FLOW}\nhydrograph = {{ shape = "table", table = "flood.csv" }}'))
    assert words in str(caught.value)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("level_m,depth_m\n1,2\n2,3\n", "expected the header level_m,area_m2 or level_m,volume_m3"),
        ("level_m,area_m2\n1,2\n1,3\n", "pool.csv row 3: expected a level above that of the row before it, 1"),
        ("level_m,volume_m3\n1,4\n2,3\n", "pool.csv row 3: expected a volume not below that of the row before it, 4"),
        ("level_m,area_m2\n1,-2\n2,3\n", "pool.csv row 2: expected an area or volume not below 0"),
        ("level_m,area_m2\n1,2\n", "expected at least two rows of level and area or volume; got 1"),
    ],
)
def test_a_faulty_pool_is_refused_with_its_row(tmp_path: Path, text: str, words: str) -> None:
    (tmp_path / "pool.csv").write_text(text, encoding="utf-8")
    with pytest.raises(StudyError) as caught:
        study(tmp_path, (FLOW, f'{FLOW}\n{HYDROGRAPH}\npool = {{ table = "pool.csv" }}'))
    assert words in str(caught.value)


def test_a_velocity_needs_a_reach_just_above(tmp_path: Path) -> None:
    crew = "crew = { call_level_m = 31.0, travel_hours = 1.0, clears_per_hour = 0.2, not_above_m_s = 1.5 }"
    tables = f"{FLOW}\n{HYDROGRAPH}\n{DEBRIS}\n{crew}"
    assert build(study(tmp_path / "sound", (FLOW, tables))).fixed["flow.crew.not_above_m_s"] == 1.5
    with pytest.raises(StudyError) as caught:
        study(tmp_path, (FLOW, tables), ("target_probability = 0.05", 'target_probability = 0.05\nat = "garden"'))
    assert "expected a reach just above the place, for its velocity; got none" in str(caught.value)


def test_looks_need_a_level_to_look_at(tmp_path: Path) -> None:
    crew = "crew = {{ {call}, seen_every_hours = 3.0, travel_hours = 1.0, clears_per_hour = 0.2 }}"
    by_level, by_forecast = (
        crew.format(call=call) for call in ("call_level_m = 31.0", "called_hours_before_peak = 2.0")
    )
    sound = study(tmp_path / "sound", (FLOW, "\n".join((FLOW, HYDROGRAPH, DEBRIS, by_level))))
    assert build(sound).fixed["flow.crew.seen_every_hours"] == 3.0
    with pytest.raises(StudyError) as caught:
        study(tmp_path, (FLOW, "\n".join((FLOW, HYDROGRAPH, DEBRIS, by_forecast))))
    assert "expected seen_every_hours only beside call_level_m, which it looks at; got it without" in str(caught.value)


def test_debris_of_the_flood_is_not_counted_twice(tmp_path: Path) -> None:
    twice = (
        "blockage = { build_up = { rate_per_day = 0.02, ceiling = 0.8, raked_every_days = 14, "
        "flood_rate_per_hour = 0.05, flood_hours = 6 } }"
    )
    with pytest.raises(StudyError) as caught:
        study(tmp_path, (FLOW, f"{FLOW}\n{HYDROGRAPH}\n{DEBRIS}"), (BLOCKAGE, twice))
    assert "expected a build-up without debris of the flood beside [flow.debris]" in str(caught.value)
