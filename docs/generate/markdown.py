"""Text in the cells of a table."""

from __future__ import annotations


def cell(words: object) -> str:
    """Text that cannot be taken for markup or for the end of a cell."""
    said = str(words).replace("&", "&amp;").replace("<", "&lt;").replace("\n", " ")
    for mark in "\\`*_[]|^~":
        said = said.replace(mark, f"&#{ord(mark)};")
    return said


def row(*cells: str) -> str:
    """A line of a table; the cells are Markdown already."""
    return f"| {' | '.join(cells)} |"


def table(head: tuple[str, ...], rows: list[str]) -> str:
    """A table from its head and its lines."""
    return "\n".join([row(*head), "|---" * len(head) + "|", *rows])
