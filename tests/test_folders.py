"""A results folder holds either the old results or the new, whatever happens on the way."""

from __future__ import annotations

import errno
import json
import os
import random
import signal
import stat
import subprocess
import sys
import time
from pathlib import Path

import pytest

from overbank.errors import FolderError
from overbank.files import folders
from overbank.files.folders import fresh_folder, refuse_other_file, replace_file
from overbank.files.owned import MARK, listing


def write(folder: Path, version: str, files: int = 3) -> None:
    """Results of a run: a few files of that version, and the mark last of all."""
    for number in range(files):
        (folder / f"table{number}.csv").write_text(version, encoding="utf-8")
    (folder / "figures").mkdir()
    (folder / "figures" / "curve.svg").write_text(version, encoding="utf-8")
    mark = {"written_by": "overbank 0", "version": version, **listing(folder)}
    (folder / MARK).write_text(json.dumps(mark), encoding="utf-8")


def write_and_fail(wanted: Path, error: BaseException) -> None:
    """A run that comes to grief when it has written everything."""
    with fresh_folder(wanted) as staging:
        write(staging, "2")
        raise error


def versions(folder: Path) -> set[str]:
    """The versions of all files in a results folder."""
    texts = {path.read_text(encoding="utf-8") for path in folder.rglob("*") if path.is_file() and path.name != MARK}
    return {*texts, json.loads((folder / MARK).read_text(encoding="utf-8"))["version"]}


def hidden(folder: Path) -> list[str]:
    """What was left lying beside the results."""
    return [path.name for path in folder.iterdir() if path.name.startswith(".")]


def test_new_results_take_the_place_of_the_old(tmp_path: Path) -> None:
    wanted = tmp_path / "deep" / "results"
    for version in ("1", "2"):
        with fresh_folder(wanted) as staging:
            write(staging, version)
            assert not wanted.exists() or versions(wanted) == {"1"}
        assert versions(wanted) == {version}
    assert hidden(wanted.parent) == []


def test_exchange_without_help_from_the_system(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(folders, "_exchange", lambda *_: False)
    wanted = tmp_path / "results"
    for version in ("1", "2"):
        with fresh_folder(wanted) as staging:
            write(staging, version)
    assert versions(wanted) == {"2"}
    assert hidden(tmp_path) == []


@pytest.mark.parametrize("error", [RuntimeError("stopped"), KeyboardInterrupt()], ids=["error", "Ctrl-C"])
def test_a_run_that_fails_leaves_the_old_results(tmp_path: Path, error: BaseException) -> None:
    wanted = tmp_path / "results"
    with fresh_folder(wanted) as staging:
        write(staging, "1")
    with pytest.raises(type(error)):
        write_and_fail(wanted, error)
    assert versions(wanted) == {"1"}
    assert hidden(tmp_path) == []


def test_a_full_disk_is_one_message(tmp_path: Path) -> None:
    wanted = tmp_path / "results"
    with fresh_folder(wanted) as staging:
        write(staging, "1")
    full = OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), "samples.parquet")
    with pytest.raises(FolderError, match=r"No space left on device\. Earlier results are untouched"):
        write_and_fail(wanted, full)
    assert versions(wanted) == {"1"}


def test_a_place_that_cannot_be_written_to_is_refused() -> None:
    """Below /proc nobody may make a folder, not even the administrator."""
    with pytest.raises(FolderError, match="expected a folder that can be written to"), fresh_folder(Path("/proc/it")):
        pass


def test_a_folder_of_somebody_else_is_refused(tmp_path: Path) -> None:
    (tmp_path / "thesis.txt").write_text("ten years of work", encoding="utf-8")
    with pytest.raises(FolderError, match=r"thesis\.txt"), fresh_folder(tmp_path):
        pass
    assert (tmp_path / "thesis.txt").read_text(encoding="utf-8") == "ten years of work"


def test_a_file_laid_into_earlier_results_is_not_lost(tmp_path: Path) -> None:
    wanted = tmp_path / "results"
    with fresh_folder(wanted) as staging:
        write(staging, "1")
    (wanted / "figures" / "my-notes.md").write_text("do not lose", encoding="utf-8")
    with pytest.raises(FolderError, match=r"figures/my-notes\.md"), fresh_folder(wanted):
        pass
    assert (wanted / "figures" / "my-notes.md").exists()
    (wanted / "figures" / "my-notes.md").unlink()
    with fresh_folder(wanted) as staging:
        write(staging, "2")
    assert versions(wanted) == {"2"}


def test_a_mark_that_is_no_manifest_protects_the_folder(tmp_path: Path) -> None:
    (tmp_path / MARK).write_text('["something else"]', encoding="utf-8")
    with pytest.raises(FolderError, match=r"manifest\.json"), fresh_folder(tmp_path):
        pass


def test_a_file_in_the_place_of_the_folder_is_refused(tmp_path: Path) -> None:
    (tmp_path / "results").write_text("x", encoding="utf-8")
    with pytest.raises(FolderError, match="got a file"), fresh_folder(tmp_path / "results"):
        pass


def test_a_link_is_followed_and_kept(tmp_path: Path) -> None:
    target = tmp_path / "elsewhere" / "kept"
    target.mkdir(parents=True)
    link = tmp_path / "results"
    link.symlink_to(target)
    with fresh_folder(link) as staging:
        write(staging, "1")
    assert link.is_symlink()
    assert versions(target) == {"1"}


def test_two_runs_into_one_folder_are_refused(tmp_path: Path) -> None:
    wanted = tmp_path / "results"
    with fresh_folder(wanted) as staging:
        write(staging, "1")
        with pytest.raises(FolderError, match="another run"), fresh_folder(wanted):
            pass
    assert versions(wanted) == {"1"}


def test_a_lock_whose_owner_is_gone_does_not_count(tmp_path: Path) -> None:
    (tmp_path / ".results.overbank-lock").touch()
    with fresh_folder(tmp_path / "results") as staging:
        write(staging, "1")
    assert hidden(tmp_path) == []


def test_a_name_full_of_wildcards_touches_only_its_own(tmp_path: Path) -> None:
    """`[ab]*` as a pattern would sweep away the unfinished results of a folder `a`."""
    other = tmp_path / ".a.new-1"
    other.mkdir()
    with fresh_folder(tmp_path / "[ab]*") as staging:
        write(staging, "1")
    assert other.exists()


def test_results_come_back_after_a_kill_between_the_halves_of_an_exchange(tmp_path: Path) -> None:
    """Where the system cannot exchange two folders in one step, the old ones stand aside for a moment."""
    aside = tmp_path / ".results.old-1"
    aside.mkdir()
    write(aside, "1")
    with pytest.raises(RuntimeError), fresh_folder(tmp_path / "results"):
        raise RuntimeError
    assert versions(tmp_path / "results") == {"1"}


def finished(wanted: Path, version: str) -> None:
    """Results of a run that came to its end."""
    with fresh_folder(wanted) as staging:
        write(staging, version)


def test_what_overbank_did_not_write_stays(tmp_path: Path) -> None:
    """Hidden files and folders, links, empty folders: all of them through several runs, the first one too."""
    wanted = tmp_path / "results"
    (wanted / ".git").mkdir(parents=True)
    (wanted / ".git" / "config").write_text("kept", encoding="utf-8")
    (wanted / ".gitignore").write_text("*.parquet", encoding="utf-8")
    (wanted / "photographs").mkdir()
    (wanted / "of-the-site").symlink_to(tmp_path)
    for version in ("1", "2"):
        finished(wanted, version)
        (wanted / "figures" / ".notes").write_text("kept", encoding="utf-8")
    finished(wanted, "3")
    assert (wanted / "table0.csv").read_text(encoding="utf-8") == "3"
    assert (wanted / ".git" / "config").read_text(encoding="utf-8") == "kept"
    assert (wanted / "figures" / ".notes").read_text(encoding="utf-8") == "kept"
    assert (wanted / ".gitignore").read_text(encoding="utf-8") == "*.parquet"
    assert (wanted / "photographs").is_dir()
    assert (wanted / "of-the-site").readlink() == tmp_path
    assert hidden(tmp_path) == []


def test_a_file_laid_into_the_results_during_a_run_is_kept_and_so_are_the_new_results(tmp_path: Path) -> None:
    wanted = tmp_path / "results"
    finished(wanted, "1")
    with fresh_folder(wanted) as staging:
        write(staging, "2", 4)
        (wanted / "table3.csv").write_text("mine", encoding="utf-8")
    assert (wanted / "table3.csv").read_text(encoding="utf-8") == "2"
    assert (wanted / "table3.csv.kept").read_text(encoding="utf-8") == "mine"


@pytest.mark.parametrize("mode", [0o2775, 0o700, 0o1777])
def test_a_folder_keeps_its_mode(tmp_path: Path, mode: int) -> None:
    wanted = tmp_path / "results"
    wanted.mkdir()
    wanted.chmod(mode)
    for version in ("1", "2"):
        finished(wanted, version)
    assert stat.S_IMODE(wanted.stat().st_mode) == mode


def test_a_mark_of_another_program_gives_nothing_away(tmp_path: Path) -> None:
    (tmp_path / "app.js").write_text("theirs", encoding="utf-8")
    (tmp_path / MARK).write_text(json.dumps({"files": ["app.js", MARK], "name": "app"}), encoding="utf-8")
    with pytest.raises(FolderError, match=r"app\.js"), fresh_folder(tmp_path):
        pass
    assert (tmp_path / "app.js").exists()


def test_a_link_in_the_place_of_a_result_is_refused(tmp_path: Path) -> None:
    wanted = tmp_path / "results"
    finished(wanted, "1")
    (wanted / "table0.csv").unlink()
    (wanted / "table0.csv").symlink_to(tmp_path / "elsewhere")
    with pytest.raises(FolderError, match=r"table0\.csv"), fresh_folder(wanted):
        pass


def test_folders_that_only_look_like_leftovers_stay(tmp_path: Path) -> None:
    others = [tmp_path / name for name in (".results.old-backup", ".results.new-idea")]
    for other in others:
        other.mkdir()
    (tmp_path / ".results.new-77").mkdir()
    (tmp_path / ".results.overbank-lock").write_text("mine", encoding="utf-8")
    finished(tmp_path / "results", "1")
    assert sorted(hidden(tmp_path)) == [".results.new-idea", ".results.old-backup", ".results.overbank-lock"]


@pytest.mark.parametrize("place", ["/", "/proc", "/dev/shm"])
def test_the_root_of_a_disk_is_refused_at_once(place: str) -> None:
    """No walk of the disk, and no surprise when a night's run is to be put in its place."""
    start = time.monotonic()
    with pytest.raises(FolderError, match="root of a disk"), fresh_folder(Path(place)):
        pass
    assert time.monotonic() - start < 1.0


def test_too_little_room_is_told_before_anything_is_run(tmp_path: Path) -> None:
    begun = False
    with (
        pytest.raises(FolderError, match="Earlier results are untouched"),
        fresh_folder(tmp_path / "results", room=2**60),
    ):
        begun = True
    assert not begun
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("text", [b"title = 'mine'", b"\x89PNG\r\n\x1a\n and a photograph"])
def test_a_picture_is_not_drawn_over_another_file(tmp_path: Path, text: bytes) -> None:
    (tmp_path / "site.png").write_bytes(text)
    with pytest.raises(FolderError, match="expected the name of a new file"):
        refuse_other_file(tmp_path / "site.png")
    refuse_other_file(tmp_path / "new.png")


def test_a_file_is_replaced_when_it_is_whole(tmp_path: Path) -> None:
    """A full disk leaves the old one; a link stays a link; a device is written to."""

    def full(file: Path) -> None:
        file.write_text("ha", encoding="utf-8")
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    file, way = tmp_path / "sweep.csv", tmp_path / "way.csv"
    file.write_text("old", encoding="utf-8")
    way.symlink_to(file)
    with pytest.raises(OSError, match="No space left"):
        replace_file(way, full)
    assert file.read_text(encoding="utf-8") == "old"
    replace_file(way, lambda fresh: fresh.write_text("new", encoding="utf-8"))
    assert (file.read_text(encoding="utf-8"), way.is_symlink(), hidden(tmp_path)) == ("new", True, [])
    with pytest.raises(OSError, match="No space left"):
        replace_file(Path("/dev/full"), lambda device: device.write_text("x", encoding="utf-8"))


def test_a_pipe_behind_a_link_is_written_to() -> None:
    """As /dev/stdout is, where another program reads: the link leads to `pipe:[number]`, which is no path."""
    reads, writes = os.pipe()
    replace_file(Path(f"/proc/self/fd/{writes}"), lambda pipe: pipe.write_text("a,b", encoding="utf-8"))
    os.close(writes)
    with os.fdopen(reads, encoding="utf-8") as pipe:
        assert pipe.read() == "a,b"


REWRITE = """
import sys
from pathlib import Path
sys.path.insert(0, sys.argv[2])
from test_folders import write
from overbank.files.folders import fresh_folder
print("ready", flush=True)
for version in range(2, 10_000):
    with fresh_folder(Path(sys.argv[1])) as staging:
        write(staging, str(version), 20)
"""


def test_a_kill_at_any_moment_leaves_one_version(tmp_path: Path) -> None:
    """A process that replaces the results again and again is killed at random moments."""
    wanted = tmp_path / "results"
    with fresh_folder(wanted) as staging:
        write(staging, "1", 20)
    moments = random.Random(20261125)
    unfinished = 0
    for _ in range(12):
        command = [sys.executable, "-c", REWRITE, str(wanted), str(Path(__file__).parent)]
        process = subprocess.Popen(command, stdout=subprocess.PIPE)
        assert process.stdout is not None
        assert process.stdout.readline() == b"ready\n"
        time.sleep(moments.uniform(0.005, 0.06))
        process.send_signal(signal.SIGKILL)
        process.wait(timeout=10)
        process.stdout.close()
        assert len(versions(wanted)) == 1
        assert len(list(wanted.rglob("*.csv"))) == 20
        unfinished += any(".new-" in name for name in hidden(tmp_path))
    assert unfinished > 0, "no kill fell into a write: the test shows nothing"
    with fresh_folder(wanted) as staging:
        write(staging, "last", 20)
    assert versions(wanted) == {"last"}
    assert hidden(tmp_path) == []
