"""One structure, one place: no file outside a kind's own rooms knows its word or its class."""

from __future__ import annotations

import ast
from pathlib import Path

from overbank.study.kinds import KINDS

PACKAGE = Path(__file__).parents[1] / "src" / "overbank"

ROOMS = ("hydraulics", "site", "study/elements")
"""Where a kind has files of its own, named after it."""

APART = {
    "study/kinds.py": "the registry",
    "study/elements/approach.py": "its channel is the approach of a weir or bridge, in the words of a refusal",
    "study/records/forms.py": "words of the CSV of assets, which tells of more than this program computes",
}
"""Files that may know every kind, and why."""

CLASSES = {found.__name__ for kind in KINDS.values() for found in (kind.table, *kind.variants)}
SOURCES = sorted(path for path in PACKAGE.rglob("*.py"))


def name(path: Path) -> str:
    return path.relative_to(PACKAGE).as_posix()


def is_own_room(path: Path) -> bool:
    """Whether a file is named after a kind, or belongs to the formulas."""
    own = path.stem in KINDS or any(path.stem.split("_")[0].rstrip("s") in (word, f"{word}s") for word in KINDS)
    return name(path).startswith("hydraulics/") or (own and name(path).startswith(ROOMS))


OTHERS = [path for path in SOURCES if not is_own_room(path) and name(path) not in APART]


def words_in_code(tree: ast.Module) -> list[tuple[int, str]]:
    """Every kind's word as a string by itself: in comparisons, tables, branches and sets."""
    found = (node for node in ast.walk(tree) if isinstance(node, ast.Constant) and isinstance(node.value, str))
    return [(node.lineno, node.value) for node in found if node.value.lower() in KINDS]


def classes_in_code(tree: ast.Module) -> list[tuple[int, str]]:
    """Every import of a kind's class or module."""
    return [
        (node.lineno, alias.name)
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("overbank")
        for alias in node.names
        if alias.name in CLASSES and (node.module or "").split(".")[1] in ("site", "study")
    ]


def test_no_other_file_knows_a_kind() -> None:
    assert len(OTHERS) > 150
    for path in OTHERS:
        tree = ast.parse(path.read_text(encoding="utf-8"))
        assert not words_in_code(tree), f"{name(path)} names a kind"
        assert not classes_in_code(tree), f"{name(path)} imports the class of a kind"


def test_what_stands_apart_still_must() -> None:
    for path in APART:
        tree = ast.parse((PACKAGE / path).read_text(encoding="utf-8"))
        assert words_in_code(tree) or classes_in_code(tree), f"{path} knows no kind any more: take it off the list"


def test_the_rules_see_what_they_forbid() -> None:
    tree = ast.parse('from overbank.site.weir import Weir\nif kind == "culvert": pass\n')
    assert words_in_code(tree) == [(2, "culvert")]
    assert classes_in_code(tree) == [(1, "Weir")]
