"""What a decision about the blockage rests on: the readings of an allowance, and the panel."""

from __future__ import annotations

from dataclasses import dataclass

from overbank.analysis.intervals import Estimate


@dataclass(frozen=True)
class Tolerated:
    """The largest blockage that keeps the probability of overtopping within a target."""

    target: float
    largest: Estimate


@dataclass(frozen=True)
class Assured:
    """The level that is not exceeded with an assurance, and the one blockage that gives it in an ordinary run."""

    assurance: float
    level: Estimate
    allowance: Estimate


@dataclass(frozen=True)
class FixedBlockage:
    """What a fixed allowance implies.

    level : of one run with it, all else at the medians [m]
    exceeded : probability that the water stands above that level
    overtopping : probability of going over the bank with this blockage, all else as sampled
    """

    blockage: float
    level: float
    exceeded: Estimate
    overtopping: Estimate


@dataclass(frozen=True)
class AssumedBlockage:
    """The answers under another model of the blockage."""

    words: str
    probability: Estimate
    level: Estimate
    allowance: Estimate


@dataclass(frozen=True)
class LevelsOfFlood:
    """Blockage -> level of one run in a flood, all else at the medians [m]."""

    words: str
    flow: float
    levels: dict[float, float]


@dataclass(frozen=True)
class Readings:
    """Every reading of the allowance for one blockage."""

    name: str
    tolerated: tuple[Tolerated, ...]
    assured: tuple[Assured, ...]
    fixed: tuple[FixedBlockage, ...]
    assumed: tuple[AssumedBlockage, ...]
    floods: tuple[LevelsOfFlood, ...]


@dataclass(frozen=True)
class PanelRow:
    """What is read with the blockage set, or as uncertain as assumed.

    blockage : set to; None where it is as uncertain as assumed
    above : for each bank level of the panel, the probability that the water stands above it
    levels : for each target of the panel, the level exceeded with it [m]
    """

    blockage: float | None
    above: tuple[Estimate, ...]
    levels: tuple[Estimate, ...]


@dataclass(frozen=True)
class Panel:
    """Answers for other bank levels, targets and blockages than those of the study, in the design flood.

    name : of the blockage; None where none is uncertain, and then there is one row only
    banks : bank levels, each taken as certain [m]
    start : which of them is the median bank of the study
    targets : probabilities of exceedance; the study's own among them
    rows : first as uncertain as assumed, then with the blockage set to 0, 0.05 ... 1
    largest : for each bank and target, the largest blockage that keeps within it; empty without a blockage
    samples : behind every figure of a set blockage
    """

    name: str | None
    banks: tuple[float, ...]
    start: int
    targets: tuple[float, ...]
    rows: tuple[PanelRow, ...]
    largest: tuple[tuple[Estimate, ...], ...]
    samples: int
