"""The one place through which the referee reads what the program says: its headline figures by the referee's own names.

Switch here when the way to reach a result changes.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import overbank
from overbank.commands.terminal import show_answer
from overbank.files.store import summary
from overbank.report.freeboard import ledger

BLOCKAGES = (0.0, 0.25, 0.5, 0.75, 1.0)
"""Blockages at which the curve is looked at."""

BARE = 0.03
"""Taken as the half width of the interval of a figure that the program prints without one, as a share of it."""


@dataclass(frozen=True)
class Said:
    """A figure of the program with its 95 % interval; `replicates` tells how the interval was scaled."""

    value: float
    low: float
    high: float
    replicates: int


@dataclass(frozen=True)
class Results:
    """All headline figures of a run by the referee's names, and the blockage that the curve is about."""

    figures: dict[str, Said]
    blockage: str | None


HEADLINES = ("headwater", "overtopping", "blockage", "annual", "learnt")
"""Outputs in which the figures stand."""


def run(folder: Path, only: tuple[str, ...] | None = None) -> Any:
    """The outcome of a study folder; all outputs if none are named."""
    return overbank.run_study(overbank.read_study(folder), only=only)


def results(folder: Path, outputs: tuple[str, ...] = HEADLINES) -> Results:
    """Run a study and read its headline figures, those of some outputs."""
    outcome = run(folder, outputs)
    replicates = outcome.study.content.run.replicates
    blockage = None if outcome.blockage is None else outcome.blockage.name
    found = {
        name: Said(float(each.value), float(each.low), float(each.high), replicates) for name, each in _figures(outcome)
    }
    sds = {
        f"learnt sd of {name}": Said(sd, (1.0 - BARE) * sd, (1.0 + BARE) * sd, replicates)
        for name, sd in learnt_sds(outcome).items()
    }
    shares = {f"event shapley {name}": Said(*each, replicates) for name, each in event_effects(outcome).items()}
    return Results(found | _curve(outcome, replicates) | sds | shares, blockage)


def _figures(outcome: Any) -> Iterator[tuple[str, Any]]:
    if outcome.overtopping is not None:
        yield "overtopping", outcome.overtopping.best
        yield "overtopping, counted", outcome.overtopping.plain
    if outcome.headwater is not None:
        for share, level in outcome.headwater.quantiles.items():
            yield f"level {share:g}", level
    if outcome.blockage is not None:
        yield "largest blockage", outcome.blockage.largest
        yield "allowance", outcome.blockage.allowance
    yield from _of_a_year(outcome.annual)
    if outcome.learnt is not None and outcome.learnt.taught is not None:
        yield "overtopping learnt", outcome.learnt.taught.probability.posterior
        yield "level learnt", outcome.learnt.taught.level.posterior
        if outcome.learnt.taught.allowance is not None:
            yield "allowance learnt", outcome.learnt.taught.allowance.posterior


def _of_a_year(annual: Any) -> Iterator[tuple[str, Any]]:
    if annual is None:
        return
    yield "in a year", annual.probability
    yield "in a year, counted", annual.plain
    for share, found in annual.knowledge.items():
        yield f"in a year, {share:g}", found
    if annual.life is not None:
        yield "over the life", annual.life.probability
    for years, found in annual.over.items():
        yield f"over {years} years", found
    for line in annual.lines:
        yield f"assurance {line.annual_probability:g}", line.assurance


def _curve(outcome: Any, replicates: int) -> dict[str, Said]:
    """P(overtop) with the blockage set, read off the table; nan where it has no such line."""
    table = overbank.tables(outcome).get("overtopping_by_blockage")
    if table is None:
        return {}
    found = {}
    for share in BLOCKAGES:
        row = table.loc[(table["blockage"] - share).abs() < 1e-9]
        numbers = row[["probability_if_fixed", "fixed_low", "fixed_high"]].to_numpy()
        value, low, high = numbers[0] if len(numbers) else (float("nan"),) * 3
        found[f"blockage set to {share:g}"] = Said(float(value), float(low), float(high), replicates)
    return found


def learnt_sds(outcome: Any) -> dict[str, float]:
    """Standard deviation of every number after the floods that were seen; empty where nothing was learnt."""
    table = overbank.tables(outcome).get("learnt")
    return {} if table is None else dict(zip(table["input"], table["posterior_sd"], strict=True))


def event_effects(outcome: Any) -> dict[str, tuple[float, float, float]]:
    """Shapley effect of the event of overtopping of every input, with its interval; empty where there is none."""
    table = overbank.tables(outcome).get("shapley_effects")
    if table is None or "output" not in table:
        return {}
    rows = table[table["output"] == "overtopping"]
    kinds = (rows[kind] for kind in ("shapley", "shapley_low", "shapley_high"))
    return {name: (value, low, high) for name, value, low, high in zip(rows["input"], *kinds, strict=True)}


NAMES = {
    "largest": ("largest_within_target", "largest_blockage", "largest blockage within the target"),
    "allowance": ("allowance_for_assurance", "allowance", "blockage allowance"),
}
"""The largest blockage and the allowance, as summary.json, the tables and the terminal call them."""


def where_it_is_told(outcome: Any, figure: str) -> tuple[list[float | None], str]:
    """Value and ends of a figure in summary.json and in the tables that have it, empty as None; and its note."""
    name, column, _ = NAMES[figure]
    said, tables = summary(outcome)["blockage"][name], overbank.tables(outcome)
    found = [said[part] for part in ("value", "low", "high")]
    found += [tables["targets"].iloc[-1][f"{column}{end}"] for end in ("", "_low", "_high")]
    target = outcome.target if figure == "largest" else outcome.assurance
    rows = tables["allowances"].query("figure == @column and reading != 'model'")
    (row,) = (row for _, row in rows.iterrows() if float(row["of"]) == target)
    found += [row[part] for part in ("value", "low", "high")]
    return [None if each is None or math.isnan(each) else float(each) for each in found], said["note"]


def in_the_terminal(outcome: Any, figure: str, read: Callable[[], str]) -> tuple[str, str]:
    """What stands in the terminal for a figure, and for its interval; `read` gives what was printed."""
    show_answer(outcome)
    rows = [[cell.strip() for cell in line.split("│")[1:4]] for line in read().splitlines() if line.startswith("│")]
    (first,) = (k for k, row in enumerate(rows) if NAMES[figure][2].startswith(row[0].split(",")[0]) and row[1])
    more = [row[2] for row in rows[first : first + 2] if row is rows[first] or not row[1]]
    return rows[first][1], " ".join(more).strip()


def numbers_of_summary(outcome: Any) -> list[float]:
    """Every number of summary.json."""
    found: list[float] = []

    def walk(part: Any) -> None:
        if isinstance(part, dict | list):
            for each in part.values() if isinstance(part, dict) else part:
                walk(each)
        elif isinstance(part, float):
            found.append(part)

    walk(summary(outcome))
    return found


def steps_of_automatic(outcome: Any) -> set[str]:
    """Names of the figures whose precision an automatic number of samples looks at."""
    return set(overbank.tables(outcome)["automatic_samples"]["figure"])


def in_the_spread(outcome: Any) -> tuple[str, str]:
    """What the page says is in the spread of the level already, and what it warns of beside it."""
    told = ledger(outcome)
    assert told is not None
    return "; ".join(told.within), told.warning
