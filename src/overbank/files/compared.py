"""Two finished results beside each other: their headline figures, and what is different in their studies."""

from __future__ import annotations

import json
import math
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from overbank.analysis.intervals import Estimate
from overbank.errors import DomainError
from overbank.files.headlines import in_a_row
from overbank.files.owned import MARK, owned_files
from overbank.study.reading.lines import KeyPath
from overbank.study.reading.readable import dotted

FIGURES: Mapping[str, tuple[str, str]] = {
    "medians_level_m": ("level, every number at its median", "m"),
    "medians_bank_level_m": ("bank, at its median", "m"),
    "probability": ("probability of overtopping", "p"),
    "assured_level_m": ("level with the assurance asked for", "m"),
    "largest_blockage": ("largest blockage within the target", "%"),
    "allowance": ("blockage allowance", "%"),
    "probability_in_a_year": ("probability of overtopping in a year", "p"),
}
"""Headline figures in words, with their unit."""

SETTINGS = ("written_by", "samples", "replicates", "design", "seed")
"""What a manifest tells of how its results were made."""


@dataclass(frozen=True)
class Beside:
    """One figure of two results; nan where a result does not have it.

    unit : "m", "p" a probability, "%" a share
    """

    words: str
    unit: str
    first: Estimate
    second: Estimate

    @property
    def change(self) -> float:
        """Second less first."""
        return self.second.value - self.first.value

    @property
    def within(self) -> bool:
        """Whether the two intervals have a value in common, so that sampling alone may have moved the figure."""
        return self.first.low <= self.second.high and self.second.low <= self.first.high


@dataclass(frozen=True)
class Changed:
    """One key that is different; empty where a study does not have it."""

    name: str
    first: str
    second: str


@dataclass(frozen=True)
class Compared:
    """Two finished results."""

    titles: tuple[str, str]
    places: tuple[str, str]
    figures: tuple[Beside, ...]
    changes: tuple[Changed, ...]

    def as_json(self) -> dict[str, Any]:
        """As plain tables; null for a figure that a result does not have."""
        figures = [
            {
                **{"figure": each.words, "unit": {"p": "", "%": ""}.get(each.unit, each.unit)},
                **{"first": _plain(each.first), "second": _plain(each.second)},
                **{"change": each.change if math.isfinite(each.change) else None, "within_sampling": each.within},
            }
            for each in self.figures
        ]
        changes = [{"name": each.name, "first": each.first, "second": each.second} for each in self.changes]
        return {"titles": self.titles, "places": self.places, "figures": figures, "changes": changes}


def _plain(found: Estimate) -> dict[str, float | None]:
    ends = {"value": found.value, "low": found.low, "high": found.high}
    return {name: value if math.isfinite(value) else None for name, value in ends.items()}


def compare_results(first: Path, second: Path) -> Compared:
    """Two folders of finished results, or of studies with their results in them.

    Raises
    ------
    DomainError : one of them holds no results
    """
    folders = [_results(folder) for folder in (first, second)]
    told = [_json(folder / MARK) for folder in folders]
    rows = [in_a_row(_json(folder / "summary.json")) for folder in folders]
    figures = tuple(
        Beside(words, unit, *(_estimate(row, name) for row in rows)) for name, (words, unit) in FIGURES.items()
    )
    return Compared(
        titles=(str(rows[0]["title"]), str(rows[1]["title"])),
        places=(str(rows[0]["place"]), str(rows[1]["place"])),
        figures=tuple(each for each in figures if not math.isnan(each.first.value + each.second.value) or _one(each)),
        changes=tuple(_changes(_said(told[0]), _said(told[1]))),
    )


def _one(each: Beside) -> bool:
    return math.isnan(each.first.value) != math.isnan(each.second.value)


def _results(folder: Path) -> Path:
    for place in (folder, folder / "results"):
        if owned_files(place) and (place / "summary.json").is_file():
            return place
    raise DomainError(
        f"{folder}: expected a folder of results, or of a study with its results; got none. "
        'Run the study first, with "overbank run"'
    )


def _json(file: Path) -> dict[str, Any]:
    try:
        found = json.loads(file.read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        raise DomainError(f"{file}: cannot be read back ({error}). Run the study again") from None
    return found if isinstance(found, dict) else {}


def _estimate(row: Mapping[str, Any], name: str) -> Estimate:
    value, low, high = (row.get(f"{name}{end}", math.nan) for end in ("", "_low", "_high"))
    if math.isnan(low) and math.isnan(high):  # a figure without an interval, such as a bank
        low = high = value
    return Estimate(value, low, high, "")


def _said(told: Mapping[str, Any]) -> dict[str, str]:
    """Everything that results rest on, by name: the study key by key, what was given in its place, files, settings."""
    try:
        document = tomllib.loads(str(told.get("study", "")))
    except ValueError:
        document = {}
    settings = {f"[{name}]": str(told[name]) for name in SETTINGS if name in told}
    files = {f"[file] {name}": f"contents {digest[:8]}" for name, digest in told.get("named_files_sha256", {}).items()}
    study = {dotted(path, document): value for path, value in _leaves(document, ())}
    kept = {name: value for name, value in study.items() if not name.startswith(("run.", "title"))}
    given = {name: f"{value} (set for this run)" for name, value in told.get("given", {}).items()}
    return {**kept, **given, **files, **settings}


def _leaves(tree: Any, path: KeyPath) -> Iterator[tuple[KeyPath, str]]:
    if isinstance(tree, dict):
        for key, value in tree.items():
            yield from _leaves(value, (*path, key))
    elif isinstance(tree, list) and any(isinstance(value, dict) for value in tree):
        for place, value in enumerate(tree):
            yield from _leaves(value, (*path, place))
    else:
        yield path, json.dumps(tree, ensure_ascii=False, default=str)


def _changes(first: Mapping[str, str], second: Mapping[str, str]) -> Iterator[Changed]:
    for name in dict.fromkeys([*first, *second]):
        before, after = first.get(name, ""), second.get(name, "")
        if before != after:
            yield Changed(name, before, after)
