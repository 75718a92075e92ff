"""How water enters a culvert, as a study writes it: an edge, or a tapered entrance with a face and a throat."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from difflib import get_close_matches
from typing import Annotated, Any, ClassVar

from pydantic import Field

from overbank.hydraulics.tables import inlet_edges
from overbank.study.reading.numbers import Number, default, number_from
from overbank.study.reading.plain import Text
from overbank.study.reading.refusals import LocatedRefusal, list_of, refusal, shown
from overbank.study.reading.table import Table, varied
from overbank.study.sections import BARRELS, Level, Reach, Rise, Width

FACE, THROAT = "tapered face", "tapered throat"
"""What the edges of the table of inlets say that belong to a tapered entrance."""


class Losses(Table):
    """What every inlet has."""

    head_factor: Annotated[Number, number_from(0.5, 2.0, "a factor")] = default(
        1.0,
        "the published inlet equation taken as it stands",
        "what the head of inlet control is multiplied by: the error of the inlet equation",
    )
    entrance_loss: Annotated[Number, number_from(0.0, 3.0, "a loss coefficient")] | None = Field(
        None, description="the entrance loss coefficient Ke"
    )
    exit_loss: Annotated[Number, number_from(0.0, 1.5, "a loss coefficient")] = default(
        1.0,
        "the whole velocity head is lost at the outlet",
        "the share of the velocity head that is lost at the outlet, Ko",
    )

    IF_LEFT_OUT: ClassVar[Mapping[str, str]] = {
        "entrance_loss": "the value of the table of inlets for the edge",
    }


class Face(Table):
    """The wide end of a tapered entrance, one to each barrel. Debris on a culvert without a screen lies here."""

    edge: Text = Field(description="the face in the words of the table of inlets")
    width_m: Width = Field(description="the clear width of the face of one barrel [m]")
    height_m: Rise = Field(description="the clear height of the face [m]")
    invert_level_m: Level | None = Field(None, description="the level of the bed at the face [m]")
    taper_length_m: Reach | None = Field(None, description="the length along the flow from face to throat [m]")

    IF_LEFT_OUT: ClassVar[Mapping[str, str]] = {
        "invert_level_m": "the upstream invert of the barrel",
        "taper_length_m": "how slowly it tapers is not checked",
    }


class TaperedInlet(Losses):
    """A tapered (flumed) entrance, which narrows from its face to the throat, where the barrel begins."""

    face: Face = Field(description="a table with the keys edge, width_m, height_m")
    throat: Text = Field(description="the throat in the words of the table of inlets")


class Inlet(Losses):
    """How the water enters the barrel."""

    edge: Text = Field(description="the inlet in the words of the table of inlets")

    @classmethod
    def variant(cls, raw: Any) -> type[Table]:
        return TaperedInlet if isinstance(raw, dict) and ("face" in raw or "throat" in raw) else cls


AnyInlet = Annotated[Inlet | TaperedInlet, varied(Inlet)]


def unknown_edges(raw: dict[str, Any]) -> Iterator[LocatedRefusal]:
    """Words of a culvert's inlet that are not in the table of inlets for a barrel of its shape."""
    barrel, inlet = raw.get("barrel"), raw.get("inlet")
    shape = barrel.get("shape") if isinstance(barrel, dict) else None
    if not isinstance(shape, str) or shape not in BARRELS or not isinstance(inlet, dict):
        return
    edges = inlet_edges(shape)
    what = f"the words of the table of inlets for a barrel of the shape {shape}"
    if Inlet.variant(inlet) is Inlet:
        yield from _unknown(("inlet", "edge"), inlet.get("edge"), edges, what)
        return
    faces, throats = ([edge for edge in edges if kind in edge] for kind in (FACE, THROAT))
    if not faces:
        tested = [each for each in BARRELS if any(FACE in edge for edge in inlet_edges(each))]
        expected = f"a barrel of the shape {list_of(tested)}, with which tapered entrances were tested"
        yield ("inlet", "face"), refusal(expected, f"one of the shape {shape}", "Give an edge instead.")
        return
    face = inlet.get("face")
    yield from _unknown(
        ("inlet", "face", "edge"), face.get("edge") if isinstance(face, dict) else None, faces, f"{what}, for a face"
    )
    yield from _unknown(("inlet", "throat"), inlet.get("throat"), throats, f"{what}, for a throat")


def _unknown(path: tuple[str, ...], edge: Any, edges: list[str], expected: str) -> Iterator[LocatedRefusal]:
    if isinstance(edge, str) and edge not in edges:
        near = get_close_matches(edge, edges, n=3, cutoff=0.6) or edges
        yield path, refusal(expected, shown(edge), f"Write {list_of(near)}.")
