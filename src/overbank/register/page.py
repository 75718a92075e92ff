"""What the page of a register says: figures in words, the tables cut to what can be read."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from math import isfinite
from typing import Any

import pandas as pd

from overbank.analysis.intervals import Estimate
from overbank.register.defaults import Defaults
from overbank.register.figures import DRAWS
from overbank.register.outcome import Whole
from overbank.register.visits import Screens
from overbank.words import rounded

SHOWN, FEW = 2000, 20
"""Rows of the large table, and of the small ones."""

DASH = "\u2013"


def content_of(whole: Whole, screens: Screens, defaults: Defaults) -> dict[str, Any]:
    """Everything that the page shows."""
    table = whole.table
    spending, knowing = _spending(whole), _knowing(table)
    shrunk, faults = _shrunk(pd.DataFrame(screens.table)), whole.faults[:SHOWN]
    sections = (
        ("answer", "The answer in short", True),
        ("cautions", "Cautions", True),
        ("picture", "Risk against confidence", True),
        ("budget", "For the money", spending),
        ("knowing", "Worth knowing", knowing),
        ("screens", "Visits to screens", shrunk),
        ("structures", "Every structure", True),
        ("faults", "Set aside", faults),
    )
    return {
        "title": whole.title,
        "contents": [(anchor, words) for anchor, words, shown in sections if shown],
        "answer": _answer(whole),
        "sampling": _sampling(whole, defaults),
        "counts": {
            **{"rows": f"{whole.rows:,}", "found": f"{len(table):,}", "aside": f"{whole.aside:,}"},
            **{"shown": f"{min(SHOWN, len(table)):,}", "more": len(table) > SHOWN},
            "more_faults": len(whole.faults) > SHOWN,
        },
        "ignored": ", ".join(whole.ignored),
        "unused": screens.unused,
        "worst": whole.worst,
        "draws": min(DRAWS, int(defaults.run["samples"])),
        "by_year": whole.by_year,
        "damages": bool(table["loss"].notna().any()),
        "spending": spending,
        "knowing": knowing,
        "screens": shrunk,
        "rows": [_row(row) for row in table[:SHOWN].to_dict("records")],
        "faults": faults,
    }


def _answer(whole: Whole) -> str:
    table = whole.table
    first = table.iloc[0]
    sure = int((table["among_worst"] >= 0.9).sum())
    above = int((table["probability"] > 0.5).sum())
    said = (
        f"Likeliest to go over is {first['id']}, with {_probability(first)[0]} in the design flood; {above:,} of "
        f"{len(table):,} go over more likely than not."
    )
    if whole.worst < len(table):
        return f"{said} Of the worst {whole.worst:,}, {sure:,} are so with a probability of 90 % or more."
    return said


def _sampling(whole: Whole, defaults: Defaults) -> str:
    settings = defaults.run
    what = "of a year" if whole.by_year else "of the design flood"
    return (
        f"{settings['samples']:,} samples a structure in {settings['replicates']} replicates, the same points for all; "
        f"damages and benefits are those {what}. Intervals are those of the sampling, 95 %."
    )


def _spending(whole: Whole) -> dict[str, Any] | None:
    """What is chosen for the money."""
    found = whole.spending
    if found is None or whole.money is None:
        return None
    chosen = whole.table[whole.table["chosen"] != ""]
    rows = sorted(map(_chosen, chosen.to_dict("records")), key=lambda row: -row["sort"])
    left = "" if found.most <= found.benefit * (1.0 + 1e-6) else f"; no choice has more than {_money(found.most)}"
    unit = "years" if whole.by_year else "design floods"
    return {
        "words": f"With {_money(whole.money)}, {len(chosen):,} actions for {_money(found.cost)} save "
        f"{_money(found.benefit)} in all{left}.",
        "rows": rows[:SHOWN],
        "count": f"{len(rows):,}",
        "rest": len(rows) > SHOWN,
        "over": f"{whole.floods:g} {unit if whole.floods != 1.0 else unit[:-1]}",
    }


def _chosen(row: Mapping[Any, Any]) -> dict[str, Any]:
    action = row["chosen"]
    which = "in_a_year" if isfinite(row["in_a_year"]) else "probability"
    return {
        **{"id": row["id"], "name": row["name"], "action": action, "sort": row[f"benefit_of_{action}"]},
        **{"cost": _money(row[f"cost_of_{action}"]), "benefit": _money(row[f"benefit_of_{action}"])},
        **{"before": _share(row[which]), "after": _share(row[f"{which}_after_{action}"])},
    }


def _knowing(table: pd.DataFrame) -> list[dict[str, Any]]:
    if "worth_of_knowing" not in table:
        return []
    first = table[table["worth_of_knowing"] > 0.0].nlargest(FEW, "worth_of_knowing")
    return [
        {"id": row["id"], "name": row["name"], "worth": _money(row["worth_of_knowing"])}
        | {"probability": _share(row["probability"]), "driver": row["driver_1"]}
        for row in first.to_dict("records")
    ]


def _shrunk(table: pd.DataFrame) -> list[dict[str, Any]]:
    """The screens whose chance of being all blocked was drawn furthest from what was seen."""
    if table.empty:
        return []
    moved = (table["everything_taken"] - table["everything_seen"]).abs()
    first = table.loc[moved.nlargest(FEW).index]
    return [
        {"id": row["id"], "class_": row["class"] or DASH, "looks": f"{row['looks']:.3g}"}
        | {"weight": _share(row["weight_of_own"]), "seen": _share(row["everything_seen"])}
        | {"shared": _share(row["everything_in_class"]), "taken": _share(row["everything_taken"])}
        for row in first.to_dict("records")
    ]


def _row(row: Mapping[Any, Any]) -> dict[str, Any]:
    """A row of the large table."""
    what = [row[each] for each in ("kind", "class", "region") if row[each]]
    searched = [row["id"], row["name"], *what, row["driver_1"]]
    return {
        **{"rank": row["rank"], "id": row["id"], "name": row["name"], "what": ", ".join(what)},
        "words": " ".join(searched).lower(),
        "probability": _probability(row),
        "worst": f"{_share(row['among_worst'])}, {_share(row['among_worst_apart'])}",
        "in_a_year": _share(row["in_a_year"]),
        **{"largest": _share(row["largest_blockage"]), "allowance": _share(row["allowance"])},
        "damage": _money(row["expected_damage"]),
        "driver": row["driver_1"],
    }


def _probability(row: Any) -> tuple[str, str]:
    """Probability of overtopping and its interval, in words."""
    return rounded(Estimate(row["probability"], row["low"], row["high"], ""), "p")


def _share(value: float) -> str:
    """A share or a probability to two figures."""
    if not isfinite(value):
        return DASH
    return f"{100.0 * value:.2g}\u00a0%" if 0.0 < value < 0.995 else f"{100.0 * value:.0f}\u00a0%"


def _money(value: float) -> str:
    """Money in the user's currency, to whole units."""
    return f"{value:,.0f}" if isfinite(value) else DASH


def fault_rows(whole: Whole) -> Iterator[dict[str, Any]]:
    """Every fault as a row of a table."""
    return (fault._asdict() for fault in whole.faults)
