"""The registry of kinds of element: a line a kind."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated, Any, NamedTuple, Protocol, get_args

from overbank.site.by_hand import bridge as bridge_by_hand
from overbank.site.by_hand import channel as channel_by_hand
from overbank.site.by_hand import culvert as culvert_by_hand
from overbank.site.by_hand import gate as gate_by_hand
from overbank.site.by_hand import side_weir as side_weir_by_hand
from overbank.site.by_hand import weir as weir_by_hand
from overbank.site.by_hand.steps import Case, Step
from overbank.study.elements.bridge import Bridge
from overbank.study.elements.channel import Channel, SurveyedChannel
from overbank.study.elements.culvert import Culvert
from overbank.study.elements.element import Element
from overbank.study.elements.gate import Gate
from overbank.study.elements.side_weir import SideWeir
from overbank.study.elements.weir import Weir
from overbank.study.reading.table import chosen_by


class ByHand(Protocol):
    """A hand calculation of one kind of structure; SOURCES are those of its formulas."""

    SOURCES: str

    def refusal(self, case: Case, structure: Any, /) -> str:
        """Why the run cannot be worked by hand with a few steps; empty where it can."""

    def steps(self, case: Case, structure: Any, /) -> Iterator[Step]:
        """From the flow to the level upstream."""


class Kind(NamedTuple):
    """A kind of element: its table in the study, which builds its structure; its hand calculation; other tables that
    a word further in asks for."""

    table: type[Element]
    by_hand: ByHand
    variants: tuple[type[Element], ...] = ()

    @property
    def word(self) -> str:
        """What a study calls it."""
        return str(get_args(self.table.model_fields["kind"].annotation)[0])


KINDS = {
    kind.word: kind
    for kind in (
        Kind(Culvert, culvert_by_hand),
        Kind(Channel, channel_by_hand, (SurveyedChannel,)),
        Kind(Weir, weir_by_hand),
        Kind(Bridge, bridge_by_hand),
        Kind(Gate, gate_by_hand),
        Kind(SideWeir, side_weir_by_hand),
    )
}
"""Every kind of element by its word."""

AnyElement = Annotated[Element, chosen_by("kind", {word: kind.table for word, kind in KINDS.items()})]


def table_of(raw: Mapping[str, Any]) -> type[Element] | None:
    """The table that checks an element as it is written; None where its kind is not known."""
    kind = KINDS.get(str(raw.get("kind")))
    if kind is None:
        return None
    variant = kind.table.variant(raw)
    assert issubclass(variant, Element)
    return variant
