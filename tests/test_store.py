"""What a run leaves in its folder can be read by others: plain JSON, CSV and Parquet."""

from __future__ import annotations

import hashlib
import json
import math
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from pyarrow.parquet import ParquetFile

from overbank.files import samples as sample_tables
from overbank.files import sources
from overbank.files.store import SCHEMA, manifest, summary, tables, write_manifest, write_tables
from overbank.outputs.outcome import Outcome
from overbank.run import run
from pond import SHIFT, pond
from shared import shared_run
from small import BLOCKAGE, DEPENDENCE, ROAD, SCREEN, study


@pytest.fixture(scope="module")
def outcome(tmp_path_factory: pytest.TempPathFactory) -> Outcome:
    return shared_run(study(tmp_path_factory.mktemp("study")))


@pytest.fixture(scope="module")
def folder(outcome: Outcome, tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("results")
    write_tables(outcome, made)
    write_manifest(outcome, made)
    return made


def plain_json(path: Path) -> dict[str, Any]:
    """JSON as the standard has it: NaN and Infinity are refused."""

    def refuse(word: str) -> None:
        raise AssertionError(f"{path.name}: {word} is not JSON")

    content: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"), parse_constant=refuse)
    return content


def figures(tree: object) -> list[dict[str, Any]]:
    """Every figure with an interval in the summary."""
    if isinstance(tree, dict):
        own = [tree] if {"value", "low", "high"} <= set(tree) else []
        return own + [figure for part in tree.values() for figure in figures(part)]
    return []


def test_summary_gives_every_figure_its_interval_and_method(folder: Path) -> None:
    found = figures(plain_json(folder / "summary.json"))
    assert len(found) >= 10
    for figure in found:
        assert figure["method"]
        assert figure["low"] <= figure["value"] <= figure["high"]


def test_summary_holds_the_outcome(folder: Path, outcome: Outcome) -> None:
    said = plain_json(folder / "summary.json")
    assert said["probability_of_overtopping"]["threshold_method"]["value"] == pytest.approx(
        outcome.overtopping.best.value, abs=1e-6
    )
    assert said["headwater_not_exceeded_m"]["0.9"]["value"] == pytest.approx(
        outcome.headwater.quantiles[0.9].value, abs=1e-6
    )
    assert said["blockage"]["overtopping_at_the_least_blockage"]["blockage"] == 0.0
    assert said["blockage"]["overtopping_at_the_greatest_blockage"]["blockage"] == 1.0
    assert set(said["uncertain_numbers_without_basis"]) == {"lane.bank_level_m", "lane.screen.blockage"}


def test_curves_go_the_way_they_must(folder: Path) -> None:
    exceedance = pd.read_csv(folder / "exceedance.csv")
    assert exceedance["level_m"].is_monotonic_increasing
    assert exceedance["probability"].is_monotonic_decreasing
    blockage = pd.read_csv(folder / "overtopping_by_blockage.csv")
    assert blockage["probability_if_fixed"].is_monotonic_increasing
    for low, value, high in (
        ("low", "probability", "high"),
        ("plain_low", "plain_probability", "plain_high"),
    ):
        assert (exceedance[low] <= exceedance[value]).all()
        assert (exceedance[value] <= exceedance[high]).all()


def test_sensitivity_lists_every_input_for_both_outputs(folder: Path, outcome: Outcome) -> None:
    table = pd.read_csv(folder / "sensitivity.csv")
    names = {*outcome.problem.inputs.names, "(dummy)"}
    assert {output: set(part["input"]) for output, part in table.groupby("output")} == {
        "level": names,
        "overtopping": names,
    }


def test_samples_come_back_as_they_were(folder: Path, outcome: Outcome) -> None:
    table = pd.read_parquet(folder / "samples.parquet")
    assert len(table) == 4096
    np.testing.assert_array_equal(table["lane.level_m"], outcome.samples.levels.ravel())
    np.testing.assert_array_equal(table["lane.depth_over_bank_m"], outcome.samples.depth_over_bank.ravel())
    assert table["replicate"].value_counts().tolist() == [512] * 8
    share = float((table["lane.depth_over_bank_m"] > 0).mean())
    assert share == pytest.approx(outcome.overtopping.plain.value)


def test_samples_are_written_a_group_of_rows_at_a_time(
    outcome: Outcome, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sample_tables, "ROWS", 1000)
    write_tables(outcome, tmp_path)
    written = ParquetFile(tmp_path / "samples.parquet")
    assert [written.metadata.row_group(k).num_rows for k in range(written.num_row_groups)] == [1000] * 4 + [96]
    pd.testing.assert_frame_equal(pd.read_parquet(tmp_path / "samples.parquet"), sample_tables.sample_table(outcome))


def test_manifest_is_enough_to_run_it_again(folder: Path, outcome: Outcome) -> None:
    said = plain_json(folder / "manifest.json")
    assert said["seed"] == 11
    assert said["schema"] == plain_json(folder / "summary.json")["schema"] == SCHEMA
    assert said["limits"] == []
    assert said["study_sha256"] == hashlib.sha256(outcome.study.path.read_bytes()).hexdigest()
    assert said["study"] == outcome.study.path.read_text(encoding="utf-8")
    assert set(said["inputs"]) == set(outcome.problem.inputs.names)
    assert {"numpy", "scipy", "numba"} <= set(said["packages"])
    assert set(said["files"]) == {path.name for path in folder.iterdir()}


def test_endless_levels_are_words_in_the_summary(tmp_path: Path) -> None:
    shut = BLOCKAGE.replace("at_one = 0.05", "at_one = 0.12")
    found = shared_run(study(tmp_path, ("overflow = true", "overflow = false"), (ROAD, ""), (BLOCKAGE, shut)))
    write_tables(found, tmp_path)
    said = plain_json(tmp_path / "summary.json")
    assert said["headwater_not_exceeded_m"]["0.9"]["value"] == "above every level"
    assert math.isinf(pd.read_parquet(tmp_path / "samples.parquet")["lane.level_m"].max())


def test_without_blockage_its_table_and_figures_are_left_out(tmp_path: Path) -> None:
    found = shared_run(study(tmp_path, (DEPENDENCE, ""), (SCREEN, "")))
    write_tables(found, tmp_path)
    assert "overtopping_by_blockage" not in tables(found)
    assert not (tmp_path / "overtopping_by_blockage.csv").exists()
    assert "blockage" not in summary(found)
    assert manifest(found)["design"] == "sobol"


def test_what_was_learnt_and_what_knowing_is_worth_are_plain_json(tmp_path: Path) -> None:
    money = ("assurance = 0.9", "assurance = 0.9\nloss_if_overtopped = 1e5\ncost_of_acting = 2e4")
    free = (SHIFT, SHIFT.replace(', basis = "invented"', ", survey = { sd_after = 0.05, cost = 0 }"))
    seen = "\n[[observation]]\nflow_m3_s = 3.0\nlevel_m = 10.4\nsd_m = 0.1\n"
    write_tables(run(pond(tmp_path, money, free, ("8192", "1024"), more=seen)), tmp_path)
    said = plain_json(tmp_path / "summary.json")
    for figure in figures({name: said[name] for name in ("surveys", "floods_seen")}):
        assert figure["low"] <= figure["value"] <= figure["high"]
    assert len(figures(said["floods_seen"])) == 4
    assert len(figures(said["surveys"])) == 2 + 2 + 1 + 2
    assert "automatic_samples" not in said


def test_the_digest_of_the_sources_is_that_of_their_bytes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Any changed byte in a formula, a table or a template gives another one; the rest does not count."""
    (tmp_path / "files").mkdir()
    for name in ("files/sources.py", "formula.py", "table.csv", "notes.txt"):
        (tmp_path / name).write_text(name, encoding="utf-8")
    monkeypatch.setattr(sources, "__file__", str(tmp_path / "files" / "sources.py"))
    found = []
    for name in ("none", "formula.py", "table.csv", "notes.txt"):
        (tmp_path / name).write_text("other", encoding="utf-8")
        sources.sources_sha256.cache_clear()
        found.append(sources.sources_sha256())
    sources.sources_sha256.cache_clear()
    assert len(set(found)) == 3
    assert found[2] == found[3]
