"""Places and settings in which a command was never meant to run: each ends in words, and takes nothing of a user's."""

from __future__ import annotations

import ctypes
import json
import os
import resource
import shutil
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

from overbank.run import run
from overbank.study.load import read_study
from small import edited, written
from trials import Ended, ended, in_words, left_lying, whole

pytestmark = pytest.mark.slow

FEW = edited(("samples = 4096\nreplicates = 8", "samples = 64\nreplicates = 2"))
DROP, OVERRIDE, SEARCH = 24, 1, 2
"""Linux's number for taking a capability away (prctl), and of those by which an administrator overrides modes."""

Prepare = Callable[[Path], None]


@dataclass(frozen=True)
class Trial:
    """One trial: words of the command, where {} is its folder; how it may end; what is made before; settings.

    obeying : whether an administrator, who may do everything, is bound by the modes of files like everybody else
    """

    words: tuple[str, ...]
    statuses: tuple[int, ...]
    before: tuple[Prepare, ...] = ()
    settings: Mapping[str, str | None] = field(default_factory=dict)
    more: Mapping[str, Any] = field(default_factory=dict)
    obeying: bool = False


def link(name: str, to: str) -> Prepare:
    return lambda folder: (folder / name).symlink_to(to.format(folder))


def file(name: str, text: str = "mine") -> Prepare:
    def write(folder: Path) -> None:
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(text, encoding="utf-8")

    return write


def made(name: str) -> Prepare:
    return lambda folder: (folder / name).mkdir(parents=True)


def shut(name: str, mode: int = 0o555) -> Prepare:
    return lambda folder: (folder / name).chmod(mode)


def pipe(name: str) -> Prepare:
    return lambda folder: os.mkfifo(folder / name)


def removed(name: str) -> Prepare:
    return lambda folder: (folder / name).unlink()


def studies(folder: Path) -> None:
    for name in ("one", "two"):
        written(folder / "many" / name, FEW)


def out(place: str, *statuses: int, **more: Any) -> Trial:
    return Trial(("run", "{}/study.toml", "--out", place), statuses, **more)


def check(*statuses: int, **more: Any) -> Trial:
    return Trial(("check", "{}/study.toml"), statuses, **more)


SWEEP = ("sweep", "{}/study.toml", "lane.screen.gap_m", "0.1,0.2", "--quick")
BELOW = "flow_m3_s,level_m\n0,30.2\n9,31\n"
RATED = edited(('level_m = { normal = { mean = 31.0, sd = 0.1 }, basis = "invented" }', 'rating = "below.csv"'))

PLAIN = {"NUMBA_DISABLE_JIT": "1"}
"""Formulas as plain Python, where the compiled ones cannot be found: compiling takes a minute."""

TRIALS: dict[str, Trial] = {
    "out: root of the disk": out("/", 2),
    "out: a root that nobody may write to": out("/proc", 2),
    "out: a mount point": out("/dev/shm", 2),
    "out: below a system's folder": out("/proc/results", 2),
    "out: a device": out("/dev/null", 2),
    "out: below a device": out("/dev/null/results", 2),
    "out: a file": out("{}/there", 2, before=(file("there"),)),
    "out: below a file": out("{}/there/results", 2, before=(file("there"),)),
    "out: a link to a folder": out("{}/there", 0, before=(made("real"), link("there", "{}/real"))),
    "out: a link to nothing": out("{}/there", 0, before=(link("there", "{}/real"),)),
    "out: a link to itself": out("{}/there", 2, before=(link("there", "{}/there"),)),
    "out: a link to the root": out("{}/there", 2, before=(link("there", "/"),)),
    "out: a name too long": out("{}/" + 300 * "x", 2),
    "out: a path too long": out("{}/" + "/".join(100 * ["x" * 60]), 2),
    "out: a name with line ends and escapes": out("{}/a\nb\x1b[2J\u202e", 0),
    "out: a name of bytes that are no text": out("{}/\udcff\udcfe", 0),
    "out: a name that begins with a dash": out("./-rf", 0, more={"cwd": "{}"}),
    "out: an empty name": out("", 2, more={"cwd": "{}"}),
    "out: the folder of the study": out("{}", 2),
    "out: the folder above": out("{}/..", 2),
    "out: this folder, which is empty": out(".", 0, before=(made("here"),), more={"cwd": "{}/here"}),
    "out: a folder of somebody else's": out("{}/photos", 2, before=(file("photos/bridge.jpg"),)),
    "out: a folder with hidden files of a user's": out("{}/kept", 0, before=(file("kept/.gitignore"),)),
    "out: the home folder": out("{}/home", 2, before=(file("home/thesis.txt"),), settings={"HOME": "{}/home"}),
    "out: a pipe": out("{}/there", 2, before=(pipe("there"),)),
    "out: where only others may write": out("{}/shut/results", 2, before=(made("shut"), shut("shut")), obeying=True),
    "results: beside a study that cannot be changed": Trial(
        ("run", "{}/shut/study.toml"), (2,), (file("shut/study.toml", FEW), shut("shut")), obeying=True
    ),
    "many: out is their own folder": Trial(("run", "{}/many", "--out", "{}/many"), (0, 1, 2), (studies,)),
    "many: out is one of them": Trial(("run", "{}/many", "--out", "{}/many/one"), (0, 1, 2), (studies,)),
    "many: out holds results of one": Trial(
        ("run", "{}/many", "--out", "{}/old"), (2,), (studies, file("old/manifest.json", "{}"))
    ),
    "many: out below a device": Trial(("run", "{}/many", "--out", "/dev/null/x"), (2,), (studies,)),
    "many: one of them is a pipe": Trial(
        ("run", "{}/many"), (1,), (studies, removed("many/two/study.toml"), pipe("many/two/study.toml"))
    ),
    "many: one of them is a link to nothing": Trial(
        ("run", "{}/many"), (1,), (studies, removed("many/two/study.toml"), link("many/two/study.toml", "none"))
    ),
    "many: a link back to their folder": Trial(("run", "{}/many"), (0,), (studies, link("many/again", "{}/many"))),
    "study: not there": Trial(("check", "{}/none"), (2,)),
    "study: a folder of that name": Trial(("check", "{}/x"), (2,), (made("x/study.toml"),)),
    "study: a pipe": Trial(("check", "{}/x.toml"), (2,), (pipe("x.toml"),)),
    "study: an endless device": Trial(("check", "/dev/zero"), (2,)),
    "study: a random device": Trial(("check", "/dev/urandom"), (2,)),
    "study: an empty device": Trial(("check", "/dev/null"), (2,)),
    "study: bytes that are no text": Trial(("check", "{}/x.toml"), (2,), (file("x.toml", "\u0000\ufffe"),)),
    "study: one that only others may read": check(2, before=(shut("study.toml", 0),), obeying=True),
    "study: a link to itself": Trial(("check", "{}/x.toml"), (2,), (link("x.toml", "x.toml"),)),
    "table: a pipe": Trial(("check", "{}/x/study.toml"), (2,), (file("x/study.toml", RATED), pipe("x/below.csv"))),
    "table: an endless device": Trial(
        ("check", "{}/x/study.toml"), (2,), (file("x/study.toml", RATED), link("x/below.csv", "/dev/zero"))
    ),
    "table: a folder": Trial(("check", "{}/x/study.toml"), (2,), (file("x/study.toml", RATED), made("x/below.csv"))),
    "table: a secret elsewhere": Trial(
        ("check", "{}/x/study.toml"),
        (2,),
        (file("secret.csv", BELOW), file("x/study.toml", RATED), link("x/below.csv", "../secret.csv")),
    ),
    "table: a link to itself": Trial(
        ("check", "{}/x/study.toml"), (2,), (file("x/study.toml", RATED), link("x/below.csv", "below.csv"))
    ),
    "many: a name of bytes that are no text": Trial(("run", "{}/many", "--out", "{}/\udcff"), (0,), (studies,)),
    "picture: over a study": Trial(("check", "{}/study.toml", "--picture", "{}/study.toml"), (2,)),
    "picture: a folder": Trial(("check", "{}/study.toml", "--picture", "{}"), (2,)),
    "picture: below a device": Trial(("check", "{}/study.toml", "--picture", "/dev/null/x.png"), (2,)),
    "picture: a full device": Trial(("check", "{}/study.toml", "--picture", "/dev/full"), (2,)),
    "picture: a folder that is not there": Trial(("check", "{}/study.toml", "--picture", "{}/none/x.png"), (0, 2)),
    "picture: a name without an ending": Trial(("check", "{}/study.toml", "--picture", "{}/x"), (0, 2)),
    "picture: a pipe": Trial(("check", "{}/study.toml", "--picture", "{}/p"), (2,), (pipe("p"),)),
    "sweep: over a study": Trial((*SWEEP, "--out", "{}/study.toml"), (2,)),
    "sweep: a full device": Trial((*SWEEP, "--out", "/dev/full"), (2,)),
    "sweep: a folder": Trial((*SWEEP, "--out", "{}"), (2,)),
    "sweep: the pipe to another program": Trial((*SWEEP, "--out", "/dev/stdout"), (0,)),
    "report: no results": Trial(("report", "{}", "--docx"), (2,)),
    "report: a file": Trial(("report", "{}/study.toml", "--docx"), (2,)),
    "report: a mark that lies": Trial(
        ("report", "{}/r", "--docx"),
        (2,),
        (file("r/manifest.json", json.dumps({"written_by": "overbank 0", "files": ["report.html"]})),),
    ),
    "new: over a study": Trial(("new", "{}"), (2,)),
    "new: below a device": Trial(("new", "/dev/null/x"), (2,)),
    "new: a link to nothing": Trial(("new", "{}/there"), (0, 2), (link("there", "{}/real"),)),
    "new: where only others may write": Trial(("new", "{}/shut/x"), (2,), (made("shut"), shut("shut")), obeying=True),
    "setting: no home": check(0, settings={"HOME": None}),
    "setting: a home that is not there": check(0, settings={"HOME": "/proc/none", **PLAIN}),
    "setting: a home that is a file": check(0, before=(file("h"),), settings={"HOME": "{}/h", **PLAIN}),
    "setting: no temporary folder": out("{}/results", 0, settings={"TMPDIR": "/nonexistent"}),
    "setting: nothing at all": check(0, settings=dict.fromkeys(os.environ, None)),
    "setting: plain letters": check(0, settings={"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONIOENCODING": "ascii"}),
    "setting: a terminal of one column": check(0, settings={"COLUMNS": "1"}),
    "setting: a terminal without columns": check(0, settings={"COLUMNS": "0"}),
    "setting: a terminal of endless columns": check(0, settings={"COLUMNS": "100000"}),
    "setting: columns that are none": check(0, settings={"COLUMNS": "many", "LINES": "few"}),
    "setting: an unknown terminal": check(0, settings={"TERM": "\x1b[2J"}),
    "setting: a number of cores that is none": check(2, settings={"OVERBANK_THREADS": "-1"}),
    "setting: a great many cores": check(0, settings={"OVERBANK_THREADS": "100000"}),
    "setting: a backend that is not there": out("{}/results", 0, settings={"MPLBACKEND": "module://nowhere"}),
    "setting: a library's folder that is a device": out("{}/results", 0, settings={"MPLCONFIGDIR": "/dev/null"}),
}


def obey() -> None:
    """In the new process, before the command: modes count for an administrator too."""
    for capability in (OVERRIDE, SEARCH):
        ctypes.CDLL(None).prctl(DROP, capability, 0, 0, 0)


def prepared(folder: Path, trial: Trial) -> dict[str, Any]:
    """The folder of a trial with a study in it; how its process is started."""
    written(folder, FEW)
    for prepare in trial.before:
        prepare(folder)
    more: dict[str, Any] = {key: value.format(folder) for key, value in trial.more.items()}
    return {**more, "preexec_fn": obey} if trial.obeying else more


def carried_out(folder: Path, trial: Trial) -> Ended:
    more = prepared(folder, trial)
    settings = {name: value and value.format(folder) for name, value in trial.settings.items()}
    settings = {"TMPDIR": str(folder.parent / "temporary"), **settings}
    return ended(*(word.replace("{}", str(folder)) for word in trial.words), settings=settings, **more)


def mine(folder: Path) -> dict[str, bytes]:
    """Every plain file of a user's: what stands there before a command."""
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and not path.is_symlink()
    }


@pytest.fixture(scope="module", autouse=True)
def compiled(tmp_path_factory: pytest.TempPathFactory) -> None:
    """Compile before the first trial: that takes longer than a command may."""
    run(read_study(written(tmp_path_factory.mktemp("compiled"), FEW)))


@pytest.mark.parametrize("name", TRIALS)
def test_a_place(name: str, tmp_path: Path) -> None:
    trial, folder, temporary = TRIALS[name], tmp_path / "trial", tmp_path / "temporary"
    temporary.mkdir()
    prepared(folder, trial)
    before = mine(folder)
    shutil.rmtree(folder)
    found = carried_out(folder, trial)
    in_words(found)
    assert found.status in trial.statuses, found
    after = mine(folder)
    assert {path: after.get(path) for path in before} == before
    assert list(temporary.iterdir()) == []
    made_by_libraries = {".gitignore", ".cache", ".config"}
    assert {path.name for path in folder.rglob(".*")} <= made_by_libraries
    for mark in folder.rglob("manifest.json"):
        assert str(mark.relative_to(folder)) in before or whole(mark.parent) or (mark.parent / ".gitignore").exists()


LITTLE = [(400 * 10**6, 2), (700 * 10**6, 2), (1000 * 2**20, 2), (1500 * 2**20, 0)]
"""Address space that a shell leaves [bytes], and how a run ends with it."""


@pytest.mark.parametrize(("most", "status"), LITTLE)
def test_a_limit_of_the_shell(most: int, status: int, tmp_path: Path) -> None:
    """What `ulimit -v` leaves of memory."""

    def limit() -> None:
        resource.setrlimit(resource.RLIMIT_AS, (most, most))

    study = written(tmp_path, FEW)
    found = ended("run", study, preexec_fn=limit)
    in_words(found)
    assert found.status == status, found
    assert "None" not in found.told
    assert whole(tmp_path / "results") if found.status == 0 else not (tmp_path / "results").exists()
    assert left_lying(tmp_path) == []


TOO_LITTLE = [("RLIMIT_AS", size * 10**6) for size in (100, 500, 700, 1000, 1100)] + [
    ("RLIMIT_DATA", size * 10**6) for size in (100, 500, 600, 700, 1100, 1300, 1500)
]
"""Limits of a shell with which libraries cannot be loaded, or only just, or a run was lost at its last step [bytes]."""


@pytest.mark.parametrize(("name", "most"), TOO_LITTLE)
def test_too_little_to_load(name: str, most: int, tmp_path: Path) -> None:
    """Every command ends in words, wherever in its loading the memory would have ended."""
    study = written(tmp_path, FEW)

    def limit() -> None:
        resource.setrlimit(getattr(resource, name), (most, most))

    for words in (("new", tmp_path / "x"), ("check", study, "--picture", tmp_path / "x.png"), ("run", study)):
        found = ended(*words, preexec_fn=limit)
        in_words(found)
        assert found.status in (0, 2), found
    assert left_lying(tmp_path) == []


@pytest.mark.parametrize(("files", "many", "status"), [(24, False, 0), (8, False, 0), (16, True, 2), (20, True, 1)])
def test_a_limit_of_open_files(files: int, many: bool, status: int, tmp_path: Path) -> None:
    """What `ulimit -n` leaves: one study needs few; processes of their own need some twenty, or words say so."""

    def limit() -> None:
        resource.setrlimit(resource.RLIMIT_NOFILE, (files, files))

    written(tmp_path / "many" / "one", FEW)
    written(tmp_path / "many" / "two", FEW)
    asked = tmp_path / "many" if many else tmp_path / "many" / "one"
    found = ended("run", asked, "--out", tmp_path / "out", preexec_fn=limit)
    in_words(found)
    assert found.status == status, found
    assert not many or "ulimit -n" in found.err
    assert left_lying(tmp_path) == []
