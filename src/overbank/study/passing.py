"""The flood in time, as a study writes it: its shape, the debris that it brings while it passes, and the crew."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated, Any, ClassVar, Literal, get_args

from pydantic import Field, PlainValidator, ValidationInfo

from overbank.hydraulics.hydrographs import SCS_UNIT, Gamma, Polygon, Shape, Triangle
from overbank.study.collect import Collected
from overbank.study.reading.folder import HydrographTable, PoolTable, folder_of
from overbank.study.reading.numbers import Number, default, number_from
from overbank.study.reading.plain import Text, as_float, one_of
from overbank.study.reading.refusals import LocatedRefusal, refusal, shown
from overbank.study.reading.suggestions import likely
from overbank.study.reading.table import Table, unknown_keys

Word = Literal["triangle", "gamma", "scs_unit", "table"]
Grows = Literal["time", "flow"]

SHAPE = "flow.hydrograph"
DEBRIS = "flow.debris"
CREW = "flow.crew"
POOL = "flow.pool"
"""Dotted paths of the four tables."""

OWN = {"triangle": "falling_ratio", "gamma": "sharpness"}
"""The number of its own that a shape has."""

LEFT_OUT = {
    "falling_ratio": (1.67, "the SCS triangular unit hydrograph (from memory, unverified)"),
    "sharpness": (3.697, "the volume of the SCS peak rate factor 484 (own calculation)"),
}
"""What is taken where the study gives no number of the shape's own, and where that comes from."""

Hours = Annotated[Number, number_from(0.0, 2000.0, "hours")]
Share = Annotated[Number, number_from(0.0, 1.0, "a share")]
Level = Annotated[Number, number_from(-500.0, 9000.0, "a level [m]")]


def _read_table(raw: Any, info: ValidationInfo) -> HydrographTable:
    return folder_of(info).hydrograph(raw)


def _together(raw: dict[str, Any], unknown: set[str], *keys: str) -> Iterator[LocatedRefusal]:
    """Keys that mean nothing without each other."""
    missing = [key for key in keys if key not in raw]
    if missing and len(missing) < len(keys) and not any(likely(key, missing) for key in unknown):
        fault = refusal(" and ".join(keys) + ", or neither", "only one of them", f"Add {missing[0]} = ... here.")
        yield (missing[0],), fault


class Hydrograph(Table):
    """The shape of the flood, whose flow rises from the base flow to the peak, the design flow, and falls again."""

    shape: Annotated[Word, one_of(get_args(Word))] = Field(description="the shape of the flood")
    hours_to_peak: Annotated[Number, number_from(0.02, 2000.0, "hours")] | None = Field(
        None, description="from the beginning of the rise to the peak [hours]"
    )
    base_flow_m3_s: Annotated[Number, number_from(0.0, 20_000.0, "a flow [m3/s]")] = default(
        0.0, "no base flow given: the flood begins from nothing"
    )
    falling_ratio: Annotated[Number, number_from(0.1, 50.0, "a ratio")] | None = Field(
        None, description="of a triangle: the time of the fall over that of the rise"
    )
    sharpness: Annotated[Number, number_from(0.5, 50.0, "a number")] | None = Field(
        None, description="of the gamma shape: its exponent, larger for a sharper flood"
    )
    table: Annotated[HydrographTable, PlainValidator(_read_table)] | None = Field(
        None, description="the name of a CSV file with the header hours,flow_m3_s: a flood whose shape is taken"
    )

    IF_LEFT_OUT: ClassVar[Mapping[str, str]] = {
        "hours_to_peak": "needed, but with a table, whose own it then is",
        "falling_ratio": "1.67 for a triangle",
        "sharpness": "3.697 for the gamma shape",
        "table": 'needed with shape = "table"',
    }

    @classmethod
    def disagreements(cls, raw: dict[str, Any]) -> Iterator[LocatedRefusal]:
        word, unknown = raw.get("shape"), unknown_keys(cls, raw)
        if word not in get_args(Word):
            return
        own = {**OWN, "table": "table"}
        for shape, key in own.items():
            if key in raw and word != shape:
                fault = refusal(f'{key} only beside shape = "{shape}"', f"it beside {shown(word)}", "Remove it.")
                yield (key,), fault
        needed = "table" if word == "table" else "hours_to_peak"
        if needed not in raw and not any(likely(key, (needed,)) for key in unknown):
            yield (needed,), refusal(f'{needed} beside shape = "{word}"', "nothing", f"Add {needed} = ... here.")

    @property
    def form(self) -> Shape:
        """The shape itself."""
        if self.shape == "triangle":
            return Triangle()
        if self.shape == "gamma":
            return Gamma()
        if self.table is not None:
            return Polygon(self.table.times, self.table.shares)
        return SCS_UNIT

    @property
    def parameter(self) -> str | None:
        """Dotted path of the shape's own number; None of a polygon."""
        own = OWN.get(self.shape)
        return None if own is None else f"{SHAPE}.{own}"

    def fill(self, collected: Collected) -> None:
        """What is taken where the study leaves a number out."""
        if (own := OWN.get(self.shape)) is not None and getattr(self, own) is None:
            value, basis = LEFT_OUT[own]
            collected.add(f"{SHAPE}.{own}", Number(value, basis=basis, assumed=True))
        if self.hours_to_peak is None and self.table is not None:
            basis = f"the table {self.table.name}"
            collected.add(f"{SHAPE}.hours_to_peak", Number(self.table.hours_to_peak, basis=basis, assumed=True))


def _read_pool(raw: Any, info: ValidationInfo) -> PoolTable:
    return folder_of(info).pool(raw)


class FloodPool(Table):
    """The pool that the flood fills upstream of the place, its surface level: from a table, or from a reach above."""

    table: Annotated[PoolTable, PlainValidator(_read_pool)] | None = Field(
        None, description="the name of a CSV file with the header level_m,area_m2 or level_m,volume_m3"
    )
    reach: Text | None = Field(None, description="or the id of a channel above the place, in which the water stands")
    factor: Annotated[Number, number_from(0.0, 1000.0, "a factor")] = default(
        1.0, "no factor given: the pool is as large as its table or its reach says"
    )
    start_level_m: Level | None = Field(
        None, description="the level of the pool when the flood begins, the water outside holding a flap shut [m]"
    )

    IF_LEFT_OUT: ClassVar[Mapping[str, str]] = {
        "table": "needed, or reach",
        "reach": "needed, or table",
        "start_level_m": "the steady level of the flow with which the flood begins",
    }

    @classmethod
    def disagreements(cls, raw: dict[str, Any]) -> Iterator[LocatedRefusal]:
        given = [key for key in ("table", "reach") if key in raw]
        misspelt = any(likely(key, ("table", "reach")) for key in unknown_keys(cls, raw))
        if len(given) > 1 or (not given and not misspelt):
            remedy = "Keep one of them." if given else "Add one of them."
            yield (), refusal("one of table and reach", " and ".join(given) or "neither", remedy)


class FloodDebris(Table):
    """The debris that the flood brings while it passes, to the nearest screen or opening at or below the place. What
    blocks it already when the flood begins is its `blockage`."""

    rate_per_hour: Annotated[Number, number_from(0.0, 20.0, "a rate [1/hour]")] = Field(
        description="the blocked share that a clean opening gains in an hour [1/hour]"
    )
    grows_with: Annotated[Grows, one_of(get_args(Grows))] = Field(
        "time", description="evenly in time, or with the flow: then the rate is that at the median design flow"
    )
    ceiling: Annotated[Number, number_from(0.01, 1.0, "a share")] = default(
        1.0, "no ceiling given: the opening can be shut"
    )
    first_flush: Share | None = Field(
        None, description="the share of what is open below the ceiling that closes at once when the flow first reaches"
    )
    first_flush_flow_m3_s: Annotated[Number, number_from(0.0, 20_000.0, "a flow [m3/s]")] | None = Field(
        None, description="this flow [m3/s], the banks being washed"
    )
    arrivals_per_hour: Annotated[Number, number_from(0.0, 4.0, "a rate [1/hour]")] | None = Field(
        None, description="how often a raft comes at the median design flow, in proportion at others [1/hour]"
    )
    arrival_share: Share | None = Field(
        None, description="the share of what is open below the ceiling that each raft closes"
    )

    IF_LEFT_OUT: ClassVar[Mapping[str, str]] = {
        "first_flush": "none",
        "first_flush_flow_m3_s": "needed with first_flush",
        "arrivals_per_hour": "no rafts",
        "arrival_share": "needed with arrivals_per_hour",
    }

    @classmethod
    def disagreements(cls, raw: dict[str, Any]) -> Iterator[LocatedRefusal]:
        unknown = unknown_keys(cls, raw)
        yield from _together(raw, unknown, "first_flush", "first_flush_flow_m3_s")
        yield from _together(raw, unknown, "arrivals_per_hour", "arrival_share")


def _read_hours_of_day(raw: Any) -> tuple[float, float]:
    ends = [as_float(end) for end in raw] if isinstance(raw, list) else []
    if len(ends) != 2 or ends[0] is None or ends[1] is None or not 0.0 <= ends[0] < ends[1] <= 24.0:
        raise refusal("two hours of the day from 0 to 24, the earlier first", shown(raw), "Write [7, 17], for example.")
    return ends[0], ends[1]


class Crew(Table):
    """A crew that clears the opening while the flood passes, and stays to its end."""

    call_level_m: Level | None = Field(None, description="the level upstream of the place at which it is called [m]")
    seen_every_hours: Annotated[Number, number_from(0.02, 2000.0, "hours")] | None = Field(
        None, description="without telemetry: how often somebody looks at that level, first at any moment [hours]"
    )
    call_rise_m_per_hour: Annotated[Number, number_from(0.001, 100.0, "a rise [m/hour]")] | None = Field(
        None, description="or how fast the level rises upstream of the place when it is called [m/hour]"
    )
    called_hours_before_peak: Hours | None = Field(
        None, description="or, by a forecast, how long before the peak it is called [hours]"
    )
    travel_hours: Hours = Field(description="from the call until it works [hours]")
    clears_per_hour: Annotated[Number, number_from(0.0, 20.0, "a rate [1/hour]")] = Field(
        description="the share of the clear opening that it frees in an hour [1/hour]"
    )
    not_above_m: Level | None = Field(None, description="the level above which nobody may work there [m]")
    not_above_m_s: Annotated[Number, number_from(0.01, 20.0, "a velocity [m/s]")] | None = Field(
        None, description="the mean velocity in the reach just above the place from which nobody may work there [m/s]"
    )
    fails_to_come: Share = default(0.0, "no chance given: it always comes")
    daylight_hours: Annotated[tuple[float, float], PlainValidator(_read_hours_of_day)] | None = Field(
        None, description="two hours of the day between which it may work; the peak comes at any hour"
    )

    IF_LEFT_OUT: ClassVar[Mapping[str, str]] = {
        "call_level_m": "needed, or called_hours_before_peak",
        "called_hours_before_peak": "needed, or call_level_m",
        "seen_every_hours": "telemetry: the level is seen at every moment",
        "not_above_m": "it works at any level",
        "daylight_hours": "it works by day and by night",
    }

    @classmethod
    def disagreements(cls, raw: dict[str, Any]) -> Iterator[LocatedRefusal]:
        ways = ("call_level_m", "call_rise_m_per_hour", "called_hours_before_peak")
        given = [key for key in ways if key in raw]
        misspelt = any(likely(key, ways) for key in unknown_keys(cls, raw))
        if len(given) > 1 or (not given and not misspelt):
            remedy = "Keep one of them." if given else "Add one of them."
            yield (), refusal(f"one of {', '.join(ways)}", " and ".join(given) or "neither", remedy)
        if "seen_every_hours" in raw and ways[0] not in raw:
            expected, remedy = "seen_every_hours only beside call_level_m, which it looks at", "Remove it."
            yield ("seen_every_hours",), refusal(expected, "it without", remedy)
