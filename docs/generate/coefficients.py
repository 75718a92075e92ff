"""The page of coefficients: the tables that the program reads, row by row with their sources."""

from __future__ import annotations

from collections.abc import Mapping

from generate.markdown import cell, row, table
from overbank.hydraulics.tables import InletEntry, inlets, read_table

WHAT = {
    "entrance_losses": "Entrance losses of outlet control",
    "bar_shapes": "Bar shapes of a screen",
    "road_coefficients": "Weir coefficients of roads",
    "barrel_roughness": "Roughness of barrels",
    "channel_roughness": "Roughness of channels",
    "blockage_starting_points": "Starting points for a blockage without records",
    "drift_potentials": "Relative potential for floating debris, by what is seen at the site",
    "blockage_guidance": "Blockage in a published guideline",
    "hazard_ratings": "Classes of the hazard rating",
    "debris_factors": "Debris factors of the hazard rating",
    "hazard_classes": "General hazard classes",
}
QUIET = ("id", "source", "how_known", "verified", "note")
"""Columns that do not stand in a table of their own accord."""

INLETS = ("edge", "form", "K", "M", "c", "Y", "slope factor", "Ke", "source", "verified")


def page() -> str:
    """Inlets by the shape of their barrel, then every other table."""
    shapes = dict.fromkeys(shape for shape, _ in inlets())
    parts = ["## Inlets", *map(_inlets, shapes)]
    return "\n\n".join([*parts, *(f"## {words}\n\n{_table(name)}" for name, words in WHAT.items())])


def _inlets(shape: str) -> str:
    rows = [_inlet(entry) for (found, _), entry in inlets().items() if found == shape]
    return f"### {shape}\n\n{table(INLETS, rows)}"


def _inlet(entry: InletEntry) -> str:
    numbers = (entry.form, entry.K, entry.M, entry.c, entry.Y, entry.slope_factor, entry.entrance_loss)
    source = _source(entry.source, entry.how_known, entry.note)
    return row(f"`{entry.edge}`", *(f"{number:g}" for number in numbers), source, _yes(entry.verified))


def _table(name: str) -> str:
    found = read_table(name)
    columns = [column for column in found[0] if column not in QUIET]
    head = (*(column.replace("_", " ") for column in columns), "source", "verified")
    return table(head, [_line(line, columns) for line in found])


def _line(line: Mapping[str, str], columns: list[str]) -> str:
    source = _source(line["source"], line["how_known"], line["note"])
    return row(*(cell(line[column]) for column in columns), source, _yes(line["verified"] == "true"))


def _source(source: str, how_known: str, note: str) -> str:
    return cell(f"{source} ({how_known}). {note}".strip())


def _yes(verified: bool) -> str:
    return "yes" if verified else "**no**"
