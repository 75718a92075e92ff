"""The floods of a year."""

from __future__ import annotations

from dataclasses import dataclass

from overbank.analysis.annual import LevelFrequency
from overbank.analysis.intervals import Estimate
from overbank.analysis.overtopping import Probability
from overbank.study.annual import AnnualFloods


@dataclass(frozen=True)
class FloodLine:
    """The flood of one annual probability, and the level in it.

    flow : by the best estimate of the annual maxima; flow_low, flow_high : 5 and 95 % of its alternatives [m3/s]
    levels : share -> level in that flood that is not exceeded with it [m]
    assurance : probability that the water stays below the bank in that flood
    """

    annual_probability: float
    flow: float
    flow_low: float
    flow_high: float
    levels: dict[float, Estimate]
    assurance: Probability


@dataclass(frozen=True)
class OverYears:
    """Probability of at least one overtopping in so many years."""

    years: int
    probability: Probability


@dataclass(frozen=True)
class Unblocked:
    """Overtopping in a year with nothing blocked, how many times as likely it is with the blockages, and the levels."""

    probability: Probability
    times: Estimate
    frequency: LevelFrequency


@dataclass(frozen=True)
class Annual:
    """Overtopping by the floods of a year.

    given : the floods, and which numbers are knowledge and which come out anew in each flood
    probability, plain : of overtopping in a year, by the threshold method over the flow and by counting floods
    agree : whether their intervals overlap
    fallen : samples in which the level fell as the flow rose; the plain count stands in for them
    knowledge : share -> its quantile of the annual probability over what is not known
    unblocked : None where nothing is ever blocked
    life : None where the study names no years
    lines : floods from frequent to rare
    frequency : annual probability of every level
    states, floods_of_each : states of knowledge sampled, and floods in each of them
    """

    given: AnnualFloods
    probability: Probability
    plain: Probability
    agree: bool
    fallen: int
    knowledge: dict[float, Estimate]
    unblocked: Unblocked | None
    life: OverYears | None
    lines: tuple[FloodLine, ...]
    frequency: LevelFrequency
    states: int
    floods_of_each: int
