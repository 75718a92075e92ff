"""Geometry that cannot be, at the medians and wherever the distributions reach (see `elements.extents`)."""

from __future__ import annotations

from collections.abc import Iterator

from overbank.study.elements.extents import Extent, Reader
from overbank.study.kinds import table_of
from overbank.study.reading.readable import Readable
from overbank.study.reading.refusals import LocatedRefusal


def impossible_geometry(study: Readable) -> Iterator[LocatedRefusal]:
    """Every pair of sound numbers that cannot stand together."""
    below: Extent | None = None
    for index, element in study.elements():
        table, reader = table_of(element), Reader(study, ("element", index))
        if table is None:
            below = None
            continue
        yield from table.impossible(reader, element, below)
        below = table.top(reader, element, below)
