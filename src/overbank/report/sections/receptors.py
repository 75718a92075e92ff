"""How deep the water stands over what it hurts."""

from __future__ import annotations

import math
from typing import Any, NamedTuple

from overbank.analysis.intervals import Estimate
from overbank.outputs.outcome import Outcome
from overbank.outputs.receptors import QUANTILES, Reached
from overbank.report.sections.section import Section
from overbank.words import measure, rounded, share_words


class ReceptorLine(NamedTuple):
    """A receptor, its level, how likely it is reached in the flood and in a year, and depths over it."""

    name: str
    level: str
    basis: str
    figures: tuple[tuple[str, str], ...]


class FloodDepths(NamedTuple):
    """Median depths over every receptor in the flood of one annual probability."""

    probability: str
    depths: tuple[str, ...]


def _content(outcome: Outcome) -> dict[str, Any] | None:
    found = outcome.receptors
    if found is None:
        return None
    known = [each for each in found if each.floods]
    floods = [
        FloodDepths(share_words(p), tuple(measure(each.floods[p].value, "") for each in known))
        for p in (known[0].floods if known else ())
    ]
    shares = [share_words(share) for share in QUANTILES]
    names = [each.receptor.name for each in known]
    return {"receptors": [_line(each) for each in found], "shares": shares, "in_floods": floods, "names": names}


def _line(found: Reached) -> ReceptorLine:
    figures = [rounded(found.probability, "p"), _in_a_year(found.in_a_year)]
    figures += [rounded(depth, "m") for depth in found.depths.values()]
    basis = found.receptor.basis or "no basis stated"
    return ReceptorLine(found.receptor.name, measure(found.receptor.level_m, ""), basis, tuple(figures))


def _in_a_year(found: Estimate | None) -> tuple[str, str]:
    if found is None:
        return "not known", "no annual maxima for this place"
    if math.isnan(found.value):
        return "rare", found.note
    return rounded(found, "p")


SECTION = Section(
    "receptors", "Depth where it hurts", "How deep the water stands where it hurts", _content, shows=("receptors",)
)
