"""Two finished results beside each other, as the terminal shows them."""

from __future__ import annotations

import json
import math
from pathlib import Path

from rich.console import Console
from rich.table import Table

from overbank.analysis.intervals import Estimate
from overbank.commands.terminal import escape
from overbank.files.compared import Compared, compare_results
from overbank.words import cautions, measure, rounded


def compare_folders(first: Path, second: Path, as_json: bool) -> None:
    """Print two finished results beside each other, as a table or as JSON."""
    found = compare_results(first, second)
    if as_json:
        print(json.dumps(found.as_json(), indent=2))
    else:
        _show(found)


def _show(found: Compared) -> None:
    console = Console(highlight=False)
    first, second = found.titles
    console.print(f"[bold]{escape(first)}[/bold] at {escape(found.places[0])}")
    console.print(f"[bold]{escape(second)}[/bold] at {escape(found.places[1])}")
    table = Table("in the design flood", "first", "second", "change", "")
    for each in found.figures:
        shown = [_with_interval(figure, each.unit) for figure in (each.first, each.second)]
        moved = "" if math.isnan(each.change) else _moved(each.change, each.unit)
        table.add_row(each.words, *shown, moved, "within the sampling" if each.within and each.change else "")
    console.print(table)
    console.print("What is different in the studies:" if found.changes else "The studies are the same.")
    for key in found.changes:
        before, after = key.first or "not there", key.second or "not there"
        console.print(escape(f"  {key.name}: {before} -> {after}"))
    console.print("Each interval is that of its own run.")
    console.print("To know a difference better than either figure, write an [[alternative]].", markup=False)
    console.print(cautions()[0], style="italic")


def _with_interval(figure: Estimate, unit: str) -> str:
    """Of a run; a figure without an interval alone, and nothing where a run does not have it."""
    if math.isnan(figure.value):
        return ""
    said = rounded(figure, unit)
    return said.value if figure.low == figure.high else f"{said.value}\n({said.interval})"


def _moved(change: float, unit: str) -> str:
    """The change of a figure; of shares in points."""
    if not math.isfinite(change):
        return "no way through"
    return measure(change, "m", signed=True) if unit == "m" else f"{100.0 * change:+.3g} points".replace("-", "\u2212")
