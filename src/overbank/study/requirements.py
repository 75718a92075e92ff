"""An authority's own figures, in a TOML file beside the study: nothing of the kind comes with the program."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from typing import Annotated, Any, NamedTuple

from pydantic import Field, PlainValidator, ValidationError, ValidationInfo

from overbank.study.reading.folder import folder_of
from overbank.study.reading.lines import KeyPath, line_numbers, line_of
from overbank.study.reading.plain import Text, as_float, bare_number, one_of
from overbank.study.reading.refusals import LocatedRefusal, list_of, number, refusal, refusals, shortened
from overbank.study.reading.table import Table
from overbank.study.reading.unit_names import FOOT, INCH

UNITS = {"%": 0.01, "m": 1.0, "mm": 0.001, "ft": FOOT, "in": INCH}
"""Units of a figure, and what one of them is as a share or in metres."""

SHARES, LENGTHS = ("%",), ("m", "mm", "ft", "in")


class Subject(NamedTuple):
    """What a figure may be about: units, the highest figure (a share, or in m), whether at least so much is asked."""

    units: tuple[str, ...]
    most: float
    at_least: bool


FLOOD, UPLIFT, BLOCKAGE, OVERTOPPING = "flood probability", "uplift of flow", "blockage", "probability of overtopping"
FREEBOARD, SOFFIT, SIZE, RISE = "freeboard", "freeboard to soffit", "smallest size", "rise of level"

SUBJECTS = {
    FLOOD: Subject(SHARES, 1.0, False),
    UPLIFT: Subject(SHARES, 3.0, True),
    BLOCKAGE: Subject(SHARES, 1.0, True),
    OVERTOPPING: Subject(SHARES, 1.0, False),
    FREEBOARD: Subject(LENGTHS, 10.0, True),
    SOFFIT: Subject(LENGTHS, 10.0, True),
    SIZE: Subject(LENGTHS, 50.0, True),
    RISE: Subject(LENGTHS, 10.0, False),
}
"""Subjects by the words that a file uses for them."""


class RequiredLine(Table):
    """One figure that an authority asks for, which the report sets beside what the study has."""

    name: Text = Field(description="what the authority calls it, in quotation marks")
    about: Annotated[str, one_of(tuple(SUBJECTS))] = Field(
        description="what it is about, which says what it is set against"
    )
    figure: Annotated[float, bare_number(0.0)] = Field(description="the figure, in the unit given beside it")
    unit: Annotated[str, one_of(tuple(UNITS))] = Field(
        description='"%" for probabilities, uplifts and blockages, "m", "mm", "ft" or "in" for the others'
    )
    reference: Text = Field(description="where the figure stands: document, date, clause")

    @classmethod
    def disagreements(cls, raw: dict[str, Any]) -> Iterator[LocatedRefusal]:
        about, unit, figure = raw.get("about"), raw.get("unit"), as_float(raw.get("figure"))
        if not (isinstance(about, str) and about in SUBJECTS and isinstance(unit, str) and unit in UNITS):
            return
        subject = SUBJECTS[about]
        if unit not in subject.units:
            expected = f"the unit {list_of(subject.units)} for {about}"
            yield ("unit",), refusal(expected, f'"{unit}"', "Give the figure in that unit.")
        elif figure is not None and figure * UNITS[unit] > subject.most:
            most = number(subject.most / UNITS[unit])
            expected = f"a figure from 0 to {most} {unit} for {about}"
            yield ("figure",), refusal(expected, f"{number(figure)} {unit}", "Correct the figure or its unit.")

    @property
    def asked(self) -> float:
        """The figure as a share, or in m."""
        return self.figure * UNITS[self.unit]


class Requirements(Table):
    """An authority's own figures, in a TOML file beside the study. Whether one binds is for the authority to say."""

    authority: Text = Field(description="who asks for these figures, and as of when")
    line: list[RequiredLine] = Field(min_length=1, description="at least one table [[line]]")


def _read_file(raw: Any, info: ValidationInfo) -> Requirements:
    folder = folder_of(info)
    text = folder.text(raw)
    try:
        document = tomllib.loads(text)
    except RecursionError:
        raise refusal("a file in TOML", "tables nested too deeply to read", "Write it flatter.", str(raw)) from None
    except ValueError as error:
        what, _, where = str(error).removesuffix(")").partition(" (at ")
        raise refusal("a file in TOML", shortened(what), "Correct it there.", f"{raw}, {where}") from None
    try:
        return Requirements.model_validate(document)
    except ValidationError as error:
        lines = line_numbers(text)
        faults = [(item["loc"], item["ctx"]) for item in error.errors()]
        raise refusals(_in_the_file(str(raw), faults, lines)) from None


def _in_the_file(name: str, faults: list[Any], lines: dict[KeyPath, int]) -> Iterator[LocatedRefusal]:
    """The faults at the key that names the file, each with the line and the key in it."""
    for path, parts in faults:
        line = line_of(path, lines)
        where = [name, *([f"line {line}"] if line else []), *(str(step) for step in path[-1:] if isinstance(step, str))]
        yield (), refusal(parts["expected"], parts["got"], parts["remedy"], ", ".join(where))


RequirementsFile = Annotated[Requirements, PlainValidator(_read_file)]
"""The name of a file as a study writes it; the figures in it once it is read."""
