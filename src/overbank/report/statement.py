"""The statement: one paragraph that stands alone, to be pasted into an application or a design report."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from overbank import __version__
from overbank.analysis import exceedance
from overbank.analysis.intervals import Estimate
from overbank.outputs.blockage import Blockage
from overbank.outputs.outcome import Outcome
from overbank.report.names import plain_name
from overbank.report.readings import bank_levels, blocked_words, flow_words, place_words
from overbank.study.patterns import WORDED
from overbank.words import Rounded, rounded, share_words

FILE = "statement.txt"

LOW, HIGH = 0.05, 0.95
"""Nine of ten floods lie between these."""

PATTERNS = {
    "uniform": "its clear opening, spread evenly over it",
    "floating_raft": "its depth, afloat from the water surface down",
    "bottom_up": "its depth, from the bottom up",
}
"""What a share is a share of, by the word of the pattern."""


def statement(outcome: Outcome) -> str:
    """The paragraph as plain text; empty where level or overtopping was not asked for."""
    if outcome.headwater is None or outcome.overtopping is None:
        return ""
    return " ".join(" ".join(sentence.split()) for sentence in _sentences(outcome))


def _sentences(outcome: Outcome) -> Iterator[str]:
    """What it is about, level, blockage, what is inside, how likely, how it may move, what it rests on, its state."""
    yield _about(outcome)
    yield _level(outcome)
    yield _blocked(outcome)
    yield _inside(outcome)
    yield from _likely(outcome)
    yield from _debris(outcome)
    yield _spread(outcome)
    yield _rests(outcome)
    yield _state(outcome)


def _with_interval(said: Rounded) -> str:
    """A figure and its interval in brackets."""
    return f"{said.value} ({said.interval})"


def _about(outcome: Outcome) -> str:
    """Structure, flood and its climate allowance."""
    annual = outcome.study.content.flow.design_annual_probability
    flood = "" if annual is None else f"annual probability {share_words(annual)}, "
    allowance = outcome.study.content.document.climate_allowance
    factor = outcome.study.content.flow.climate_factor
    unnamed = (
        "no climate allowance is named in the study" if factor is None else f"it rests on: {factor.basis or 'nothing'}"
    )
    climate = unnamed if allowance is None else f"climate allowance: {allowance}"
    title, place = outcome.study.title, place_words(outcome)
    return f"{title}: water upstream of {place} in the design flood ({flood}{flow_words(outcome)}; {climate})."


def _level(outcome: Outcome) -> str:
    """The level, its datum, and how it stands to the bank."""
    level, assurance = outcome.headwater.quantiles[outcome.assurance], share_words(outcome.assurance)
    if not math.isfinite(level.value):
        return f"No level can be named that is not exceeded with {assurance} probability."
    given = outcome.study.content.document.datum
    datum = "the datum of the levels is not stated in the study" if given is None else f"datum: {given}"
    bank = float(np.median(bank_levels(outcome)))
    side = "above" if level.value > bank else "below"
    said = rounded(level, "m")
    return (
        f"The level not exceeded in it with {assurance} probability is {said.value} (95 % interval of the sampling "
        f"{said.interval}; {datum}), which is {abs(level.value - bank):.2f} m {side} the bank ({bank:.2f} m)."
    )


def _named(allowance: Estimate, blocked: Blockage) -> bool:
    """Whether one blockage gives the level: neither the end of the range nor none."""
    return bool(blocked.fixed.at[0] < allowance.value < blocked.fixed.at[-1])


def _blocked(outcome: Outcome) -> str:
    """What share of what is blocked in one run that gives the level."""
    blocked = outcome.blockage
    if blocked is None:
        return "No blockage is uncertain in the study, so none is allowed for beyond what it fixes."
    what = blocked_words(blocked.name)
    if not _named(blocked.allowance, blocked):
        return f"No single blockage of {what} gives that level with every other number at its median: none is quoted."
    return (
        f"One ordinary calculation gives it with {_with_interval(rounded(blocked.allowance, '%'))} of {what} blocked "
        f"(a share of {_pattern(outcome, blocked.name)}) and every other number at its median."
    )


def _pattern(outcome: Outcome, name: str) -> str:
    """What the share is a share of in the run at the medians."""
    number = outcome.problem.medians().get(f"{name.rsplit('.', 1)[0]}.pattern")
    if number is None:
        return "its clear opening"
    return PATTERNS[WORDED["pattern"][int(np.asarray(number).flat[0])]]


def _inside(outcome: Outcome) -> str:
    """What the level holds already, and what it does not."""
    known = dict.fromkeys(plain_name(name).words for name in outcome.problem.inputs.names)
    return (
        f"The level holds what is uncertain in: {', '.join(known)}; nothing is to be added to it for these. It holds "
        "nothing for waves, storage, scour, structural failure, or water that leaves the channel elsewhere."
    )


def _likely(outcome: Outcome) -> Iterator[str]:
    """How likely the water goes over the bank, and what the allowance would mean were it always there."""
    yield (
        "In that flood the water goes over the bank with a probability of "
        f"{_with_interval(rounded(outcome.overtopping.best, 'p'))}."
    )
    blocked = outcome.blockage
    if blocked is not None and _named(blocked.allowance, blocked):
        always = rounded(_always(blocked, blocked.allowance.value), "p")
        yield (
            "The allowance is a stand-in for all that is uncertain, not a blockage that the site bears: were it always "
            f"there, the water would go over in {_with_interval(always)} of such floods."
        )


def _always(blocked: Blockage, share: float) -> Estimate:
    """Probability of overtopping were this share always blocked, all else as sampled."""
    curve = blocked.fixed
    value, low, high = (float(np.interp(share, curve.at, row)) for row in (curve.probability, curve.low, curve.high))
    return Estimate(value, low, high, curve.method)


def _debris(outcome: Outcome) -> Iterator[str]:
    """The level and the allowance under half and twice the debris."""
    if outcome.allowances is None or outcome.blockage is None:
        return
    less, _, more = outcome.allowances.assumed
    parts = []
    for words, each in (("half", less), ("twice", more)):
        share = f", a share of {rounded(each.allowance, '%').value}" if _named(each.allowance, outcome.blockage) else ""
        parts.append(f"with {words} as much debris {rounded(each.level, 'm').value}{share}")
    yield f"The level would be {' and '.join(parts)}."


def _spread(outcome: Outcome) -> str:
    """Between which levels nine of ten such floods stand."""
    low, high = (rounded(exceedance.quantile(outcome.headwater.curve, 1.0 - share), "m").value for share in (LOW, HIGH))
    return f"Over all that is not known, 5 to 95 % of such floods stand between {low} and {high}."


def _rests(outcome: Outcome) -> str:
    """Basis and grade of the evidence: of the blockage, and of all that is varied."""
    varied = [item for item in outcome.problem.assumptions if item.uncertain]
    judged = sum(item.evidence == "judgement" for item in varied)
    counted = f"{judged} of {len(varied)} varied numbers rest on judgement, {len(outcome.problem.gaps())} on no basis."
    if outcome.blockage is None:
        return counted
    item = next(each for each in varied if each.name == outcome.blockage.name)
    basis, evidence = item.basis or "nothing stated", item.evidence or "not stated"
    return f"The blockage rests on: {basis} (evidence: {evidence}). {counted}"


def _state(outcome: Outcome) -> str:
    """What was left out, who made it, revision, date and version."""
    document = outcome.study.content.document
    made = (("made by", document.author), ("checked by", document.checker))
    people = "".join(f"; {words} {who or 'nobody named'}" for words, who in made)
    limits = "".join(f"{limit} " for limit in outcome.limits)
    return (
        f"{limits}Revision {document.revision or 'not stated'}, date {document.date or 'not stated'}{people}; overbank "
        f"{__version__}, study file SHA-256 {outcome.study.sha256[:12]}."
    )
