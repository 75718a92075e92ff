"""Floods that were seen, as a study writes them: the flow then, and the level that the water reached."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Annotated, Any, ClassVar

from pydantic import Field

from overbank.study.collect import Assumption
from overbank.study.reading.folder import HIGHEST, LOWEST
from overbank.study.reading.numbers import Number, number_from
from overbank.study.reading.plain import Text, bare_number
from overbank.study.reading.refusals import LocatedRefusal, number, refusal
from overbank.study.reading.table import Table
from overbank.uncertain.floods import LEAST_FLOW, MOST_FLOW


class Observation(Table):
    """A flood that was seen, such as a wrack mark or a gauge's peak. The uncertain numbers are re-weighted by how well
    they would have foretold it; what comes out anew in each flood, such as a blockage, is not learnt from it."""

    flow_m3_s: Annotated[Number, number_from(LEAST_FLOW, MOST_FLOW, "a flow [m3/s]")] = Field(
        description="the flow of that flood [m3/s]"
    )
    level_m: Annotated[float, bare_number(LOWEST, HIGHEST)] = Field(description="the highest level that was seen [m]")
    sd_m: Annotated[float, bare_number(0.0, open_ends=True)] = Field(
        description="the standard deviation of its error: of the mark, its survey, and what the model cannot know [m]"
    )
    at: Text | None = Field(None, description="the id of the element just upstream of which it was seen")
    basis: Text | None = Field(None, description="where the observation comes from")

    IF_LEFT_OUT: ClassVar[Mapping[str, str]] = {
        "at": "the element whose bank counts",
    }

    @classmethod
    def disagreements(cls, raw: dict[str, Any]) -> Iterator[LocatedRefusal]:
        flow = raw.get("flow_m3_s")
        for key in ("survey", "kind"):
            if isinstance(flow, dict) and key in flow:
                yield ("flow_m3_s", key), refusal(f"no {key} of a flood that is over", "one", "Remove it.")


def observation_name(index: int) -> str:
    """What an observation is called: by its place in the file, counted from 1."""
    return f"observation {index + 1}"


def observed(observations: Sequence[Observation]) -> list[Assumption]:
    """What the observations add to the register."""
    lines = []
    for index, each in enumerate(observations):
        name, flow = observation_name(index), each.flow_m3_s
        words = flow.distribution.words if flow.distribution is not None else number(flow.median)
        basis = flow.basis or each.basis
        lines.append(Assumption(f"{name}.flow_m3_s", words, flow.uncertain, basis, flow.evidence, False))
        words = f"{number(each.level_m)}, standard deviation of the error {number(each.sd_m)}"
        lines.append(Assumption(f"{name}.level_m", words, True, each.basis, None, False))
    return lines
