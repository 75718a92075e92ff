"""The headline figures of a finished run in one row, from its summary."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any

THRESHOLD = "threshold_method"

FIGURES: dict[str, tuple[tuple[str, ...], ...]] = {
    "probability": tuple(
        ("probability_of_overtopping", method) for method in ("beyond_the_samples", THRESHOLD, "plain_count")
    ),
    "assured_level_m": (("headwater_not_exceeded_m", "{assurance}"),),
    "largest_blockage": (("blockage", "largest_within_target"),),
    "allowance": (("blockage", "allowance_for_assurance"),),
    "probability_in_a_year": (("floods_of_a_year", "probability_of_overtopping", THRESHOLD),),
}
"""Where each figure stands in summary.json; the first that is there counts."""


def headlines(results: Path | None) -> dict[str, Any]:
    """The headline figures of a results folder by name, each with its interval; all missing where there is none."""
    return in_a_row({} if results is None else json.loads((results / "summary.json").read_text(encoding="utf-8")))


def in_a_row(said: Mapping[str, Any]) -> dict[str, Any]:
    """The headline figures of a summary by name, each with its interval; what it does not have is missing."""
    assurance = said.get("assurance", math.nan)
    row = {
        **{"title": said.get("title"), "place": said.get("place")},
        **{"target_probability": said.get("target_probability", math.nan), "assurance": assurance},
    }
    for name in ("flow_m3_s", "level_m", "bank_level_m"):
        row[f"medians_{name}"] = _number(_at(said, ("deterministic", name)))
    for name, places in FIGURES.items():
        found = (_at(said, tuple(key.format(assurance=f"{assurance:g}") for key in place)) for place in places)
        figure = next((each for each in found if each is not None), None)
        for end, key in (("", "value"), ("_low", "low"), ("_high", "high")):
            row[name + end] = _number(_at(figure, (key,)))
    return row


def _at(tree: Any, path: tuple[str, ...]) -> Any:
    """What stands at a path, None where nothing does."""
    for key in path:
        tree = tree.get(key) if isinstance(tree, dict) else None
    return tree


def _number(figure: float | str | None) -> float:
    """A figure of a summary, where JSON has words instead of endless numbers."""
    if isinstance(figure, str):
        return math.inf if figure.startswith("above") else -math.inf
    return math.nan if figure is None else figure
