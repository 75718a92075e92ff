"""People at culverts and bridges in the design flood: distributions over the samples, shares of hazard classes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import radians, sin
from typing import Any

import numpy as np
from numpy.typing import NDArray

from overbank.analysis import exceedance, overtopping
from overbank.analysis.intervals import Estimate
from overbank.analysis.overtopping import Probability
from overbank.hydraulics.hazard import HazardClass, general_classes, rating_classes
from overbank.outputs.in_tables import table_of
from overbank.outputs.medians import DeterministicRun
from overbank.outputs.output import Output, Tables
from overbank.sampling.run import Run
from overbank.sampling.samples import Array, Sampling
from overbank.site.people import AtStructure, Wading, hazard_of, people_at
from overbank.study.elements import people as study

SHARES = (0.05, 0.50, 0.95)
"""Shares of the samples that a quantile leaves below."""


@dataclass(frozen=True)
class PeopleFigure:
    """A figure about people at a culvert in the design flood.

    side : "screen" or "barrel"; name, words, unit : of the figure
    certain : with every uncertain number at its median
    quantiles : share -> value not exceeded with it; `inf` where nothing flows through or there is no way through
    """

    side: str
    name: str
    words: str
    unit: str
    certain: float
    quantiles: dict[float, Estimate]


@dataclass(frozen=True)
class Hazard:
    """Published hazard of the water at one place, as shares of all samples; what is left of 1 is dry.

    wet : P(water there)
    rating : share -> hazard rating not exceeded with it, dry samples counted as 0
    ratings, general : id of a class of the hazard rating, and of the general classes -> its share
    """

    place: str
    wet: Probability
    rating: dict[float, Estimate]
    ratings: dict[str, Probability]
    general: dict[str, Probability]


@dataclass(frozen=True)
class RakingFacts:
    """What is known of raking the bars by hand; None where the study does not say it.

    inclination_deg, height_m : of the screen at the medians; along_bars_m : its length along the bars
    platform_level_m : to rake from; to_foot_m : from there down along the bars to their foot
    rake_length_m : how far a rake reaches; cross_bars : whether bars run across
    platform_wet : P(the water before the screen stands above the platform)
    """

    inclination_deg: float
    height_m: float
    along_bars_m: float
    platform_level_m: float | None
    to_foot_m: float | None
    rake_length_m: float | None
    cross_bars: bool | None
    platform_wet: Probability | None


@dataclass(frozen=True)
class People:
    """People at one culvert or bridge in the design flood: figures, never verdicts.

    figures : on the screen, where there is one, and in the barrel; none at a bridge
    full : P(no air at some point along the barrel); None at a bridge
    raking : None without a screen
    land_use, edition : that the hazard rating stands on
    taken : what is taken of people, each in words with its basis
    """

    element: str
    figures: tuple[PeopleFigure, ...]
    full: Probability | None
    hazards: tuple[Hazard, ...]
    raking: RakingFacts | None
    land_use: str
    edition: str
    taken: dict[str, str]


def _find(run: Run, medians: DeterministicRun) -> tuple[People, ...]:
    """Every culvert and bridge of the site, going upstream."""
    among = [(each.id, persons) for each in run.study.content.element if (persons := each.persons()) is not None]
    return tuple(_people(run.sampling, *each, at) for each, at in zip(among, medians.people, strict=True))


def _people(sampling: Sampling, element: str, persons: study.Persons, once: AtStructure) -> People:
    taken, numbers = persons.taken, sampling.model.numbers(sampling.rows)
    each = people_at(sampling.samples.site, numbers, element, persons.bodies)
    air = next((felt.values for felt in each.figures if felt.name == "free_air_m"), None)
    return People(
        element=element,
        figures=_figures(sampling, once, each),
        full=None if air is None else _share(sampling, air, air <= 0.0),
        hazards=tuple(_hazard(sampling, water, taken) for water in each.waters),
        raking=None if persons.raking is None else _raking(sampling, element, persons.raking),
        land_use=taken.land_use,
        edition=taken.hazard_edition,
        taken=_basis(taken),
    )


def _basis(taken: study.People) -> dict[str, str]:
    """What is taken of people, in words, with where it comes from."""
    known = {
        "drag coefficient": (taken.drag_coefficient, ""),
        "area of an adult": (taken.adult_area_m2, " m²"),
        "area of a child": (taken.child_area_m2, " m²"),
    }
    return {f"{what} {each.median:g}{unit}": each.basis or "not stated" for what, (each, unit) in known.items()}


def _figures(sampling: Sampling, once: AtStructure, each: AtStructure) -> tuple[PeopleFigure, ...]:
    pairs = zip(once.figures, each.figures, strict=True)
    return tuple(
        PeopleFigure(
            felt.side, felt.name, felt.words, felt.unit, float(certain.values[0]), _quantiles(sampling, felt.values)
        )
        for certain, felt in pairs
    )


def _quantiles(sampling: Sampling, values: Array) -> dict[float, Estimate]:
    table, design = values.reshape(sampling.shape), sampling.settings.design
    return {share: exceedance.plain_quantile(table, 1.0 - share, design) for share in SHARES}


def _share(sampling: Sampling, values: Array, met: NDArray[np.bool_]) -> Probability:
    """Share of the samples in which something is met; those without a value are left out and counted."""
    signed = np.where(np.isnan(values), np.nan, np.where(met, 1.0, -1.0))
    return overtopping.plain(signed.reshape(sampling.shape), sampling.settings.design)


def _hazard(sampling: Sampling, water: Wading, taken: study.People) -> Hazard:
    ratings, classes, general = hazard_of(water, taken.land_use, taken.hazard_edition)

    def shares(kinds: tuple[HazardClass, ...], found: Array) -> dict[str, Probability]:
        return {kind.id: _share(sampling, ratings, found == place) for place, kind in enumerate(kinds)}

    return Hazard(
        place=water.place,
        wet=_share(sampling, water.depth, water.depth > 0.0),
        rating=_quantiles(sampling, ratings),
        ratings=shares(rating_classes(), classes),
        general=shares(general_classes(), general),
    )


def _raking(sampling: Sampling, element: str, given: study.Raking) -> RakingFacts:
    """Facts of the screen at the medians, and whether the water stands above the platform."""
    own, medians = f"{element}.screen", sampling.problem.medians()
    inclination, height, sill = (
        float(np.asarray(medians[f"{own}.{key}"]).flat[0]) for key in ("inclination_deg", "height_m", "sill_level_m")
    )
    platform = None if given.platform_level_m is None else given.platform_level_m.median
    wet = None
    if platform is not None:
        level = sampling.samples.site.element(element).level
        wet = _share(sampling, level, level > platform)
    return RakingFacts(
        inclination_deg=inclination,
        height_m=height,
        along_bars_m=height / sin(radians(inclination)),
        platform_level_m=platform,
        to_foot_m=None if platform is None else (platform - sill) / sin(radians(inclination)),
        rake_length_m=None if given.rake_length_m is None else given.rake_length_m.median,
        cross_bars=given.cross_bars,
        platform_wet=wet,
    )


def _tables(found: tuple[People, ...]) -> Tables:
    """Figures about people at every culvert, for every structure classes of hazard as shares of the samples."""
    return {"people": table_of(_felt(found)), "hazards": table_of(_classes(found))}


def _felt(found: tuple[People, ...]) -> Iterator[dict[str, Any]]:
    for each in found:
        for figure in each.figures:
            yield {
                **{"element": each.element, "side": figure.side, "figure": figure.name, "at_medians": figure.certain},
                **{
                    f"{end}{100 * share:g}": number
                    for share, value in figure.quantiles.items()
                    for end, number in (("quantile_", value.value), ("low_", value.low), ("high_", value.high))
                },
            }


def _classes(found: tuple[People, ...]) -> Iterator[dict[str, Any]]:
    for each in found:
        for hazard in each.hazards:
            for system, classes in (("hazard rating", hazard.ratings), ("general", hazard.general)):
                for name, share in classes.items():
                    yield {
                        **{"element": each.element, "place": hazard.place, "system": system, "class": name},
                        **{"share": share.value, "low": share.low, "high": share.high},
                    }


OUTPUT = Output(find=_find, needs=("medians",), tables=_tables)
