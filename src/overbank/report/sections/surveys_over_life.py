"""What surveys are worth over the life before an arrangement is chosen."""

from __future__ import annotations

from typing import Any, NamedTuple

from overbank.outputs.outcome import Outcome
from overbank.outputs.surveys_over_life import FLOODS, Known
from overbank.report.names import plain_name
from overbank.report.readings import QUOTE
from overbank.report.sections.section import Section
from overbank.words import Rounded, scaled


class KnownLine(NamedTuple):
    """What is learnt, what that is worth, what it costs, and the difference."""

    what: str
    worth: Rounded
    cost: str
    net: Rounded


def _content(outcome: Outcome) -> dict[str, Any] | None:
    found = outcome.surveys_over_life
    if found is None:
        return None
    assert outcome.money is not None
    exact = [each for each in found.exact if each.worth.low > 0.0]
    return {
        "surveys": [_line(each) for each in found.surveys],
        "exact": [_line(each) for each in exact],
        "untold": len(found.exact) - len(exact),
        "today": QUOTE.format(found.today),
        "years": outcome.money.given.life_years,
        "everything": scaled(found.everything, 1.0, "", 0),
        "none": _none(found.surveys, exact),
        "notes": found.notes,
    }


def _line(found: Known) -> KnownLine:
    words = " and ".join(map(_words, found.inputs))
    if found.worth.low <= 0.0:
        most = scaled(found.worth, 1.0, "", 0).interval
        return KnownLine(words, Rounded("not told from 0", most), f"{found.cost:,.6g}", scaled(found.net, 1.0, "", 0))
    return KnownLine(words, scaled(found.worth, 1.0, "", 0), f"{found.cost:,.6g}", scaled(found.net, 1.0, "", 0))


def _words(name: str) -> str:
    if name == FLOODS:
        return "the parameters of the flood distribution"
    known = plain_name(name)
    return f"{known.in_full} of {QUOTE.format(known.group)}"


def _none(surveys: tuple[Known, ...], exact: list[Known]) -> str:
    """That no survey here is told to be worth its cost, and that what would be worth most is on offer in none."""
    said = ""
    if surveys and not any(each.net.low > 0.0 for each in surveys):
        said = "Of no survey here, alone or together, can it be told that it is worth more than it costs. "
    on_offer = {name for each in surveys for name in each.inputs}
    if exact and exact[0].inputs[0] not in on_offer:
        worth = scaled(exact[0].worth, 1.0, "", 0).value
        said += f"What would be worth most to know, {_words(exact[0].inputs[0])} ({worth}), is in no survey on offer. "
    return said.strip()


SECTION = Section(
    "surveys-over-life",
    "Surveys over the life",
    "What surveys are worth over the life, alone and together",
    _content,
    shows=("surveys_over_life",),
)
