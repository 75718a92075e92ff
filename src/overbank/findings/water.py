"""Overtopping at the place and at every bank, the level there, and the arrangements compared."""

from __future__ import annotations

from dataclasses import dataclass

from overbank.analysis.bands import Curve
from overbank.analysis.intervals import Estimate
from overbank.analysis.overtopping import Probability
from overbank.analysis.pilot import Choice


@dataclass(frozen=True)
class Overtopping:
    """Probability of going over the bank in the design flood, by two methods.

    threshold : by the threshold method; None when no input can be integrated out
    plain : by counting samples
    agree : whether their intervals overlap
    stair : name of the input that the threshold method integrates out
    choice : what the pilot says of every input that could be; None where there is none
    fallen : samples in which the level fell as that input rose; the plain count stands in for them
    beyond : what the samples themselves cannot show: by importance sampling where overtopping is too rare for them,
        exactly 0 or 1 where the ranges of the inputs say so; else None
    """

    threshold: Probability | None
    plain: Probability
    agree: bool
    stair: str | None
    fallen: int
    beyond: Probability | None = None
    choice: Choice | None = None

    @property
    def best(self) -> Probability:
        """The figure to quote."""
        if self.beyond is not None:
            return self.beyond
        return self.plain if self.threshold is None else self.threshold


@dataclass(frozen=True)
class Place:
    """A structure that has a bank: probability of going over it, and share of all overtopping in which it is first."""

    id: str
    probability: Probability
    first: Estimate


@dataclass(frozen=True)
class Places:
    """Overtopping at every place that has a bank, at any of them, and at all of them."""

    each: tuple[Place, ...]
    any: Probability
    all: Probability


@dataclass(frozen=True)
class Headwater:
    """Exceedance of the level upstream of the place: smooth curve, plain curve, and quantiles.

    quantiles : non-exceedance probability -> level [m]
    """

    curve: Curve
    plain: Curve
    quantiles: dict[float, Estimate]


@dataclass(frozen=True)
class Blockage:
    """What blockage does.

    name : of the input
    fixed : P(overtop) with the blockage set, all else as sampled
    given : P(overtop) given the blockage; differs from `fixed` where blockage depends on other inputs, else None
    largest : largest blockage that keeps P(overtop) within the target
    allowance : the single blockage that reproduces the headwater of the chosen assurance in a deterministic run
    """

    name: str
    fixed: Curve
    given: Curve | None
    largest: Estimate
    allowance: Estimate


@dataclass(frozen=True)
class Difference:
    """An arrangement less the site as it stands, on common random numbers.

    probability : of overtopping
    median, assured, mean : of the median level, of that with the assurance asked for, and on average [m]
    lower, higher : shares of the samples in which it stands lower or higher by more than a millimetre
    beyond : share in which it stands higher by more than the study tolerates; None where the study tolerates nothing
    """

    probability: Estimate
    median: Estimate
    assured: Estimate
    mean: Estimate
    lower: Estimate
    higher: Estimate
    beyond: Estimate | None


@dataclass(frozen=True)
class Arrangement:
    """The site as it stands, or as an alternative changes it.

    deterministic : level with every uncertain number at its median [m]
    assured : level with the assurance asked for
    difference : to the site as it stands; None for that itself
    """

    name: str
    place: str
    deterministic: float
    overtopping: Overtopping
    curve: Curve
    assured: Estimate
    blockage: Blockage | None
    difference: Difference | None


@dataclass(frozen=True)
class Comparison:
    """Arrangements at one place, the site as it stands first; `tolerance` is the rise that the study tolerates [m]."""

    place: str
    arrangements: tuple[Arrangement, ...]
    tolerance: float | None = None
