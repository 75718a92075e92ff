"""The answer in plain words: one paragraph that can be pasted into a letter."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
from markupsafe import Markup

from overbank.analysis.intervals import Estimate
from overbank.outputs.blockage import Blockage
from overbank.outputs.outcome import Outcome
from overbank.report import floods, learnt, passing
from overbank.report.freeboard import above
from overbank.report.names import plain_name
from overbank.report.readings import (
    QUOTE,
    SHARED_OUT,
    Reach,
    allowance_reach,
    at_end,
    bank_levels,
    blocked_words,
    certain_level,
    flow_words,
    largest_reach,
    place_words,
    share_of,
    shared_out,
)
from overbank.report.sections.section import found
from overbank.words import one_in, rounded, share_words

STRONG = 0.05
"""An input whose total index, or Shapley effect where inputs depend on each other, is at least this is a driver."""


def answer(outcome: Outcome) -> Markup:
    """The paragraph: flood, place, probability, level, blockage, allowance, drivers; each with its interval."""
    sentences = [
        *_over_the_bank(outcome),
        *_how_high(outcome),
        *passing.sentences(outcome),
        *floods.sentences(outcome),
        *learnt.sentences(outcome),
        _drivers(outcome),
        "" if outcome.samples is None else Markup(SAMPLING),
    ]
    return Markup(" ").join(sentence for sentence in sentences if sentence)


SAMPLING = "The intervals are those of the sampling; what the assumptions leave open beyond it is not in them."


def _over_the_bank(outcome: Outcome) -> list[Markup]:
    """How likely; where that was not asked for, of which water the page speaks."""
    if outcome.overtopping is None:
        template = "This is about the water upstream of {} in the design flood ({})."
        return [_said(template, place_words(outcome), flow_words(outcome))]
    return [_probability(outcome), _against_target(outcome)]


def _how_high(outcome: Outcome) -> list[Markup]:
    """Levels, and what belongs to them, as far as they were asked for."""
    known = found(outcome)
    sentences = [_level(outcome)] if "headwater" in known else []
    sentences += [_at_medians(outcome)] if "medians" in known else []
    return sentences + (_blockage(outcome) if "blockage" in known else [])


def _said(template: str, *values: str) -> Markup:
    """A sentence; the values are text, whatever they hold."""
    return Markup(template).format(*values)


def _interval(estimate: Estimate, unit: str) -> str:
    """The interval in brackets."""
    interval = rounded(estimate, unit).interval
    return f"(95\u00a0% interval {interval})"


def _probability(outcome: Outcome) -> Markup:
    best = outcome.overtopping.best
    flood = _said("In the design flood ({}), the water upstream of {}", flow_words(outcome), place_words(outcome))
    limit = rounded(best, "p").interval
    if best.value in (0.0, 1.0) and best.low == best.high:
        words, called = ("cannot go", "impossible") if best.value == 0.0 else ("must go", "certain")
        template = "{} {} over the bank, whatever the numbers within their stated ranges: that is <strong>{}</strong>."
        return _said(template, flood, words, called)
    if best.value in (0.0, 1.0):
        words = "does not go over the bank in any of" if best.value == 0.0 else "goes over the bank in every one of"
        template = "{} {} {} samples: with 95\u00a0% confidence the probability of overtopping is <strong>{}</strong>."
        return _said(template, flood, words, f"{best.samples:,}", limit)
    rare = f", or {one_in(best.value)}" if best.value < 0.01 else ""
    return _said(
        "{} goes over the bank with a probability of <strong>{}</strong>{} {}.",
        flood,
        rounded(best, "p").value,
        rare,
        _interval(best, "p"),
    )


def _against_target(outcome: Outcome) -> Markup:
    best, target = outcome.overtopping.best, share_words(outcome.target)
    if best.low <= outcome.target <= best.high:
        return _said("The accepted {} lies within that interval, so these samples cannot tell on which side.", target)
    return _said("That is {} than the accepted {}.", "more" if best.value > outcome.target else "less", target)


def _level(outcome: Outcome) -> Markup:
    level, assurance = outcome.headwater.quantiles[outcome.assurance], share_words(outcome.assurance)
    if not math.isfinite(level.value):
        highest = f"{outcome.headwater.curve.at[-1]:.2f}\u00a0m"
        template = "No level can be named that holds with {} assurance: too often the water has no way through, or "
        return _said(template + "stands above {}, the highest level looked at.", assurance, highest)
    bank = float(np.median(bank_levels(outcome)))
    apart = f"{abs(level.value - bank):.2f}\u00a0m {'above' if level.value > bank else 'below'}"
    return _said(
        "With {} assurance it stays below <strong>{}</strong> {}, which is {} the bank ({}).",
        assurance,
        rounded(level, "m").value,
        _interval(level, "m"),
        apart,
        f"{bank:.2f}\u00a0m",
    )


def _at_medians(outcome: Outcome) -> Markup:
    level = certain_level(outcome)
    if not math.isfinite(level):
        return Markup("With every uncertain number at its median there is no way through.")
    if outcome.headwater is None:
        return _said("With every uncertain number at its median it stands at {}.", f"{level:.2f}\u00a0m")
    share = above(outcome, level)
    template = (
        "With every uncertain number at its median it stands at {}, a level exceeded with a probability of {} {}."
    )
    return _said(template, f"{level:.2f}\u00a0m", rounded(share, "p").value, _interval(share, "p"))


def _blockage(outcome: Outcome) -> list[Markup]:
    blocked = outcome.blockage
    if blocked is None:
        return [Markup("No blockage is uncertain in this study, so it gives no blockage allowance.")]
    if not math.isfinite(outcome.headwater.quantiles[outcome.assurance].value):
        return [_largest(blocked, outcome.target), Markup("Nor can a blockage allowance be named for it.")]
    return [_largest(blocked, outcome.target), _allowance(outcome, blocked)]


def _share(blockage: float) -> str:
    return f"{100.0 * blockage:.0f}\u00a0%"


def _how_much(blockage: float) -> str:
    return {0.0: "nothing", 1.0: "all"}.get(blockage, _share(blockage))


def _largest(blocked: Blockage, target: float) -> Markup:
    reach, what = largest_reach(blocked, target), blocked_words(blocked.name)
    if reach is Reach.WITHIN:
        return _said(
            "To keep the probability of overtopping within {}, no more than <strong>{}</strong> of {} may be "
            "blocked {}, all else being as uncertain as stated.",
            share_words(target),
            rounded(blocked.largest, "%").value,
            what,
            _interval(blocked.largest, "%"),
        )
    place = 0 if reach is Reach.BELOW else -1
    reached = rounded(at_end(blocked.fixed, place), "p").value
    words = (
        "which is more than the accepted {}: no limit on the blockage alone can bring it there."
        if reach is Reach.BELOW
        else "which is within the accepted {}: the target sets no limit on the blockage."
    )
    template = "Even with {} of {} blocked, the probability of overtopping is {}, " + words
    return _said(template, _how_much(float(blocked.fixed.at[place])), what, reached, share_words(target))


def _allowance(outcome: Outcome, blocked: Blockage) -> Markup:
    reach, assurance = allowance_reach(outcome, blocked), outcome.assurance
    if reach is Reach.WITHIN:
        return _said(
            "One ordinary run with a blockage allowance of <strong>{}</strong> {}, and every other number at its "
            "median, gives the level of {} assurance.",
            rounded(blocked.allowance, "%").value,
            _interval(blocked.allowance, "%"),
            share_words(assurance),
        )
    end = blocked.fixed.at[0 if reach is Reach.BELOW else -1]
    side = "lower" if reach is Reach.ABOVE else "higher"
    return _said(
        "No blockage allowance reproduces the level of {} assurance: with {} of {} blocked, and every other number "
        "at its median, the water stands {} in one ordinary run.",
        share_words(assurance),
        _how_much(float(end)),
        blocked_words(blocked.name),
        side,
    )


def _drivers(outcome: Outcome) -> Markup:
    found = shared_out(outcome)
    if found is None:
        return Markup("")
    table, kind = found
    known = table["input"].isin(outcome.problem.inputs.names)
    strong = table[known & (table[kind] >= STRONG)].sort_values(kind, ascending=False)
    named = [(plain_name(str(name)), _index(table, str(name), kind)) for name in strong["input"].head(3)]
    if not named:
        return Markup("")
    parts = [
        f"{known.words}{'' if known.group == 'flow' else ' of ' + QUOTE.format(known.group)} ({index})"
        for known, index in named
    ]
    listed = parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"
    return _said("What drives the level most, as shares of its variance {}: {}.", SHARED_OUT[kind], listed)


def _index(table: pd.DataFrame, name: str, kind: str) -> str:
    """A share of the variance with its interval."""
    index = share_of(table, name, kind)
    return f"{rounded(index, '%').value}, {rounded(index, '%').interval}"
