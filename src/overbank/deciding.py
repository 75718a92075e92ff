"""Tables and headline figures of the decision: allowances, the panel, arrangements, an authority's own figures."""

from __future__ import annotations

import math
from typing import Any

import pandas as pd

from overbank.analysis.intervals import Estimate
from overbank.findings.allowance import Panel, Readings
from overbank.findings.requirements import AskedFor, Required
from overbank.findings.water import Arrangement, Comparison, Difference
from overbank.json_figures import figure, plain
from overbank.outcome import Outcome


def summary(outcome: Outcome) -> dict[str, Any]:
    """Headline figures of the arrangements and of what an authority asks for, where there are any."""
    found: dict[str, Any] = {}
    if outcome.comparison is not None:
        found["arrangements"] = {each.name: _in_short(each) for each in outcome.comparison.arrangements}
    if outcome.asked_for is not None:
        found["requirements"] = [_of_line(line) for line in outcome.asked_for.lines]
    return found


def tables(outcome: Outcome) -> dict[str, pd.DataFrame | None]:
    """The tables by the names of their files; None where there is nothing to tell."""
    return {
        "allowances": allowance_table(outcome.readings),
        "panel": panel_table(outcome.panel),
        "arrangements": None if outcome.comparison is None else arrangement_table(outcome.comparison),
        "requirements": None if outcome.asked_for is None else requirement_table(outcome.asked_for),
    }


def allowance_table(found: Readings | None) -> pd.DataFrame | None:
    """Every reading of the allowance, one row a figure; None without an uncertain blockage."""
    if found is None:
        return None
    rows: list[tuple[str, str, str, Estimate]] = []
    rows += [("tolerated", f"{each.target:g}", "largest_blockage", each.largest) for each in found.tolerated]
    for assured in found.assured:
        rows.append(("assured", f"{assured.assurance:g}", "level_m", assured.level))
        rows.append(("assured", f"{assured.assurance:g}", "allowance", assured.allowance))
    for fixed in found.fixed:
        rows.append(("fixed", f"{fixed.blockage:g}", "level_exceeded", fixed.exceeded))
        rows.append(("fixed", f"{fixed.blockage:g}", "overtopping", fixed.overtopping))
    for assumed in found.assumed:
        rows.append(("model", assumed.words, "overtopping", assumed.probability))
        rows.append(("model", assumed.words, "level_m", assumed.level))
        rows.append(("model", assumed.words, "allowance", assumed.allowance))
    columns = ["reading", "of", "figure", "value", "low", "high", "method"]
    return pd.DataFrame(
        [(*row[:3], row[3].value, row[3].low, row[3].high, row[3].method) for row in rows], columns=columns
    )


def panel_table(found: Panel | None) -> pd.DataFrame | None:
    """Every figure that the panel of the report can show; without a blockage: as uncertain as assumed."""
    if found is None:
        return None
    rows: list[tuple[str, float, float, float, Estimate]] = []
    for row in found.rows:
        blockage = math.nan if row.blockage is None else row.blockage
        pairs = zip(found.banks, row.above, strict=True)
        rows += [("probability_above_bank", blockage, bank, math.nan, figure) for bank, figure in pairs]
        ends = zip(found.targets, row.levels, strict=True)
        rows += [("level_exceeded_m", blockage, math.nan, target, figure) for target, figure in ends]
    for bank, figures in zip(found.banks, found.largest, strict=False):
        pairs = zip(found.targets, figures, strict=True)
        rows += [("largest_blockage", math.nan, bank, target, figure) for target, figure in pairs]
    columns = ["figure", "blockage", "bank_level_m", "target_probability", "value", "low", "high"]
    return pd.DataFrame([(*row[:4], row[4].value, row[4].low, row[4].high) for row in rows], columns=columns)


def requirement_table(found: AskedFor) -> pd.DataFrame:
    """The authority's own figures, a row a line: what is asked, what the study has, by how much that is short of it.

    Shares from 0 to 1 and lengths in m, whatever unit the file uses; empty where the study has nothing.
    """
    return pd.DataFrame(
        {
            **{"name": line.name, "about": line.about, "asked": line.asked},
            **{"asks_for": _asks(line), "reference": line.reference},
            **{"has": line.has.value, "low": line.has.low, "high": line.has.high, "short_by": line.short},
            "basis": line.basis,
        }
        for line in found.lines
    )


def arrangement_table(comparison: Comparison) -> pd.DataFrame:
    """One row an arrangement, with its differences to the site as it stands."""
    return pd.DataFrame([_arrangement(each) for each in comparison.arrangements])


def _arrangement(found: Arrangement) -> dict[str, str | float]:
    nothing = Estimate(math.nan, math.nan, math.nan, "")
    difference = found.difference or Difference(*(nothing,) * 6, None)
    figures = {
        "probability": found.overtopping.best,
        "assured_level_m": found.assured,
        "largest_blockage": found.blockage.largest if found.blockage else nothing,
        "allowance": found.blockage.allowance if found.blockage else nothing,
        "change_of_probability": difference.probability,
        "change_of_median_level_m": difference.median,
        "change_of_assured_level_m": difference.assured,
        "change_of_mean_level_m": difference.mean,
        "share_lower": difference.lower,
        "share_higher": difference.higher,
        "share_beyond_tolerance": difference.beyond or nothing,
    }
    row: dict[str, str | float] = {"arrangement": found.name, "level_at_medians_m": found.deterministic}
    for name, each in figures.items():
        row |= {name: each.value, f"{name}_low": each.low, f"{name}_high": each.high}
    return row


def _in_short(found: Arrangement) -> dict[str, Any]:
    """Figures of an arrangement, and its differences to the site as it stands."""
    figures = {"probability": figure(found.overtopping.best), "assured_level_m": figure(found.assured)}
    if found.difference is not None:
        figures["change_of_probability"] = figure(found.difference.probability)
        figures["change_of_median_level_m"] = figure(found.difference.median)
        figures["change_of_assured_level_m"] = figure(found.difference.assured)
        if found.difference.beyond is not None:
            figures["share_beyond_tolerance"] = figure(found.difference.beyond)
    return figures


def _of_line(line: Required) -> dict[str, Any]:
    """A line of an authority's figures, and what the study has of it."""
    has, short = figure(line.has), plain(line.short)
    if math.isinf(line.has.value):
        has, short = {**has, "value": f"{'more' if line.has.value > 0.0 else 'less'} than all looked at"}, None
    return {
        **{"name": line.name, "about": line.about, "asked": line.asked},
        **{"asks_for": _asks(line), "reference": line.reference},
        **{"has": has, "short_by": short, "basis": line.basis},
        "beside": {each.words: figure(each.figure) for each in line.beside},
    }


def _asks(line: Required) -> str:
    return "at least" if line.at_least else "at most"
