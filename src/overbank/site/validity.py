"""How often a formula was used outside the range it was fitted or tested for."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overbank.site.course import joining
from overbank.site.long_section import Station
from overbank.site.numbers import Array, Numbers
from overbank.site.row import NO_SOLUTION, Site, SiteOutcome

SMALL_HEAD = 0.05
"""Heads over a crest below this make weir coefficients drift [m] (common practice, no source)."""

FASTEST, DEEPEST = 10.0, 100.0
"""Water seldom flows faster [m/s] or stands higher above its bed [m] (common practice, no source)."""

ANOTHER_UNIT = "is a flow, a level or a size in another unit"

JOINS = "flow joins here: no energy is counted as lost where it joins"

BEYOND_SENSE = 50.0
"""A structure that lifts the water by more than this lets nothing through, in effect [m] (own choice)."""


@dataclass(frozen=True)
class Remark:
    """A condition that a reader must know of, the structure it concerns, and the share of samples that meet it."""

    element: str
    words: str
    share: float


def remarks(site: Site, outcome: SiteOutcome, numbers: Numbers) -> tuple[Remark, ...]:
    """Every remark on a run that concerns at least one sample."""
    said = site.tailwater.remarks(numbers, outcome.flows[0], outcome.tailwater)
    found = [Remark("tailwater", words, share) for words, share in said]
    for structure, solved in outcome.solved(numbers):
        found += [Remark(structure.id, words, _share(met)) for words, met in structure.remarks(solved)]
        lifted = np.isfinite(solved.level) & (solved.level > solved.tailwater + BEYOND_SENSE)
        if not structure.is_reach:
            words = f"no way through, in effect: the water would have to stand {BEYOND_SENSE:g} m higher than below"
            found.append(Remark(structure.id, words, _share(lifted)))
        found.append(Remark(structure.id, JOINS, _share(np.asarray(numbers.get(joining(structure), 0.0)) > 0.0)))
        found.append(Remark(structure.id, f"{NO_SOLUTION}: counted as failed", _share(np.isnan(solved.level))))
    return tuple(remark for remark in found if remark.share > 0.0)


def past_belief(once: SiteOutcome, stations: Iterable[Station]) -> Iterator[Remark]:
    """Where the water of one run is faster or deeper than rivers are: mostly a number in another unit."""
    for element in once.elements:
        speeds = (each.name for each in element.structure.figures if each.reported.endswith("_m_s"))
        if any(element.results[name][0] > FASTEST for name in speeds if name in element.results):
            yield Remark(element.id, f"water faster than {FASTEST:g} m/s: {ANOTHER_UNIT}", 1.0)
    for name in dict.fromkeys(each.element for each in stations if DEEPEST < each.level[0] - each.bed < np.inf):
        yield Remark(name, f"water more than {DEEPEST:g} m above the bed: {ANOTHER_UNIT}", 1.0)


def thin(crest: str, head: Array, wet: NDArray[np.bool_]) -> tuple[str, NDArray[np.bool_]]:
    """Where the water over a crest is so thin that its coefficient drifts."""
    return f"less than {SMALL_HEAD * 1000:g} mm of water over the {crest}", wet & (head < SMALL_HEAD)


def _share(met: NDArray[np.bool_] | Array) -> float:
    return float(np.mean(met))
