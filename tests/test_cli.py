"""The commands as a user meets them: what they print where, their exit status, and what they leave on the disk."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from typing import NamedTuple

import pytest

from overbank.commands import cli
from overbank.commands.terminal import LABEL, drawn
from overbank.outputs.medians import deterministic_run
from overbank.sampling.run import SAMPLING
from overbank.study.load import read_study
from small import DEPENDENCE, SMALL, edited, written

QUICK = ("samples = 4096\nreplicates = 8", "samples = 512\nreplicates = 8")


class Said(NamedTuple):
    """What a command left: exit status, standard output, standard error."""

    status: int
    out: str
    err: str


Overbank = Callable[..., Said]


@pytest.fixture
def overbank(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Overbank:
    """The command in this process, through its real entry point."""

    def call(*words: str | Path) -> Said:
        monkeypatch.setattr(sys, "argv", ["overbank", *map(str, words)])
        with pytest.raises(SystemExit) as end:
            cli.main()
        captured = capsys.readouterr()
        return Said(int(end.value.code or 0), captured.out, captured.err)

    return call


def in_a_process(*words: str | Path, **settings: str) -> Said:
    """The installed command in a process of its own."""
    command = [sys.executable, "-m", "overbank.commands.cli", *map(str, words)]
    done = subprocess.run(
        command, capture_output=True, text=True, check=False, env={**os.environ, **settings}, timeout=120
    )
    return Said(done.returncode, done.stdout, done.stderr)


def contents(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


# --- new ----------------------------------------------------------------------------------------------------


def test_new_writes_a_study_that_can_be_checked(overbank: Overbank, tmp_path: Path) -> None:
    made = overbank("new", tmp_path / "mine")
    assert made.status == 0
    assert f"overbank check {tmp_path / 'mine'}" in made.out
    written = {path.name for path in (tmp_path / "mine").iterdir()}
    assert written == {"study.toml", "requirements.toml", "study.schema.json"}
    checked = overbank("check", tmp_path / "mine")
    assert checked.status == 0
    assert "invented" in checked.out


@pytest.mark.parametrize("name", ["study.toml", "requirements.toml"])
def test_new_leaves_what_is_there_and_writes_nothing(overbank: Overbank, tmp_path: Path, name: str) -> None:
    (tmp_path / name).write_text("mine", encoding="utf-8")
    before = contents(tmp_path)
    said = overbank("new", tmp_path)
    assert said.status == 2
    assert f"got one with {name}. Nothing is written" in said.err
    assert contents(tmp_path) == before


def test_new_begins_from_a_site_of_each_kind(overbank: Overbank, tmp_path: Path) -> None:
    made = overbank("new", tmp_path / "mine", "--kind", "bridge")
    assert (made.status, made.err) == (0, "")
    assert "bridge" in overbank("check", tmp_path / "mine").out
    other = overbank("new", tmp_path / "other", "--kind", "brigde")
    assert other.status == 2
    assert all(word in other.err for word in ("'brigde'", "'culvert'", "'chain'"))
    assert not (tmp_path / "other").exists()


def test_new_tells_how_to_go_on_in_a_folder_with_a_space_in_its_name(overbank: Overbank, tmp_path: Path) -> None:
    made = overbank("new", tmp_path / "my brook")
    assert made.out.endswith(f"Next: overbank check '{tmp_path}/my brook'\n")


def test_new_in_place_of_a_file(overbank: Overbank, tmp_path: Path) -> None:
    (tmp_path / "mine").write_text("a file", encoding="utf-8")
    said = overbank("new", tmp_path / "mine")
    assert (said.status, said.out) == (2, "")
    assert "expected a folder; got a file" in said.err
    assert contents(tmp_path) == {"mine": b"a file"}


def test_new_in_a_place_that_cannot_be_written_to(overbank: Overbank) -> None:
    said = overbank("new", "/proc/here")
    assert said.status == 2
    assert "expected a folder that can be written to" in said.err


# --- check --------------------------------------------------------------------------------------------------


def test_check_json_is_json_and_nothing_else(overbank: Overbank, tmp_path: Path) -> None:
    file = written(tmp_path)
    said = overbank("check", file, "--json")
    assert said.status == 0
    found = json.loads(said.out)
    assert list(found) == ["flow_m3_s", "tailwater_m", "elements", "design_checks", "barrels", "influence", "people"]
    assert found["flow_m3_s"] == 6.0
    assert found["tailwater_m"] == 31.0
    lane, garden = found["elements"]
    assert {"id", "kind", "level_m", "regime", "bank_level_m", "freeboard_m", "road_flow_m3_s"} <= set(lane)
    assert (lane["id"], garden["id"]) == ("lane", "garden")
    assert lane["freeboard_m"] == pytest.approx(lane["bank_level_m"] - lane["level_m"], abs=2e-6)
    assert lane["level_m"] == pytest.approx(
        deterministic_run(read_study(file)).outcome.element("lane").level[0], abs=1e-6
    )
    assert garden["level_m"] > lane["level_m"]


def test_check_json_has_null_for_a_level_that_nothing_bounds(overbank: Overbank, tmp_path: Path) -> None:
    text = edited(
        (DEPENDENCE, ""),
        ("overflow = true", "overflow = false"),
        ("{ inflated_beta = { at_zero = 0.2, a = 1.5, b = 2.5, at_one = 0.05 } }", "1.0"),
        ("[element.road]\nlevel_m = 32.6\nlength_m = 14.0\n", ""),
    )
    said = overbank("check", written(tmp_path, text), "--json")
    lane = json.loads(said.out)["elements"][0]
    assert lane["level_m"] is None
    assert lane["freeboard_m"] is None
    assert lane["regime"] == "no way through"
    assert "no way through" in overbank("check", tmp_path).out


def test_check_shows_the_usual_design_checks_and_how_far_the_lane_is_felt(overbank: Overbank, tmp_path: Path) -> None:
    asked = ('id = "lane"', 'id = "lane"\nasked = { freeboard_to_soffit_m = 0.35 }')
    text = " ".join(re.sub("[│┃]", " ", overbank("check", written(tmp_path, edited(asked)), "-v").out).split())
    for words in ("figures, not verdicts", "0.35 m", "3.00, default", "Barrels of lane: part full", "more than 80 m"):
        assert words in text


def test_check_shows_what_the_water_does_to_people(overbank: Overbank, tmp_path: Path) -> None:
    """Drag on the bars by hand: half rho Cd A v2, an adult of 0.6 m2 with Cd 1.2, at the velocity that is shown."""
    file = written(tmp_path)
    found = json.loads(overbank("check", file, "--json").out)["people"]
    assert {each["element"] for each in found} == {"lane"}
    assert {each["side"] for each in found} == {"screen", "barrel"}
    value = {each["figure"]: each["value"] for each in found}
    speed = next(value[name] for name in value if name.startswith("approach_velocity"))
    drag = next(value[name] for name in value if "drag" in name and "adult" in name)
    assert drag == pytest.approx(0.5 * 1000.0 * 1.2 * 0.6 * speed**2, rel=1e-3)
    text = " ".join(re.sub("[│┃]", " ", overbank("check", file, "--verbose").out).split())
    assert "people at lane" in text


def test_check_is_one_screen_and_names_margins_below_0(
    overbank: Overbank, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "100")
    said = overbank(
        "check", written(tmp_path, edited(('id = "lane"', 'id = "lane"\nasked = { freeboard_to_soffit_m = 9.0 }')))
    )
    assert len(said.out.splitlines()) <= 40
    text = " ".join(said.out.split())
    margins = json.loads(overbank("check", tmp_path, "--json").out)["design_checks"]
    below = [each for each in margins if each["margin"] is not None and each["margin"] < 0.0]
    assert below
    assert f"Of {len(margins)} usual design checks {len(below)} have a margin below 0: lane, " in text
    assert f"\u2212{abs(below[0]['margin']):.2f}" in text
    assert "figures, not verdicts" not in text
    assert "overbank check -v" in text


@pytest.mark.parametrize("width", [60, 80, 140])
def test_check_keeps_to_the_width_of_the_terminal(
    overbank: Overbank, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, width: int
) -> None:
    monkeypatch.setenv("COLUMNS", str(width))
    said = overbank("check", written(tmp_path))
    lines = said.out.splitlines()
    assert max(map(len, lines)) <= width
    assert sum(re.match(r" +\d\d\.\d\d ", line) is not None for line in lines) == 14
    assert "\x1b" not in said.out  # no colour codes where no terminal is


def test_check_draws_a_picture(overbank: Overbank, tmp_path: Path) -> None:
    said = overbank("check", written(tmp_path), "--picture", tmp_path / "site.png", "--json")
    assert said.status == 0
    json.loads(said.out)
    assert (tmp_path / "site.png").read_bytes().startswith(b"\x89PNG")


def test_check_draws_over_its_own_picture_and_over_nothing_else(overbank: Overbank, tmp_path: Path) -> None:
    file = written(tmp_path)
    for _ in range(2):
        assert overbank("check", file, "--picture", tmp_path / "site.png").status == 0
    said = overbank("check", file, "--picture", file)
    assert (said.status, said.out) == (2, "")
    assert "expected the name of a new file" in said.err
    assert file.read_text(encoding="utf-8") == SMALL


def test_check_says_where_a_picture_cannot_go(overbank: Overbank, tmp_path: Path) -> None:
    said = overbank("check", written(tmp_path), "--picture", tmp_path / "nowhere" / "site.png")
    assert said.status == 2
    assert "nowhere" in said.err


def test_text_of_the_study_is_never_markup(overbank: Overbank, tmp_path: Path) -> None:
    title = "A [bold red]small[/] study \\\\[link] (invented)"
    said = overbank("check", written(tmp_path, edited(("A small study (invented)", title))))
    assert "A [bold red]small[/] study \\[link] (invented)" in said.out


def test_long_section_shows_each_line_only_where_it_is(tmp_path: Path) -> None:
    """Roof and road over the barrel's 22 of 102 m, banks above them, bed and water all along."""
    run = deterministic_run(read_study(written(tmp_path)))
    rows = [line[LABEL:] for line in drawn(run.stations, 111).splitlines()[:14]]
    columns: dict[str, list[int]] = {
        mark: [column for row in rows for column, found in enumerate(row) if found == mark] for mark in "#=_-~"
    }
    inlet = 8 + 22 / 102 * 85
    assert max(columns["="]) <= inlet + 1
    assert max(columns["_"]) <= inlet + 1
    assert min(columns["-"]) >= inlet - 1
    assert min(columns["#"]) == min(columns["~"]) == 0
    assert max(columns["#"]) == max(columns["~"]) == 101


# --- faults -------------------------------------------------------------------------------------------------


def test_all_faults_come_in_one_message_and_no_traceback(tmp_path: Path) -> None:
    text = edited(
        ("span_m = 2.4", "spam_m = 2.4"),
        ("median = 6.0, cov = 0.2", "median = 6.0, cov = -0.2"),
        ("bank_level_m = 32.45", "bank_level_m = 29.0"),
    )
    said = in_a_process("check", written(tmp_path, text))
    assert said.status == 2
    assert said.out == ""
    assert "Traceback" not in said.err
    assert "3 faults" in said.err
    for part in ("spam_m", "span_m", "cov", "garden.bank_level_m", "line "):
        assert part in said.err


def test_a_study_that_is_not_there(overbank: Overbank, tmp_path: Path) -> None:
    said = overbank("run", tmp_path / "nothing")
    assert said.status == 2
    assert "overbank new" in said.err
    assert list(tmp_path.iterdir()) == []


def test_a_study_without_uncertain_numbers_runs_only_as_a_check(overbank: Overbank, tmp_path: Path) -> None:
    text = re.sub(r"\{ (?:normal|lognormal) = \{ me\w+ = ([\d.]+)[^\n]*", r"\1", SMALL.replace(DEPENDENCE, ""))
    text = re.sub(r"blockage = .*", "blockage = 0.3", text)
    file = written(tmp_path, text)
    assert overbank("check", file).status == 0
    said = overbank("run", file)
    assert said.status == 2
    assert "overbank check" in said.err
    assert [path.name for path in tmp_path.iterdir()] == ["study.toml"]


# --- run ----------------------------------------------------------------------------------------------------

FILES = {
    "report.html",
    "summary.json",
    "exceedance.csv",
    "overtopping_by_blockage.csv",
    "sensitivity.csv",
    "samples.parquet",
    "manifest.json",
}


def test_a_log_tells_of_every_stage_and_of_a_run_that_failed(overbank: Overbank, tmp_path: Path) -> None:
    file = written(tmp_path, edited(QUICK))
    log = tmp_path / "run.log"
    assert overbank("run", file, "--only", "headwater", "--log", log).status == 0
    (tmp_path / "results" / "mine.txt").write_text("mine", encoding="utf-8")
    assert overbank("run", file, "--only", "headwater", "--log", log).status == 2
    lines = log.read_text(encoding="utf-8").splitlines()
    assert all(datetime.fromisoformat(line.split(" ")[0]).utcoffset() == timedelta(0) for line in lines)
    said = [line.partition(" ")[2] for line in lines]
    assert next(words for words in said if words.startswith("ended")) == "ended, results written"
    assert said[0].startswith("overbank ")
    assert str(file) in said[0]
    assert "running every sample through the site" in said
    assert said[-1].startswith("ended without results: FolderError")
    refused = overbank("run", file, "--log", tmp_path / "nowhere" / "run.log")
    assert (refused.status, "--log another name" in refused.err) == (2, True)


def test_a_shell_completes_commands_and_options() -> None:
    """Click's own way of asking for completions in bash, as its documentation has it."""
    program = "import sys; sys.argv = ['overbank']; from overbank.commands.cli import main; main()"
    for words, expected in (("overbank sw", "sweep"), ("overbank run --qu", "--quick")):
        asked = {"_OVERBANK_COMPLETE": "complete_bash", "COMP_WORDS": words, "COMP_CWORD": str(words.count(" "))}
        command, settings = [sys.executable, "-c", program], {**os.environ, **asked}
        done = subprocess.run(command, capture_output=True, text=True, check=False, env=settings, timeout=60)
        assert done.stdout.split() == [expected], done.stderr


def test_run_leaves_its_results_and_a_later_failure_leaves_them_alone(overbank: Overbank, tmp_path: Path) -> None:
    file = written(tmp_path, edited(QUICK))
    said = overbank("run", file)
    results = tmp_path / "results"
    assert said.status == 0
    assert said.out.rstrip().splitlines()[-1] == f"Report: {results / 'report.html'}"
    assert "probability of overtopping" in said.out
    assert "aid to judgement" in said.out
    assert "running every sample through the site" in said.err
    assert "running every sample through the site" not in said.out
    assert set(contents(results)) >= FILES
    assert {f"figures/exceedance.{kind}" for kind in ("svg", "png")} <= set(contents(results))
    listed = json.loads((results / "manifest.json").read_text(encoding="utf-8"))["files"]
    assert set(listed) == set(contents(results))

    before = contents(results)
    written(tmp_path, edited(QUICK, ("span_m = 2.4", "span_m = -2.4")))
    failed = overbank("run", file)
    assert failed.status == 2
    assert "span_m" in failed.err
    (results / "my-notes.txt").write_text("keep me", encoding="utf-8")
    written(tmp_path, edited(QUICK))
    refused = overbank("run", file)
    assert refused.status == 2
    assert "my-notes.txt" in refused.err
    assert contents(results) == {**before, "my-notes.txt": b"keep me"}


LISTENING = """
import signal
signal.signal(signal.SIGINT, signal.default_int_handler)
signal.signal(signal.SIGHUP, signal.SIG_DFL)
from overbank.commands.cli import main
main()
"""
"""The command, hearing signals even where the tests were put in the background, which makes children deaf."""


def stopped(words: list[str], sign: str, by: int = signal.SIGINT) -> Said:
    """The command, stopped by a signal as soon as it has said that."""
    command = [sys.executable, "-c", LISTENING, *words]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as process:
        assert process.stderr is not None
        try:
            while sign not in (line := process.stderr.readline()):
                assert line or process.poll() is None, "the run ended before it was stopped"
            process.send_signal(by)
            out, err = process.communicate(timeout=60)
        finally:
            process.kill()
    return Said(process.returncode, out, err)


@pytest.mark.parametrize(
    ("command", "by"),
    [("run", signal.SIGINT), ("compare", signal.SIGINT), ("run", signal.SIGTERM), ("run", signal.SIGHUP)],
)
def test_a_signal_leaves_cleanly(tmp_path: Path, command: str, by: int) -> None:
    """The status is 128 and the signal's number, as in every shell."""
    alternative = '\n[[alternative]]\nname = "wide"\nset = { "lane.screen.gap_m" = 0.15 }\n'
    long = edited(("samples = 4096\nreplicates = 8", "samples = 1048576\nreplicates = 8")) + alternative
    file = written(tmp_path, long)
    results = tmp_path / "results"
    results.mkdir()
    old = json.dumps({"written_by": "overbank 0", "files": ["manifest.json"]})
    (results / "manifest.json").write_text(old, encoding="utf-8")
    said = stopped([command, str(file)], SAMPLING, by)
    assert said == (128 + by, "", "Stopped; earlier results are untouched.\n")
    assert contents(tmp_path) == {"study.toml": file.read_bytes(), "results/manifest.json": old.encode()}


def test_ctrl_c_stops_many_studies_and_leaves_no_process(tmp_path: Path) -> None:
    """The first study has failed, the second is on its way; its unfinished results are cleared away."""
    written(tmp_path / "bad", edited(("span_m = 2.4", "spam_m = 2.4")))
    written(tmp_path / "long", edited(("samples = 4096\nreplicates = 8", "samples = 1048576\nreplicates = 8")))
    said = stopped(["run", str(tmp_path)], "[1/2] bad")
    assert said == (130, "", "Stopped; earlier results are untouched.\n")
    assert list((tmp_path / "results").iterdir()) == []
    assert not [path for path in tmp_path.iterdir() if path.name.startswith(".")]


@pytest.mark.parametrize("words", [("check", "STUDY"), ("new", "OTHER"), ("check", "STUDY", "--json")], ids=" ".join)
def test_an_output_that_takes_no_more_is_one_line(tmp_path: Path, words: tuple[str, ...]) -> None:
    """/dev/full is a disk without room for a single byte."""
    places = {"STUDY": str(written(tmp_path)), "OTHER": str(tmp_path / "other")}
    command = [sys.executable, "-m", "overbank.commands.cli", *(places.get(word, word) for word in words)]
    with Path("/dev/full").open("w", encoding="ascii") as full:
        done = subprocess.run(command, stdout=full, stderr=subprocess.PIPE, text=True, check=False, timeout=120)
    assert (done.returncode, done.stderr) == (2, "The output cannot be written or read; got No space left on device\n")


def test_a_disk_that_takes_no_picture_is_one_line(overbank: Overbank, tmp_path: Path) -> None:
    (tmp_path / "site.png").symlink_to("/dev/full")
    said = overbank("check", written(tmp_path), "--picture", tmp_path / "site.png", "--json")
    assert said.status == 2
    assert said.err.count("\n") == 1
    assert "No space left on device" in said.err


def test_results_where_nobody_may_write_are_refused_before_anything_is_run(overbank: Overbank, tmp_path: Path) -> None:
    said = overbank("run", written(tmp_path), "--out", "/proc/results")
    assert said.status == 2
    assert "expected a folder that can be written to" in said.err
    assert said.err.count("\n") == 1


def test_memory_that_is_used_up_is_one_line(
    overbank: Overbank, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def use_up(_study: object) -> None:
        raise MemoryError

    monkeypatch.setattr("overbank.outputs.medians.deterministic_run", use_up)
    said = overbank("check", written(tmp_path))
    assert (said.status, said.out, said.err.count("\n")) == (2, "", 1)
    assert "Take fewer samples" in said.err


def test_formulas_that_cannot_be_kept_are_told_at_the_end(tmp_path: Path) -> None:
    """Below /proc nobody may make a folder. The formulas run as plain Python here, which takes less time."""
    said = in_a_process("check", written(tmp_path), OVERBANK_CACHE="/proc/overbank", NUMBA_DISABLE_JIT="1")
    assert said.status == 0
    assert "cannot be kept in /proc/overbank: No such file or directory" in said.err
    assert "OVERBANK_CACHE" in said.err


def test_a_number_of_cores_that_is_none_is_refused(
    overbank: Overbank, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("OVERBANK_THREADS", "many")
    said = overbank("check", written(tmp_path))
    assert said.status == 2
    assert "OVERBANK_THREADS: expected a whole number of cores; got 'many'" in said.err


def test_only_what_is_asked_for_is_run_and_written(overbank: Overbank, tmp_path: Path) -> None:
    said = overbank("run", written(tmp_path, edited(QUICK)), "--only", "headwater, places")
    assert said.status == 0
    assert "Only this was asked for: headwater, places." in said.out.replace("\n", " ")
    assert "Overtopping at every bank" in said.out
    assert "ranking what drives the level" not in said.err
    assert {"exceedance.csv", "overtopping.csv"} <= {file.name for file in (tmp_path / "results").iterdir()}
    assert not (tmp_path / "results" / "sensitivity.csv").exists()


def test_a_quick_look_says_that_it_is_one(overbank: Overbank, tmp_path: Path) -> None:
    said = overbank("run", written(tmp_path, edited(QUICK)), "--quick")
    assert "A quick look with few samples" in said.out
    assert "A quick look with few samples" in (tmp_path / "results" / "report.html").read_text(encoding="utf-8")


@pytest.mark.parametrize("option", [("--only", "headwatr"), ("--only", "")])
def test_an_output_that_is_none_is_refused_with_those_that_are(
    overbank: Overbank, tmp_path: Path, option: tuple[str, str]
) -> None:
    said = overbank("run", written(tmp_path, edited(QUICK)), *option)
    assert (said.status, said.out) == (2, "")
    assert f"got {option[1]!r}" in said.err
    assert "expected some of medians, headwater, overtopping" in said.err


def test_a_part_of_many_studies_is_refused(overbank: Overbank, tmp_path: Path) -> None:
    written(tmp_path / "lane", SMALL)
    said = overbank("run", tmp_path, "--quick")
    assert (said.status, said.out) == (2, "")
    assert "expected one study with --only, --quick, --set, --samples or --log" in said.err


def test_what_looks_wrong_is_asked_with_its_line(overbank: Overbank, tmp_path: Path) -> None:
    text = edited(("bed_width_m = 2.5", "bed_width_m = 0.05"))
    said = overbank("check", written(tmp_path, text))
    line = text[: text.index("bed_width_m")].count("\n") + 1
    assert said.status == 0
    assert f"Does this look right? line {line}, garden.section.bed_width_m: 0.05" in " ".join(said.out.split())


def test_a_misspelt_option_is_a_usage_error(overbank: Overbank, tmp_path: Path) -> None:
    said = overbank("run", written(tmp_path), "--outt", tmp_path)
    assert said.status == 2
    assert "--outt" in said.err
