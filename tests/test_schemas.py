"""Files that an earlier version wrote are still opened: those of Quillet Lane (invented), before there was a schema."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from overbank.commands import many
from overbank.commands.many import StudyRun
from overbank.files.folders import fresh_folder
from overbank.files.headlines import headlines
from overbank.files.store import SCHEMA

BEFORE = Path(__file__).parent / "schemas" / "before"


@pytest.fixture
def results(tmp_path: Path) -> Path:
    """A results folder of the version before."""
    folder = tmp_path / "results"
    folder.mkdir()
    for file in BEFORE.iterdir():
        shutil.copy(file, folder)
    return folder


def test_the_headlines_of_the_version_before_are_read(results: Path) -> None:
    said = json.loads((BEFORE / "summary.json").read_text(encoding="utf-8"))
    assert "schema" not in said
    found = headlines(results)
    assert found["probability"] == said["probability_of_overtopping"]["threshold_method"]["value"]
    assert found["assured_level_m_low"] == said["headwater_not_exceeded_m"]["0.9"]["low"]
    assert found["allowance_high"] == said["blockage"]["allowance_for_assurance"]["high"]
    assert found["medians_level_m"] == said["deterministic"]["level_m"]


def test_a_folder_of_the_version_before_may_be_replaced(results: Path) -> None:
    with fresh_folder(results) as staging:
        (staging / "summary.json").write_text("{}", encoding="utf-8")
    assert [file.name for file in results.iterdir()] == ["summary.json"]


def test_results_of_the_version_before_are_not_up_to_date(results: Path) -> None:
    """They do not say which formulas they were made with."""
    assert "sources_sha256" not in json.loads((results / "manifest.json").read_text(encoding="utf-8"))
    assert not many._is_up_to_date(StudyRun("lane", results / "study.toml", results))


def test_the_schema_is_a_whole_number() -> None:
    assert isinstance(SCHEMA, int)
    assert SCHEMA > 0
