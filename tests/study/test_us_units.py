"""Studies in US customary units: published examples in their own units, and the same study in SI by another library."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest
from scipy.constants import foot as scipy_foot
from scipy.constants import inch as scipy_inch

from overbank.errors import StudyError
from overbank.outputs.medians import deterministic_run
from overbank.study.build import build
from overbank.study.json_schema import study_schema
from overbank.study.load import make_study, read_study
from overbank.study.reading.us_units import Door
from overbank.study.requirements import RequiredLine
from small import FLOW, SMALL, edited, written

foot, inch = float(scipy_foot), float(scipy_inch)

CULVERT = """
title = "An example of HDS-5 in its own units"

[decision]
target_probability = 0.05

[flow]
design_ft3_s = {flow}

[tailwater]
level_ft = {tailwater}

[[element]]
kind = "culvert"
id = "pipe"
bank_level_ft = 140.0
barrel = {{ {size}, length_ft = {length}, upstream_invert_ft = 100.0, downstream_invert_ft = {low}, manning_n = {n} }}
inlet = {{ edge = "{edge}" }}
"""
BOX = {
    **{"size": 'shape = "box", span_ft = 7.0, rise_ft = 7.0', "length": 200.0, "low": 90.0, "n": 0.012},
    **{"edge": "wingwalls 90 or 15 deg", "tailwater": 92.0},
}
PIPE = {"size": 'shape = "pipe", diameter_in = 54.0', "length": 200.0, "low": 98.0, "n": 0.012, "tailwater": 101.5}


def level_ft(values: dict[str, Any]) -> float:
    """Level of one run, turned into feet by SciPy's foot."""
    return float(deterministic_run(make_study(CULVERT.format(**values))).outcome.elements[0].level[0]) / foot


@pytest.mark.parametrize(("flow", "head"), [(400.0, 8.14), (600.0, 11.32), (700.0, 13.88), (800.0, 16.54)])
def test_a_square_edged_box_in_feet(flow: float, head: float) -> None:
    """FHWA HDS-5, 2nd edition (2001), example III-4, p. 64-65, read in the source: heads off its chart, to 5 %."""
    assert level_ft({**BOX, "flow": flow}) - 100.0 == pytest.approx(head, rel=0.05)


def test_a_concrete_pipe_in_inches() -> None:
    """FHWA HDS-5, example III-1: 200 ft3/s through 54 in, 108.0 ft by inlet control, off a chart; the answer from
    memory, unverified."""
    pipe = {**PIPE, "flow": 200.0, "edge": "groove end in headwall"}
    assert level_ft(pipe) == pytest.approx(108.0, abs=0.25)


IN_FEET = (
    ("span_m = 2.4, rise_m = 1.5", f"span_ft = {2.4 / foot!r}, rise_in = {1.5 / inch!r}"),
    ("length_m = 22.0", f"length_ft = {22.0 / foot!r}"),
    ("bar_m = 0.020", f"bar_in = {0.020 / inch!r}"),
    ("gap_m = 0.125", f"gap_in = {{ value = {0.125 / inch!r}, basis = 'invented' }}"),
    ("bed_width_m = 2.5", f"bed_width_ft = {2.5 / foot!r}"),
    (
        "bank_level_m = { normal = { mean = 32.2, sd = 0.05 } }",
        f"bank_level_ft = {{ normal = {{ mean = {32.2 / foot!r}, sd = {0.05 / foot!r} }}, "
        f"survey = {{ sd_after = {0.01 / foot!r}, cost = 1 }} }}",
    ),
    (
        "level_m = { normal = { mean = 31.0, sd = 0.1 }",
        f"level_ft = {{ normal = {{ mean = {31.0 / foot!r}, sd = {0.1 / foot!r} }}",
    ),
    (FLOW, f"design_ft3_s = {{ lognormal = {{ median = {6.0 / foot**3!r}, cov = 0.2 }} }}"),
    ("flow.design_m3_s", "flow.design_ft3_s"),
)
"""The small study with some of its numbers in US units, by SciPy's foot and inch."""


def test_the_same_study_in_both_is_the_same(tmp_path: Path) -> None:
    ours, si = build(read_study(written(tmp_path / "us", edited(*IN_FEET)))), build(make_study(SMALL))
    assert ours.inputs.names == si.inputs.names
    scores = np.linspace(-3.0, 3.0, 7)
    for name in si.inputs.names:
        a, b = (each.inputs.items[each.inputs.index(name)].distribution.value(scores) for each in (ours, si))
        np.testing.assert_allclose(a, b, rtol=1e-12, err_msg=name)
    assert {name: float(value) for name, value in ours.fixed.items()} == pytest.approx(dict(si.fixed))
    bank = ours.inputs.items[ours.inputs.index("lane.bank_level_m")]
    assert bank.survey is not None
    assert bank.survey.sd_after == pytest.approx(0.01)
    assert ours.dependences[0].between == si.dependences[0].between


def test_every_family_is_turned_with_its_number() -> None:
    """Of families with a place and a size all values are times the factor, whatever shape they have."""
    families: dict[str, dict[str, Any]] = {
        "uniform": {"low": 2.0, "high": 4.0},
        "triangular": {"low": 2.0, "mode": 3.0, "high": 4.0},
        "beta": {"a": 2.0, "b": 3.0, "low": 1.0, "high": 5.0},
        "pert": {"low": 2.0, "mode": 3.0, "high": 5.0},
        "gumbel": {"location": 3.0, "scale": 0.1},
        "gev": {"location": 3.0, "scale": 0.1, "shape": 0.1},
        "generalised_logistic": {"location": 3.0, "scale": 0.1, "shape": 0.1},
        "log_pearson3": {"mean_log10": 0.5, "sd_log10": 0.1, "skew_log10": 0.2},
        "elicited": {"people": [[2.2, 3.0, 3.8], [2.4, 3.2, 4.0]], "low": 1.0, "high": 5.0},
        "normal": {"mean": {"normal": {"mean": 3.0, "sd": 0.1}}, "sd": 0.2},
    }
    scores = np.linspace(-2.0, 2.0, 5)
    for name, given in families.items():
        value = {name: given}
        one = make_study(SMALL).with_values({"lane.screen.width_m": value})
        other = make_study(SMALL).with_values({"lane.screen.width_ft": value})
        a, b = (
            each.inputs.items[each.inputs.index("lane.screen.width_m")].distribution.value(scores)
            for each in (build(other), build(one))
        )
        np.testing.assert_allclose(a, np.asarray(b) * foot, rtol=1e-6, err_msg=name)


def test_tables_have_heads_in_feet(tmp_path: Path) -> None:
    offsets, levels = (0.0, 4.0, 6.0, 9.0, 12.0), (33.0, 31.0, 30.1, 31.2, 33.5)
    rows = zip(offsets, levels, strict=True)
    feet = "\n".join(f"{x / foot!r},{z / foot!r}" for x, z in rows)
    (tmp_path / "section.csv").write_text(f"Offset [ft],level_ft\n{feet}\n", encoding="utf-8")
    bed = 'manning_n = { lognormal = { median = 0.05, cov = 0.2 }, basis = "invented" }\n'
    text = edited(
        (
            'section = { shape = "trapezoid", bed_width_m = 2.5, side_slope = 1.5 }',
            'section = { shape = "surveyed", points = "section.csv", zones = [{ manning_n = 0.05 }] }',
        ),
        (bed, ""),
        ("bank_level_m = 32.45", "bank_level_m = 33.0"),
    )
    garden = build(read_study(written(tmp_path, text))).site.elements[1]
    np.testing.assert_allclose(garden.survey.points, list(zip(offsets, levels, strict=True)), rtol=1e-12)  # type: ignore[attr-defined]


def faults(text: str) -> str:
    with pytest.raises(StudyError) as refused:
        make_study(text)
    return str(refused.value)


def test_faults_are_told_by_the_key_that_was_written() -> None:
    both = faults(edited(("gap_m = 0.125", "gap_m = 0.125\ngap_in = 5.0")))
    assert "gap_in" in both
    assert "expected gap_m, or the same in US units; got both" in both
    wide = faults(edited(("width_m = 3.6", "width_ft = 36000.0")))
    line = SMALL.splitlines().index("width_m = 3.6") + 1
    assert f"line {line}, lane.screen.width_ft" in wide
    assert "in SI units" in wide
    unknown = faults(edited(("width_m = 3.6", "widht_ft = 12.0")))
    assert "widht_ft" in unknown
    shared = "\n[shared]\nwide = 3.6\n"
    named = faults(edited(("width_m = 3.6", 'width_ft = "shared.wide"')) + shared)
    assert "what is [shared] is in SI units" in named


def test_a_users_own_names_stay_and_nothing_is_turned_twice() -> None:
    door = Door([])
    tree = {"shared": {"river_in": 3.0}, "element": [{"width_ft": 10.0, "basis": "5 ft", "count_m": 2}]}
    assert door.turned(tree) == {
        "shared": {"river_in": 3.0},
        "element": [{"width_m": pytest.approx(10.0 * foot), "basis": "5 ft", "count_m": 2}],
    }
    assert door.turned(door.turned(tree)) == door.turned(tree)
    assert tree["element"] == [{"width_ft": 10.0, "basis": "5 ft", "count_m": 2}]
    assert door.wrong == []


def test_an_editor_takes_either_key_and_misses_one_of_them() -> None:
    checker = jsonschema.Draft4Validator(study_schema())
    assert checker.is_valid(tomllib.loads(edited(*IN_FEET)))
    assert not checker.is_valid(tomllib.loads(edited(("length_m = 80.0\n", ""))))


def test_an_authority_may_ask_in_feet_and_inches() -> None:
    line = {"name": "a", "about": "freeboard", "reference": "invented"}
    assert RequiredLine.model_validate({**line, "figure": 2.0, "unit": "ft"}).asked == pytest.approx(2.0 * foot)
    assert RequiredLine.model_validate({**line, "figure": 6.0, "unit": "in"}).asked == pytest.approx(6.0 * inch)


def test_tables_within_tables_end_somewhere() -> None:
    assert "unknown key" in faults(SMALL + "[flow2_ft" + ".normal.mean" * 900 + "]\n")
