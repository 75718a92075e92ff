"""The table of typed mistakes: what was typed, the verdict and the words, as a file of the tests holds them."""

from __future__ import annotations

import sys
from collections import Counter
from itertools import groupby
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2] / "tests"))

from generate.markdown import cell, row, table
from study.mistakes import Mistake, stored

LONGEST = 90
"""Letters of what was typed that are shown."""

HEAD = ("mistake", "typed", "verdict", "what is said")


def page() -> str:
    """How many came to which end, and a table a group."""
    mistakes = stored()
    counted = Counter(mistake.verdict for mistake in mistakes)
    said = ", ".join(f"{number} {verdict}" for verdict, number in counted.most_common())
    parts = [f"{len(mistakes)} mistakes: {said}."]
    for group, of_it in groupby(mistakes, key=lambda mistake: mistake.group):
        parts.append(f"## {group.capitalize()}\n\n{table(HEAD, [_line(mistake) for mistake in of_it])}")
    return "\n\n".join(parts)


def _line(mistake: Mistake) -> str:
    said = mistake.words.replace("\n", "; ") or "nothing"
    return row(cell(mistake.typed), cell(_typed(mistake.new)), mistake.verdict, cell(said))


def _typed(text: str) -> str:
    shown = " / ".join(text.strip().splitlines())
    return shown if len(shown) <= LONGEST else f"{shown[:LONGEST]}..."
