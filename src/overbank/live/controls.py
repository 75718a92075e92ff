"""The numbers of a site that a reader may move by hand: flow, blockages, tailwater and the bank."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from overbank.errors import DomainError
from overbank.model import Model
from overbank.report.names import plain_name
from overbank.sampling.ladder import is_blockage
from overbank.site.long_section import outlines
from overbank.site.numbers import FLOW
from overbank.study.build import Problem
from overbank.study.reading.refusals import list_of, shown

TAILWATER = "tailwater.level_m"
"""The level below the first structure; one held by hand takes the place of whatever the study finds it from."""

QUANTITIES = (".debris_m2", ".debris_m3")
"""Debris as an area or a volume, from which the blocked share follows."""

LESS, MORE = 0.2, 3.0
"""A flow, or a quantity of debris, may be held at so many times its median."""

FINE = 0.5
"""Where the bank lies less than this over the bed, levels move by millimetres [m]: a model on the desk."""


@dataclass(frozen=True)
class Control:
    """A number that may be held by hand.

    name : its dotted path
    words, unit : in plain words; no unit for a share
    low, high, step : how far it may be moved, and how finely
    start : at the medians
    said : how the study has it, in words
    """

    name: str
    words: str
    unit: str
    low: float
    high: float
    step: float
    start: float
    said: str


def controls_of(model: Model) -> tuple[Control, ...]:
    """What may be moved at a site, in the order of the page."""
    problem, numbers = model.problem, model.problem.medians()
    bed = outlines(problem.site.elements, numbers)[0].bed_start
    bank = model.bank_at_medians
    reach = max(bank - bed, 0.01)
    step = 0.01 if reach >= FINE else 0.001
    found = [_quantity(problem, FLOW, float(np.asarray(numbers[FLOW])), LESS)]
    for name in sorted(numbers):
        if is_blockage(name):
            found.append(_control(problem, name, (0.0, 1.0, 0.01), float(np.asarray(numbers[name]))))
        elif name.endswith(QUANTITIES) and float(np.asarray(numbers[name])) > 0.0:
            found.append(_quantity(problem, name, float(np.asarray(numbers[name])), 0.0))
    tailwater = float(model.at_medians.tailwater[0])
    top = max(bank, tailwater) + 0.5 * reach
    found.append(_control(problem, TAILWATER, _range(bed, top, step), tailwater))
    name = f"{model.place}.bank_level_m"
    if all(follower.name != name for follower in problem.followers):  # else it follows a profile of its own
        found.append(_control(problem, name, _range(bank - 0.5 * reach, bank + 0.5 * reach, step), bank))
    return tuple(found)


def held_by_hand(given: Any, controls: tuple[Control, ...]) -> dict[str, float]:
    """The numbers that a page holds, by their names, each checked.

    Raises
    ------
    DomainError : no table of numbers, no such control, or a number that it cannot have
    """
    if not isinstance(given, Mapping):
        raise DomainError(f"held: expected a table of numbers by their names; got {shown(given)}. Send one")
    known = {control.name: control for control in controls}
    found = {}
    for name, value in given.items():
        if name not in known:
            raise DomainError(f"held: expected {list_of(tuple(known))}; got {shown(name)}. Name one of them")
        found[name] = _checked(value, known[name])
    return found


def _checked(value: Any, control: Control) -> float:
    number = isinstance(value, int | float) and not isinstance(value, bool)
    if number and control.low <= value <= control.high:
        return float(value)
    unit = f" {control.unit}" if control.unit else ""
    ends = f"{control.low:g} to {control.high:g}{unit}"
    raise DomainError(f"{control.words}: expected a number from {ends}; got {shown(value)}. Correct it")


def _quantity(problem: Problem, name: str, median: float, least: float) -> Control:
    """A flow or a quantity of debris, in steps of about a hundredth of its median."""
    step = 10.0 ** (math.floor(math.log10(median)) - 2)
    return _control(problem, name, _range(least * median, MORE * median, step), median)


def _range(low: float, high: float, step: float) -> tuple[float, float, float]:
    """Ends outwards to whole steps."""
    decimals = max(0, -math.floor(math.log10(step) + 1e-9))
    return round(math.floor(low / step) * step, decimals), round(math.ceil(high / step) * step, decimals), step


def _control(problem: Problem, name: str, moves: tuple[float, float, float], start: float) -> Control:
    plain = plain_name(name)
    place = "" if name in (FLOW, TAILWATER) else f"{plain.group}: "
    words = "tailwater, level" if name == TAILWATER else f"{place}{plain.in_full}"
    return Control(name, words, plain.unit, *moves, start, _said(problem, name))


def _said(problem: Problem, name: str) -> str:
    """How the study has a number."""
    item = next((item for item in problem.inputs.items if item.name == name), None)
    if item is not None:
        return item.distribution.words
    return "certain" if name in problem.fixed else "follows from other numbers"
