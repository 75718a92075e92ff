"""What a machine without the ways of Unix would see, as far as Linux can play it; limits.md lists what it cannot."""

from __future__ import annotations

import codecs
import io
import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from overbank import _jit
from overbank.commands import many, speaking
from overbank.commands.many import StudyRun
from overbank.errors import FolderError
from overbank.files import folders
from overbank.files.folders import fresh_folder
from overbank.files.owned import MARK, listing
from overbank.sampling import memory
from overbank.study.load import read_study
from small import edited, written

ABROAD = """
import ctypes, os, signal, sys
for module in ("fcntl", "resource", "termios", "tty", "pwd", "grp"):
    sys.modules[module] = None
for module, names in (
    (os, ("sched_getaffinity", "sysconf", "posix_fallocate", "chown", "getuid", "geteuid")),
    (signal, ("SIGHUP", "SIGALRM", "SIGKILL", "setitimer")),
):
    for name in names:
        delattr(module, name)
library = ctypes.CDLL
def named_only(name, *rest, **more):
    if name is None:
        raise TypeError("a library without a name")
    return library(name, *rest, **more)
ctypes.CDLL = named_only
from overbank.commands.cli import main
main()
"""
"""The command where modules and functions of Unix are missing, as the Python documentation lists them for Windows."""


def abroad(*words: str) -> subprocess.CompletedProcess[bytes]:
    settings = {**os.environ, "PYTHONIOENCODING": "cp437", "OVERBANK_THREADS": ""}
    command = [sys.executable, "-c", ABROAD, *words]
    return subprocess.run(command, capture_output=True, check=False, env=settings, timeout=300)


def test_a_run_without_the_modules_and_functions_of_unix(tmp_path: Path) -> None:
    """New results take the place of earlier ones without an exchange in one step, on a console of code page 437."""
    file = written(tmp_path, edited(("A small study", "A small study, \u2265 1 m")))
    finished(tmp_path / "results", "1")
    done = abroad("run", str(file), "--only", "headwater", "--samples", "64")
    assert (done.returncode, done.stderr.decode("cp437").count("Traceback")) == (0, 0), done.stderr
    assert "A small study, \u2265 1 m" in done.stdout.decode("cp437")
    assert not (tmp_path / "results" / "table.csv").exists()
    assert (tmp_path / "results" / "report.html").exists()
    assert [path.name for path in tmp_path.iterdir() if path.name.startswith(".")] == []
    for each in (tmp_path / "results").glob("*.*"):
        if each.suffix in (".csv", ".json", ".txt"):
            assert b"\r" not in each.read_bytes(), each


def finished(wanted: Path, version: str) -> None:
    with fresh_folder(wanted) as staging:
        (staging / "table.csv").write_text(version, encoding="utf-8")
        mark = {"written_by": "overbank 0", **listing(staging)}
        (staging / MARK).write_text(json.dumps(mark), encoding="utf-8")


def held(times: int, monkeypatch: pytest.MonkeyPatch, code: int = 32) -> list[Path]:
    """Let the system refuse so often to rename a folder called `results`, as Windows does; what it refused."""
    plain, refused = Path.rename, []

    def rename(path: Path, target: Any) -> Path:
        if path.name == "results" and len(refused) < times:
            refused.append(path)
            error = PermissionError(13, "Permission denied", str(path))
            error.winerror = code  # type: ignore[attr-defined]
            raise error
        return plain(path, target)

    monkeypatch.setattr(folders, "_exchange", lambda *_: False)
    monkeypatch.setattr(Path, "rename", rename)
    monkeypatch.setattr(folders, "PAUSE", 0.001)
    return refused


def test_a_folder_that_is_held_open_for_a_moment_is_waited_for(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    wanted = tmp_path / "results"
    finished(wanted, "1")
    refused = held(folders.TRIES - 1, monkeypatch)
    finished(wanted, "2")
    assert len(refused) == folders.TRIES - 1
    assert (wanted / "table.csv").read_text(encoding="utf-8") == "2"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["results"]


def test_results_that_cannot_take_their_place_are_kept_beside_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A table open in a spreadsheet holds its folder; a night's run must not be lost for it."""
    wanted = tmp_path / "results"
    finished(wanted, "1")
    (tmp_path / "results-new1").mkdir()
    held(10**6, monkeypatch)
    with pytest.raises(
        FolderError, match=r"another program holds open\. The new results stand in .*results-new2\. Close"
    ):
        finished(wanted, "2")
    assert (wanted / "table.csv").read_text(encoding="utf-8") == "1"
    assert (tmp_path / "results-new2" / "table.csv").read_text(encoding="utf-8") == "2"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["results", "results-new1", "results-new2"]


def test_what_windows_refuses_for_good_is_no_endless_wait(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    wanted = tmp_path / "results"
    finished(wanted, "1")
    refused = held(10**6, monkeypatch, code=19)  # the disk is write protected
    with pytest.raises(FolderError, match="Permission denied"):
        finished(wanted, "2")
    assert len(refused) == 1
    assert (wanted / "table.csv").read_text(encoding="utf-8") == "1"


def test_the_cores_of_the_machine_where_the_system_does_not_say_which_are_ours(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("OVERBANK_THREADS", raising=False)
    monkeypatch.delattr(os, "sched_getaffinity")
    monkeypatch.setattr(os, "cpu_count", lambda: 7)
    assert _jit.threads() == 7
    monkeypatch.setattr(os, "cpu_count", lambda: None)
    assert _jit.threads() == 1


def test_memory_that_nobody_tells_of_refuses_nothing(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.delattr(os, "sysconf")
    monkeypatch.setitem(sys.modules, "resource", None)
    monkeypatch.setattr(memory, "GROUPS", tmp_path)
    assert memory.memory_here() == float("inf")


class WindowsConsole(io.RawIOBase):
    """Stands where Windows has its console: no plain file, and it takes UTF-8 alone."""

    def __init__(self) -> None:
        self.taken = b""

    def writable(self) -> bool:
        return True

    def fileno(self) -> int:
        return 1

    def write(self, data: Any) -> int:
        self.taken += bytes(data)
        return len(data)


@pytest.mark.parametrize(("encoding", "shown"), [("utf-8", "\u2212 \u6cb3\n"), ("cp1252", "- ?\n")])
def test_a_console_keeps_its_own_way_of_writing(encoding: str, shown: str) -> None:
    """No bytes are put past it, and no letter that it does not know ends the command."""
    raw = WindowsConsole()
    output = io.TextIOWrapper(io.BufferedWriter(raw), encoding, line_buffering=True, newline="\n")
    codecs.register_error(speaking.TRANSLITERATED, speaking._transliterated)
    assert speaking._taking_everything(output, True) is output
    print("\u2212 \u6cb3", file=output)
    assert raw.taken.decode(encoding) == shown


def test_names_that_differ_in_capitals_alone_are_one_folder_on_many_disks(tmp_path: Path) -> None:
    for name in ("Lane", "lane", "weir"):
        (tmp_path / name).mkdir()
        written(tmp_path / name)
    found = many.studies_in(tmp_path, tmp_path / "results")
    assert [run.name for run in found] == ["Lane", "lane", "weir"]
    with pytest.raises(FolderError, match=r"got 'Lane' of .* too"):
        many._refuse(tmp_path, found)
    other = StudyRun("Mill", tmp_path, tmp_path)
    many._refuse(tmp_path, (found[0], other))


def test_a_study_and_its_tables_may_end_their_lines_as_windows_does(tmp_path: Path) -> None:
    text = edited(('level_m = { normal = { mean = 31.0, sd = 0.1 }, basis = "invented" }', 'rating = "rating.csv"'))
    rating = "flow_m3_s,level_m\n0,30\n4,30.8\n12,31.4\n"
    for folder, end in (("unix", "\n"), ("windows", "\r\n")):
        (tmp_path / folder).mkdir()
        (tmp_path / folder / "study.toml").write_bytes(text.replace("\n", end).encode())
        (tmp_path / folder / "rating.csv").write_bytes(rating.replace("\n", end).encode())
    here, there = (read_study(tmp_path / folder) for folder in ("unix", "windows"))
    assert here.content == there.content
