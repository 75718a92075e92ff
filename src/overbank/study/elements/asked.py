"""What is asked of a culvert and of a bridge: the other side of the usual design checks, certain and set elsewhere."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, ClassVar

from pydantic import Field, PlainValidator, ValidationInfo

from overbank.study.reading.numbers import Certain, Number
from overbank.study.reading.plain import as_float, not_a_number
from overbank.study.reading.refusals import number, refusal, shown
from overbank.study.reading.table import Table


def certain_number(low: float, high: float, what: str) -> PlainValidator:
    """A number inside limits that is never uncertain, such as what is asked for."""
    expected = f"{what} from {number(low)} to {number(high)}, one certain number"

    def read(raw: Any, info: ValidationInfo) -> Number:
        if isinstance(raw, dict):
            if "value" not in raw:
                raise refusal(expected, shown(raw), "Write the one number.")
            asked = Certain.model_validate(raw, context=info.context).number()
        else:
            value = as_float(raw)
            if value is None:
                raise refusal(expected, shown(raw), not_a_number(raw))
            asked = Number(value)
        if not low <= asked.median <= high:
            raise refusal(expected, shown(asked.median), "Correct the number (the unit stands at the end of its name).")
        return asked

    return PlainValidator(read)


class AskedOfCulvert(Table):
    """What local standards ask of a culvert; nothing here is enforced, the report sets the figures against it."""

    freeboard_to_soffit_m: Annotated[Number, certain_number(0.0, 10.0, "a height [m]")] | None = Field(
        None, description="the free height from the water up to the soffit, in the barrel and at its inlet [m]"
    )
    screen_area_ratio: Annotated[Number, certain_number(0.0, 100.0, "a ratio")] | None = Field(
        None, description="the open area of the clean screen over the opening area of the barrels behind it"
    )

    IF_LEFT_OUT: ClassVar[Mapping[str, str]] = {
        "freeboard_to_soffit_m": "0: nothing is asked for",
        "screen_area_ratio": "3, common practice, no source",
    }


class AskedOfBridge(Table):
    """What local standards ask of a bridge; nothing here is enforced, the report sets the figures against it."""

    air_gap_m: Annotated[Number, certain_number(0.0, 10.0, "a height [m]")] | None = Field(
        None, description="the free height from the water upstream up to the lowest soffit [m]"
    )

    IF_LEFT_OUT: ClassVar[Mapping[str, str]] = {
        "air_gap_m": "0: nothing is asked for",
    }


STAND_INS = {
    "freeboard_to_soffit_m": Number(0.0, basis="no freeboard asked for; local standards set one", assumed=True),
    "screen_area_ratio": Number(
        3.0, basis="at least three times is common practice, no source; local standards set one", assumed=True
    ),
    "air_gap_m": Number(0.0, basis="no air gap asked for; local standards set one", assumed=True),
}
"""What the figures are set against where a study asks for nothing."""
