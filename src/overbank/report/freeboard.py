"""The freeboard as a ledger of margins from the water to the bank; deterministic answers placed on the curve."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from overbank.analysis.intervals import Estimate, over_replicates
from overbank.outputs.outcome import Outcome
from overbank.report.names import plain_name
from overbank.report.readings import bank_levels, certain_level
from overbank.words import measure, rounded, share_words


class Margin(NamedTuple):
    """One line of the ledger: what it is, its level or its difference, and what it covers."""

    words: str
    level: str
    margin: str
    covers: str


class Ledger(NamedTuple):
    """Levels from the water up to the bank with the margins between, what is in the spread already, and a warning."""

    lines: tuple[Margin, ...]
    within: tuple[str, ...]
    warning: str


class Placed(NamedTuple):
    """A deterministic answer: what it is of, its level, and how often the water stands above it."""

    words: str
    level: str
    above: str
    interval: str


def has_ledger(outcome: Outcome) -> bool:
    """Whether there is a level with every number at its median, and one that holds with the assurance."""
    return math.isfinite(certain_level(outcome)) and math.isfinite(outcome.headwater.quantiles[outcome.assurance].value)


def ledger(outcome: Outcome) -> Ledger | None:
    """None where there is no level with every number at its median, or none with the assurance."""
    if not has_ledger(outcome):
        return None
    middle, assured = certain_level(outcome), outcome.headwater.quantiles[outcome.assurance].value
    bank = float(np.median(bank_levels(outcome)))
    steps = _lines(outcome, middle, assured, bank)
    return Ledger(tuple(steps), _within(outcome), _warning(outcome))


def _lines(outcome: Outcome, middle: float, assured: float, bank: float) -> Iterator[Margin]:
    blocked, share = outcome.blockage, share_words(outcome.assurance)
    if blocked is None:
        yield Margin("one run, every number at its median", measure(middle, "m"), "", "nothing uncertain")
    else:
        clean = blocked.levels[0.0]
        yield Margin("one run, nothing blocked, all else at the medians", measure(clean, "m"), "", "nothing uncertain")
        words = "the same with the median blockage"
        if abs(middle - clean) >= 0.005:
            yield Margin(words, measure(middle, "m"), _signed(middle - clean), "the median blockage")
    among = ", blockage among them" if blocked else ""
    yield Margin(
        f"level with {share} assurance",
        rounded(outcome.headwater.quantiles[outcome.assurance], "m").value,
        _signed(assured - middle),
        f"the spread of {_together(outcome)}{among}",
    )
    left = "what is left for all that is not in the study" if bank >= assured else "nothing: the bank stands lower"
    yield Margin("median bank", measure(bank, "m"), _signed(bank - assured), left)
    alone = "what a freeboard over a single calculation would count"
    yield Margin("median bank above one run at the medians", "", _signed(bank - middle), alone)


def _warning(outcome: Outcome) -> str:
    share = share_words(outcome.assurance)
    return (
        f"the level with {share} assurance holds the uncertain numbers listed here already. A freeboard laid on top of "
        f"it must not be for any of them again{_besides(outcome)}. Nor may a fixed blockage be put into a run and the "
        "spread of the blockage be added as well. Not in any line: waves, settlement of the bank, a climate allowance "
        "that the flow of the study does not hold, and whatever else stands under the cautions."
    )


KINDS = {
    "flow": "flow",
    "tailwater": "level below",
    "manning_n": "roughness",
    "bed_manning_n": "roughness",
    "blockage": "blockage",
}
"""What an uncertain number is about, by the last or the first part of its name; else it is hydraulics."""


def _within(outcome: Outcome) -> tuple[str, ...]:
    """The uncertain numbers of the level in plain words, by what they are about: all but those of banks."""
    kinds: dict[str, list[str]] = {}
    for name in (name for name in outcome.problem.inputs.names if not _of_bank(name)):
        kinds.setdefault(_kind(name), []).append(_path(name))
    return tuple(f"{kind} ({', '.join(words)})" for kind, words in kinds.items())


def _together(outcome: Outcome) -> str:
    """How many numbers the level holds the spread of."""
    names = outcome.problem.inputs.names
    banks = sum(map(_of_bank, names))
    return (
        f"all {len(names)} uncertain numbers together"
        if not banks
        else (
            f"{len(names) - banks} uncertain numbers together, all but {'that' if banks == 1 else 'those'} of the bank"
        )
    )


def _besides(outcome: Outcome) -> str:
    """That what is not known of a bank is no part of the level, where anything is."""
    if not any(map(_of_bank, outcome.problem.inputs.names)):
        return ""
    return "; what is not known of the bank itself is not in the level, and may be in a freeboard"


def _of_bank(name: str) -> bool:
    """Whether a number is the level of a bank: no water level depends on it."""
    return name.rsplit(".", 1)[-1] == "bank_level_m"


def _kind(name: str) -> str:
    parts = name.split(".")
    return KINDS.get(parts[-1]) or KINDS.get(parts[0]) or "hydraulics and geometry"


def _path(name: str) -> str:
    known = plain_name(name)
    return f"{known.words} at {known.group}" if known.group not in {"flow", "tailwater"} else known.words


def placed(outcome: Outcome) -> tuple[Placed, ...]:
    """Deterministic answers as percentiles: the level of one run, and how often the water stands above it."""
    answers = [] if outcome.medians is None else [("every number at its median", certain_level(outcome))]
    if outcome.blockage is not None:
        answers += [(f"{share_words(share)} blocked", level) for share, level in outcome.blockage.levels.items()]
    return tuple(_placed(outcome, words, level) for words, level in answers)


def _placed(outcome: Outcome, words: str, level: float) -> Placed:
    if not math.isfinite(level):
        return Placed(words, measure(level, "m"), "not at all", "")
    said = rounded(above(outcome, level), "p")
    return Placed(words, measure(level, "m"), said.value, said.interval)


def above(outcome: Outcome, level: float) -> Estimate:
    """Probability that the water stands above a level, read off the curve of the headwater."""
    curve = outcome.headwater.curve
    shares = [np.interp(level, curve.at, row, left=1.0, right=row[-1]) for row in curve.replicates]
    return over_replicates(np.array(shares), curve.method, (0.0, 1.0))


def _signed(difference: float) -> str:
    return measure(difference, "m", signed=True)
