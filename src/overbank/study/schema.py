"""The whole study file: its tables, every key with what it means."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Any, Literal, get_args

from pydantic import Field, PlainValidator

from overbank.study.elements import Element
from overbank.study.numbers import Number, number_from
from overbank.study.plain import Text, bare_number, one_of, whole_number
from overbank.study.refusals import LocatedRefusal, refusal, shown
from overbank.study.table import Table
from overbank.study.tailwaters import Tailwater

Design = Literal["sobol", "latin_hypercube", "monte_carlo"]
"""Sampling designs."""

LEAST_SAMPLES, MOST_SAMPLES = 64, 2**24
SAMPLES, REPLICATES, DESIGN, SEED = 16384, 16, "sobol", 1
"""What a run takes when the study does not say."""


class Run(Table):
    """How the uncertain numbers are sampled."""

    samples: Annotated[int, whole_number(LEAST_SAMPLES, MOST_SAMPLES)] = Field(
        SAMPLES, description="the number of samples, all replicates together"
    )
    replicates: Annotated[int, whole_number(2, 256)] = Field(
        REPLICATES, description="the number of independent replicates, which give the intervals"
    )
    design: Annotated[Design, one_of(get_args(Design))] = Field("sobol", description="the sampling design")
    seed: Annotated[int, whole_number(0, 2**63 - 1)] = Field(SEED, description="the seed of all random numbers")

    @classmethod
    def disagreements(cls, raw: dict[str, Any]) -> Iterator[LocatedRefusal]:
        samples, replicates = raw.get("samples", SAMPLES), raw.get("replicates", REPLICATES)
        design = raw.get("design", DESIGN)
        if not (_whole(samples, LEAST_SAMPLES, MOST_SAMPLES) and _whole(replicates, 2, 256)):
            return
        allowed = _allowed_samples(samples, replicates, design)
        if samples not in allowed:
            each = "a power of two" if design == "sobol" else "the same whole number"
            expected = f"{each} of samples in each of the {replicates} replicates"
            remedy = f"Write samples = {' or '.join(map(str, allowed))}."
            yield (
                ("samples" if "samples" in raw else "replicates",),
                refusal(expected, shown(samples), remedy),
            )


def _whole(value: Any, low: int, high: int) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and low <= value <= high


def _allowed_samples(samples: int, replicates: int, design: Any) -> list[int]:
    """The nearest allowed numbers of samples, below and above."""
    counts = [replicates * 2**power for power in range(25)]
    if design != "sobol":
        below = samples - samples % replicates
        counts = [below, below + replicates]
    counts = [count for count in counts if LEAST_SAMPLES <= count <= MOST_SAMPLES]
    below_or_at = [count for count in counts if count <= samples][-1:]
    above_or_at = [count for count in counts if count >= samples][:1]
    return list(dict.fromkeys(below_or_at + above_or_at))


class Decision(Table):
    """What the answer is for."""

    target_probability: Annotated[float, bare_number(0.0, 1.0, open_ends=True)] = Field(
        description="the highest acceptable probability of overtopping in the design flood"
    )
    assurance: Annotated[float, bare_number(0.0, 1.0, open_ends=True)] = Field(
        description="the probability with which the allowance and the bank level shall hold"
    )
    at: Text | None = Field(None, description="the id of the element whose bank counts")


class Flow(Table):
    """The flood."""

    design_m3_s: Annotated[Number, number_from(0.001, 20_000.0, "a flow [m3/s]")] = Field(
        description="the design flow [m3/s]"
    )


def _read_pair(raw: Any) -> tuple[str, str]:
    expected = "two names of uncertain numbers"
    if not isinstance(raw, list) or len(raw) != 2 or not all(isinstance(name, str) for name in raw):
        raise refusal(expected, shown(raw), 'Write ["flow.design_m3_s", "lane.screen.blockage"], for example.')
    if raw[0] == raw[1]:
        raise refusal(expected, f"{shown(raw[0])} twice", "Name two different numbers.")
    return raw[0], raw[1]


class Dependence(Table):
    """Two uncertain numbers that go together."""

    between: Annotated[tuple[str, str], PlainValidator(_read_pair)] = Field(
        description="a list of two names of uncertain numbers"
    )
    rank_correlation: Annotated[float, bare_number(-1.0, 1.0, open_ends=True)] = Field(
        description="Spearman's rank correlation, between -1 and 1"
    )
    basis: Text | None = Field(None, description="where the correlation comes from")


class StudyFile(Table):
    """One study."""

    title: Text = Field(description="a title in quotation marks")
    run: Run = Field(default_factory=lambda: Run.model_validate({}), description="a table [run]")
    decision: Decision = Field(description="a table [decision] with the keys target_probability, assurance")
    flow: Flow = Field(description="a table [flow] with the key design_m3_s")
    tailwater: Tailwater = Field(description="a table [tailwater] with one of normal_depth, level_m, rating")
    element: list[Element] = Field(min_length=1, description="at least one table [[element]], going upstream")
    dependence: list[Dependence] = Field([], description="tables [[dependence]]")
