"""Money: expected annual damage, cost over the life, net benefit, and what they leave out."""

from __future__ import annotations

from typing import Any, NamedTuple

from overbank.outputs.money import Account
from overbank.outputs.outcome import Outcome
from overbank.report.sections.section import Section
from overbank.words import measure, rounded, scaled, share_words


class MoneyLine(NamedTuple):
    """An arrangement, and figures with their intervals."""

    name: str
    figures: tuple[tuple[str, str], ...]


def _content(outcome: Outcome) -> dict[str, Any] | None:
    found = outcome.money
    if found is None:
        return None
    given = found.given
    return {
        "accounts": [_line(each) for each in found.each],
        "level": measure(found.level, "m"),
        "rate": share_words(given.discount_rate),
        "years": given.life_years,
        "factor": f"{found.factor:.2f}",
        "pairs": "; ".join(f"{measure(depth, 'm')}: {money:,.0f}" for depth, money in given.depth_damage),
        "other": f"{given.other_loss:,.0f}",
        "basis": given.basis,
        "notes": list(dict.fromkeys(f"{each.name}: {each.damage.note}" for each in found.each if each.damage.note)),
    }


def _line(found: Account) -> MoneyLine:
    benefit = ("", "") if found.benefit is None else scaled(found.benefit, 1.0, "", most=0)
    figures = (
        scaled(found.damage, 1.0, "", most=0),
        (f"{found.low:,.0f} to {found.high:,.0f}", ""),
        scaled(found.today, 1.0, "", most=0),
        (f"{found.costs:,.0f}", ""),
        scaled(found.whole, 1.0, "", most=0),
        benefit,
        ("", "") if found.best is None else rounded(found.best, "p"),
    )
    return MoneyLine(found.name, figures)


SECTION = Section("money", "Money", "Money: damages, costs and net benefit", _content, shows=("money",))
