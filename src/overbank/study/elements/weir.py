"""A weir as a study writes it: a level crest of one of five kinds, straight or oblique, or an uneven one."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated, Any, ClassVar, Literal

from pydantic import Field

from overbank.hydraulics.tables import read_table
from overbank.site import weir as site
from overbank.study.collect import Collected, Follower
from overbank.study.elements.approach import WithApproach, approach_bed, channel_width
from overbank.study.elements.element import Element
from overbank.study.elements.extents import Extent, Reader, out_of_order, remedy
from overbank.study.elements.profiles import PROFILE, Profile, Shift, crest_line, fill_profile, lowest_of_profile
from overbank.study.reading.numbers import Number, default, number_from
from overbank.study.reading.refusals import LocatedRefusal, refusal
from overbank.study.reading.suggestions import meant
from overbank.study.reading.table import Table, chosen_by, unknown_keys
from overbank.study.sections import Level, Width
from overbank.study.surveyed import AnyApproach, Approach, SurveyedApproach, has_survey

Breadth = Annotated[Number, number_from(0.005, 100.0, "a breadth [m]")]
Coefficient = Annotated[Number, number_from(0.5, 3.0, "a weir coefficient [m^0.5/s]")]
FlowFactor = Annotated[Number, number_from(0.5, 2.0, "a factor")]
ModularLimit = Annotated[Number, number_from(0.0, 0.95, "a modular limit")]


class Crest(Table):
    """What crests of every kind have."""

    level_m: Level = Field(description="the level of the crest [m]")
    width_m: Width | None = Field(None, description="the width of channel that the crest spans, square to the flow [m]")
    angle_deg: Annotated[Number, number_from(0.0, 75.0, "an angle [deg]")] = default(
        0.0,
        "the crest lies square to the flow",
        "the angle between the crest's normal and the channel; 0 for a straight crest [deg]",
    )
    oblique_gain: Annotated[Number, number_from(0.0, 3.0, "a factor")] = default(
        1.0,
        "middle of the judged band of what an oblique crest's extra length counts",
        "what is multiplied into the share of an oblique crest's extra length that counts",
    )
    flow_factor: FlowFactor = default(
        1.0,
        "the coefficient taken as it stands",
        "what the flow over the crest is multiplied by: the error of its coefficient",
    )

    IF_LEFT_OUT: ClassVar[Mapping[str, str]] = {
        "width_m": "the width of a rectangular approach; needed where the approach is a trapezoid or surveyed",
        "modular_limit": "that of the table of modular limits for the kind of crest",
    }


class BroadCrested(Crest):
    """A level crest with square edges, long along the flow."""

    kind: Literal["broad_crested"]
    breadth_m: Breadth = Field(description="the breadth of the crest along the flow [m]")
    modular_limit: ModularLimit | None = Field(None, description="the ratio of heads up to which it is not drowned")


class RoundNosed(Crest):
    """A level crest with a rounded upstream edge."""

    kind: Literal["round_nosed"]
    breadth_m: Breadth = Field(description="the breadth of the crest along the flow [m]")
    modular_limit: ModularLimit | None = Field(None, description="the ratio of heads up to which it is not drowned")


class ThinPlate(Crest):
    """A sharp plate, its nappe ventilated; drowned as soon as the water below stands above it."""

    kind: Literal["thin_plate"]


class TriangularProfile(Crest):
    """A triangular profile, 1 in 2 upstream and 1 in 5 downstream, which is drowned along a curve of its own."""

    kind: Literal["triangular"]


class GivenCoefficient(Crest):
    """A crest of any profile with a coefficient from elsewhere, on the energy head."""

    kind: Literal["given"]
    coefficient: Coefficient = Field(description="the weir coefficient on the energy head [m^0.5/s]")
    modular_limit: ModularLimit | None = Field(None, description="the ratio of heads up to which it is not drowned")


class UnevenCrest(Table):
    """A straight crest whose level changes along it, with a coefficient from elsewhere, on the energy head; it ends at
    upright walls."""

    kind: Literal["uneven"]
    profile: Profile = Field(description=PROFILE)
    shift_m: Shift = default(
        0.0,
        "the levels of the profile as they stand",
        "what is added to every level of the survey or profile: the error of its datum [m]",
    )
    coefficient: Coefficient = Field(description="the weir coefficient on the energy head [m^0.5/s]")
    modular_limit: ModularLimit | None = Field(None, description="the ratio of heads up to which it is not drowned")
    flow_factor: FlowFactor = default(
        1.0,
        "the coefficient taken as it stands",
        "what the flow over the crest is multiplied by: the error of its coefficient",
    )

    IF_LEFT_OUT: ClassVar[Mapping[str, str]] = {
        "modular_limit": "that of the table of modular limits for the kind of crest",
    }


CRESTS: dict[str, type[Table]] = {
    "broad_crested": BroadCrested,
    "round_nosed": RoundNosed,
    "thin_plate": ThinPlate,
    "triangular": TriangularProfile,
    "given": GivenCoefficient,
    "uneven": UnevenCrest,
}
"""Every kind of crest by its word."""

AnyCrest = Annotated[
    BroadCrested | RoundNosed | ThinPlate | TriangularProfile | GivenCoefficient | UnevenCrest,
    chosen_by("kind", CRESTS),
]


WITHOUT_ONE_WIDTH = {"trapezoid": "a trapezoid", "surveyed": "a surveyed section"}
"""Shapes of an approach beside which a crest must say how wide it is."""


class Weir(WithApproach):
    """A weir across the channel. The bank is compared with the level just upstream."""

    kind: Literal["weir"]
    crest: AnyCrest = Field(description="a table with the keys kind, level_m, ...")
    approach: AnyApproach = Field(description="a table with the keys section, bed_level_m")
    bank_level_m: Level | None = Field(None, description="the level at which the water leaves its banks [m]")

    NAMES: ClassVar[Mapping[str, tuple[str, str]]] = {
        "oblique_gain": ("factor on the gain of an oblique crest", ""),
        "flow_factor": ("factor on the flow over the crest", ""),
    }

    @classmethod
    def disagreements(cls, raw: dict[str, Any]) -> Iterator[LocatedRefusal]:
        crest, approach = raw.get("crest"), raw.get("approach")
        section = approach.get("section") if isinstance(approach, dict) else None
        what = WITHOUT_ONE_WIDTH.get(str(section.get("shape"))) if isinstance(section, dict) else None
        if what is None or not isinstance(crest, dict):
            return
        table = CRESTS.get(str(crest.get("kind")))
        if table is None or "width_m" in crest or "width_m" not in table.model_fields:
            return
        if "width_m" not in meant(unknown_keys(table, crest), table.model_fields):
            expected = f"the width of channel that the crest spans [m], as {what} has no one width"
            yield ("crest", "width_m"), refusal(expected, "nothing", "Add width_m = ... here.")

    @property
    def channel(self) -> Approach | SurveyedApproach:
        return self.approach

    def fill(self, collected: Collected, below: Element | None) -> None:
        super().fill(collected, below)
        crest = f"{self.id}.crest"
        if isinstance(self.crest, UnevenCrest):
            fill_profile(collected, self.crest.profile, crest, "width_m")
        elif self.crest.width_m is None:
            collected.follow(Follower(f"{crest}.width_m", f"{self.id}.approach.section.width_m"))
        if isinstance(self.crest, TriangularProfile):
            return  # drowned along a curve of its own
        if isinstance(self.crest, ThinPlate) or self.crest.modular_limit is None:
            collected.add(f"{crest}.modular_limit", _modular_limit(self.crest.kind))

    def build(self, above: Element | None) -> site.Weir:  # noqa: ARG002
        line = crest_line(self.crest.profile) if isinstance(self.crest, UnevenCrest) else None
        return site.Weir(self.id, self.crest.kind, self.approach.section.shape, self.survey, line)

    @classmethod
    def impossible(cls, reader: Reader, raw: dict[str, Any], below: Extent | None) -> Iterator[LocatedRefusal]:  # noqa: ARG003
        """A crest under the bed, over the bank, or wider than the channel without an angle."""
        bed, crest = approach_bed(reader, raw), reader.get("crest", "crest", "level_m")
        if lowest := lowest_of_profile(reader, raw.get("crest"), ("crest",), "profile"):
            if bed and (wrong := out_of_order(lowest, bed)):
                fault = refusal("a crest above the bed of the approach", wrong, remedy(wrong))
                yield (*reader.path, "crest", "profile"), fault
            yield from reader.order(("bank_level_m",), "bank", lowest, "a bank above the lowest point of the crest")
        yield from reader.order(("crest", "level_m"), "crest", bed, "a crest above the bed of the approach")
        yield from reader.order(("bank_level_m",), "bank", crest, "a bank above the crest")
        angle = reader.get("angle", "crest", "angle_deg")
        if angle is not None and angle.high > 0.0:
            return
        width, channel = (reader.get("crest", "crest", "width_m"), channel_width(reader, raw, crest, bed))
        if width and channel and (wrong := out_of_order(channel, width, equal=True)):
            expected = "a crest that is not wider than the channel, unless it lies at an angle"
            yield (*reader.path, "crest", "width_m"), refusal(expected, wrong, remedy(wrong))

    @classmethod
    def as_the_first(cls, raw: dict[str, Any], normal_depth: dict[str, Any] | None) -> Iterator[LocatedRefusal]:  # noqa: ARG003
        if normal_depth is not None and not has_survey(normal_depth) and "bed_level_m" not in normal_depth:
            expected = "the level of the bed [m], as the bed below a weir may lie lower than the one above it"
            path = ("tailwater", "normal_depth", "bed_level_m")
            yield path, refusal(expected, "nothing", "Add bed_level_m = ... here.")


def _modular_limit(kind: str) -> Number:
    """The published modular limit of a kind of crest, of the case that its table lists first."""
    known = "given" if kind == "uneven" else kind
    row = next(row for row in read_table("crest_modular_limits") if row["kind"] == known)
    basis = f"{row['case']}: {row['source']} ({row['how_known']})"
    return Number(float(row["mode"]), basis=basis, assumed=True)
