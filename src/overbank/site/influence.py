"""How far upstream a structure is felt: the water above it with the structure and without it, number for number.

In place of a culvert the reach above it goes on down to its outlet. In place of a weir or bridge, which have no length,
the level just below goes on with the velocity head of the structure's own approach, so that a bridge that contracts
nothing has no influence. A step of the bed stays a step. Everything else is left as it is: structures further up take
the lower water, and the difference goes on above them.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, isfinite, isnan, nan

import numpy as np

from overbank.hydraulics.sections import Section
from overbank.hydraulics.surveyed import Surveyed, energy_level
from overbank.hydraulics.surveyed_levels import critical_level
from overbank.hydraulics.uniform import critical_depth, velocity_head
from overbank.site.bridge import Bridge
from overbank.site.numbers import Array, Numbers, Water, flow_of
from overbank.site.row import Site
from overbank.site.sections import approach_columns
from overbank.site.structures import Culvert, Structure
from overbank.site.surveyed import SurveyedSection
from overbank.site.weir import Weir

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
    """The influence of every weir, bridge and culvert, going upstream, with every number at its median."""
    numbers = {name: float(np.asarray(value).flat[0]) for name, value in medians.items()}
    flow = flow_of(numbers, 1)
    below = site.tailwater.water(numbers, flow)
    outlet = f"{site.elements[0].id}.barrel.downstream_invert_m"
    bed = numbers.get("tailwater.normal_depth.bed_level_m", numbers.get(outlet, nan))
    found = []
    for place, structure in enumerate(site.elements):
        water = structure.upstream(flow, below, numbers)
        if structure.kind != "channel":
            above = site.elements[place + 1 :]
            without, foot = _without(structure, above, below, numbers)
            found.append(_influence(structure, above, water, without, foot - bed, numbers))
        below, bed = water, _bed_above(structure, numbers)
    return tuple(found)


def _influence(
    structure: Structure, above: tuple[Structure, ...], water: Water, without: Water, step: float, numbers: Numbers
) -> Influence:
    """The water `above` a structure from its own and from that `without` it."""
    both = Water(np.append(water.level, without.level), np.append(water.energy, without.energy))
    distances, differences, at = [np.zeros(1)], [_difference(both.level)], 0.0
    for each in above:
        if each.kind == "channel":
            lengths, both, along = _along(each, both, numbers)
            if at == 0.0 and each is above[0]:
                distances, differences = [], []  # the reach takes the water in at its foot: nothing lies between
            distances.append(at + lengths)
            differences.append(along)
            at += float(lengths[-1])
        else:
            both = each.upstream(np.repeat(flow_of(numbers, 1), 2), both, numbers)
            at += float(np.asarray(numbers[f"{each.id}.barrel.length_m"])) if isinstance(each, Culvert) else 0.0
            distances.append(np.array([at]))
            differences.append(_difference(both.level))
    passed = tuple(each.id for each in above if each.kind != "channel")
    distance, difference = np.concatenate(distances), np.concatenate(differences)
    return Influence(structure.id, structure.kind, distance, difference, at, step, passed)


def _without(structure: Structure, above: tuple[Structure, ...], below: Water, numbers: Numbers) -> tuple[Water, float]:
    """The water just above the place of a structure that is not there, and the bed level to which that place goes."""
    if isinstance(structure, Weir | Bridge):
        return _in_the_approach(structure, below, numbers), _bed_above(structure, numbers)
    if not above or above[0].kind != "channel":
        return below, _bed_above(structure, numbers)
    reach, barrel = above[0].id, f"{structure.id}.barrel"
    foot, length = float(np.asarray(numbers[f"{barrel}.downstream_invert_m"])), numbers[f"{barrel}.length_m"]
    shift = numbers.get(f"{reach}.section.shift_m", 0.0) + foot - numbers[f"{reach}.bed_level_m"]
    in_its_place = {
        f"{reach}.length_m": length,
        f"{reach}.bed_slope": (_bed_above(structure, numbers) - foot) / length,
        f"{reach}.bed_level_m": foot,
        f"{reach}.section.shift_m": shift,
    }
    return above[0].upstream(flow_of(numbers, 1), below, {**numbers, **in_its_place}), foot


def _in_the_approach(structure: Weir | Bridge, below: Water, numbers: Numbers) -> Water:
    """The level below with the velocity head that it has in the approach; without one where that is too shallow."""
    path = f"{structure.id}.approach"
    if structure.survey is not None:
        return _in_the_survey(structure.survey, path, below, numbers)
    section = Section(*(float(np.asarray(part)) for part in approach_columns(numbers, path, structure.approach_shape)))
    flow, depth = float(flow_of(numbers, 1)[0]), float(below.level[0] - np.asarray(numbers[f"{path}.bed_level_m"]))
    if not critical_depth(section, flow) < depth < inf:
        return Water(below.level, below.level)
    return Water(below.level, below.level + velocity_head(section, flow, depth))


def _in_the_survey(survey: SurveyedSection, path: str, below: Water, numbers: Numbers) -> Water:
    *zones, method, shift = (float(np.asarray(number)) for number in survey.columns(numbers, path))
    section = Surveyed(survey.table, np.array(zones), method, shift)
    flow, level = float(flow_of(numbers, 1)[0]), float(below.level[0])
    if not critical_level(section, flow).level < level < inf:
        return Water(below.level, below.level)
    return Water(below.level, np.array([energy_level(section, flow, level)]))


def _along(channel: Structure, both: Water, numbers: Numbers) -> tuple[Array, Water, Array]:
    """Distances along a channel, both waters at its upper end, and their difference at each distance."""
    lengths = np.linspace(0.0, float(np.asarray(numbers[f"{channel.id}.length_m"])), STATIONS)
    shorter = {**numbers, f"{channel.id}.length_m": np.tile(lengths, 2)}
    foot = Water(np.repeat(both.level, STATIONS), np.repeat(both.energy, STATIONS))
    water = channel.upstream(np.repeat(flow_of(numbers, 1), 2 * STATIONS), foot, shorter)
    ends = [STATIONS - 1, 2 * STATIONS - 1]
    return lengths, Water(water.level[ends], water.energy[ends]), _difference(water.level)


def _difference(levels: Array) -> Array:
    """Level with the structure, the first half, less that without it, the second; nan where neither has a level."""
    own, without = levels.reshape(2, -1)
    with np.errstate(invalid="ignore"):
        return np.asarray(own - without)


def _bed_above(structure: Structure, numbers: Numbers) -> float:
    """Bed level at the upper end of a structure or channel [m]; nan when it is not known."""
    own = structure.id
    for path in (f"{own}.barrel.upstream_invert_m", f"{own}.approach.bed_level_m"):
        if path in numbers:
            return float(np.asarray(numbers[path]))
    slope, length = numbers[f"{own}.bed_slope"], numbers[f"{own}.length_m"]
    return float(np.asarray(numbers.get(f"{own}.bed_level_m", nan) + slope * length))
