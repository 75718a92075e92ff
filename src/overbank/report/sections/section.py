"""What a section of the page is."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal

from overbank.outputs.outcome import Outcome
from overbank.outputs.registry import OUTPUTS, with_needs


@dataclass(frozen=True)
class Section:
    """A section of the page; its template stands beside it, under its anchor with underscores.

    anchor : its id on the page
    contents, title : in the list of contents, and over the section
    content : what its template shows, by name; None where there is nothing to say
    shows : names of the outputs that it shows; it stands on the page where any of them was found, or always
    figures : that it draws
    part : the front, which is at most three printed pages, or an appendix
    """

    anchor: str
    contents: str
    title: str
    content: Callable[[Outcome], dict[str, Any] | None]
    shows: tuple[str, ...] = ()
    figures: tuple[str, ...] = ()
    part: Literal["front", "appendix"] = "appendix"

    @property
    def template(self) -> str:
        """Name of the file of its template."""
        return f"{self.anchor.replace('-', '_')}.html"

    def is_found(self, outcome: Outcome) -> bool:
        """Whether the run has found something that it shows."""
        return not self.shows or bool(found(outcome).intersection(self.shows))


def found(outcome: Outcome) -> frozenset[str]:
    """Names of the outputs that were asked for, and of those that these need."""
    return frozenset(OUTPUTS if outcome.asked is None else with_needs(outcome.asked))
