"""Numbers that can be true and seldom are: a slip of the hand, told with its line and why it looks wrong.

Nothing is refused here. The ranges are those of ordinary rivers and structures: common practice, no source.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping

import numpy as np

from overbank.study.build import Problem
from overbank.study.load import Study
from overbank.study.reading.lines import line_numbers
from overbank.study.reading.readable import dotted
from overbank.study.reading.refusals import number
from overbank.study.reading.shared import unused

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

LONG_RECORD, OUTSTANDING = 200, 10.0
"""Few records of annual maxima are longer [years], and in few is one so many times the next."""


def slips(study: Study, problem: Problem) -> tuple[str, ...]:
    """Each number of a study, an uncertain one at its median, that looks wrong: where it stands, what it is, why."""
    medians = {name: float(np.ravel(value)[0]) for name, value in problem.medians().items()}
    document = tomllib.loads(study.text)
    lines = {dotted(path, document): line for path, line in line_numbers(study.text).items()}
    said = [*_unusual(medians), *_high_banks(medians), *_of_maxima(study)]
    said += [(name, "no number of the study uses it") for name in unused(document)]
    return tuple(f"line {lines[name]}, {name}: {words}" for name, words in said if name in lines)


Said = Iterator[tuple[str, str]]
"""Names of numbers, and what looks wrong with them."""


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
    if len(maxima) > 1 and maxima[-1] > OUTSTANDING * maxima[-2]:
        found = f"{number(maxima[-1])} is more than {number(OUTSTANDING)} times the next, {number(maxima[-2])}"
        yield "flow.annual_maxima", f"{found}: is a decimal point lost"
