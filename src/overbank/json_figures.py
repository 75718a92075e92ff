"""Figures as JSON has them: numbers, and words where JSON has no number."""

from __future__ import annotations

import math
from typing import Any

from overbank.analysis.intervals import Estimate


def figure(estimate: Estimate) -> dict[str, Any]:
    """A figure with its 95 % interval and its method."""
    found = {
        "value": plain(estimate.value),
        "low": plain(estimate.low),
        "high": plain(estimate.high),
        "method": estimate.method,
    }
    return {**found, "note": estimate.note} if estimate.note else found


def plain(number: float) -> float | str | None:
    """A JSON number; endless ones in words, no number as null."""
    if math.isnan(number):
        return None
    if math.isinf(number):
        return "above every level" if number > 0 else "below every level"
    return round(float(number), 6)
