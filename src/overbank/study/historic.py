"""What is known of the years before a record of floods, as a study writes it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated, Any, ClassVar

from pydantic import Field, PlainValidator

from overbank.study.reading.folder import MOST_YEARS
from overbank.study.reading.plain import Text, as_float, bare_number, whole_number
from overbank.study.reading.refusals import LocatedRefusal, number, refusal, shown
from overbank.study.reading.table import Table
from overbank.uncertain import flood_record
from overbank.uncertain.floods import LEAST_FLOW, MOST_FLOW


def _read_floods(raw: Any) -> tuple[float, ...]:
    expected = f"a list of flows from {number(LEAST_FLOW)} to {number(MOST_FLOW)} m3/s"
    sound = (
        isinstance(raw, list)
        and len(raw) > 0
        and all(
            isinstance(each, int | float) and not isinstance(each, bool) and LEAST_FLOW <= each <= MOST_FLOW
            for each in raw
        )
    )
    if not sound:
        raise refusal(expected, shown(raw), "Write floods_m3_s = [21.5], for example.")
    return tuple(float(each) for each in raw)


class Historic(Table):
    """The years before the record of annual maxima, of which only large floods are known: a mark on a wall, a paper."""

    years: Annotated[int, whole_number(1, MOST_YEARS)] = Field(
        description="how many years before the record, those without a flood included"
    )
    threshold_m3_s: Annotated[float, bare_number(LEAST_FLOW, MOST_FLOW)] = Field(
        description="the flow above which a flood in these years would be known today [m3/s]"
    )
    floods_m3_s: Annotated[tuple[float, ...], PlainValidator(_read_floods)] = Field(
        (), description="the flows of those that are known [m3/s]"
    )
    more_floods: Annotated[int, whole_number(0, MOST_YEARS)] = Field(
        0, description="how many more were above the threshold, of unknown flow"
    )
    basis: Text | None = Field(None, description="where this is known from")

    IF_LEFT_OUT: ClassVar[Mapping[str, str]] = {
        "basis": "listed as a gap where the number is uncertain",
    }

    @classmethod
    def disagreements(cls, raw: dict[str, Any]) -> Iterator[LocatedRefusal]:
        given = raw.get("floods_m3_s", [])
        floods = [as_float(each) for each in given] if isinstance(given, list) else [None]
        years, more, least = (as_float(raw.get(key, 0)) for key in ("years", "more_floods", "threshold_m3_s"))
        known = [flood for flood in floods if flood is not None]
        if years is None or more is None or least is None or len(known) < len(floods):
            return  # which is told of the key itself
        low, count = [flood for flood in known if flood < least], len(known) + int(more)
        if low:
            expected = "floods at or above threshold_m3_s"
            yield ("floods_m3_s",), refusal(expected, f"{low[0]:g} m3/s", "Lower the threshold, or leave it out.")
        if count > years:
            expected, got = "no more floods than years", f"{count} floods in {years:g} years"
            yield ("years",), refusal(expected, got, "Correct the years: one flood a year, the largest.")

    @property
    def known(self) -> flood_record.Historic:
        """The same as the fit takes it."""
        return flood_record.Historic(self.years, self.threshold_m3_s, self.floods_m3_s, self.more_floods)
