"""Overtopping in a year that is too rare for the samples of states and floods: importance sampling of all numbers."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from overbank.analysis import annual
from overbank.analysis import rare as importance
from overbank.analysis.intervals import join_notes
from overbank.analysis.overtopping import Probability
from overbank.sampling.nested import free_scores, single_floods
from overbank.sampling.samples import Array, Sampling
from overbank.study.annual import AnnualFloods
from overbank.uncertain.designs import scores

VAGUE = 0.3
"""A rare probability is looked for by itself where the upper end of its interval is further away than this share."""

PILOT = 1024
"""Samples that the search for the floods that go over begins with."""


@dataclass(frozen=True)
class OverYears:
    """Probability of at least one overtopping in so many years."""

    years: int
    probability: Probability


@dataclass(frozen=True)
class RareFloods:
    """Overtopping in a year, and years -> at least once in so many."""

    probability: Probability
    over: dict[int, Probability]


def is_rare(found: Probability) -> bool:
    """Whether a probability is so small, and told so badly by states and floods, that it is looked for by itself."""
    vague = not found.high <= (1.0 + VAGUE) * found.value
    return found.value < importance.RARE and vague


def rare_floods(sampling: Sampling, given: AnnualFloods, many: Iterable[int]) -> RareFloods | None:
    """By importance sampling of all numbers but the flood itself; None where no flood was found that goes over.

    Parameters
    ----------
    many : years, of each so many
    """
    seed = sampling.settings.seed
    pilot = scores("sobol", PILOT, free_scores(given), seed, 1)[0]
    of_pilot = _yearly(sampling, given, pilot)

    def mean(of: Callable[[Array], Array]) -> Probability | None:
        """Of a function of the annual probability given all but the flood; None if nothing was found."""
        found = importance.probability(lambda z: of(_yearly(sampling, given, z)), pilot, of(of_pilot), seed=seed)
        return None if found.value == 0.0 or np.isnan(found.low) else found

    year = mean(lambda yearly: yearly)
    if year is None:
        return None
    over = {}
    for years in many:
        # where all is knowledge a life is found as a year is
        life = None if given.each_flood else mean(partial(annual.at_least_once, years=years))
        over[years] = life or _no_more(year, years)
    return RareFloods(year, over)


def _yearly(sampling: Sampling, given: AnnualFloods, z: Array) -> Array:
    """Annual probability of overtopping given all numbers but the flood, from their independent scores (N, d)."""
    nested = single_floods(sampling, given, z)
    flows = nested.ladder(nested.z, further=True)
    return nested.above(flows, flows.capacity).ravel()


def _no_more(yearly: Probability, years: int) -> Probability:
    """The years times the annual probability, which is no less than that of so many years."""
    note = f"no more than this: {years} times the annual probability"
    ends = {end: min(years * getattr(yearly, end), 1.0) for end in ("value", "low", "high")}
    return replace(yearly, **ends, note=join_notes(note, yearly.note))
