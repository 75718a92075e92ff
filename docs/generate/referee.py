"""The tables of the referee: random studies, coverage, and what was once wrong, as files of the tests hold them."""

from __future__ import annotations

import math
import sys
from itertools import groupby
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2] / "tests"))

from generate.markdown import cell, table
from generate.markdown import row as row_of
from referee import coverage, items
from referee.judging import FAR
from referee.table import SAMPLES
from referee.table import stored as studies

Row = dict[str, str]

GROUPS = {
    "overtopping": ("overtopping", "overtopping, counted"),
    "levels": ("level 0",),
    "blockage set": ("blockage set to",),
    "largest, allowance": ("largest blockage", "allowance"),
    "in a year": ("in a year", "in a year, counted"),
    "its band": ("in a year, 0",),
    "life": ("over the life",),
    "assurance": ("assurance",),
    "learnt": ("overtopping learnt", "level learnt"),
}
"""Column of the table -> figures by their names, or by how these begin where they end in a number."""

NUMBERED = ("level 0", "blockage set to", "in a year, 0", "assurance")


def random_studies() -> str:
    """Worst departure of each kind of figure, study by study."""
    rows = studies()
    lines = [_study(name, list(group)) for name, group in groupby(rows, key=lambda each: each["study"])]
    return f"{_counted(rows, len(lines))}\n\n{table(('study', *GROUPS), lines)}"


def _counted(rows: list[Row], number: int) -> str:
    apart = [abs(float(each["joint_errors"])) for each in rows]
    beyond = sum(each > FAR for each in apart)
    worst = max((each for each in apart if math.isfinite(each)), default=0.0)
    return (
        f"{number} studies of {SAMPLES} samples, {len(rows)} figures. {beyond} lie beyond {FAR} joint standard errors; "
        f"the farthest finite one lies {worst:.2f} away."
    )


def _study(name: str, rows: list[Row]) -> str:
    return row_of(cell(name), *(_worst(rows, names) for names in GROUPS.values()))


def _worst(rows: list[Row], names: tuple[str, ...]) -> str:
    """The farthest of these figures in joint standard errors; a dash where the study has none."""
    found = [float(each["joint_errors"]) for each in rows if any(_is(each["figure"], name) for name in names)]
    if not found:
        return "-"
    farthest = max(found, key=abs)
    return f"{farthest:+.1f}" if math.isfinite(farthest) else "none against a value"


def _is(figure: str, name: str) -> bool:
    return figure.startswith(name) if name in NUMBERED else figure == name


def covered() -> str:
    """How many of the printed intervals held the truth."""
    head = ("study", "samples", "figure", "seeds", "intervals that hold the truth")
    lines = [
        row_of(cell(each["study"]), each["samples"], cell(each["figure"]), each["seeds"], _share(each))
        for each in coverage.stored()
    ]
    return table(head, lines)


def _share(each: Row) -> str:
    return f"{each['held']} ({int(each['held']) / int(each['seeds']):.2f})"


def once_wrong() -> str:
    """Figures that were wrong, each before, now, and as it is right."""
    head = ("item", "study", "samples", "figure", "before", "now", "its 95 % interval", "right", "joint errors")
    lines = [
        row_of(
            *(each["item"], cell(each["study"]), each["samples"], cell(each["figure"]), each["before"]),
            *(_said(each["program"]), f"{_said(each['low'])} to {_said(each['high'])}", _said(each["right"])),
            f"{float(each['joint_errors']):+.2f}",
        )
        for each in sorted(items.stored(), key=lambda row: int(row["item"]))
        if each["before"]
    ]
    return table(head, lines)


def _said(number: str) -> str:
    return "none" if number == "nan" else number
