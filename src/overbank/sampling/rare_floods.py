"""Overtopping in a year that is too rare for the samples of states and floods: importance sampling of all numbers."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

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
    found = _probability(sampling, given, lambda yearly: yearly)
    if found is None:
        return None
    return RareFloods(found, {years: _over_years(sampling, given, found, years) for years in many})


def _over_years(sampling: Sampling, given: AnnualFloods, yearly: Probability, years: int) -> Probability:
    """As that of a year where all is knowledge; else the years times the yearly one, which is no less."""
    if not given.each_flood:
        found = _probability(sampling, given, lambda each: annual.at_least_once(each, years))
        if found is not None:
            return found
    note = f"no more than this: {years} times the annual probability"
    ends = {end: min(years * getattr(yearly, end), 1.0) for end in ("value", "low", "high")}
    return replace(yearly, **ends, note=join_notes(note, yearly.note))


def _probability(sampling: Sampling, given: AnnualFloods, of: Callable[[Array], Array]) -> Probability | None:
    """Mean over all numbers but the flood of a function of the annual probability given them; None if nothing found."""

    def conditional(z: Array) -> Array:
        nested = single_floods(sampling, given, z)
        flows = nested.ladder(nested.z, further=True)
        return of(nested.above(flows, flows.capacity).ravel())

    pilot = scores("sobol", PILOT, free_scores(given), sampling.settings.seed, 1)[0]
    found = importance.probability(conditional, pilot, conditional(pilot), seed=sampling.settings.seed)
    return None if found.value == 0.0 or np.isnan(found.low) else found
