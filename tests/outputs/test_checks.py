"""The usual design checks of a run: probabilities are the shares of its own samples, counted here again."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import overbank
from overbank.outputs.checks import CheckedFigure
from overbank.outputs.medians import deterministic_run
from overbank.outputs.outcome import Outcome
from overbank.run import run
from small import edited, study, written
from study.river import RIVER, read_river

ASKED = ('id = "lane"', 'id = "lane"\nasked = { freeboard_to_soffit_m = 0.4 }')


@pytest.fixture(scope="module")
def outcome(tmp_path_factory: pytest.TempPathFactory) -> Outcome:
    return run(study(tmp_path_factory.mktemp("asked"), ASKED), only=("checks",))


@pytest.fixture(scope="module")
def figures(outcome: Outcome) -> dict[str, CheckedFigure]:
    return {each.name: each for each in outcome.checks.figures}


def sampled(outcome: Outcome) -> dict[str, np.ndarray]:
    """The figures of every sample from the results of the site: a box of 2.4 by 1.5 m, its inlet at 30.10 m."""
    results = outcome.samples.site.element("lane").results
    blockage = outcome.samples.values[..., outcome.problem.inputs.index("lane.screen.blockage")].ravel()
    clean = 3.6 * 1.9 * 0.125 / 0.145 / (2.4 * 1.5)
    return {
        "freeboard_to_soffit_m": 1.5 - np.maximum(results["depth_in"], results["depth_out"]),
        "soffit_above_headwater_m": 30.10 + 1.5 - results["barrel_level"],
        "screen_area_ratio": np.full(blockage.size, clean),
        "blocked_screen_area_ratio": clean * (1.0 - blockage),
    }


def test_probabilities_are_shares_of_the_samples(outcome: Outcome, figures: dict[str, CheckedFigure]) -> None:
    asked = {"freeboard_to_soffit_m": 0.4, "soffit_above_headwater_m": 0.4, "screen_area_ratio": 3.0}
    for name, values in sampled(outcome).items():
        found, limit = figures[name], asked.get(name, 1.0)
        assert (found.asked, found.below.value) == (limit, np.mean(values < limit)), name
        assert found.below.low <= found.below.value <= found.below.high
        assert (found.negative is None) == (found.unit == "")
        if found.negative is not None:
            assert found.negative.value == np.mean(values < 0.0)
            assert found.negative.value <= found.below.value
    assert 0.0 < figures["soffit_above_headwater_m"].below.value < 1.0
    assert figures["screen_area_ratio"].below.value == 1.0


def test_who_asks(figures: dict[str, CheckedFigure]) -> None:
    assert {name: each.asked_by for name, each in figures.items()} == {
        "freeboard_to_soffit_m": "study",
        "soffit_above_headwater_m": "study",
        "screen_area_ratio": "default",
        "blocked_screen_area_ratio": "",
    }


def test_shares_of_how_the_barrels_flow(outcome: Outcome) -> None:
    (barrels,) = outcome.checks.barrels
    shares = {words: share.value for words, share in barrels.shares.items()}
    assert sum(shares.values()) == pytest.approx(1.0)
    assert list(shares.values()) == sorted(shares.values(), reverse=True)
    results = outcome.samples.site.element("lane").results
    full = (results["regime"] == 5) & (outcome.samples.site.tailwater >= 31.5)
    drowned = next((share for words, share in shares.items() if "tailwater above the soffit" in words), 0.0)
    assert drowned == np.mean(full)
    assert barrels.certain == "part full along its whole length"


def test_certain_figures_are_those_of_the_check(outcome: Outcome, tmp_path: Path) -> None:
    result = deterministic_run(study(tmp_path, ASKED))
    found = result.as_json()["design_checks"]
    for each, line in zip(outcome.checks.figures, found, strict=True):
        assert line["value"] == pytest.approx(each.certain, abs=1e-6)
        assert line["margin"] == pytest.approx(each.certain - each.asked, abs=2e-6)
        assert (line["asked"], line["asked_by"]) == (each.asked, each.asked_by)
    assert result.as_json()["barrels"] == [{"element": "lane", "flow": outcome.checks.barrels[0].certain}]


def test_influence_of_a_run_is_that_of_the_check(outcome: Outcome, tmp_path: Path) -> None:
    (line,) = deterministic_run(study(tmp_path, ASKED)).as_json()["influence"]
    (found,) = outcome.influences
    assert line["afflux_m"] == pytest.approx(found.at_structure, abs=1e-6)
    assert line["modelled_m"] == 80.0
    assert line["to_a_tenth_m"] is None  # beyond the reach
    assert line["left_m"] == pytest.approx(found.left, abs=1e-6)


def test_nothing_is_judged_without_culvert_or_bridge(tmp_path: Path) -> None:
    text = edited()
    culvert = text[text.index('[[element]]\nkind = "culvert"') : text.index('[[element]]\nkind = "channel"')]
    text = text.replace(culvert, "").replace(text[text.index("[[dependence]]") :], "")
    text = text.replace("length_m = 80.0", "length_m = 80.0\nbed_level_m = 30.1")
    found = run(overbank.read_study(written(tmp_path, text)), only=("checks",))
    assert (found.checks.figures, found.checks.barrels, found.influences) == ((), (), ())
    assert not {"design_checks", "barrels", "influence"} & set(overbank.tables(found))


def test_tables_of_a_river_tell_the_air_gap_and_how_far_a_weir_is_felt(tmp_path: Path) -> None:
    text = RIVER.replace("samples = 1024\nreplicates = 8", "samples = 256\nreplicates = 8")
    asked = read_river(tmp_path, text.replace('id = "road"\n', 'id = "road"\nasked = { air_gap_m = 0.6 }\n'))
    found = run(asked, only=("checks",))
    tables = overbank.tables(found)
    (line,) = tables["design_checks"].to_dict("records")
    gap = found.samples.site.element("road").results["air_gap"]
    assert (line["element"], line["figure"], line["asked"]) == ("road", "air_gap_m", 0.6)
    assert line["probability_of_less"] == np.mean(gap < 0.6)
    assert line["probability_of_less_than_nought"] == np.mean(gap < 0.0)
    assert list(tables["influence"]["element"]) == ["sill", "road"]
    assert found.influences[0].passed == ("road",)
    assert "barrels" not in tables
