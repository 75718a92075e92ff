"""A results folder that holds either the old results or the new, never a mixture.

Everything is written to a hidden folder beside the wanted one; when it is complete the two change places in one step.
"""

from __future__ import annotations

import ctypes
import fcntl
import glob
import json
import os
import shutil
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import TextIO

from overbank.errors import FolderError

MARK = "manifest.json"
"""Lists, under `files`, what overbank wrote into a folder; a folder with nothing else in it may be replaced."""

_AT_FDCWD = -100
_EXCHANGE = 2


@contextmanager
def fresh_folder(wanted: Path) -> Iterator[Path]:
    """An empty folder to write results into; it takes the place of `wanted` when the block ends well.

    Raises
    ------
    FolderError : `wanted` holds something that overbank did not write, another run is writing to it, or the disk
        refuses. Whatever stood there before is left as it was.
    """
    with _in_one_message(wanted):
        wanted = wanted.resolve()
        _check(wanted)
        wanted.parent.mkdir(parents=True, exist_ok=True)
        with _locked(wanted):
            staging = wanted.with_name(f".{wanted.name}.new-{os.getpid()}")
            _remove_leftovers(wanted)
            staging.mkdir()
            try:
                yield staging
                _swap(staging, wanted)
            finally:
                shutil.rmtree(staging, ignore_errors=True)


@contextmanager
def shared_folder(wanted: Path) -> Iterator[Path]:
    """A folder that holds the results of many studies, kept from other runs as long as the block goes on.

    Raises
    ------
    FolderError : it holds the results of one study, another run is writing to it, or the disk refuses
    """
    with _in_one_message(wanted):
        wanted = wanted.resolve()
        if (wanted / MARK).exists():
            raise FolderError(
                f"{wanted}: expected a folder for the results of many studies; got one with the results of a single "
                "study. Move them, or choose another folder with --out"
            )
        wanted.mkdir(parents=True, exist_ok=True)
        with _locked(wanted):
            yield wanted


def write_new(folder: Path, contents: Mapping[str, str]) -> None:
    """Write files into a folder, all of them or none; nothing that is there is written over.

    Raises
    ------
    FolderError : one of them is there already, or the disk refuses
    """
    written: list[Path] = []
    try:
        if folder.exists() and not folder.is_dir():
            raise FolderError(f"{folder}: expected a folder; got a file. Nothing is written; name another folder")
        there = [name for name in contents if os.path.lexists(folder / name)]
        if there:
            raise FolderError(
                f"{folder}: expected a folder without {' and '.join(contents)}; got one with {' and '.join(there)}. "
                "Nothing is written; name another folder"
            )
        folder.mkdir(parents=True, exist_ok=True)
        for name, text in contents.items():
            with (folder / name).open("x", encoding="utf-8") as file:
                written.append(folder / name)
                file.write(text)
    except OSError as error:
        for path in written:
            path.unlink()
        raise FolderError(
            f"{folder}: expected a folder that can be written to; got {error.strerror}. Name another folder"
        ) from error


def replace_file(file: Path, write: Callable[[Path], None]) -> None:
    """Write a file beside the wanted one and put it in its place in one step."""
    fresh = file.with_name(f".{file.name}.new")
    try:
        write(fresh)
        fresh.replace(file)
    finally:
        fresh.unlink(missing_ok=True)


@contextmanager
def _in_one_message(wanted: Path) -> Iterator[None]:
    """What the disk refuses becomes one clear message."""
    try:
        yield
    except OSError as error:
        where = error.filename or wanted
        raise FolderError(
            f"{where}: expected a folder that can be written to; got {error.strerror or error}. "
            "Earlier results are untouched; choose another place with --out"
        ) from error


def _check(wanted: Path) -> None:
    if wanted.exists() and not wanted.is_dir():
        raise FolderError(f"{wanted}: expected a folder for the results; got a file. Choose another with --out")
    foreign = _foreign(wanted)
    if foreign is not None:
        raise FolderError(
            f"{wanted}: expected an empty folder or earlier results; got a folder with {foreign} in it, "
            "which overbank did not write and which would be lost. Move it, or choose another folder with --out"
        )


def _foreign(folder: Path) -> Path | None:
    """The first file in a folder that no earlier run wrote there; hidden files do not count."""
    try:
        written = set(json.loads((folder / MARK).read_text(encoding="utf-8"))["files"])
    except (FileNotFoundError, ValueError, KeyError, TypeError):
        written = set()
    for path in sorted(folder.rglob("*")):
        name = path.relative_to(folder)
        if not path.name.startswith(".") and not path.is_dir() and name.as_posix() not in written:
            return name
    return None


def files_in(folder: Path) -> list[str]:
    """The files of a folder that is being written, and its mark, as the mark lists them."""
    names = {path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()}
    return sorted({*names, MARK})


@contextmanager
def _locked(wanted: Path) -> Iterator[None]:
    """Keep other runs away. The system lets go of the lock when the process ends, however it ends."""
    lock = wanted.with_name(f".{wanted.name}.lock")
    file = _take(lock)
    try:
        yield
    finally:
        lock.unlink(missing_ok=True)
        file.close()


def _take(lock: Path) -> TextIO:
    while True:
        file = lock.open("a", encoding="ascii")
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            file.close()
            raise FolderError(
                f"{lock}: another run is writing its results here. Wait for it, or choose another folder with --out"
            ) from None
        if _is(file, lock):
            return file
        file.close()  # the run before us removed the file between our two steps: take the lock anew


def _is(file: TextIO, path: Path) -> bool:
    """Whether the path still leads to the open file."""
    try:
        return os.path.samestat(os.fstat(file.fileno()), path.stat())
    except FileNotFoundError:
        return False


def _remove_leftovers(wanted: Path) -> None:
    """What a killed run left behind; we hold the lock, so nobody is using it."""
    name = glob.escape(wanted.name)
    for aside in wanted.parent.glob(f".{name}.old-*"):
        if not wanted.exists():
            aside.rename(wanted)  # killed between the two halves of a swap: the earlier results come back
        else:
            shutil.rmtree(aside, ignore_errors=True)
    for unfinished in wanted.parent.glob(f".{name}.new-*"):
        shutil.rmtree(unfinished, ignore_errors=True)


def _swap(staging: Path, wanted: Path) -> None:
    """Put `staging` in the place of `wanted`, in one step where the system can."""
    if not wanted.exists():
        staging.rename(wanted)
        return
    if not _exchange(staging, wanted):
        aside = wanted.with_name(f".{wanted.name}.old-{os.getpid()}")
        wanted.rename(aside)
        staging.rename(wanted)
        shutil.rmtree(aside, ignore_errors=True)


def _exchange(one: Path, other: Path) -> bool:
    """Let two folders change places (Linux renameat2); False where the system cannot."""
    try:
        rename = ctypes.CDLL(None, use_errno=True).renameat2
    except (OSError, AttributeError):
        return False
    return bool(rename(_AT_FDCWD, os.fsencode(one), _AT_FDCWD, os.fsencode(other), _EXCHANGE) == 0)
