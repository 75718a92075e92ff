"""Published coefficients, kept as data: every row names its source and how it is known.

The files lie in `tables/`, comma-separated, one header line. Three columns are in all of them:

source      the publication, its edition and page or table
how_known   "read in the source", "read second hand", "from memory, unverified", "computed independently",
            "own proposal, not published" or "common practice, no source"
verified    "true" only where the value itself was read in the source (or computed independently)
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from importlib import resources
from types import MappingProxyType

from overbank.errors import DomainError


@dataclass(frozen=True)
class InletEntry:
    """One row of the culvert inlet constants (for FHWA HDS-5: 2nd edition 2001, Table 9).

    id : short name, unique among all rows
    shape : barrel that it belongs to: pipe, box, arch, ellipse, pipe_arch, egg, horseshoe or traced; a row may serve
        several
    edge : the inlet in plain words, unique within a shape: what a study file says
    form : 1 (with critical energy) or 2 (without) of the equation below the transition
    K, M : constants below the transition (drowned inlet not yet reached) [-]
    c, Y : constants above it (inlet drowned) [-]
    slope_factor : -0.5, or +0.7 for an inlet mitred to the slope [-]
    entrance_loss : Ke of outlet control that fits this inlet [-]
    entrance_loss_source, entrance_loss_how_known : where that Ke comes from
    source, how_known, verified : where K, M, c and Y come from
    note : disagreements found, and what to mind
    """

    id: str
    shape: str
    edge: str
    form: int
    K: float
    M: float
    c: float
    Y: float
    slope_factor: float
    entrance_loss: float
    entrance_loss_source: str
    entrance_loss_how_known: str
    source: str
    how_known: str
    verified: bool
    note: str


@cache
def table_names() -> tuple[str, ...]:
    """Names of all tables, in alphabetical order."""
    folder = resources.files(__package__) / "tables"
    files = (entry.name for entry in folder.iterdir())
    return tuple(sorted(name.removesuffix(".csv") for name in files if name.endswith(".csv")))


@cache
def read_table(name: str) -> tuple[MappingProxyType[str, str], ...]:
    """All rows of a table, each a read-only mapping from column to text.

    Raises
    ------
    DomainError
        There is no such table.
    """
    if name not in table_names():
        raise DomainError(f"There is no table {name!r}. Tables: {', '.join(table_names())}.")
    text = (resources.files(__package__) / "tables" / f"{name}.csv").read_text(encoding="utf-8")
    return tuple(MappingProxyType(row) for row in csv.DictReader(text.splitlines()))


@cache
def inlets() -> MappingProxyType[tuple[str, str], InletEntry]:
    """Inlet constants by (shape of the barrel, words for its edge)."""
    entries = (
        InletEntry(
            id=row["id"],
            shape=shape,
            edge=row["edge"],
            form=int(row["form"]),
            K=float(row["K"]),
            M=float(row["M"]),
            c=float(row["c"]),
            Y=float(row["Y"]),
            slope_factor=float(row["slope_factor"]),
            entrance_loss=float(row["entrance_loss"]),
            entrance_loss_source=row["entrance_loss_source"],
            entrance_loss_how_known=row["entrance_loss_how_known"],
            source=row["source"],
            how_known=row["how_known"],
            verified=row["verified"] == "true",
            note=row["note"],
        )
        for row in read_table("inlets")
        for shape in row["shape"].split()
    )
    return MappingProxyType({(entry.shape, entry.edge): entry for entry in entries})


def inlet_edges(shape: str) -> list[str]:
    """Every edge that a barrel of this shape can have, in the order of the table: for messages and help."""
    return [edge for barrel, edge in inlets() if barrel == shape]
