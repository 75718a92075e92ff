"""Tables as CSV that a spreadsheet shows as they are."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from overbank.files.spreadsheets import write_csv


@pytest.mark.parametrize(
    "text",
    [
        *("=1+1", "+1", "-1", "@SUM(A1)", "\t=1", '=HYPERLINK("x")', " =1+1", "\n=1+1", "\u00a0\u200b=1+1"),
        *("\ufeff=1+1", "\x00@A1", "\uff1d1+1"),
    ],
    ids=ascii,
)
def test_a_text_that_would_be_worked_out_is_shown(tmp_path: Path, text: str) -> None:
    """Beginnings that CWE-1236 and the OWASP page on CSV injection name (from memory, unverified)."""
    write_csv(pd.DataFrame({text: [1.0], "name": [text]}), tmp_path / "table.csv")
    with (tmp_path / "table.csv").open(encoding="utf-8", newline="") as file:
        head, row = csv.reader(file)
    assert head == [f"'{text}", "name"]
    assert row == ["1.0", f"'{text}"]


def test_all_else_is_written_as_it_is(tmp_path: Path) -> None:
    table = pd.DataFrame({"x": [-1.5, np.nan, np.inf], "name": ["a = b", "", None], "yes": [True, False, True]})
    write_csv(table, tmp_path / "ours.csv")
    table.to_csv(tmp_path / "plain.csv", index=False)
    assert (tmp_path / "ours.csv").read_bytes() == (tmp_path / "plain.csv").read_bytes()


def test_a_text_ends_no_row(tmp_path: Path) -> None:
    write_csv(pd.DataFrame({"name": ["one\rtwo", "\r=1", "three\nfour"]}), tmp_path / "table.csv")
    assert pd.read_csv(tmp_path / "table.csv")["name"].tolist() == ["one two", "' =1", "three\nfour"]
