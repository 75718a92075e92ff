"""Many studies in one go: what is run, what is kept, what is told of those that fail, and one table over all."""

from __future__ import annotations

import errno
import os
import shutil
import signal
import time
from collections.abc import Callable
from concurrent.futures import Executor, Future
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

import overbank
from overbank.commands import cli, many
from overbank.commands.many import StudyRun, StudyRuns, is_folder_of_studies, run_studies
from overbank.errors import FolderError
from overbank.files.store import write_tables
from small import edited, written

FEW = ("samples = 4096", "samples = 256")
RATED = ('level_m = { normal = { mean = 31.0, sd = 0.1 }, basis = "invented" }', 'rating = "below.csv"')
BAD = ("span_m = 2.4", "spam_m = 2.4")
BELOW = "flow_m3_s,level_m\n0,30.2\n5,30.9\n20,31.6\n"


def laid_out(folder: Path) -> Path:
    """Two sound studies, one of them with a table that it names, and one that cannot be read."""
    written(folder / "lane", edited(FEW, ("A small study", "=1+1, a small study")))
    written(folder / "rated", edited(FEW, RATED))
    (folder / "rated" / "below.csv").write_text(BELOW, encoding="utf-8")
    (folder / "rated" / "requirements.toml").write_text('title = "no study"\n', encoding="utf-8")
    written(folder / "bad", edited(FEW, BAD))
    (folder / "pyproject.toml").write_text('[project]\nname = "no study"\n', encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def finished(tmp_path_factory: pytest.TempPathFactory) -> StudyRuns:
    """All run in the processes of this machine."""
    return run_studies(laid_out(tmp_path_factory.mktemp("studies")))


@pytest.fixture
def folder(finished: StudyRuns, tmp_path: Path) -> Path:
    """A copy of the studies with their results, to be spoilt."""
    return Path(shutil.copytree(finished.folder.parent, tmp_path / "studies"))


class Recorder(Executor):
    """Does nothing but note what it was given, and says that it failed."""

    def __init__(self) -> None:
        self.given: list[str] = []

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        assert fn is many.run_one
        assert not kwargs
        (run,) = args
        self.given.append(run.name)
        future: Future[Any] = Future()
        future.set_result(StudyRun(run.name, run.file, run.results, "failed", "not run"))
        return future


def given(folder: Path) -> list[str]:
    """The studies of a folder that would be run now."""
    recorder = Recorder()
    run_studies(folder, executor=recorder)
    return recorder.given


def test_one_that_fails_does_not_stop_the_others(finished: StudyRuns) -> None:
    assert [(run.name, run.state) for run in finished.runs] == [("bad", "failed"), ("lane", "run"), ("rated", "run")]
    (bad,) = finished.failed
    assert "Did you mean span_m?" in bad.fault
    assert not bad.results.exists()
    assert sorted(path.name for path in finished.folder.iterdir()) == [
        *("lane", "rated", "studies.csv", "studies.parquet")
    ]


def test_results_are_those_of_a_run_by_itself_in_this_process(finished: StudyRuns, tmp_path: Path) -> None:
    """Byte for byte, with one thread there and all cores here."""
    for run in finished.runs[1:]:
        alone = tmp_path / run.name
        alone.mkdir()
        write_tables(overbank.run_study(overbank.read_study(run.file)), alone)
        tables = sorted(alone.glob("*.csv"))
        assert len(tables) > 10
        for table in [*tables, alone / "summary.json", alone / "samples.parquet"]:
            assert (run.results / table.name).read_bytes() == table.read_bytes(), table.name


def test_table_has_a_row_for_every_study(finished: StudyRuns) -> None:
    table = pd.read_parquet(finished.folder / "studies.parquet")
    pd.testing.assert_frame_equal(table, finished.table())
    assert table["study"].tolist() == ["bad", "lane", "rated"]
    assert table["title"].tolist()[1:] == ["=1+1, a small study (invented)", "A small study (invented)"]
    assert "spam_m" in table["fault"][0]
    assert table.loc[0, "probability":"probability_in_a_year_high"].isna().all()
    outcome = overbank.run_study(overbank.read_study(finished.runs[1].file))
    row = table.loc[1]
    assert row["probability"] == pytest.approx(outcome.overtopping.best.value, abs=1e-6)
    assert row["assured_level_m_low"] == pytest.approx(outcome.headwater.quantiles[0.9].low, abs=1e-6)
    assert outcome.blockage is not None
    assert row["allowance"] == pytest.approx(outcome.blockage.allowance.value, abs=1e-6)
    assert np.isnan(row["probability_in_a_year"])


def test_a_title_is_no_formula_in_the_table(finished: StudyRuns) -> None:
    """A spreadsheet works out a cell that begins with =, and may run commands by it (CWE-1236)."""
    text = (finished.folder / "studies.csv").read_text(encoding="utf-8")
    assert '"\'=1+1, a small study (invented)"' in text


# --- going on -----------------------------------------------------------------------------------------------


def test_finished_studies_are_not_run_again(folder: Path) -> None:
    assert given(folder) == ["bad"]


def test_a_changed_study_is_run_again(folder: Path) -> None:
    written(folder / "lane", edited(FEW, ("seed = 11", "seed = 12")))
    assert given(folder) == ["bad", "lane"]


def test_a_study_is_run_again_when_a_file_changed_that_it_names(folder: Path) -> None:
    (folder / "rated" / "below.csv").write_text(BELOW.replace("30.9", "30.8"), encoding="utf-8")
    assert given(folder) == ["bad", "rated"]


@pytest.mark.parametrize("name", ["report.html", "samples.parquet", "summary.json", "figures/exceedance.svg"])
@pytest.mark.parametrize("kept", [0, 100])
def test_a_study_is_run_again_when_a_result_was_damaged(folder: Path, name: str, kept: int) -> None:
    """Emptied, or cut off as by a disk that filled up."""
    damaged = folder / "results" / "lane" / name
    damaged.write_bytes(damaged.read_bytes()[:kept])
    assert given(folder) == ["bad", "lane"]


def test_a_summary_that_cannot_be_read_back_is_a_line_of_the_table(folder: Path) -> None:
    """Another machine may have said that it is done, and its disk have lost the end."""
    runs = run_studies(folder, executor=Recorder()).runs
    (folder / "results" / "lane" / "summary.json").write_text('{"title": "A sm', encoding="utf-8")
    table = StudyRuns(folder / "results", runs).table().set_index("study")
    assert "summary cannot be read back" in table.loc["lane", "fault"]
    assert table.loc["rated", "fault"] == ""


def test_a_process_that_the_system_refuses_is_told_with_what_to_do(folder: Path) -> None:
    class Refused(Executor):
        def submit(self, *_: Any, **__: Any) -> Future[Any]:
            future: Future[Any] = Future()
            future.set_exception(OSError(errno.EMFILE, os.strerror(errno.EMFILE)))
            return future

    failed = run_studies(folder, executor=Refused()).failed
    assert failed
    for run in failed:
        assert run.fault.startswith(f"{run.file}: expected ")
        assert "got Too many open files" in run.fault
        assert "ulimit -n" in run.fault


def test_a_table_of_somebody_else_is_not_replaced(folder: Path) -> None:
    (folder / "results" / "studies.csv").write_text("my,table\n1,2\n", encoding="utf-8")
    with pytest.raises(FolderError, match=r"studies\.csv"):
        run_studies(folder, executor=Recorder())
    assert (folder / "results" / "studies.csv").read_text(encoding="utf-8") == "my,table\n1,2\n"


@pytest.mark.parametrize("spoil", ["remove", "shorten", "words", "list"])
def test_a_study_is_run_again_when_its_results_are_not_whole(folder: Path, spoil: str) -> None:
    results = folder / "results" / "lane"
    manifest = results / "manifest.json"
    if spoil == "remove":
        (results / "report.html").unlink()
        (results / "report.html").symlink_to(results / "nothing")
    else:
        manifest.write_text({"shorten": "{", "words": "7", "list": '{"study_sha256": []}'}[spoil], encoding="utf-8")
    assert given(folder) == ["bad", "lane"]


def test_results_of_another_version_are_made_anew(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(many, "__version__", "0.0.9")
    assert given(folder) == ["bad", "lane", "rated"]


def test_results_of_other_formulas_are_made_anew(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(many, "sources_sha256", lambda: "another")
    assert given(folder) == ["bad", "lane", "rated"]


def test_results_of_a_part_are_made_anew(folder: Path) -> None:
    study = overbank.read_study(folder / "lane" / "study.toml")
    overbank.write_results(overbank.run_study(study, only=("headwater",)), folder / "results" / "lane")
    assert given(folder) == ["bad", "lane"]


def test_a_task_given_twice_is_done_once(folder: Path) -> None:
    """As after the loss of a worker that had finished but not said so."""
    run = StudyRun("lane", folder / "lane" / "study.toml", folder / "results" / "lane")
    written_at = (run.results / "manifest.json").stat().st_mtime_ns
    assert many.run_one(run).state == "unchanged"
    assert (run.results / "manifest.json").stat().st_mtime_ns == written_at


def test_an_unexpected_error_is_one_failed_study(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*_: object) -> None:
        raise ZeroDivisionError("by nothing")

    monkeypatch.setattr("overbank.run.run", fail)
    written(folder / "lane", edited(FEW, ("seed = 11", "seed = 12")))
    run = many.run_one(StudyRun("lane", folder / "lane" / "study.toml", folder / "results" / "lane"))
    assert run.state == "failed"
    assert "unexpected ZeroDivisionError: by nothing" in run.fault


# --- which files --------------------------------------------------------------------------------------------


def test_files_beside_each_other_are_studies_where_no_study_toml_is(tmp_path: Path) -> None:
    for place in ("pair/square.toml", "pair/skewed.toml", "alone.toml", ".hidden/study.toml", "results/x/study.toml"):
        (tmp_path / place).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / place).write_text(edited(), encoding="utf-8")
    (tmp_path / "pair" / "requirements.toml").write_text("x = 1", encoding="utf-8")
    assert is_folder_of_studies(tmp_path)
    found = many.studies_in(tmp_path, tmp_path / "results")
    assert [run.name for run in found] == ["alone", "pair.skewed", "pair.square"]
    assert found[1].results == tmp_path / "results" / "pair.skewed"


def test_two_studies_of_one_name_are_refused(tmp_path: Path) -> None:
    written(tmp_path / "lane")
    (tmp_path / "lane.toml").write_text(edited(), encoding="utf-8")
    with pytest.raises(FolderError, match=r"a name of its own for every study; got 'lane'"):
        run_studies(tmp_path)


def test_a_folder_without_studies_is_refused(tmp_path: Path) -> None:
    assert not is_folder_of_studies(tmp_path)
    with pytest.raises(FolderError, match="got none"):
        run_studies(tmp_path)


def test_a_folder_with_the_results_of_one_study_is_refused(tmp_path: Path) -> None:
    written(tmp_path / "lane")
    (tmp_path / "results").mkdir()
    (tmp_path / "results" / "manifest.json").write_text("{}", encoding="utf-8")
    with pytest.raises(FolderError, match="results of a single study"):
        run_studies(tmp_path)


def test_two_at_once_are_refused(folder: Path) -> None:
    class Again(Recorder):
        def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
            with pytest.raises(FolderError, match="another run"):
                run_studies(folder, executor=Recorder())
            return super().submit(fn, *args, **kwargs)

    run_studies(folder, executor=Again())


@pytest.mark.parametrize(("refused", "count"), [("", 2), ("/ro: Read-only file system", 1)])
def test_one_process_compiles_where_nothing_can_be_kept(
    monkeypatch: pytest.MonkeyPatch, refused: str, count: int
) -> None:
    monkeypatch.setattr("overbank._jit.not_kept", lambda: refused)
    monkeypatch.setattr("overbank._jit.threads", lambda: 2)
    counts: list[int] = []

    def noted(number: int) -> Recorder:
        counts.append(number)
        return Recorder()

    monkeypatch.setattr(many, "Processes", noted)
    with many._pool(None, 5):
        assert counts == [count]


# --- the command --------------------------------------------------------------------------------------------


def test_command_ends_with_1_when_a_study_failed(
    folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("sys.argv", ["overbank", "run", str(folder)])
    monkeypatch.setattr(many, "_carried_out", lambda rest, _: [many.run_one(run) for run in rest])
    with pytest.raises(SystemExit) as end:
        cli.main()
    said = capsys.readouterr()
    assert end.value.code == 1
    assert "[1/3] lane: unchanged" in said.err
    assert "[3/3] bad: failed" in said.err
    assert "Did you mean span_m?" in said.err
    assert said.out.rstrip().endswith(f"Table: {folder / 'results' / 'studies.csv'}")
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler


@pytest.mark.slow
@pytest.mark.filterwarnings("default")
def test_a_cluster_that_loses_a_worker_loses_no_study(tmp_path: Path) -> None:
    """Dask, a scheduler and two worker processes; one is killed as soon as results appear."""
    from distributed import Client, LocalCluster

    for number in range(6):
        written(tmp_path / f"site{number}", edited(FEW, ("seed = 11", f"seed = {number + 1}")))
    told: list[str] = []
    kept: dict[str, int] = {}
    begun = time.monotonic()
    with LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster, Client(cluster) as client:

        def tell(run: StudyRun, _done: int, _all: int) -> None:
            told.append(run.name)
            if len(told) == 1:
                kept.update(
                    {path.parent.name: path.stat().st_mtime_ns for path in tmp_path.glob("results/*/manifest.json")}
                )
                process = next(iter(client.run(_process_number).values()))
                _kill(process)

        found = run_studies(tmp_path, executor=client.get_executor(), tell=tell)
    assert time.monotonic() - begun < 120.0
    assert sorted(told) == [f"site{number}" for number in range(6)]
    assert all(run.state in {"run", "unchanged"} for run in found.runs), found.failed
    assert len(found.table()) == 6
    assert found.table()["probability"].notna().all()
    assert kept
    for name, written_at in kept.items():
        assert (tmp_path / "results" / name / "manifest.json").stat().st_mtime_ns == written_at
    assert not list(tmp_path.glob("results/.*"))


def _process_number() -> int:
    import os

    return os.getpid()


def _kill(number: int) -> None:
    import os

    os.kill(number, signal.SIGKILL)
