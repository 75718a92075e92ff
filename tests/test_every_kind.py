"""The contract of a kind: each goes through check, run, report, hand calculation, tables and docs, above a reach."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import overbank
from overbank.outputs.medians import deterministic_run
from overbank.outputs.outcome import Outcome
from overbank.report import tables
from overbank.report.worked import worked
from overbank.study.elements.element import Element
from overbank.study.kinds import KINDS
from overbank.study.load import Study, read_study

sys.path.insert(0, str(Path(__file__).parents[1] / "docs"))

from generate import study_file

ROW = """\
title = "One of a kind (invented)"

[run]
samples = 64
replicates = 2
seed = 3

[decision]
target_probability = 0.05
assurance = 0.9
at = "it"

[flow]
design_m3_s = {{ lognormal = {{ median = 4.0, cov = 0.2 }}, basis = "invented" }}

[tailwater.normal_depth]
bed_level_m = 10.0
slope = 0.002
manning_n = {{ triangular = {{ low = 0.03, mode = 0.04, high = 0.05 }}, basis = "invented" }}
section = {{ shape = "rectangle", width_m = 4.0 }}

[[element]]
kind = "{kind}"
id = "it"
bank_level_m = 12.0
{keys}

[[element]]
kind = "channel"
id = "above"
section = {{ shape = "rectangle", width_m = 4.0 }}
length_m = 60.0
bed_slope = 0.002
manning_n = 0.04
"""

APPROACH = 'approach = { bed_level_m = 10.0, section = { shape = "rectangle", width_m = 4.0 } }\n'

KEYS = {
    "culvert": 'barrel = { shape = "box", span_m = 3.0, rise_m = 1.5, length_m = 12.0, upstream_invert_m = 10.05, '
    'downstream_invert_m = 10.0, manning_n = 0.014 }\ninlet = { edge = "wingwalls 30 to 75 deg" }\n',
    "channel": 'section = { shape = "rectangle", width_m = 4.0 }\nlength_m = 50.0\nbed_level_m = 10.0\n'
    "bed_slope = 0.002\nmanning_n = 0.04\n",
    "weir": f'crest = {{ kind = "broad_crested", level_m = 10.5, breadth_m = 1.0 }}\n{APPROACH}',
    "gate": f"width_m = 4.0\nopening_m = 0.5\nsill_level_m = 11.0\ntop_level_m = 13.0\n{APPROACH}",
    "side_weir": 'section = { shape = "rectangle", width_m = 4.0 }\nlength_m = 8.0\nbed_level_m = 10.0\n'
    "crest_level_m = 10.6\ncoefficient = 1.6\n",
    "bridge": f'opening = {{ shape = "box", span_m = 3.0, rise_m = 1.6, bed_level_m = 10.0 }}\n{APPROACH}',
}
"""What a study must say of each kind, besides its kind and id; a new kind fails here until it stands among them."""


def a_study(kind: str, folder: Path) -> Study:
    file = folder / kind / "study.toml"
    file.parent.mkdir()
    file.write_text(ROW.format(kind=kind, keys=KEYS[kind]), encoding="utf-8")
    return read_study(file)


@pytest.fixture(scope="module", params=KINDS)
def ran(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> tuple[str, Outcome]:
    kind = str(request.param)
    return kind, overbank.run_study(a_study(kind, tmp_path_factory.mktemp("kinds")))


def test_every_kind_is_tried() -> None:
    assert set(KEYS) == set(KINDS)


def test_a_check_tells_its_figures_and_what_governs(ran: tuple[str, Outcome]) -> None:
    kind, outcome = ran
    once = deterministic_run(outcome.study)
    told = next(each for each in once.as_json()["elements"] if each["id"] == "it")
    assert told["kind"] == kind
    assert np.isfinite(told["level_m"])
    assert told["regime"] not in ("", "no solution")
    structure = once.outcome.element("it").structure
    found = once.outcome.element("it").results
    for figure in structure.figures:
        assert (figure.reported in told) == (figure.name in found), figure
    for reading in structure.figures:
        assert reading.words.count("{") <= 1
    assert {"it", "above"} <= {station.element for station in once.stations}
    assert {each.element for each in once.influences} == ({"it"} - ({"it"} if structure.is_reach else set()))


def test_its_level_is_the_same_by_the_quick_way(ran: tuple[str, Outcome]) -> None:
    _, outcome = ran
    site, numbers = outcome.problem.site, outcome.problem.medians()
    (quick,) = site.levels(numbers, 1, ("it",))
    assert quick == site.march(numbers).element("it").level


def test_its_tables(ran: tuple[str, Outcome]) -> None:
    kind, outcome = ran
    governed = {each.element: each.regimes for each in tables.regimes(outcome)}
    assert governed[f"it ({kind})"]
    line = next(line for line in tables.certain_levels(outcome) if line.element == f"it ({kind})")
    assert line.level
    assert line.more


def test_it_is_worked_by_hand_or_says_why_not(ran: tuple[str, Outcome]) -> None:
    _, outcome = ran
    found = worked(outcome)
    assert bool(found.refusal) != bool(found.steps)
    if found.steps:
        assert found.steps[-1].result == pytest.approx(float(outcome.deterministic.element("it").level[0]), abs=1e-6)
        assert found.sources


def test_its_files_and_its_page(ran: tuple[str, Outcome], tmp_path: Path) -> None:
    kind, outcome = ran
    overbank.write_results(outcome, tmp_path / "results")
    samples = pd.read_parquet(tmp_path / "results" / "samples.parquet")
    states = outcome.samples.site.element("it").states
    for name, codes in states.items():
        assert samples[f"it.{name}"].to_numpy() == pytest.approx(codes)
    page = (tmp_path / "results" / "report.html").read_text(encoding="utf-8")
    assert f"it ({kind})" in page
    assert outcome.deterministic.element("it").governs() in page


def test_it_is_in_the_reference() -> None:
    page = study_file.page()
    for word, kind in KINDS.items():
        for table in (kind.table, *kind.variants):
            assert issubclass(table, Element)
            assert study_file.cell(f"[[element]]{study_file._choice(table)}") in page, word
