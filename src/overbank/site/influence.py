"""How far upstream a structure is felt: the water above it with the structure and without it, number for number.

What stands in a structure's place were it not there, the structure says itself (`Structure.absent`). A step of the bed
stays a step. Everything else is left as it is: structures further up take the lower water, and the difference goes on
above them.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, isfinite, isnan, nan

import numpy as np

from overbank.site.numbers import FLOW, Array, Numbers, Water
from overbank.site.row import Site
from overbank.site.structure import Structure

STATIONS = 201
"""Places along each channel at which both waters are computed."""

SMALL = 0.01
"""A difference that counts as no longer felt [m] (common practice, no source)."""

TENTH = 0.1
"""The share of the afflux at the structure that is looked for."""

STEP = 0.005
"""A step of the bed from which on it is told [m]."""

NOISE = 1e-4
"""An afflux below this is none: levels are solved to about a thousandth of it [m]."""


@dataclass(frozen=True)
class Influence:
    """What a structure does to the water above it.

    distance : upstream of the structure, along channels and barrels [m]; rising
    afflux : level with the structure less that without it at each distance [m]
    modelled : length that the study models above it [m]; 0 when there is nothing to see the effect in
    step : rise of the bed at the structure, going upstream, that is there without it too [m]; nan when not known
    passed : ids of the structures that the difference passes on its way
    """

    element: str
    kind: str
    distance: Array
    afflux: Array
    modelled: float
    step: float
    passed: tuple[str, ...]

    @property
    def at_structure(self) -> float:
        """Afflux just above the structure [m]; `inf` when there is no way through."""
        return float(self.afflux[0])

    @property
    def left(self) -> float:
        """Afflux at the upper end of what is modelled [m]."""
        return float(self.afflux[-1])

    @property
    def to_tenth(self) -> float:
        """Distance from which on less than a tenth of the afflux is left [m]; see `felt_to`."""
        return self.felt_to(TENTH * self.at_structure)

    @property
    def to_small(self) -> float:
        """Distance from which on less than 10 mm is left [m]; see `felt_to`."""
        return self.felt_to(SMALL)

    def felt_to(self, difference: float) -> float:
        """Distance from which on the afflux stays below a difference [m].

        `inf` when it lies beyond the modelled reach, nan when nothing is modelled above or there is no finite afflux.
        """
        if not isfinite(self.at_structure) or (self.modelled <= 0.0 and self.at_structure > max(difference, NOISE)):
            return nan
        above = np.flatnonzero(self.afflux > max(difference, NOISE))
        if above.size == 0:
            return 0.0
        last = int(above[-1])
        if last == self.afflux.size - 1:
            return inf
        (near, far), (high, low) = self.distance[last : last + 2], self.afflux[last : last + 2]
        return float(near + (far - near) * (high - difference) / (high - low)) if isfinite(low) else inf

    def in_words(self, distance: float) -> str:
        """A distance of `felt_to` in words."""
        if isnan(distance):
            return "not known" if isfinite(self.at_structure) else "no way through"
        return f"more than {self.modelled:.0f} m" if distance == inf else f"{distance:.0f} m"

    def notes(self) -> tuple[str, ...]:
        """What must be known beside the figures."""
        said = []
        if self.modelled <= 0.0:
            said.append("nothing is modelled above it: add a channel element to see how far it is felt")
        elif isfinite(self.left) and self.to_small == inf:
            said.append(f"{self.left:.2f} m are left at the upper end of the {self.modelled:.0f} m modelled above it")
        if self.passed:
            named = ", ".join(f"“{name}”" for name in self.passed)
            said.append(f"felt through {named} above it")
        if abs(self.step) >= STEP:
            way = "up" if self.step > 0.0 else "down"
            said.append(
                f"going upstream the bed steps {way} by {abs(self.step):.2f} m at it; the step stays without it"
            )
        return tuple(said)


def influences(site: Site, medians: Numbers) -> tuple[Influence, ...]:
    """The influence of every structure that is not the water's own bed, going upstream, at the medians."""
    numbers = {name: float(np.asarray(value).flat[0]) for name, value in medians.items()}
    flows = site.course(numbers, 1).flows
    tailwater = site.tailwater.water(numbers, flows[0])
    bed = numbers.get("tailwater.normal_depth.bed_level_m", site.elements[0].bed_below(numbers))
    found = []
    for place, structure in enumerate(site.elements):
        water, above = structure.headwater(flows[place], tailwater, numbers), site.elements[place + 1 :]
        if not structure.is_reach:
            here = {**numbers, FLOW: float(flows[place][0])}
            without, foot = structure.absent(above[0] if above else None, tailwater, here)
            rest = tuple(zip(above, flows[place + 1 :], strict=True))
            found.append(_influence(structure, rest, water, without, foot - bed, numbers))
        tailwater, bed = water, structure.bed_above(numbers)
    return tuple(found)


def _influence(
    structure: Structure,
    above: tuple[tuple[Structure, Array], ...],
    water: Water,
    without: Water,
    step: float,
    numbers: Numbers,
) -> Influence:
    """The water `above` a structure from its own and from that `without` it; each one above with its flow."""
    both = Water(np.append(water.level, without.level), np.append(water.energy, without.energy))
    distances, differences, at = [np.zeros(1)], [_difference(both.level)], 0.0
    for each, flow in above:
        if each.is_reach:
            lengths, both, along = _along(each, flow, both, numbers)
            if at == 0.0 and each is above[0][0]:
                distances, differences = [], []  # the reach takes the water in at its foot: nothing lies between
            distances.append(at + lengths)
            differences.append(along)
            at += float(lengths[-1])
        else:
            both = each.headwater(np.repeat(flow, 2), both, numbers)
            at += each.length(numbers)
            distances.append(np.array([at]))
            differences.append(_difference(both.level))
    passed = tuple(each.id for each, _ in above if not each.is_reach)
    distance, difference = np.concatenate(distances), np.concatenate(differences)
    return Influence(structure.id, structure.kind, distance, difference, at, step, passed)


def _along(channel: Structure, flow: Array, both: Water, numbers: Numbers) -> tuple[Array, Water, Array]:
    """Distances along a channel, both waters at its upper end, and their difference at each distance."""
    lengths = np.linspace(0.0, channel.length(numbers), STATIONS)
    shorter = {**numbers, f"{channel.id}.length_m": np.tile(lengths, 2)}
    foot = Water(np.repeat(both.level, STATIONS), np.repeat(both.energy, STATIONS))
    water = channel.headwater(np.repeat(flow, 2 * STATIONS), foot, shorter)
    ends = [STATIONS - 1, 2 * STATIONS - 1]
    return lengths, Water(water.level[ends], water.energy[ends]), _difference(water.level)


def _difference(levels: Array) -> Array:
    """Level with the structure, the first half, less that without it, the second; nan where neither has a level."""
    own, without = levels.reshape(2, -1)
    with np.errstate(invalid="ignore"):
        return np.asarray(own - without)
