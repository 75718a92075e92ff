"""Receptors, as a study writes them: what the water hurts, each with a level of its own."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, ClassVar

from pydantic import Field

from overbank.study.reading.folder import HIGHEST, LOWEST
from overbank.study.reading.plain import Text, bare_number
from overbank.study.reading.table import Table


class Receptor(Table):
    """Something that the water hurts from a level on: a door sill, a road, a yard. It stands under the level just
    upstream of an element, as if the water lay level as far as there."""

    name: Text = Field(description="what it is, in quotation marks")
    level_m: Annotated[float, bare_number(LOWEST, HIGHEST)] = Field(
        description="the level from which the water hurts it [m]"
    )
    at: Text | None = Field(None, description="the id of the element whose level just upstream reaches it")
    basis: Text | None = Field(None, description="where the level comes from")

    IF_LEFT_OUT: ClassVar[Mapping[str, str]] = {
        "at": "the element whose bank counts",
    }
