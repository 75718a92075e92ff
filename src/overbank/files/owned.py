"""What overbank wrote into a results folder, and what it did not."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

MARK = "manifest.json"
"""Lists, under `files`, what overbank wrote into a folder; only that is ever replaced."""


def owned_files(folder: Path) -> frozenset[str]:
    """The files of a results folder that overbank wrote, as its own mark lists them; another's mark lists nothing."""
    try:
        told = json.loads((folder / MARK).read_text(encoding="utf-8"))
        return frozenset(told["files"]) if told["written_by"].startswith("overbank ") else frozenset()
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return frozenset()


def entries(folder: Path, below: Path = Path()) -> Iterator[Path]:
    """Everything in a folder but folders that are looked into: files, links, what is hidden, empty folders."""
    if not folder.is_dir():
        return
    for path in sorted((folder / below).iterdir()):
        name = below / path.name
        if path.name.startswith(".") or path.is_symlink() or not path.is_dir() or not any(path.iterdir()):
            yield name
        else:
            yield from entries(folder, name)


def listing(folder: Path) -> dict[str, Any]:
    """What the mark of a folder that is being written says of it: its files, and the SHA-256 of all but the mark."""
    names = (path.relative_to(folder).as_posix() for path in sorted(folder.rglob("*")) if path.is_file())
    sums = {name: sha256(folder / name) for name in names if name != MARK}
    return {"files": sorted([*sums, MARK]), "files_sha256": sums}


def write_with_one_more(mark: Path, folder: Path, name: str, written: Path) -> None:
    """Write the mark of a folder with one more file in it, which stands somewhere else as yet."""
    told = json.loads((folder / MARK).read_text(encoding="utf-8"))
    told["files"] = sorted({*told["files"], name})
    told["files_sha256"] = dict(sorted({**told["files_sha256"], name: sha256(written)}.items()))
    mark.write_text(json.dumps(told, indent=2, ensure_ascii=False) + "\n", encoding="utf-8", newline="\n")


def sha256(file: Path) -> str:
    """SHA-256 of a file's bytes, read a piece at a time."""
    with file.open("rb") as opened:
        return hashlib.file_digest(opened, "sha256").hexdigest()
