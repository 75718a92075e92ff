"""A results folder that holds either the old results or the new, never a mixture.

Everything is written to a hidden folder beside the wanted one; when it is complete the two change places in one step.
"""

from __future__ import annotations

import ctypes
import errno
import os
import re
import shutil
import stat
import tempfile
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from itertools import count
from pathlib import Path

from overbank.errors import FolderError
from overbank.files.owned import MARK, entries, owned_files, write_with_one_more
from overbank.files.undisturbed import Undisturbed

ROOM = 2**24
"""What results need on the disk at the least [bytes]: report, tables and figures."""

UNKNOWN = (errno.EOPNOTSUPP, errno.EINVAL, errno.ENOSYS)
"""What disks say that cannot set room aside; what they say of their free room must do."""

PICTURE = b"\x89PNG\r\n\x1a\n"
"""A PNG file begins so."""

OURS = b"tEXtSoftware\0overbank"
"""Stands near the beginning of the pictures that overbank draws."""

HELD = (5, 32)
"""What Windows says of a file or folder that another program holds open (access denied, sharing violation)."""

TRIES, PAUSE = 20, 0.1
"""So often, and after so long [s], a step is tried again while a program, such as a virus scanner, holds a file."""

SOON = 0.2
"""A run that is just ending lets go of its lock so soon [s]."""

_AT_FDCWD = -100
_EXCHANGE = 2


@contextmanager
def fresh_folder(wanted: Path, room: int = ROOM) -> Iterator[Path]:
    """An empty folder to write results into; it takes the place of `wanted` when the block ends well.

    What overbank did not write stays: hidden entries, links and empty folders move over, anything else is refused.
    Mode and group of the folder stay too.

    Parameters
    ----------
    room : so much must be free on the disk before anything is run [bytes]

    Raises
    ------
    FolderError : `wanted` holds something that overbank did not write, another run is writing to it, or the disk
        refuses. Whatever stood there before is left as it was.
    """
    with _in_one_message(wanted):
        wanted = _without_links(wanted)
        _check(wanted)
        wanted.parent.mkdir(parents=True, exist_ok=True)
        with Undisturbed() as now, _beside(wanted) as staging:
            _take_after(wanted, staging)
            _try_room(staging, room)
            with now.disturbed():
                yield staging
            _put_in_place(staging, wanted)


@contextmanager
def _beside(wanted: Path) -> Iterator[Path]:
    """An empty hidden folder beside `wanted`, which no other run writes to meanwhile; removed when the block ends."""
    with _locked(wanted):
        _remove_leftovers(wanted)
        staging = wanted.with_name(f".{wanted.name}.new-{os.getpid()}")
        staging.mkdir()
        try:
            yield staging
        finally:
            shutil.rmtree(staging, ignore_errors=True)


def _take_after(wanted: Path, staging: Path) -> None:
    """Give the new folder the mode and the group of the old one."""
    if wanted.exists():
        known = wanted.stat()
        with suppress(OSError, AttributeError):  # another's folder, or a system without groups
            os.chown(staging, -1, known.st_gid)
        staging.chmod(stat.S_IMODE(known.st_mode))


def _try_room(staging: Path, room: int) -> None:
    """Take up so much of the disk for a moment: its free room alone does not tell of quotas."""
    if shutil.disk_usage(staging).free < room:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), str(staging))
    if not hasattr(os, "posix_fallocate"):
        return
    with tempfile.TemporaryFile(dir=staging) as file:
        try:
            os.posix_fallocate(file.fileno(), 0, room)
        except OSError as error:
            if error.errno not in UNKNOWN:
                raise


@contextmanager
def shared_folder(wanted: Path) -> Iterator[Path]:
    """A folder that holds the results of many studies, kept from other runs as long as the block goes on.

    Raises
    ------
    FolderError : it holds the results of one study, another run is writing to it, or the disk refuses
    """
    with _in_one_message(wanted):
        wanted = _without_links(wanted)
        if (wanted / MARK).exists():
            raise FolderError(
                f"{wanted}: expected a folder for the results of many studies; got one with the results of a single "
                "study. Move them, or choose another folder with --out"
            )
        wanted.mkdir(parents=True, exist_ok=True)
        with Undisturbed() as now, _locked(wanted), now.disturbed():
            yield wanted


def write_new(folder: Path, contents: Mapping[str, str | bytes]) -> None:
    """Write files into a folder, all of them or none; nothing that is there is written over. Texts are UTF-8.

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
        for name, content in contents.items():
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            with (folder / name).open("xb") as file:
                written.append(folder / name)
                file.write(content.encode("utf-8") if isinstance(content, str) else content)
    except OSError as error:
        for path in written:
            path.unlink()
        raise FolderError(
            f"{folder}: expected a folder that can be written to; got {error.strerror}. Name another folder"
        ) from error


def add_to_results(results: Path, name: str, write: Callable[[Path], object]) -> Path:
    """Write one more file into a folder of results and enter it into their manifest; gives its path.

    Raises
    ------
    FolderError : the folder holds no results, another's file has that name, another run writes there, or the disk
        refuses
    """
    with _in_one_message(results):
        results = _without_links(results)
        owned, file = owned_files(results), results / name
        if not owned:
            raise FolderError(f"{results}: expected a folder of results; got none. Run the study first")
        if os.path.lexists(file) and name not in owned:
            raise FolderError(f"{file}: expected none, or one that overbank wrote; got another file. Move it")
        with Undisturbed() as now, _beside(results) as staging:
            fresh = staging / name
            with now.disturbed():
                write(fresh)
            replace_file(results / MARK, lambda mark: write_with_one_more(mark, results, name, fresh))
            _while_held(lambda: fresh.replace(file))
    return file


def replace_file(file: Path, write: Callable[[Path], object]) -> None:
    """Write a file beside the wanted one and put it in its place in one step; a device or a pipe is written to."""
    if file.exists() and not file.is_file():  # asked of the name as given: a pipe behind a link has no other
        write(file)
        return
    file = _without_links(file)
    fresh = file.with_name(f".{file.name}.new")
    try:
        write(fresh)
        _while_held(lambda: fresh.replace(file))
    finally:
        fresh.unlink(missing_ok=True)


@contextmanager
def _in_one_message(wanted: Path) -> Iterator[None]:
    """What the disk refuses becomes one clear message."""
    try:
        yield
    except OSError as error:
        where = error.filename or wanted
        close = "Close the programs that have a file there open. " if _is_held(error) else ""
        raise FolderError(
            f"{where}: expected a folder that can be written to; got {error.strerror or error}. {close}"
            f"Earlier results are untouched; {_remedy(error)}"
        ) from error


def _remedy(error: OSError) -> str:
    """What to do about what the system refuses."""
    if error.errno in (errno.EMFILE, errno.ENFILE):
        return "let a process have more files open (ulimit -n)"
    return "choose another place with --out"


def _without_links(path: Path) -> Path:
    """Where a path leads to."""
    real = Path(os.path.realpath(path))
    if real.is_symlink():
        raise OSError(errno.ELOOP, os.strerror(errno.ELOOP), str(path))
    return real


def _check(wanted: Path) -> None:
    if wanted.exists() and not wanted.is_dir():
        raise FolderError(f"{wanted}: expected a folder for the results; got a file. Choose another with --out")
    if wanted.parent == wanted or os.path.ismount(wanted):
        raise FolderError(
            f"{wanted}: expected a folder that can be replaced in one step; got the root of a disk. "
            f"Name a folder in it: --out {wanted / 'results'}"
        )
    owned = owned_files(wanted)
    for name in entries(wanted):
        path = wanted / name
        hidden = any(part.startswith(".") for part in name.parts)
        if name.as_posix() not in owned and (hidden or path.is_symlink() or path.is_dir()):
            continue
        if name.as_posix() not in owned or path.is_symlink() or path.is_dir():
            raise FolderError(
                f"{wanted}: expected an empty folder or earlier results; got a folder with {name} in it, "
                "which overbank did not write and which would be lost. Move it, or choose another folder with --out"
            )


def refuse_other_file(picture: Path) -> None:
    """Refuse to draw over a file that is no picture of overbank's.

    Raises
    ------
    FolderError : there is such a file
    """
    if not picture.is_file():
        return
    with _in_one_message(picture), picture.open("rb") as file:
        begins = file.read(1024)
    if begins and not (begins.startswith(PICTURE) and OURS in begins):
        raise FolderError(
            f"{picture}: expected the name of a new file, or of a picture that overbank drew; got another file, which "
            "would be lost. Give another name"
        )


def refuse_other_table(file: Path, begins: str) -> None:
    """Refuse to write a table over a file that does not begin as it does.

    Raises
    ------
    FolderError : there is such a file
    """
    if not file.is_file():
        return
    with _in_one_message(file), file.open("rb") as there:
        first = there.read(1024)
    if first and not first.startswith(begins.encode()):
        raise FolderError(
            f"{file}: expected the name of a new file, or of an earlier table of the same kind; got another file, "
            "which would be lost. Give another name"
        )


@contextmanager
def _locked(wanted: Path) -> Iterator[None]:
    """Keep other runs away. The system lets go of the lock when the process ends, however it ends."""
    from filelock import FileLock, Timeout  # a check needs no lock

    file = wanted.with_name(f".{wanted.name}.overbank-lock")
    lock = FileLock(file, timeout=SOON)
    try:
        lock.acquire()
    except Timeout:
        if not file.exists():  # nobody holds it: it cannot be made
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(wanted)) from None
        raise FolderError(
            f"{file}: another run is writing its results here. Wait for it, or choose another folder with --out"
        ) from None
    try:
        yield
    finally:
        with suppress(OSError):  # a system that removes no open file leaves it to the lock
            if not file.stat().st_size:
                file.unlink()
        lock.release()


def _remove_leftovers(wanted: Path) -> None:
    """What a killed run left behind; we hold the lock, so nobody is using it."""
    for aside in _left(wanted, "old"):
        if wanted.exists():
            _clear(aside, wanted)
        else:
            aside.rename(wanted)  # killed between the two halves of a swap: the earlier results come back
    for unfinished in _left(wanted, "new"):
        shutil.rmtree(unfinished, ignore_errors=True)


def _left(wanted: Path, word: str) -> list[Path]:
    """Folders of killed runs, which bear the number of their process."""
    ours = re.compile(re.escape(f".{wanted.name}.{word}-") + r"\d+")
    return [path for path in wanted.parent.iterdir() if ours.fullmatch(path.name)]


def _put_in_place(staging: Path, wanted: Path) -> None:
    """Let the new results take the place of the old; where a program holds those open, they are kept beside them."""
    try:
        _while_held(lambda: _swap(staging, wanted))
    except OSError as error:
        if not _is_held(error):
            raise
        beside = next(free for free in _names_beside(wanted) if not os.path.lexists(free))
        staging.rename(beside)
        raise FolderError(
            f"{wanted}: expected a folder that can be replaced; got one with a file that another program holds open. "
            f"The new results stand in {beside}. Close the program, then move them or run again"
        ) from error


def _names_beside(wanted: Path) -> Iterator[Path]:
    return (wanted.with_name(f"{wanted.name}-new{number}") for number in count(1))


def _while_held(step: Callable[[], object]) -> None:
    """Do one step on the disk, again and again for a moment while another program holds a file of it open."""
    for left in reversed(range(TRIES)):
        try:
            step()
            return
        except OSError as error:
            if not (left and _is_held(error)):
                raise
            time.sleep(PAUSE)


def _is_held(error: OSError) -> bool:
    return getattr(error, "winerror", None) in HELD


def _swap(staging: Path, wanted: Path) -> None:
    """Put `staging` in the place of `wanted`, in one step where the system can; all as before where it fails."""
    if not wanted.exists():
        staging.rename(wanted)
        return
    aside = wanted.with_name(f".{wanted.name}.old-{os.getpid()}")
    staging.rename(aside)  # from here on it may be the earlier results, which are cleared with care
    if not _exchange(aside, wanted):
        aside.rename(staging)
        wanted.rename(aside)
        try:
            staging.rename(wanted)
        except OSError:
            aside.rename(wanted)
            raise
    _clear(aside, wanted)


def _clear(aside: Path, wanted: Path) -> None:
    """Move what overbank did not write from the earlier results into the new ones, and remove the rest."""
    owned = owned_files(aside)
    for name in list(entries(aside)):
        if name.as_posix() in owned:
            continue
        place = wanted / name
        while os.path.lexists(place):
            place = place.with_name(f"{place.name}.kept")
        place.parent.mkdir(parents=True, exist_ok=True)
        (aside / name).rename(place)
    shutil.rmtree(aside, ignore_errors=True)


def _exchange(one: Path, other: Path) -> bool:
    """Let two folders change places (Linux renameat2); False where the system cannot."""
    try:
        rename = ctypes.CDLL(None, use_errno=True).renameat2
    except (OSError, AttributeError, TypeError):  # Windows wants the name of a library
        return False
    return bool(rename(_AT_FDCWD, os.fsencode(one), _AT_FDCWD, os.fsencode(other), _EXCHANGE) == 0)
