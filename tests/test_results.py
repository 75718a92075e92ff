"""Results for a notebook: tables, figures and a whole folder."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

import overbank
from overbank import results
from overbank.outputs.outcome import Outcome
from overbank.report.figures import figures_of
from overbank.results import write_all
from shared import shared_run
from small import DEPENDENCE, SCREEN, study


@pytest.fixture(scope="module")
def outcome(tmp_path_factory: pytest.TempPathFactory) -> Outcome:
    small = study(tmp_path_factory.mktemp("study"), ("samples = 4096\nreplicates = 8", "samples = 512\nreplicates = 8"))
    return overbank.run_study(small)


def test_tables_are_those_of_the_folder(outcome: Outcome, tmp_path: Path) -> None:
    report = overbank.write_results(outcome, tmp_path / "results")
    assert report.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
    tables = overbank.tables(outcome)
    for name in ("exceedance", "overtopping_by_blockage", "sensitivity"):
        pd.testing.assert_frame_equal(pd.read_csv(report.parent / f"{name}.csv"), tables[name], check_exact=False)
    pd.testing.assert_frame_equal(pd.read_parquet(report.parent / "samples.parquet"), tables["samples"])


def test_there_is_no_blockage_table_without_blockage(tmp_path: Path) -> None:
    found = shared_run(study(tmp_path, (DEPENDENCE, ""), (SCREEN, "")))
    tables = overbank.tables(found)
    assert {"exceedance", "overtopping", "sensitivity", "samples", "panel", "design_checks", "people"} <= set(tables)
    assert not {"overtopping_by_blockage", "allowances"} & set(tables)


def test_every_figure_has_its_name(outcome: Outcome) -> None:
    for name in figures_of(outcome):
        assert overbank.figure(outcome, name).axes


def test_a_figure_that_the_study_asks_nothing_for_is_refused(outcome: Outcome) -> None:
    with pytest.raises(overbank.DomainError, match="got 'frequency', for which the study asks nothing"):
        overbank.figure(outcome, "frequency")


def test_a_figure_that_is_not_there_is_refused_with_the_names(outcome: Outcome) -> None:
    with pytest.raises(overbank.DomainError, match=r"exceedance, .*got 'exceedence'"):
        overbank.figure(outcome, "exceedence")


@pytest.mark.parametrize(
    "name",
    [
        "summary.json",
        "samples.parquet",
        "people.csv",
        "report.html",
        "figures/exceedance.png",
        "figures/exceedance.svg",
    ],
)
def test_a_full_disk_is_one_line_and_leaves_the_earlier_results(
    outcome: Outcome, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    """One of the files stands on a disk without room for a single byte: the system's own refusal, whoever writes."""
    wanted = tmp_path / "results"
    wanted.mkdir()
    (wanted / "manifest.json").write_text('{"written_by": "overbank 0", "files": ["manifest.json"]}', encoding="utf-8")

    def on_a_full_disk(found: Outcome, folder: Path) -> None:
        (folder / name).parent.mkdir(exist_ok=True)
        (folder / name).symlink_to("/dev/full")
        write_all(found, folder)

    monkeypatch.setattr(results, "write_all", on_a_full_disk)
    with pytest.raises(overbank.FolderError, match=r"No space left on device.* Earlier results are untouched") as error:
        overbank.write_results(outcome, wanted)
    assert "\n" not in str(error.value)
    assert [path.name for path in wanted.iterdir()] == ["manifest.json"]
    assert [path.name for path in tmp_path.iterdir()] == ["results"]


def test_results_are_not_written_over_other_files(outcome: Outcome, tmp_path: Path) -> None:
    (tmp_path / "letter.txt").write_text("x", encoding="utf-8")
    with pytest.raises(overbank.FolderError, match=r"letter\.txt"):
        overbank.write_results(outcome, tmp_path)
