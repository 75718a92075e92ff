"""What can be read of a study that may have faults: names, and every number that is sound by itself.

Checks that hold several numbers against each other work on these, so that a fault in one table does not hide
another fault elsewhere.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Annotated, Any

from pydantic import PlainValidator, TypeAdapter, ValidationError

from overbank.study.flow import Flow, design_flow, floods_of
from overbank.study.patterns import WORDED, Blockage
from overbank.study.reading.families import FAMILIES
from overbank.study.reading.folder import Folder
from overbank.study.reading.lines import KeyPath
from overbank.study.reading.numbers import Number, read_number
from overbank.study.reading.worded import worded

NUMBER: TypeAdapter[Number] = TypeAdapter(Annotated[Number, PlainValidator(read_number)])
WORDS: dict[str, TypeAdapter[Number]] = {
    key: TypeAdapter(Annotated[Number, worded(words)]) for key, words in WORDED.items()
} | {"blockage": TypeAdapter(Blockage)}
Document = dict[str, Any]

COUNTED = {"zones": "zone", "part": "part", "further_openings": "further_opening"}
"""Lists of tables with numbers in them, and what one of them is called in a dotted name: zone_1, part_1."""

DEEPEST = 12
"""Tables within tables that are looked into; no number of a study lies so deep."""


class Readable:
    """The numbers of a parsed study that have no fault of their own, by key path."""

    def __init__(self, document: Document, folder: Folder, faulty: set[KeyPath], seed: int) -> None:
        self.document = document
        self.folder = folder
        self.faulty = faulty
        self.seed = seed
        self.numbers: dict[KeyPath, Number] = {}
        for key in ("tailwater", "element"):
            self._collect(document.get(key), (key,))
        for number in [each for each in self.numbers.values() if each.shared]:
            self.numbers[tuple(number.shared.split("."))] = replace(number, shared="")
        flow = document.get("flow")
        if isinstance(flow, dict) and "design_m3_s" in flow:
            self._collect(flow["design_m3_s"], ("flow", "design_m3_s"))
        self._keep_floods()

    def _collect(self, value: Any, path: KeyPath) -> None:
        if len(path) > DEEPEST:
            return
        if path[-1] in WORDS:
            self._keep(WORDS[str(path[-1])], value, path)
        elif isinstance(value, dict) and not any(key in value for key in ("value", *FAMILIES)):
            for key, item in value.items():
                self._collect(item, (*path, key))
        elif isinstance(value, list):
            for index, item in enumerate(value):
                self._collect(item, (*path, index))
        elif not isinstance(value, str):
            self._keep(NUMBER, value, path)

    def _keep(self, adapter: TypeAdapter[Number], value: Any, path: KeyPath) -> None:
        if self.has_fault(path):
            return
        try:
            self.numbers[path] = adapter.validate_python(value, context={"folder": self.folder})
        except ValidationError:
            return  # not a number, or one whose fault the schema reports

    def flow(self) -> Flow | None:
        """The flood; None where it has a fault."""
        if "flow" not in self.document or self.has_fault(("flow",)):
            return None
        return Flow.model_validate(self.document["flow"], context={"folder": self.folder})

    def _keep_floods(self) -> None:
        """The flood of a year, and the design flow where it comes from the floods of a year."""
        flow = self.flow()
        try:
            floods = None if flow is None else floods_of(flow, self.seed)
        except ValueError:
            return  # `impossible_floods` reports it
        if flow is not None and floods is not None:
            self.numbers["flow", "annual"] = Number(floods.best.median, floods.best, kind="each flood")
            self.numbers["flow", "design_m3_s"] = design_flow(flow, floods)

    def has_fault(self, path: KeyPath) -> bool:
        """Whether a fault was found at a key or below it."""
        return any(fault[: len(path)] == path for fault in self.faulty)

    def elements(self) -> Iterator[tuple[int, dict[str, Any]]]:
        """The elements that are tables, each with its place in the list."""
        found = self.document.get("element")
        for index, element in enumerate(found if isinstance(found, list) else []):
            if isinstance(element, dict):
                yield index, element

    def names(self) -> dict[str, Number]:
        """Numbers by the dotted name that a user gives them."""
        return {dotted(path, self.document): number for path, number in self.numbers.items()}


def dotted(path: KeyPath, document: Document) -> str:
    """A key path as a user writes it: an element by its id, a zone as zone_1, items of other lists counted from 1."""
    words: list[str] = []
    steps = list(path)
    if path[:1] == ("element",) and len(path) > 1:
        words, steps = [_element_name(path[1], document)], list(path[2:])
    for step in steps:
        if isinstance(step, int) and words:
            counted = COUNTED.get(words[-1])
            words[-1] = f"{counted}_{step + 1}" if counted else f"{words[-1]} {step + 1}"
        else:
            words.append(str(step))
    return ".".join(words)


def _element_name(index: str | int, document: Document) -> str:
    elements = document.get("element")
    if isinstance(elements, list) and isinstance(index, int) and index < len(elements):
        element = elements[index]
        name = element.get("id") if isinstance(element, dict) else None
        if isinstance(name, str) and name:
            return name
        return f"element {index + 1}"
    return f"element.{index}"
