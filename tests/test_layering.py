"""Imports go one way, and each third party stays in its place: read off the syntax trees of the package."""

from __future__ import annotations

import ast
from functools import cache
from pathlib import Path

from facts import each_holds

PACKAGE = Path(__file__).parents[1] / "src" / "overbank"

LEVELS: dict[str, int] = {
    "errors": 0,
    "constants": 0,
    "shell": 0,
    "_jit": 0,
    "hydraulics": 1,
    "site": 2,
    "uncertain": 2,
    "analysis": 2,
    "study": 3,
    "model": 4,
    "notebook": 1,
    "words": 3,
    "sampling": 5,
    "outputs": 6,
    "run": 7,
    "report": 8,
    "files": 8,
    "results": 9,
    "register": 9,
    "live": 9,
    "commands": 10,
}
CONFINED: dict[str, set[str]] = {
    "numba": {"_jit"},
    "pydantic": {"study"},
    "pydantic_core": {"study"},
    "SALib": {"analysis"},
    "chaospy": {"analysis"},
    "matplotlib": {"report"},
    "jinja2": {"report"},
    "weasyprint": {"report"},
    "docx": {"report"},
    "lxml": {"report"},
    "filelock": {"files"},
    "waitress": {"live"},
    "tomlkit": {"live"},
    "openpyxl": {"report", "study"},
    "typer": {"commands"},
    "rich": {"commands"},
}
SOURCES = sorted(path for path in PACKAGE.rglob("*.py") if path.name != "__main__.py")


def part(path: Path) -> str:
    """The part of the package that a file belongs to."""
    relative = path.relative_to(PACKAGE)
    return relative.parts[0] if len(relative.parts) > 1 else relative.stem


@cache
def imported(path: Path) -> set[str]:
    """Every module that a file imports, at the top or inside a function."""
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import"
            names.add(node.module or "")
            names |= {f"{node.module}.{alias.name}" for alias in node.names}
    return names


def named(path: Path) -> str:
    return str(path.relative_to(PACKAGE))


def imports_only_lower_parts(path: Path) -> None:
    own = part(path)
    if own == "__init__":
        return
    for name in imported(path):
        pieces = name.split(".")
        if pieces[0] != "overbank" or len(pieces) < 2 or pieces[1] not in LEVELS:
            continue
        other = pieces[1]
        assert other == own or LEVELS[other] < LEVELS[own], f"{path.name} of {own} imports {name}"


def test_a_part_imports_only_lower_parts() -> None:
    each_holds(SOURCES, imports_only_lower_parts, named)


def keeps_third_parties_in_their_place(path: Path) -> None:
    for name in imported(path):
        allowed = CONFINED.get(name.split(".")[0])
        assert allowed is None or part(path) in allowed, f"{path.name} imports {name}"


def test_third_parties_stay_in_their_place() -> None:
    each_holds(SOURCES, keeps_third_parties_in_their_place, named)


def test_every_part_has_a_level() -> None:
    assert {part(path) for path in SOURCES} - {"__init__"} <= set(LEVELS)


def test_the_root_holds_at_most_ten_modules() -> None:
    assert len([path for path in SOURCES if path.parent == PACKAGE]) <= 10
