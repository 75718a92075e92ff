"""The register of a study's numbers by dotted name: certain, uncertain, or following another number."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from overbank.study.patterns import WORDED
from overbank.study.reading.numbers import Number
from overbank.study.reading.plain import Evidence, Kind
from overbank.study.reading.refusals import number as short

DEBRIS = (
    "blockage",
    "debris_m2",
    "debris_m3",
    "debris_thickness_m",
    "pattern",
    "shut",
    "raft_width_m",
    "raft_depth_m",
)
"""What debris does at a structure."""

PASSING = (
    "hours_to_peak",
    "base_flow_m3_s",
    "falling_ratio",
    "sharpness",
    "rate_per_hour",
    "first_flush",
    "arrival_share",
)
"""The shape of a flood, and the debris that it brings while it passes: a steady run does not look at these."""

EACH_FLOOD = (*DEBRIS, "inflow_m3_s", *PASSING)
"""Numbers that come out anew in each flood unless the study says otherwise: what floods bring with them."""

TIDE = "tailwater.level_m"
"""The level of the water below, a river or a tide, does so too: taken as knowledge it would understate what many years
bring."""


def kind_of(name: str, number: Number) -> Kind | None:
    """Whether an uncertain number is the same in all floods or anew in each; None for a certain one."""
    if not number.uncertain:
        return None
    anew = name == TIDE or name.rsplit(".", 1)[-1] in EACH_FLOOD
    return number.kind or ("each flood" if anew else "knowledge")


@dataclass(frozen=True)
class Follower:
    """A number that was left out and stands on another: source, or source + the product of others."""

    name: str
    source: str
    rise: tuple[str, ...] = ()

    def value(self, numbers: Mapping[str, Any]) -> Any:
        """Its value, one a sample where its sources are."""
        value = numbers[self.source]
        if self.rise:
            value = value + math.prod(numbers[name] for name in self.rise)
        return value

    @property
    def sources(self) -> tuple[str, ...]:
        return (self.source, *self.rise)

    @property
    def words(self) -> str:
        """Where it comes from."""
        return f"{self.source} + {' x '.join(self.rise)}" if self.rise else self.source


@dataclass(frozen=True)
class Assumption:
    """One line of the register: a number, what is taken for it, and where that comes from.

    words : the value or the distribution, as a report says it
    assumed : the study left it out, and the program took it from `basis`
    kind : of an uncertain number, whether it is the same in all floods or anew in each; None for a certain one
    """

    name: str
    words: str
    uncertain: bool
    basis: str | None
    evidence: Evidence | None
    assumed: bool
    kind: Kind | None = None


@dataclass
class Collected:
    """The numbers of one study, while they are gathered."""

    fixed: dict[str, float] = field(default_factory=dict)
    uncertain: dict[str, Number] = field(default_factory=dict)
    followers: list[Follower] = field(default_factory=list)
    assumptions: list[Assumption] = field(default_factory=list)

    def add(self, name: str, number: Number) -> None:
        """A number that the study gives, or a default."""
        if number.shared:
            self._share(name, number)
            return
        if number.distribution is not None:
            self.uncertain[name] = number
            words = number.distribution.words
        else:
            self.fixed[name] = number.median
            known = WORDED.get(name.rsplit(".", 1)[-1])
            words = known[int(number.median)] if known else short(number.median)
        self.assumptions.append(
            Assumption(
                name, words, number.uncertain, number.basis, number.evidence, number.assumed, kind_of(name, number)
            )
        )

    def _share(self, name: str, number: Number) -> None:
        """A place of a number that several places use: the number itself once, before whatever stands on its places."""
        source = number.shared
        if source not in self.fixed and source not in self.uncertain:
            self.add(source, replace(number, shared=""))
        self.followers.insert(0, Follower(name, source))
        if source in self.fixed:
            self.fixed[name] = number.median
        self.assumptions.append(Assumption(name, f"is {source}", False, f"one number: {source}", None, False))

    def follow(self, follower: Follower) -> None:
        """A number that stands on others; certain when they all are."""
        self.followers.append(follower)
        if all(source in self.fixed for source in follower.sources):
            self.fixed[follower.name] = value = float(follower.value(self.fixed))
            words = short(value)
        else:
            words = f"follows {follower.words}"
        basis = f"left out: taken as {follower.words}"
        self.assumptions.append(Assumption(follower.name, words, False, basis, None, True))
