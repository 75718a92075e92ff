"""Tables as CSV that a spreadsheet shows as they are."""

from __future__ import annotations

from pathlib import Path

import pandas as pd

FORMULA = ("=", "+", "-", "@", "\t")
"""A spreadsheet takes a text that begins with one of these for a formula, and works it out."""


def write_csv(table: pd.DataFrame, file: Path) -> None:
    """Write a table; a text that a spreadsheet would work out gets an apostrophe before it."""
    texts = table.select_dtypes(exclude="number").columns
    shown = table.assign(**{name: table[name].map(_shown) for name in texts})
    shown.rename(columns=_shown).to_csv(file, index=False)


def _shown(cell: object) -> object:
    if not isinstance(cell, str):
        return cell
    text = cell.replace("\r", " ")  # it would end the row
    return f"'{text}" if text.startswith(FORMULA) else text
