"""Everything that the referee says of a study, by the names of `results_adapter`."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from referee import rare
from referee.case import Case
from referee.design_flood import DesignFlood
from referee.figures import Figure
from referee.judging import Judged, judged
from referee.results_adapter import BLOCKAGES, Results, results
from referee.site_adapter import SiteFunction
from referee.years import Years

RARE = 2e-3
"""A probability below this is sampled where the event lies, not counted."""


@dataclass(frozen=True)
class Size:
    """Samples of the design flood, states and points of the floods of a year, floods of one annual probability."""

    samples: int
    states: int
    points: int
    most_points: int
    floods: int


QUICK = Size(samples=10_000, states=160, points=12, most_points=12, floods=5_000)
FULL = Size(samples=30_000, states=500, points=16, most_points=64, floods=5_000)


def truth(case: Case, folder: Path, said: Results, size: Size, seed: int) -> dict[str, Figure]:
    """The referee's figure for each of those that the program prints."""
    site, reading = SiteFunction(folder), case.reading
    flood = DesignFlood.of(reading, site, size.samples, seed)
    over = flood.overtopping()
    if over.value < RARE:
        over = rare.overtopping(reading, site, size.samples, seed).probability
    found = {"overtopping": over, "overtopping, counted": over}
    for name in said.figures:
        if name.startswith("level 0"):
            found[name] = flood.level(float(name.split()[1]))
    if said.blockage is not None:
        found |= {f"blockage set to {share:g}": flood.set_to(said.blockage, share) for share in BLOCKAGES}
        found["largest blockage"] = flood.largest(said.blockage)
        found["allowance"] = flood.allowance(said.blockage)
    if "overtopping learnt" in said.figures:
        found["overtopping learnt"] = flood.learnt_overtopping()
        found["level learnt"] = flood.learnt_level(reading.assurance)
    if reading.annual is not None:
        found |= _years(Years(reading, site, size.states, size.points, seed, size.most_points), said, size)
    return found


def _years(years: Years, said: Results, size: Size) -> dict[str, Figure]:
    yearly = years.probability()
    found = {"in a year": yearly, "in a year, counted": yearly}
    for name in said.figures:
        if name.startswith("in a year, 0"):
            found[name] = years.band(float(name.split(", ")[1]))
        if name.startswith("assurance "):
            found[name] = years.assurance(float(name.split()[1]), size.floods)
    if years.reading.design_life is not None:
        found["over the life"] = years.over_life(years.reading.design_life)
    return found


def compared(case: Case, folder: Path, size: Size, seed: int = 1) -> list[Judged]:
    """Every figure of a study beside the referee's."""
    case.written(folder)
    said = results(folder)
    found = truth(case, folder, said, size, seed)
    return [judged(case.name, name, said.figures[name], each) for name, each in found.items()]
