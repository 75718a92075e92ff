"""A whole run of a river: a weir, a surveyed reach, a skewed bridge with debris, from the study file to the report."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

import overbank
from overbank.outputs.outcome import Outcome
from overbank.report.figures import figures_of
from study.river import RIVER, in_surveyed_channels, read_river


@pytest.fixture(scope="module")
def outcome(tmp_path_factory: pytest.TempPathFactory) -> Outcome:
    text = RIVER.replace("samples = 1024\nreplicates = 8", "samples = 256\nreplicates = 8")
    return overbank.run_study(read_river(tmp_path_factory.mktemp("river"), text))


def test_approaches_may_be_surveyed(tmp_path: Path) -> None:
    """The deterministic run tells alpha at weir and bridge, and how far both are felt."""
    result = overbank.check_study(read_river(tmp_path, in_surveyed_channels()))
    told = {element["id"]: element for element in result.as_json()["elements"]}
    assert min(told[name]["energy_coefficient"] for name in ("sill", "road")) > 1.0
    assert told["road"]["afflux_m"] == pytest.approx(told["road"]["level_m"] - told["meadow"]["level_m"], abs=2e-6)
    felt = {each.element: each.at_structure for each in result.influences}
    assert felt["sill"] > 0.05
    assert 0.0 < felt["road"] < 1.0


def test_check_tells_the_air_gap_and_the_head_over_the_crest(tmp_path: Path) -> None:
    result = overbank.check_study(read_river(tmp_path))
    sill, meadow, road, _ = result.as_json()["elements"]
    assert sill["head_over_crest_m"] == pytest.approx(sill["level_m"] - 10.8, abs=1e-5)
    assert meadow["energy_coefficient"] > 1.0
    assert road["air_gap_m"] == pytest.approx(11.4 + 1.2 - road["level_m"], abs=1e-5)  # the side pipe is the lowest
    assert road["afflux_m"] == pytest.approx(road["level_m"] - meadow["level_m"], abs=2e-6)


def test_debris_at_the_bridge_is_what_the_ladder_climbs(outcome: Outcome) -> None:
    assert outcome.overtopping.integrated == "road.blockage"
    assert outcome.overtopping.agree
    assert outcome.overtopping.fallen == 0
    blocked = outcome.blockage
    assert blocked is not None
    assert np.all(np.diff(blocked.fixed.probability) >= 0.0)


def test_the_report_says_how_the_river_was_taken(outcome: Outcome, tmp_path: Path) -> None:
    report = overbank.write_results(outcome, tmp_path / "results").read_text(encoding="utf-8")
    for words in (
        "free flow over the crest",
        "free surface in the openings",
        "Manning&#39;s n",
        "square edges: ISO 3846",
    ):
        assert words in report
    files = json.loads((tmp_path / "results" / "manifest.json").read_text(encoding="utf-8"))["files"]
    assert "figures/long_section.svg" in files
    assert "long_section" in figures_of(outcome)
