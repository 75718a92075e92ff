"""US customary units in a study file, turned into SI at the door: `width_ft` or `width_in` stand for `width_m`.

A key with the end of a unit stands for the same key in SI; behind this module there is nothing but SI. Distributions,
bounds and what a survey would leave are turned with their number.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from overbank.study.reading.families import FAMILIES
from overbank.study.reading.lines import DEEPEST, KeyPath
from overbank.study.reading.numbers import Number
from overbank.study.reading.refusals import refusal, shown
from overbank.study.reading.unit_names import in_si

SAME_UNIT = (
    "mean",
    "sd",
    "median",
    "low",
    "high",
    "mode",
    "location",
    "scale",
    "values",
    "people",
    "value",
    "sd_after",
)
"""What has the unit of its number: parameters of distributions, a certain value, what a survey would leave."""

LOGARITHM = "mean_log10"
"""The parameter that is a logarithm of its number."""

TABLE = "shared"
"""The table whose keys are the user's own names."""

NAMED = ("between", "remove")
"""Lists of dotted names of keys."""

Wrong = tuple[KeyPath, Any]
"""A fault: where it stands, and its parts."""


@dataclass
class Door:
    """Turns a study's tables into SI; `wrong` gathers what cannot be turned."""

    wrong: list[Wrong]

    def turned(self, tree: Any, path: KeyPath = ()) -> Any:
        """The same in SI; the tree itself stays as it is."""
        if isinstance(tree, list) and len(path) <= DEEPEST:
            if path and path[-1] in NAMED:
                return [(in_si(each) or (each,))[0] if isinstance(each, str) else each for each in tree]
            return [self.turned(each, (*path, index)) for index, each in enumerate(tree)]
        if not isinstance(tree, dict) or len(path) > DEEPEST:
            return tree
        found: dict[str, Any] = {}
        for key, value in tree.items():
            own = path == (TABLE,) or key.startswith(f"{TABLE}.")
            twin = None if own else in_si(key)
            if twin is None:
                found.setdefault(key, self.turned(value, (*path, key)))
                continue
            name, factor = twin
            if name in tree or name in found:
                self._refuse((*path, key), f"{name}, or the same in US units", "both", "Keep one of them.")
            else:
                found[name] = self._number(value, factor, (*path, key))
        return found

    def _number(self, value: Any, factor: float, path: KeyPath) -> Any:
        """A number, a table of one or a distribution in SI; what is none of these is left for the schema to refuse."""
        if isinstance(value, str) and value.startswith(f"{TABLE}."):
            expected = "a number in US units; what is [shared] is in SI units, whatever its name"
            self._refuse(path, expected, shown(value), "Use the key in SI units here.")
        if isinstance(value, Number):
            expected = "a number or a table; a distribution of SciPy is taken in SI units only"
            self._refuse(path, expected, "one for a key in US units", "Use the key in SI units here.")
        if not isinstance(value, dict) or len(path) > DEEPEST:
            return _times(value, lambda number: number * factor)
        found = {}
        for key, inner in value.items():
            if key in FAMILIES and isinstance(inner, dict):
                found[key] = self._parameters(inner, factor, (*path, key))
            elif key == "survey" and isinstance(inner, dict):
                found[key] = {**inner, **self._parameters(inner, factor, (*path, key))}
            else:
                found[key] = _times(inner, lambda number: number * factor) if key in SAME_UNIT else inner
        return found

    def _parameters(self, given: dict[str, Any], factor: float, path: KeyPath) -> dict[str, Any]:
        """Parameters of a distribution, some of which may have a distribution of their own."""
        found = {}
        for key, value in given.items():
            if key in ("file", LOGARITHM) and not isinstance(value, int | float):
                expected = "a parameter that can be turned into SI units"
                self._refuse((*path, key), expected, shown(value), "Give this number in SI units.")
            if key == LOGARITHM:
                found[key] = _times(value, lambda number: number + math.log10(factor))
            elif key in SAME_UNIT:
                found[key] = self._number(value, factor, (*path, key))
            else:
                found[key] = value
        return found

    def _refuse(self, path: KeyPath, expected: str, got: str, remedy: str) -> None:
        self.wrong.append((path, refusal(expected, got, remedy).context))


def _times(value: Any, turn: Callable[[float], float]) -> Any:
    """A number, or a list of them, turned; anything else as it is."""
    if isinstance(value, list):
        return [_times(each, turn) for each in value]
    is_number = isinstance(value, int | float) and not isinstance(value, bool)
    return turn(value) if is_number else value
