"""Numbers that can be true and seldom are: a slip of the hand, told with its line and why it looks wrong.

Nothing is refused here. The ranges are those of ordinary rivers and structures: common practice, no source.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Iterator, Mapping
from itertools import pairwise
from typing import Any

import numpy as np

from overbank.study.build import Problem
from overbank.study.load import Study
from overbank.study.reading.folder import SurveyPoints
from overbank.study.reading.lines import KeyPath, line_numbers
from overbank.study.reading.readable import dotted
from overbank.study.reading.refusals import number
from overbank.study.reading.shared import unused
from overbank.study.reading.unit_names import in_si

USUAL: Mapping[str, tuple[float, float, str]] = {
    "bed_width_m": (0.2, 500.0, "a bed is seldom so wide or so narrow; the unit is metres"),
    "bar_m": (0.003, 0.3, "a bar is seldom so thick or so thin; the unit is metres, not millimetres"),
    "gap_m": (0.005, 1.0, "bars seldom stand so; the unit is metres, not millimetres"),
    "diameter_m": (0.15, 12.0, "a pipe is seldom so wide or so narrow; the unit is metres, not millimetres"),
    "span_m": (0.15, 100.0, "a span is seldom so wide or so narrow; the unit is metres"),
    "rise_m": (0.15, 30.0, "an opening is seldom so high or so low; the unit is metres"),
    "length_m": (0.3, 20_000.0, "it is seldom so long or so short; the unit is metres"),
    "bed_slope": (1e-5, 0.1, "a river's bed seldom falls so; a slope is metres to a metre, not to a thousand"),
    "manning_n": (0.008, 0.25, "a roughness is seldom so large or so small; it is Manning's n, not its inverse"),
    "design_m3_s": (0.0001, 5000.0, "a flood is seldom so; the unit is m3/s, not litres a second"),
}
"""Between what each number usually lies, by the last word of its name, and what may be wrong where it does not."""

ABOVE_BED = 30.0
"""A bank seldom stands so far above the lowest level of its element [m]."""

LEVELS = ("bed_level_m", "upstream_invert_m", "downstream_invert_m", "sill_level_m", "crest.level_m")
"""Ends of the names of levels from which a bank's height is taken."""

STEPS = 10.0
"""A surveyed point seldom stands so far above both of its neighbours [m]."""

WIDEST_BOX, RATED_TOO_FAR = 8.0, 100.0
"""A box is seldom so many times as wide as it is high; a rating seldom goes so many times beyond the design flow."""

YEARS = (1700, 2100)
"""Whole numbers between these, each one more than the last, are years."""

BED_BELOW = "tailwater.normal_depth.bed_level_m"

LONG_RECORD, OUTSTANDING = 200, 10.0
"""Few records of annual maxima are longer [years], and in few is one so many times the next."""


def slips(study: Study, problem: Problem) -> tuple[str, ...]:
    """Each number of a study, an uncertain one at its median, that looks wrong: where it stands, what it is, why."""
    medians = {name: float(np.ravel(value)[0]) for name, value in problem.medians().items()}
    document = tomllib.loads(study.text)
    written = line_numbers(study.text)
    lines = {dotted(_in_si(path), document): line for path, line in written.items()}
    said = [
        *_unusual(medians),
        *_high_banks(medians),
        *_of_maxima(study),
        *_of_barrels(medians),
        *_of_tailwater(study, medians),
        *((dotted(path, document), words) for path in written for words in _of_survey(study, path)),
    ]
    said += [(name, "no number of the study uses it") for name in unused(document)]
    return tuple(f"line {lines[name]}, {name}: {words}" for name, words in said if name in lines)


Said = Iterator[tuple[str, str]]
"""Names of numbers, and what looks wrong with them."""


def _in_si(path: KeyPath) -> KeyPath:
    """A way down by the keys in SI, whatever units the file has."""
    return tuple(found[0] if isinstance(step, str) and (found := in_si(step)) else step for step in path)


def _unusual(medians: Mapping[str, float]) -> Said:
    for name, value in medians.items():
        low, high, why = USUAL.get(name.rsplit(".", 1)[-1], (value, value, ""))
        if not low <= value <= high:
            yield name, f"{number(value)} is outside {number(low)} to {number(high)}: {why}"


def _high_banks(medians: Mapping[str, float]) -> Said:
    for name, bank in medians.items():
        element, _, word = name.rpartition(".")
        levels = [level for key, level in medians.items() if key.startswith(f"{element}.") and key.endswith(LEVELS)]
        if word == "bank_level_m" and levels and bank - min(levels) > ABOVE_BED:
            height = number(bank - min(levels))
            yield name, f"{number(bank)} is {height} m above the lowest level of {element}: are both on one datum"


def _of_maxima(study: Study) -> Said:
    maxima = sorted(study.content.flow.annual_maxima or ())
    if len(maxima) > LONG_RECORD:
        years = len(maxima)
        yield "flow.annual_maxima", f"{years} years are a long record: is there one flow a year, the largest"
    whole = study.content.flow.annual_maxima or ()
    rising = all(later - before == 1.0 for before, later in pairwise(whole))
    if len(whole) > 2 and rising and YEARS[0] <= whole[0] <= whole[-1] <= YEARS[1]:
        yield "flow.annual_maxima", f"{number(whole[0])} to {number(whole[-1])}, one after the other: are these years"
    if len(maxima) > 1 and maxima[-1] > OUTSTANDING * maxima[-2]:
        found = f"{number(maxima[-1])} is more than {number(OUTSTANDING)} times the next, {number(maxima[-2])}"
        yield "flow.annual_maxima", f"{found}: is a decimal point lost"


def _of_barrels(medians: Mapping[str, float]) -> Said:
    """Barrels that rise downstream, and boxes far wider than high."""
    for name, below in medians.items():
        above = medians.get(name.replace("downstream_invert_m", "upstream_invert_m"), below)
        if name.endswith(".downstream_invert_m") and below > above:
            yield name, f"{number(below)} is above the upstream invert {number(above)}: are the two exchanged"
        rise = medians.get(name.replace(".span_m", ".rise_m"), below)
        if name.endswith(".barrel.span_m") and below > WIDEST_BOX * rise:
            times = number(WIDEST_BOX)
            yield name, f"{number(below)} is more than {times} times the rise {number(rise)}: is one mistyped"


def _of_tailwater(study: Study, medians: Mapping[str, float]) -> Said:
    """A level below the site far from the site's own, and a rating in another unit."""
    levels = [level for name, level in medians.items() if name.endswith(LEVELS) and not name.startswith("tailwater.")]
    rating = study.content.tailwater.rating
    below = {name: medians[name] for name in ("tailwater.level_m", BED_BELOW) if name in medians}
    below |= {} if rating is None else {"tailwater.rating": rating.levels[0]}
    for name, level in below.items():
        if levels and abs(level - min(levels)) > ABOVE_BED:
            apart = number(abs(level - min(levels)))
            yield name, f"{number(level)} is {apart} m from the lowest level of the site: are both on one datum"
    flow = medians.get("flow.design_m3_s", math.inf)
    if rating is not None and rating.flows[-1] > RATED_TOO_FAR * flow:
        last = f"its flows go up to {number(rating.flows[-1])} m3/s and the design flow is {number(flow)}"
        yield "tailwater.rating", f"{last}: are they litres a second"


def _of_survey(study: Study, path: KeyPath) -> Iterator[str]:
    """Points that stand high above both of their neighbours, where a survey is named."""
    points: Any = study.content
    for step in path:
        inside = isinstance(points, list) and isinstance(step, int)
        points = points[step] if inside else getattr(points, str(step), None)
    if isinstance(points, SurveyPoints):
        each = list(zip(points.offsets, points.levels, strict=True))
        for (_, left), (offset, level), (_, right) in zip(each, each[1:], each[2:], strict=False):
            if level - max(left, right) > STEPS:
                where = f"{points.name}: {number(level)} at the offset {number(offset)}"
                yield f"{where} is more than {number(STEPS)} m above the points beside it: is a decimal point lost"
