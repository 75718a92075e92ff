"""Figures as summary.json and the tables have them; where JSON has no number, words."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

from overbank.analysis.intervals import Estimate

if TYPE_CHECKING:  # a check makes no tables
    import pandas as pd


def figure(estimate: Estimate) -> dict[str, Any]:
    """A figure with its 95 % interval and its method."""
    found = {
        "value": plain(estimate.value),
        "low": plain(estimate.low),
        "high": plain(estimate.high),
        "method": estimate.method,
    }
    return {**found, "note": estimate.note} if estimate.note else found


def by_share(estimates: Mapping[float, Estimate]) -> dict[str, Any]:
    """Figures by a probability, that of not being exceeded for one."""
    return {f"{share:g}": figure(each) for share, each in estimates.items()}


def plain(number: float) -> float | str | None:
    """A JSON number to a millionth, below 1 to six significant digits; endless ones in words, no number as null."""
    if math.isnan(number):
        return None
    if math.isinf(number):
        return "above every level" if number > 0 else "below every level"
    return round(float(number), 6) if abs(number) >= 1.0 else float(f"{number:.6g}")


def table_of(rows: Iterable[dict[str, Any]]) -> pd.DataFrame | None:
    """A table; None without rows."""
    import pandas as pd

    table = pd.DataFrame(list(rows))
    return None if table.empty else table


def columns(name: str, estimate: Estimate) -> dict[str, float]:
    """A figure and its interval as columns: name, name_low, name_high."""
    return {name: estimate.value, f"{name}_low": estimate.low, f"{name}_high": estimate.high}
