"""People at every culvert in the design flood: distributions over the samples, and shares of the hazard classes."""

from __future__ import annotations

from math import radians, sin

import numpy as np
from numpy.typing import NDArray

from overbank.analysis import exceedance, overtopping
from overbank.analysis.intervals import Estimate
from overbank.findings.people import Hazard, People, PeopleFigure, RakingFacts
from overbank.hydraulics.hazard import HazardClass, general_classes, rating_classes
from overbank.site.people import AtCulvert, Wading, hazard_of, people_at
from overbank.stages.sampling import Array, Sampling
from overbank.study.elements import people as study

SHARES = (0.05, 0.50, 0.95)
"""Shares of the samples that a quantile leaves below."""


def people(sampling: Sampling) -> tuple[People, ...]:
    """Every culvert of the site, going upstream, with or without a screen."""
    return tuple(
        _people(sampling, each.id, persons)
        for each in sampling.study.content.element
        if (persons := each.persons()) is not None
    )


def _people(sampling: Sampling, element: str, persons: study.Persons) -> People:
    model, taken, bodies = sampling.model, persons.taken, persons.bodies
    row = model.medians()
    once = people_at(model.march(row), model.numbers(row), element, bodies)
    each = people_at(sampling.samples.site, model.numbers(sampling.rows), element, bodies)
    air = next(felt.values for felt in each.figures if felt.name == "free_air_m")
    return People(
        element=element,
        figures=_figures(sampling, once, each),
        full=_share(sampling, air, air <= 0.0),
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


def _figures(sampling: Sampling, once: AtCulvert, each: AtCulvert) -> tuple[PeopleFigure, ...]:
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


def _share(sampling: Sampling, values: Array, met: NDArray[np.bool_]) -> overtopping.Probability:
    """Share of the samples in which something is met; those without a value are left out and counted."""
    margins = np.where(np.isnan(values), np.nan, np.where(met, 1.0, -1.0))
    return overtopping.plain(margins.reshape(sampling.shape), sampling.settings.design)


def _hazard(sampling: Sampling, water: Wading, taken: study.People) -> Hazard:
    ratings, classes, general = hazard_of(water, taken.land_use, taken.hazard_edition)

    def shares(kinds: tuple[HazardClass, ...], found: Array) -> dict[str, overtopping.Probability]:
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
