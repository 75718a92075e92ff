"""What the package itself is made of, so that results are known to be of its present formulas."""

from __future__ import annotations

import hashlib
from functools import cache
from pathlib import Path

ENDINGS = (".py", ".csv", ".html", ".css", ".js")
"""Of the files that decide what a run finds and writes."""


@cache
def sources_sha256() -> str:
    """SHA-256 over every source of the package, its tables and its templates, in the order of their paths."""
    package = Path(__file__).parents[1]
    digest = hashlib.sha256()
    for file in sorted(path for path in package.rglob("*") if path.suffix in ENDINGS):
        digest.update(file.relative_to(package).as_posix().encode())
        digest.update(file.read_bytes())
    return digest.hexdigest()
