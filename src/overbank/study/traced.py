"""A closed section as a study traces it by points: floor and roof at each offset, from a table or a CSV file."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from math import isnan
from typing import Annotated, Any, Literal

from pydantic import Field, PlainValidator, ValidationInfo

from overbank.hydraulics.traced import Point, traced_table, widens_suddenly
from overbank.site.sections import Shape, Traced
from overbank.study.collect import Collected
from overbank.study.reading.folder import Folder, first_faults, folder_of, row_fault
from overbank.study.reading.numbers import Number
from overbank.study.reading.plain import as_float
from overbank.study.reading.refusals import LocatedRefusal, refusal, refusals, shown
from overbank.study.reading.table import Table

HEADER = ("offset_m", "floor_m", "roof_m")
LIST = "the list"
LEAST_SIZE, LARGEST = 0.01, 50.0
MOST_POINTS = 200


@dataclass(frozen=True)
class TracedPoints:
    """Offset, floor and roof of each point [m], from one end to the other; heights above any one level."""

    name: str
    points: tuple[Point, ...]

    @property
    def span(self) -> float:
        """From end to end [m]."""
        return self.points[-1][0] - self.points[0][0]

    @property
    def rise(self) -> float:
        """From the lowest point of the floor to the highest of the roof [m]."""
        return max(roof for _, _, roof in self.points) - min(floor for _, floor, _ in self.points)


def read_traced(raw: Any, folder: Folder) -> TracedPoints:
    """The points of a section: a list of rows, or a file with the header offset_m,floor_m,roof_m."""
    name, rows = _listed(raw) if isinstance(raw, list) else folder.rows(raw, HEADER)
    faults = list(_misplaced(name, rows))
    if faults:
        raise refusals(first_faults(faults, name))
    found = TracedPoints(name, tuple((x, floor, roof) for _, (x, floor, roof) in rows))
    faults = list(_impossible(found))
    if faults:
        raise refusals(faults)
    return found


def _listed(raw: list[Any]) -> tuple[str, list[tuple[int, list[float]]]]:
    rows: list[tuple[int, list[float]]] = []
    for row, each in enumerate(raw, 1):
        numbers = [as_float(number) for number in each] if isinstance(each, list) else []
        if len(numbers) != len(HEADER) or None in numbers:
            expected = "offset, floor and roof [m] as three numbers"
            raise refusals([row_fault(LIST, row, expected, shown(each), "Write [0.0, 0.0, 1.2], for example.")])
        rows.append((row, [number for number in numbers if number is not None]))
    return LIST, rows


def _misplaced(name: str, rows: list[tuple[int, list[float]]]) -> Iterator[LocatedRefusal]:
    """Rows that go back, or whose roof is not over their floor."""
    if not 2 <= len(rows) <= MOST_POINTS:
        expected = f"from two to {MOST_POINTS} rows of offset, floor and roof"
        yield (), refusal(expected, f"{len(rows)}", "Correct the points.", name)
        return
    for (_, (before, low, high)), (row, (offset, floor, roof)) in pairwise(rows):
        if offset < before:
            expected = f"an offset not below that of the row before it, {before:g}"
            yield row_fault(name, row, expected, f"{offset:g}", "Sort the rows across the section.")
        elif offset == before and max(floor, low) >= min(roof, high):
            expected = "a step that leaves a way between floor and roof"
            yield row_fault(name, row, expected, f"floor {max(floor, low):g}, roof {min(roof, high):g}", "Correct it.")
    for place, (row, (_, floor, roof)) in enumerate(rows):
        end = place in (0, len(rows) - 1)
        if roof < floor or (roof == floor and not end):
            expected = "a roof above the floor" + ("; they may only meet at the two ends" if roof == floor else "")
            yield row_fault(name, row, expected, f"floor {floor:g}, roof {roof:g}", "Correct the heights.")


def _impossible(found: TracedPoints) -> Iterator[LocatedRefusal]:
    """Sections too small or too large, without any room, or with a flow of two critical depths."""
    for words, size in (("a span", found.span), ("a rise", found.rise)):
        if not LEAST_SIZE <= size <= LARGEST:
            expected = f"{words} of the points from {LEAST_SIZE:g} to {LARGEST:g} m"
            yield (), refusal(expected, f"{size:g}", "Correct the points, which are in metres.", found.name)
            return
    if all(roof == floor for _, floor, roof in found.points):
        yield (), refusal("a roof above the floor", "none", "Correct the heights.", found.name)
        return
    height = widens_suddenly(traced_table(found.points))
    if not isnan(height):
        expected = "a section that widens slowly enough for one critical depth: growth of the width, A T' at most 2 T^2"
        remedy = "Slope the ledge more steeply, or trace the section without the channel below it."
        yield (), refusal(expected, f"one that widens too fast from {height:g} m above its floor", remedy, found.name)


def _read(raw: Any, info: ValidationInfo) -> TracedPoints:
    return read_traced(raw, folder_of(info))


class TracedShape(Table):
    """A closed section traced by points: floor and roof at each offset, straight between them, upright walls at both
    ends. Its lowest point is the invert."""

    shape: Literal["traced"]
    points: Annotated[TracedPoints, PlainValidator(_read)] = Field(
        description="a list of [offset, floor, roof], or the name of a CSV file with the header offset_m,floor_m,roof_m"
    )


def site_shape(table: Any) -> Shape:
    """The shape of a barrel or opening, as the site takes it."""
    if isinstance(table, TracedShape):
        return _traced(table.points.points)
    shape: str = table.shape
    return shape


@cache
def _traced(points: tuple[Point, ...]) -> Traced:
    """One table for one list of points, so that parts of the same section are seen to be alike."""
    return Traced(traced_table(points))


def fill_traced(collected: Collected, table: Any, path: str) -> None:
    """Span and rise of a traced section, under the names that other shapes give them."""
    if not isinstance(table, TracedShape):
        return
    points = table.points
    for key, size, words in (("span_m", points.span, "widest"), ("rise_m", points.rise, "highest")):
        collected.add(f"{path}.{key}", Number(size, basis=f"where it is {words}, by its points"))


def traced_of(folder: Folder, table: Any) -> TracedPoints | None:
    """The points of a traced section as written; None where there are none, or the schema finds fault with them."""
    if not isinstance(table, dict) or table.get("shape") != "traced":
        return None
    try:
        return read_traced(table.get("points"), folder)
    except ValueError:
        return None
