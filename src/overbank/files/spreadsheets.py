"""Tables as CSV that a spreadsheet shows as they are."""

from __future__ import annotations

from pathlib import Path
from unicodedata import category

import pandas as pd

FORMULA = ("=", "+", "-", "@", "\uff1d", "\uff0b", "\uff0d", "\uff20", "\t")
"""A spreadsheet takes a text that begins with one of these, or their wide forms, for a formula, and works it out."""


def write_csv(table: pd.DataFrame, file: Path) -> None:
    """Write a table; a text that a spreadsheet would work out gets an apostrophe before it."""
    texts = table.select_dtypes(exclude="number").columns
    shown = table.assign(**{name: table[name].map(_shown) for name in texts})
    shown.rename(columns=_shown).to_csv(file, index=False, encoding="utf-8", lineterminator="\n")


def _shown(cell: object) -> object:
    if not isinstance(cell, str):
        return cell
    text = cell.replace("\r", " ")  # it would end the row
    begins = next((at for at, letter in enumerate(text) if category(letter)[0] not in "CZ"), 0)  # what is seen first
    return f"'{text}" if text.startswith(FORMULA) or text.startswith(FORMULA, begins) else text
