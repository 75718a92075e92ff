"""What would change the choice among the arrangements."""

from __future__ import annotations

from typing import Any, NamedTuple

from overbank.outputs.decision_map import RAISED, Corner
from overbank.outputs.outcome import Outcome
from overbank.report.arrangements import alike
from overbank.report.sections.section import Section
from overbank.words import Rounded, change, rounded


class Line(NamedTuple):
    """One assumption of debris and dependence: overtopping and level of each arrangement, and the least of them."""

    debris: str
    dependence: str
    figures: tuple[tuple[Rounded, Rounded], ...]
    least: str
    apart: Rounded
    turn: str


def _content(outcome: Outcome) -> dict[str, Any] | None:
    found = outcome.decision_map
    if found is None:
        return None
    same = () if outcome.comparison is None else alike(outcome)
    arranged = [name for name in found[0].probability if name not in same]
    return {
        "corners": [_line(each, arranged) for each in found],
        "arranged": arranged,
        "banks": f"{-RAISED[0]:g}\u00a0m lower to {RAISED[-1]:g}\u00a0m higher",
        "alike": same,
        "moves": len({each.least for each in found if each.told}) > 1,
    }


def _line(found: Corner, arranged: list[str]) -> Line:
    figures = tuple((rounded(found.probability[name], "p"), rounded(found.level[name], "m")) for name in arranged)
    return Line(
        found.debris,
        found.dependence,
        figures,
        found.least if found.told else "cannot be told apart",
        change(found.apart, "p") if found.told else Rounded("", ""),
        _turn(found),
    )


def _turn(found: Corner) -> str:
    """Which other bank would put another arrangement first."""
    if found.turn is None:
        return "none"
    higher, name = found.turn
    return f"{name}, {abs(higher):.2f}\u00a0m {'higher' if higher > 0.0 else 'lower'}"


SECTION = Section(
    "decision-map", "What would change the choice", "What would change the choice", _content, shows=("decision_map",)
)
