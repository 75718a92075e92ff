"""What every kind of element of a study answers: its keys, what it leaves out, its geometry, the structure it is."""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Iterator, Mapping
from typing import Annotated, Any, ClassVar

from pydantic import Field

from overbank.site.structure import Structure
from overbank.study.collect import Collected
from overbank.study.elements.asked import STAND_INS
from overbank.study.elements.extents import Extent, Reader
from overbank.study.elements.people import Persons
from overbank.study.reading.numbers import Number, number_from
from overbank.study.reading.plain import Id
from overbank.study.reading.refusals import LocatedRefusal
from overbank.study.reading.table import Table


class Element(Table):
    """One element of the row. What is asked of the table as written takes it raw, for it may have faults."""

    NAMES: ClassVar[Mapping[str, tuple[str, str]]] = {}
    """Its numbers in plain words with their unit, by key, where the key does not say it."""

    IS_REACH: ClassVar[bool] = False
    """Whether it is the water's own bed, in which a pool can stand."""

    kind: str
    id: Id = Field(description="a short name for the element")
    inflow_m3_s: Annotated[Number, number_from(0.0, 100_000.0, "a flow [m3/s]")] | None = Field(
        None, description="the flow that joins just above the element and goes through it [m3/s]"
    )

    IF_LEFT_OUT: ClassVar[Mapping[str, str]] = {
        "inflow_m3_s": "nothing joins here",
        "bank_level_m": "no bank is compared here; at least one element needs one",
    }

    @property
    def has_bank(self) -> bool:
        """Whether the study gives the level of its bank."""
        return any(dict(self).get(key) is not None for key in ("bank_level_m", "bank"))

    @abstractmethod
    def fill(self, collected: Collected, below: Element | None) -> None:
        """Add what the study leaves out; `below` is the element below it."""

    @abstractmethod
    def bed_above(self) -> tuple[str, tuple[str, ...]]:
        """Dotted path of the bed at its upstream end; or of what it rises from, and the factors of that rise."""

    @abstractmethod
    def bed_below(self) -> str:
        """Dotted path of the bed at its downstream end."""

    @property
    def foot(self) -> tuple[str, str] | None:
        """Dotted path and shape of the simple open channel that it is at its downstream end, if it is one."""
        return None

    @abstractmethod
    def build(self, above: Element | None) -> Structure:
        """The structure itself; `above` is the element above it."""

    def persons(self) -> Persons | None:
        """What the study says of people at it; None where they are not looked at."""
        return None

    @classmethod
    @abstractmethod
    def impossible(cls, reader: Reader, raw: dict[str, Any], below: Extent | None) -> Iterator[LocatedRefusal]:
        """Numbers that cannot stand together; `below` is the bed on which the element stands, where that is known."""

    @classmethod
    @abstractmethod
    def top(cls, reader: Reader, raw: dict[str, Any], below: Extent | None) -> Extent | None:
        """The bed at its upstream end, as far as the table can be read."""

    @classmethod
    def as_the_first(cls, raw: dict[str, Any], normal_depth: dict[str, Any] | None) -> Iterator[LocatedRefusal]:  # noqa: ARG003
        """What is missing where no element lies below it; `normal_depth` is the tailwater's table, if there is one."""
        return iter(())


def fill_asked(collected: Collected, own: str, asked: Table | None, key: str) -> None:
    """What a design check is set against where the study asks for nothing."""
    if asked is None or getattr(asked, key) is None:
        collected.add(f"{own}.asked.{key}", STAND_INS[key])
