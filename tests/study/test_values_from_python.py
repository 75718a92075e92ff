"""Studies changed and made in Python: what they give must be what a study file with the same words gives."""

from __future__ import annotations

import pickle
import re
import tomllib
from pathlib import Path

import numpy as np
import pytest

import overbank
from overbank.model import Model
from overbank.study.build import build
from small import study

BOUNDS = {"low": 0.4, "high": 0.7}


def levels(made: overbank.Study) -> np.ndarray:
    """Levels with every number at its median."""
    model = Model(build(made))
    return model.levels(model.medians())


@pytest.mark.parametrize(
    ("name", "value", "line"),
    [
        ("lane.screen.gap_m", 0.15, "gap_m = 0.15"),
        ("lane.screen.gap_m", np.float64(0.15), "gap_m = 0.15"),
        (
            "lane.screen.blockage",
            {"uniform": {"low": 0.4, "high": 0.7}},
            "blockage = { uniform = { low = 0.4, high = 0.7 } }",
        ),
        ("lane.screen.pattern", "bottom_up", 'pattern = "bottom_up"'),
    ],
)
def test_a_value_does_what_the_same_words_in_the_file_do(name: str, value: object, line: str, tmp_path: Path) -> None:
    first = study(tmp_path)
    key = name.rsplit(".", 1)[-1]
    lines = re.sub(rf"(?m)^{key} = .*$", "", first.text).replace("[element.screen]", f"[element.screen]\n{line}")
    assert lines != first.text
    said = overbank.make_study(lines, tmp_path)
    given = first.with_value(name, value)
    assert levels(given) == pytest.approx(levels(said), abs=1e-12)
    assert build(given).inputs.names == build(said).inputs.names
    assert (first.given, list(given.given)) == ({}, [name])


def test_values_add_up_and_all_faults_come_at_once(tmp_path: Path) -> None:
    both = study(tmp_path).with_value("lane.screen.width_m", 5.0).with_values({"lane.screen.gap_m": 0.15})
    assert both.with_samples(256).content.run.samples == 256
    assert both.with_value("run.samples", 512).content.run.samples == 512
    assert list(both.given) == ["lane.screen.width_m", "lane.screen.gap_m"]
    with pytest.raises(overbank.StudyError) as caught:
        both.with_values({"lane.screen.gap_m": -1.0, "lane.screen.bar_m": "thick", "lane.screen.wdith_m": 2.0})
    said = str(caught.value)
    assert all(name in said for name in ("lane.screen.gap_m", "lane.screen.bar_m", "lane.screen.wdith_m"))
    with pytest.raises(overbank.StudyError, match=r'"lan\.gap_m"'):
        both.with_value("lan.gap_m", 1.0)


def test_a_study_from_text_or_tables_is_the_study_of_the_file(tmp_path: Path) -> None:
    first = study(tmp_path)
    text, tables = overbank.make_study(first.text, tmp_path), overbank.make_study(tomllib.loads(first.text), tmp_path)
    assert text.content == tables.content == first.content
    assert tomllib.loads(tables.text) == tomllib.loads(first.text)
    with pytest.raises(overbank.StudyError, match="what a study file can say"):
        overbank.make_study({"title": object()}, tmp_path)


def test_an_alternative_keeps_its_changes_and_an_unknown_one_names_those_there_are(tmp_path: Path) -> None:
    first = study(tmp_path)
    wider = '\n[[alternative]]\nname = "Wider"\nset = { "lane.screen.width_m" = 5.0 }\n'
    both = overbank.make_study(first.text + wider, tmp_path)
    then = both.alternative("Wider").with_value("lane.screen.gap_m", 0.15)
    straight = first.with_values({"lane.screen.width_m": 5.0, "lane.screen.gap_m": 0.15})
    assert levels(then) == pytest.approx(levels(straight), abs=1e-12)
    with pytest.raises(overbank.DomainError, match='expected "Wider"; got the text "wider"'):
        both.alternative("wider")
    with pytest.raises(overbank.DomainError, match="of which it has none"):
        first.alternative("Wider")


def test_samples_that_do_not_divide_name_those_that_do(tmp_path: Path) -> None:
    with pytest.raises(overbank.StudyError, match=r"run\.samples: .* Write samples = \d+ or \d+\."):
        study(tmp_path).with_samples(1000)


def test_a_study_shows_itself_on_one_line(tmp_path: Path) -> None:
    said = repr(study(tmp_path))
    assert re.fullmatch(r"<Study '.+ \(invented\)': lane \(culvert\), garden \(channel\); 4,096 samples>", said)


@pytest.mark.parametrize("family", ["gumbel", "gev"])
def test_a_study_goes_to_another_process(family: str, tmp_path: Path) -> None:
    annual = f"annual = {{ {family} = {{ location = 3.0, scale = 0.8{', shape = 0.1' if family == 'gev' else ''} }} }}"
    text = study(tmp_path).text.replace("[tailwater]", f"{annual}\n\n[tailwater]")
    text = text.replace('["flow.design_m3_s", "lane.screen.blockage"]', '["flow.annual", "lane.screen.blockage"]')
    first = overbank.make_study(text, tmp_path)
    again = pickle.loads(pickle.dumps(first))
    assert again.content.flow == first.content.flow
    assert levels(again) == pytest.approx(levels(first), abs=0.0)
