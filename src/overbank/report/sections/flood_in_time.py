"""The flood in time: how long above the capacity, debris that keeps coming, a crew, and what a steady run misses."""

from __future__ import annotations

from importlib.resources import files
from typing import Any

from markupsafe import Markup

from overbank.outputs.outcome import Outcome
from overbank.report import passing
from overbank.report.names import plain_name
from overbank.report.sections.section import Section
from overbank.words import rounded, share_words

SCRIPT = files("overbank.report") / "sections" / "flood_in_time.js"
"""It holds nothing of the study."""


def _content(outcome: Outcome) -> dict[str, Any] | None:
    capacity, through, years = outcome.over_capacity, outcome.through_flood, outcome.years_in_time
    if capacity is None and through is None and years is None:
        return None
    shown: dict[str, Any] = {
        "year_lines": [] if years is None else list(passing.year_lines(years)),
        "steady_year": None if outcome.annual is None else rounded(outcome.annual.probability, "p"),
        "capacity_lines": [] if capacity is None else list(passing.capacity_lines(capacity)),
        "through": through,
    }
    if through is None:
        return shown
    named = None if through.name is None else plain_name(through.name)
    return shown | {
        "opening": None if named is None else f"{named.in_full} at {named.group}",
        "pool_lines": list(passing.pool_lines(outcome)),
        "unfinished": 0.0 if through.stored is None else through.stored.unfinished,
        "ways": [words for words, _ in passing.ways(through)],
        "flood_lines": list(passing.lines(outcome)),
        "by_threshold": None if through.threshold is None else rounded(through.threshold, "p"),
        "steady_lines": list(passing.steady_lines(outcome)),
        "event_allowance": None if through.allowance is None else rounded(through.allowance, "%"),
        "allowance_note": "" if through.allowance is None else through.allowance.note,
        "share": share_words(outcome.assurance),
        "arranged": list(passing.arranged(outcome)),
        "per_cost": any(each.removed is not None for each in through.policies),
        "crews": any(each.warned is not None for each in through.policies),
        "warned_lines": list(passing.warned_lines(outcome)),
        "travel_lines": list(passing.travel_lines(outcome)),
        "travel_data": passing.travels(outcome),
        "own_travel": passing.own_travel(outcome),
        "travel_script": Markup(SCRIPT.read_text(encoding="utf-8")),
    }


SECTION = Section(
    "flood-in-time",
    "The flood in time",
    "The flood in time",
    _content,
    shows=("over_capacity", "through_flood", "years_in_time"),
    figures=("course_of_flood", "hours_over_bank", "warning_by_travel"),
)
