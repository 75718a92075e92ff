"""The flow through every structure of a row: what comes from above it, what joins, and what leaves over a side.

Without a side weir it is a sum. With one, what leaves depends on the level there and so on all that stands below. The
row is marched upstream from a flow at its lower end; the flow that it then has at the highest place where water leaves
rises with it, and is one root for each sample, bracketed (Chandrupatla's method in SciPy).

The level at a structure that lets nothing through, or water over a deck alone, jumps as soon as the least flow comes.
Below a place where water leaves it holds what stands there: the level from which everything goes over, a second root.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import inf
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from overbank.site.numbers import Array, Numbers, Results, Water, flow_of
from overbank.site.structure import Structure
from overbank.site.tailwater import Tailwater

FINEST = 1e-18
"""Flows below this share of the whole are none [-]: smaller than what one float leaves of an open barrel."""

EXACT = 1e-11
"""To this share the flow at the lower end is found [-]."""

NO_ROOT = 1e-6
"""Where more than this share of the flow is missing or left over, it jumps at the root [-]."""

LEAST = 1e-300
"""No flow at all, as a divisor [m3/s]."""

TRICKLE = 1e-9
"""Water is still where less than this share of the whole flow passes [-]."""

DOUBLINGS = 16
"""The level behind a barrel without a way through is looked for up to 2^16 m above the water below."""

Chosen = NDArray[np.int64]
"""Places among the samples."""

LeftOver = Callable[[Array, Chosen], Array]


@dataclass(frozen=True)
class Course:
    """What passes the structures of a row.

    flows : through every structure, at its lower end where water leaves in it, going upstream [m3/s]
    still : where hardly any flow passes, of each structure that has a place above it where water leaves
    pond : the most that still water stands at there [m]; `inf` where it holds no water back
    """

    flows: tuple[Array, ...]
    still: tuple[NDArray[np.bool_], ...]
    pond: Array

    def held(self, place: int, below: Water, results: Results) -> Results:
        """The results of the structure at a place, with the level that it holds as still water."""
        held = self.water(place, below, Water.of(results))._asdict()
        return {name: held.get(name, each) for name, each in results.items()}

    def water(self, place: int, below: Water, water: Water) -> Water:
        """The same of the water just above it."""
        return _held(below, water, self.still[place], self.pond) if place < len(self.still) else water


class Climb(NamedTuple):
    """A march up a row from a flow at its lower end; `left_over` of what comes at its upper end."""

    flows: list[Array]
    still: list[NDArray[np.bool_]]
    left_over: Array


class Row(NamedTuple):
    """The structures up to the highest place where water leaves, the water below, the flow that comes to that place
    and the whole, with what joins on the way [m3/s]."""

    elements: tuple[Structure, ...]
    tailwater: Tailwater
    numbers: Numbers
    comes: Array
    whole: Array

    def some(self, chosen: Chosen) -> Row:
        """The same for some of its samples."""
        size = self.comes.size
        own = {name: np.asarray(each)[chosen] for name, each in self.numbers.items() if np.size(each) == size > 1}
        numbers = {**self.numbers, **own}
        return self._replace(numbers=numbers, comes=self.comes[chosen], whole=self.whole[chosen])

    def climb(self, bottom: Array, pond: Array) -> Climb:
        """Flows through every structure for one at the lower end [m3/s], where they are still, and what is left over
        at the upper end, as a share of the whole [-]. Twice the whole stands for any flow beyond it."""
        flows, still, flow = [], [], bottom
        water = self.tailwater.water(self.numbers, bottom)
        for structure in self.elements:
            flows.append(np.maximum(flow, 0.0))
            if structure.spills:
                still.append(np.zeros(flow.size, dtype=bool))
                results = structure.solve(flows[-1], water, self.numbers)
                water, flow = Water.of(results), np.minimum(flow + results["over_flow"], 2.0 * self.whole)
            else:
                still.append(flow <= TRICKLE * self.whole)
                water = _held(water, structure.headwater(flows[-1], water, self.numbers), still[-1], pond)
            flow = np.asarray(flow - self.numbers.get(joining(structure), 0.0))
        return Climb(flows, still, np.asarray((flow - self.comes) / np.maximum(self.whole, LEAST)))


def joining(structure: Structure) -> str:
    """Dotted path of the flow that joins at a structure."""
    return f"{structure.id}.inflow_m3_s"


def course(elements: tuple[Structure, ...], tailwater: Tailwater, numbers: Numbers, samples: int) -> Course:
    """Flow through every structure, going upstream; what joins at one goes through it and through all below it.

    No energy is lost where flow joins.
    """
    flow, flows = flow_of(numbers, samples), list[Array]()
    none = np.full(samples, inf)
    highest = max((place for place, each in enumerate(elements) if each.spills), default=-1)
    for structure in reversed(elements[highest + 1 :]):
        flow = _with_what_joins(structure, numbers, flow)
        flows.append(flow)
    above = tuple(reversed(flows))
    if highest < 0:
        return Course(above, (), none)
    lower = elements[: highest + 1]
    whole = flow
    for structure in lower:
        whole = _with_what_joins(structure, numbers, whole)
    row = Row(lower, tailwater, numbers, flow, whole)
    bottom, pond = _lower_end(row)
    found = row.climb(bottom, pond)
    return Course((*found.flows, *above), tuple(found.still), pond)


def _with_what_joins(structure: Structure, numbers: Numbers, flow: Array) -> Array:
    joins = numbers.get(joining(structure))
    return flow if joins is None else np.ascontiguousarray(flow + joins)


def _held(below: Water, water: Water, still: NDArray[np.bool_], pond: Array) -> Water:
    """Still water stands no higher than the pond, nor lower than what lies below it."""
    most = np.maximum(pond, below.level)
    held = still & (water.level > most)
    return Water(np.where(held, most, water.level), np.where(held, most, water.energy))


def _lower_end(row: Row) -> tuple[Array, Array]:
    """Flow at the lower end of the row [m3/s], and the level of the pond behind a jump, `inf` for none [m]."""
    whole, bottom, pond = row.whole, row.whole.copy(), np.full(row.whole.size, inf)
    leaves = np.flatnonzero(row.climb(whole, pond).left_over > EXACT)
    if leaves.size == 0:
        return bottom, pond

    def left_over(share: Array, chosen: Chosen) -> Array:
        return row.some(chosen).climb(share * whole[chosen], pond[chosen]).left_over

    bottom[leaves] = 0.0
    fed = leaves[left_over(np.zeros(leaves.size), leaves) < 0.0]
    if fed.size:
        bottom[fed] = whole[fed] * _root(left_over, np.zeros(fed.size), np.ones(fed.size), fed, FINEST)
    jumps = leaves[row.some(leaves).climb(bottom[leaves], pond[leaves]).left_over > NO_ROOT]
    if jumps.size:
        pond[jumps] = _pond(row, bottom, jumps)
    return bottom, pond


def _pond(row: Row, bottom: Array, jumps: Chosen) -> Array:
    """Level from which everything leaves that comes [m]; that of the water below where it sends more over by itself."""

    def left_over(level: Array, chosen: Chosen) -> Array:
        return row.some(chosen).climb(bottom[chosen], level).left_over

    some = row.some(jumps)
    found = some.tailwater.water(some.numbers, bottom[jumps]).level.copy()
    fed = left_over(found, jumps) < 0.0
    if fed.any():
        jumps, low = jumps[fed], found[fed]
        high = low + 1.0
        for doubling in range(DOUBLINGS):
            high = np.where(left_over(high, jumps) < 0.0, high + 2.0**doubling, high)
        found[fed] = _root(left_over, low, high, jumps, 1e-10)
    return found


def _root(function: LeftOver, low: Array, high: Array, chosen: Chosen, finest: float) -> Array:
    """Where a rising function of one number a sample is nought; where it jumps there, the upper side of the jump."""
    from scipy.optimize.elementwise import find_root  # slow to fetch, and few studies need it

    found = find_root(
        function,
        (low, high),
        args=(chosen,),
        tolerances={"xatol": finest, "xrtol": EXACT, "fatol": 0.0, "frtol": 0.0},
        maxiter=400,
    )
    jumps = np.abs(found.f_x) > NO_ROOT
    return np.asarray(np.where(jumps, np.maximum(*found.bracket), found.x))
