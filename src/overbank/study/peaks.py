"""Peaks over a threshold, as a study writes them."""

from __future__ import annotations

from typing import Annotated, Any, Self

from pydantic import Field, PlainValidator, ValidationInfo, model_validator

from overbank.study.reading.folder import MOST_YEARS, folder_of
from overbank.study.reading.plain import bare_number
from overbank.study.reading.refusals import refusal_at
from overbank.study.reading.table import Table
from overbank.uncertain import flood_record
from overbank.uncertain.floods import LEAST_FLOW, MOST_FLOW


def _read_peaks(raw: Any, info: ValidationInfo) -> tuple[float, ...]:
    return folder_of(info).peaks(raw, LEAST_FLOW, MOST_FLOW)


class Peaks(Table):
    """Every flood above a threshold instead of the largest of each year: apart from each other, one peak each."""

    file: Annotated[tuple[float, ...], PlainValidator(_read_peaks)] = Field(
        description="the name of a CSV file with the header flow_m3_s, or year or date before it: the peak of each "
        "flood [m3/s]; a year may have several or none"
    )
    threshold_m3_s: Annotated[float, bare_number(LEAST_FLOW, MOST_FLOW)] = Field(
        description="the flow that every peak is above, and above which none is missing [m3/s]"
    )
    years: Annotated[float, bare_number(1.0, MOST_YEARS)] = Field(
        description="how long the flow was watched, years without a peak included and gaps left out"
    )

    @model_validator(mode="after")
    def _above(self) -> Self:
        low = [flow for flow in self.file if flow <= self.threshold_m3_s]
        if low:
            got, remedy = f"{low[0]:g} m3/s in the file", "Raise the threshold, or remove the smaller floods."
            raise refusal_at(("threshold_m3_s",), "a threshold below every peak", got, remedy)
        return self

    @property
    def known(self) -> flood_record.Peaks:
        """The same as the fit takes it."""
        return flood_record.Peaks(self.file, self.threshold_m3_s, self.years)
