"""People at the culverts."""

from __future__ import annotations

from dataclasses import dataclass

from overbank.analysis.intervals import Estimate
from overbank.analysis.overtopping import Probability


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
    """People at one culvert in the design flood: figures, never verdicts.

    figures : on the screen, where there is one, and in the barrel
    full : P(no air at some point along the barrel)
    raking : None without a screen
    land_use, edition : that the hazard rating stands on
    taken : what is taken of people, each in words with its basis
    """

    element: str
    figures: tuple[PeopleFigure, ...]
    full: Probability
    hazards: tuple[Hazard, ...]
    raking: RakingFacts | None
    land_use: str
    edition: str
    taken: dict[str, str]
