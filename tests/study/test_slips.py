"""Numbers that look wrong are named with their line and the reason, and the study is read all the same."""

from __future__ import annotations

import json
from html import unescape
from pathlib import Path

import pytest

from overbank.commands.terminal import show_answer
from overbank.results import write_results
from overbank.run import run
from overbank.study.build import build
from overbank.study.load import read_study
from overbank.study.slips import slips
from small import DEPENDENCE, FLOW, SMALL, edited, written

from .test_flow import MAXIMA, RECORD

STUDIES = sorted((Path(__file__).parents[2] / "studies").glob("*/*.toml"))


def found(file: Path) -> tuple[str, ...]:
    study = read_study(file)
    return slips(study, build(study))


SLIPS = [
    ("bed_width_m = 2.5", "bed_width_m = 0.05", "garden.section.bed_width_m", "0.05"),
    ("{ mean = 32.2, sd = 0.05 }", "{ mean = 1032.2, sd = 0.05 }", "lane.bank_level_m", "1032.2 is 1002.2 m above"),
    ("median = 6.0, cov = 0.2", "median = 6500.0, cov = 0.2", "flow.design_m3_s", "litres a second"),
    ("gap_m = 0.125", "gap_m = 1.5", "lane.screen.gap_m", "not millimetres"),
    ("bed_slope = 0.003", "bed_slope = 0.000005", "garden.bed_slope", "not to a thousand"),
    ("manning_n = 0.014", "manning_n = 0.4", "lane.barrel.manning_n", "Manning's n"),
]


@pytest.mark.parametrize(("old", "new", "name", "words"), SLIPS)
def test_a_number_that_looks_wrong(tmp_path: Path, old: str, new: str, name: str, words: str) -> None:
    text = edited((old, new), (DEPENDENCE, ""))
    (said,) = found(written(tmp_path, text))
    line = text[: text.index(new)].count("\n") + 1
    assert said.startswith(f"line {line}, {name}: ")
    assert words in said


def test_a_long_record_and_one_flood_far_above_the_others(tmp_path: Path) -> None:
    text = edited((FLOW, RECORD), (DEPENDENCE, ""))
    line = text[: text.index("annual_maxima")].count("\n") + 1
    for rows, words in (
        (MAXIMA + "900.0\n", "900 is more than 10 times the next"),
        (
            "flow_m3_s\n" + "".join(f"{3 + (k * k) % 7 + 0.001 * k}\n" for k in range(250)),
            "250 years are a long record",
        ),
    ):
        (tmp_path / "maxima.csv").write_text(rows, encoding="utf-8")
        (said,) = found(written(tmp_path, text))
        assert said.startswith(f"line {line}, flow.annual_maxima: ")
        assert words in said


def test_they_are_told_wherever_the_answer_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Not at the check alone: on the page beside the answer and among the checks, in the summary, in a notebook."""
    text = edited(("samples = 4096", "samples = 64"), ("bed_slope = 0.003", "bed_slope = 0.000005"))
    outcome = run(read_study(written(tmp_path, text)), only=("headwater",))
    results = write_results(outcome, tmp_path / "results").parent
    (said,) = json.loads((results / "summary.json").read_text(encoding="utf-8"))["numbers_that_look_wrong"]
    assert said.startswith("line ")
    assert "garden.bed_slope: " in said
    page = unescape((results / "report.html").read_text(encoding="utf-8"))
    assert page.count(said) == 2
    assert said in unescape(outcome._repr_html_())
    show_answer(outcome)
    assert "garden.bed_slope: " in capsys.readouterr().out


def test_a_study_without_slips_is_told_nothing(tmp_path: Path) -> None:
    assert found(written(tmp_path, SMALL)) == ()


@pytest.mark.parametrize("file", STUDIES, ids=lambda path: f"{path.parent.name}/{path.name}")
def test_the_studies_that_come_with_the_program_are_told_nothing(file: Path) -> None:
    if "[[element]]" in file.read_text(encoding="utf-8"):
        assert found(file) == ()
