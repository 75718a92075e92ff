"""What stands at the outlet of a culvert, as a study writes it: a flap valve, bars."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from overbank.study.patterns import Blockage
from overbank.study.reading.numbers import Number, default, number_from
from overbank.study.reading.table import Table
from overbank.study.sections import Bar, Gap, Size, Width


class Flap(Table):
    """A flap valve at the outlet of the main barrels."""

    loss: Annotated[Number, number_from(0.0, 20.0, "a loss coefficient")] = default(
        0.5,
        "0.1 lifted to 1.2 at low flow: own reading of a laboratory chart (SCS 1973, at second hand), judgement",
        "what the flap loses of the velocity head in the outlet",
    )
    shut: Annotated[Number, number_from(0.0, 0.99, "a share of the mouth")] = default(
        0.0, "it does not stick", "the share of the mouth that a stuck flap leaves shut; 0 while it does not stick"
    )


class OutletScreen(Table):
    """Bars at the outlet of the main barrels, all of them together."""

    width_m: Width = Field(description="the width of the bars, of all barrels together [m]")
    height_m: Size = Field(description="the height of the bars [m]")
    bar_m: Bar = Field(description="the thickness of a bar across the flow [m]")
    gap_m: Gap = Field(description="the clear gap between bars [m]")
    blockage: Blockage = default(0.0, "no blockage given: clean")
