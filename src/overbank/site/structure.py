"""What every structure of the row answers, and the small things that its answers are made of."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar, NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray

from overbank.site.numbers import Array, Numbers, Results, Water

if TYPE_CHECKING:  # each stands beside the march that gathers it from every structure
    from overbank.hydraulics.pools import ReachPool
    from overbank.site.cross_section import CrossSection
    from overbank.site.design_checks import DesignCheck, Filling
    from overbank.site.long_section import Outline, Station
    from overbank.site.people import AtStructure, Bodies


class Figure(NamedTuple):
    """A result worth telling.

    name : among the results; reported : its name with the unit, as files have it
    words : a line of a report, with the place of the number; empty where it stands in files only
    """

    name: str
    reported: str
    words: str = ""


class Published(NamedTuple):
    """A row of a published table that a structure rests on: what it is, its values, where it comes from."""

    words: str
    values: str
    source: str
    verified: bool
    note: str


@dataclass(frozen=True)
class Solved:
    """What a structure has made of every sample.

    flow : [m3/s]; tailwater, level : just downstream and just upstream [m]
    results : everything else by name; numbers : those of the site
    """

    flow: Array
    tailwater: Array
    level: Array
    results: Results
    numbers: Numbers


Drawn = Callable[[str], float]
"""A number of one structure at the medians, by its path within it; nan where it has none."""

Corner = tuple[float, float]

Said = Iterator[tuple[str, NDArray[np.bool_] | Array]]
"""Words, and where among the samples they hold."""


class Structure(Protocol):
    """One element of the row. Its numbers stand under its id in the table of numbers.

    kind : the word for it; figures : results worth telling
    is_reach : it is the water's own bed, with nothing in it: there is nothing to take away
    has_length : it takes a length along the flow from the study
    spills : water leaves the row in it, `over_flow` among its results; the flow through it is that at its lower end
    """

    @property
    def id(self) -> str: ...

    kind: ClassVar[str]
    figures: ClassVar[tuple[Figure, ...]]
    is_reach: ClassVar[bool]
    has_length: ClassVar[bool]
    spills: ClassVar[bool]

    def headwater(self, flow: Array, tailwater: Water, numbers: Numbers) -> Water:
        """Water just upstream, and nothing else: what the threshold method asks for again and again."""

    def solve(self, flow: Array, tailwater: Water, numbers: Numbers) -> Results:
        """Everything worth reporting by name, `level` among it, and `energy` where it is not that of a still pool."""

    def against_bank(self, flow: Array, tailwater: Water, water: Water, numbers: Numbers, /) -> Array:
        """Level to set against its bank [m], the water upstream being known: that level, unless the bank has a line."""

    def states(self, results: Results) -> dict[str, Array]:
        """What governs every sample: whole numbers by name; nan where there is no solution."""

    def governs(self, state: Mapping[str, float]) -> str:
        """One state in words."""

    def remarks(self, solved: Solved) -> Said:
        """Conditions that a reader must know of: formulas outside their range above all."""

    def across(self, numbers: Numbers, top: float, /) -> CrossSection:
        """How it looks across the flow at its upstream end, at the medians; channels are drawn up to a level [m]."""

    def outline(self, number: Drawn, start: float) -> Outline:
        """How it is drawn, its downstream end at a chainage."""

    def stations(self, drawn: Outline, tailwater: Water, solved: Solved, /) -> list[Station]:
        """Places along it with their water levels, going upstream."""

    def drawing_notes(self) -> tuple[str, ...]:
        """What must be said of its drawing."""

    def bed_below(self, numbers: Numbers, /) -> float:
        """Bed level just below it [m]; nan where the bed may step at it."""

    def bed_above(self, numbers: Numbers, /) -> float:
        """Bed level at its upper end [m]; nan when it is not known."""

    def length(self, numbers: Numbers, /) -> float:
        """Length along the flow [m]; 0 where it takes none from the study."""

    def absent(self, above: Structure | None, tailwater: Water, numbers: Numbers, /) -> tuple[Water, float]:
        """The water just above its place were it not there, and the bed level to which that place goes."""

    def pool(self, numbers: Numbers, samples: int, /) -> ReachPool | None:
        """The water that stands in it below a level surface; None where it is no reach."""

    def published(self) -> tuple[Published, ...]:
        """Rows of published tables that it rests on."""

    def design_checks(self, solved: Solved, /) -> tuple[DesignCheck, ...]:
        """The usual design checks; none where there are no usual ones."""

    def fillings(self, solved: Solved, /) -> tuple[Filling, ...]:
        """How its barrels flow; none where it has no barrels."""

    def people(self, solved: Solved, bodies: Bodies, /) -> AtStructure | None:
        """What the water does to people at it; None where that is not looked at."""
