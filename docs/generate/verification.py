"""The page of verification: every published or independently computed value, and what overbank obtains."""

from __future__ import annotations

import math
import sys
from collections import Counter
from itertools import groupby
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[2] / "tests"))

from generate.markdown import cell, table
from generate.markdown import row as row_of
from published.checks import rows_with_results

Row = dict[str, Any]

HEAD = ("id", "what", "published", "obtained", "unit", "deviation", "allowed", "remark")


KNOWN = {"read in the source": 0, "computed independently": 1, "read second hand": 2}
"""The order in which sources stand on the page; all others last."""


def page() -> str:
    """Summary, values not met, then all values by their source."""
    rows = rows_with_results()
    missed = [row for row in rows if not row["within"]]
    parts = [_summary(rows, missed), "## Values not met", _missed(missed), "## All values, by source"]
    ordered = sorted(rows, key=lambda row: (KNOWN.get(str(row["how_known"]), len(KNOWN)), str(row["source"])))
    for (known, source), group in groupby(ordered, key=lambda row: (row["how_known"], row["source"])):
        parts += [f"### {cell(source)}", f"How known: {known}.", _table(list(group))]
    return "\n\n".join(parts)


def _summary(rows: list[Row], missed: list[Row]) -> str:
    counts = Counter((row["how_known"], row["verified"]) for row in rows)
    lines = [row_of(known, "yes" if sure else "no", str(count)) for (known, sure), count in sorted(counts.items())]
    met = len(rows) - len(missed)
    words = f"{len(rows)} values. {met} are met within the deviation allowed, {len(missed)} are not."
    return f"{words}\n\n{table(('how known', 'verified', 'values'), lines)}"


def _missed(rows: list[Row]) -> str:
    return _table(rows) if rows else "None."


def _table(rows: list[Row]) -> str:
    return table(HEAD, list(map(_row, rows)))


def _row(row: Row) -> str:
    return row_of(
        cell(row["id"]),
        cell(row["quantity"]),
        f"{row['published']:.6g}",
        f"{row['obtained']:.6g}",
        cell(row["units"]),
        _deviation(row),
        cell(row["tolerance"]),
        cell(row["note"]),
    )


def _deviation(row: Row) -> str:
    """In per cent of the published value; the difference itself where that is nothing."""
    if math.isfinite(row["deviation"]):
        return f"{100.0 * row['deviation']:+.2f} %"
    return f"{row['obtained'] - row['published']:+.3g} {cell(row['units'])}"
