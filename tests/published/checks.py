"""Reads the check values and compares them with what overbank obtains.

Columns of the files (`FILES`):

id          unique
quantity    what is checked, in words
function    key into `registry.FUNCTIONS`
inputs      name=value; name=value; a value may carry a unit of the source ("5 ft"), otherwise SI
expected    one or several values, separated by semicolons, in `units`
tolerance   rel 0.01         share of the expected value
            abs 0.005        in `units`
            head 0.05        share of the expected level's height above the input `invert`
            band -0.06 0.08  deviation as a share of the expected value, lowest and highest: how two different
                             laws are known to differ
library     libraries.csv only: key into `library.LIBRARY`, which gives the expected value afresh
source, how_known, verified, note    where the expected value comes from; verified only where that was read
                                     (or needs no source) and nothing in it rests on memory
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from math import inf
from pathlib import Path

from .registry import FUNCTIONS, Inputs

FILES = ("culverts.csv", "screens.csv", "channels.csv", "weirs.csv", "gates.csv", "bridges.csv", "libraries.csv")

FOOT = 0.3048
UNITS = {
    "ft": FOOT,
    "in": FOOT / 12.0,
    "ft2": FOOT**2,
    "ft3/s": FOOT**3,
    "ft^0.5/s": FOOT**0.5,
}
"""SI value of one unit of the sources."""


@dataclass(frozen=True)
class Check:
    """One row of a file of check values."""

    id: str
    quantity: str
    function: str
    inputs: Inputs
    expected: tuple[float, ...]
    units: tuple[str, ...]
    tolerance: str
    source: str
    how_known: str
    verified: bool
    note: str
    file: str
    library: str


@dataclass(frozen=True)
class Comparison:
    """Published and obtained value, both in the unit of the source."""

    published: float
    obtained: float
    unit: str
    within: bool

    @property
    def deviation(self) -> float:
        """Share of the published value (infinite for any departure from a published zero)."""
        if self.published == 0.0:
            return 0.0 if self.obtained == 0.0 else inf
        return (self.obtained - self.published) / self.published


def in_si(text: str) -> float | str:
    """A number, a number with a unit of the source, or a word."""
    number, _, unit = text.partition(" ")
    try:
        return float(number) * UNITS.get(unit, 1.0)
    except ValueError:
        return text


def read_inputs(text: str) -> Inputs:
    pairs = (part.split("=", 1) for part in text.split(";") if part.strip())
    return {name.strip(): in_si(value.strip()) for name, value in pairs}


@cache
def checks() -> tuple[Check, ...]:
    """All rows of all files."""
    found = []
    for file in FILES:
        text = (Path(__file__).parent / file).read_text(encoding="utf-8")
        for row in csv.DictReader(text.splitlines()):
            expected = tuple(float(value) for value in row["expected"].split(";"))
            units = tuple(row["units"].split(";"))
            found.append(
                Check(
                    id=row["id"],
                    quantity=row["quantity"],
                    function=row["function"],
                    inputs=read_inputs(row["inputs"]),
                    expected=expected,
                    units=units if len(units) == len(expected) else units * len(expected),
                    tolerance=row["tolerance"],
                    source=row["source"],
                    how_known=row["how_known"],
                    verified=row["verified"] == "true",
                    note=row["note"],
                    file=file,
                    library=row.get("library", ""),
                )
            )
    return tuple(found)


def obtained(check: Check) -> tuple[float, ...]:
    """What overbank gives for the inputs of a check, in the units of its source."""
    result = FUNCTIONS[check.function](check.inputs)
    values = result if isinstance(result, tuple) else (result,)
    return tuple(value / UNITS.get(unit, 1.0) for value, unit in zip(values, check.units, strict=True))


def is_within(check: Check, published: float, value: float, unit: str) -> bool:
    """True when the value meets the published one within the tolerance of the check."""
    kind, *limits = check.tolerance.split()
    low, high = float(limits[0]), float(limits[-1])
    difference = value - published
    match kind:
        case "abs":
            return abs(difference) <= high
        case "rel":
            return abs(difference) <= high * abs(published)
        case "head":
            head = published - float(check.inputs["invert"]) / UNITS.get(unit, 1.0)
            return abs(difference) <= high * head
        case "band":
            return low <= difference / published <= high
    raise ValueError(f"{check.id}: unknown kind of tolerance {kind!r}")


def compare(check: Check) -> tuple[Comparison, ...]:
    """Each published value of a check beside the value obtained."""
    return tuple(
        Comparison(published, value, unit, is_within(check, published, value, unit))
        for published, value, unit in zip(check.expected, obtained(check), check.units, strict=True)
    )


def rows_with_results() -> list[dict[str, str | float | bool]]:
    """One row per published value, with the value obtained, its deviation and whether that is allowed."""
    return [
        {
            "file": check.file,
            "id": check.id,
            "quantity": check.quantity,
            "published": result.published,
            "obtained": result.obtained,
            "units": result.unit,
            "deviation": result.deviation,
            "tolerance": check.tolerance,
            "within": result.within,
            "source": check.source,
            "how_known": check.how_known,
            "verified": check.verified,
            "note": check.note,
        }
        for check in checks()
        for result in compare(check)
    ]
