"""A blockage from what is seen at the site: how much arrives, how long it is, where the opening lies, how wide it is.

The class is relative: the source says expressly that it is no probability. What blocked share a class stands for is our
own proposal, and always judgement.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Literal, get_args

from pydantic import Field

from overbank.hydraulics.tables import read_table
from overbank.study.guidelines import guidelines
from overbank.study.reading.folder import Folder
from overbank.study.reading.numbers import Number
from overbank.study.reading.plain import KindWord, Text, bare_number, one_of
from overbank.study.reading.table import Table

Delivery = Literal["low", "high"]
Location = Literal["sheltered", "on the bank", "in the channel", "in the path"]

ANY = "any"
WIDER, NARROWER = "wider than the longest piece", "no wider than the longest piece"

STARTS = {
    "low": "culvert opening from L10 to 3 L10, medium debris",
    "medium": "culvert opening narrower than L10, medium debris",
    "high": "screen, high debris, no attendance",
}
"""Potential -> the starting point that stands for it: own proposal, not published."""


class Worksheet(Table):
    """What is seen at the site of the floating debris: sources, longest pieces, location, gap."""

    sources: Text | None = Field(
        None, description="what lies upstream that may float: woods, banks that fall in, yards"
    )
    delivery: Annotated[Delivery, one_of(get_args(Delivery))] = Field(
        description="how much of it can arrive: low, or high; none lying there today is no evidence of low"
    )
    location: Annotated[Location, one_of(get_args(Location))] = Field(
        description="where the opening lies: sheltered (woods upstream hold all back), on the bank (or flood plain), "
        "in the channel, or in the path (where what floats collects)"
    )
    longest_piece_m: Annotated[float, bare_number(0.01, 100.0)] = Field(
        description="the length of the longest sturdy pieces that can arrive [m]"
    )
    gap_m: Annotated[float, bare_number(0.005, 200.0)] = Field(
        description="the clear width between fixed parts, across the flow; of a screen the gap between its bars [m]"
    )

    @property
    def row(self) -> Mapping[str, str]:
        """The row of the table of classes that holds."""
        gap = WIDER if self.gap_m > self.longest_piece_m else NARROWER
        return next(
            row
            for row in read_table("drift_potentials")
            if row["gap"] == gap and row["location"] in (ANY, self.location) and row["delivery"] in (ANY, self.delivery)
        )


class Sighted(Table):
    """A blockage from a worksheet."""

    worksheet: Worksheet
    basis: Text | None = Field(None, description="what was seen, when and by whom")
    kind: KindWord | None = Field(None, description="whether it is the same in all floods or anew in each")

    def number(self, _folder: Folder) -> Number:
        """The starting point of the class, as judgement."""
        sheet, row = self.worksheet, self.worksheet.row
        start = STARTS[row["potential"]]
        distribution = guidelines()[start].distribution
        said = [
            f"worksheet: {row['potential']} potential, relative and no probability",
            f"{row['source']} ({row['how_known']})",
            f"delivery {sheet.delivery}, {sheet.location}, pieces of {sheet.longest_piece_m:g} m, a gap of "
            f"{sheet.gap_m:g} m",
            f"as “{start}”: own proposal, not published",
            *([f"sources: {sheet.sources}"] if sheet.sources else []),
            *([self.basis] if self.basis else []),
        ]
        return Number(distribution.median, distribution, "; ".join(said), "judgement", kind=self.kind)
