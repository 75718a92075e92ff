"""The floods of a year in words and in a table."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import NamedTuple

from markupsafe import Markup
from scipy.special import ndtri

from overbank.analysis.intervals import Estimate
from overbank.outputs.annual import Annual, FloodLine
from overbank.outputs.outcome import Outcome
from overbank.report.names import plain_name
from overbank.report.readings import QUOTE
from overbank.site.tailwater import Rating, Tailwater
from overbank.study.flow import ANNUAL
from overbank.uncertain.flood_record import Peaks, low_outliers
from overbank.uncertain.likely_floods import LikelyFit
from overbank.uncertain.settled import Settled, settled
from overbank.words import measure, one_in, rounded, share_words

QUOTED = 0.01
"""The assurance is told for the flood of this annual probability, where the study names none."""


class FloodRow(NamedTuple):
    """The flood of one annual probability: flow and level, each with what 90 % of the possibilities hold; assurance."""

    probability: str
    flow: str
    flow_range: str
    level: str
    level_range: str
    assurance: str
    interval: str


def rows(outcome: Outcome) -> tuple[FloodRow, ...]:
    """Floods from frequent to rare; nothing where the study gives no annual maxima."""
    annual = outcome.annual
    return () if annual is None else tuple(_row(line, annual.given.floods.known) for line in annual.lines)


def _row(line: FloodLine, known: bool) -> FloodRow:
    low, high = (measure(line.levels[share].value, "") for share in (0.05, 0.95))
    said = rounded(line.assurance, "p")
    return FloodRow(
        share_words(line.annual_probability),
        _flow(line.flow),
        "taken as known" if known else f"{_flow(line.flow_low)} to {_flow(line.flow_high)}",
        measure(line.levels[0.5].value, ""),
        f"{low} to {high}",
        said.value,
        said.interval,
    )


def _flow(flow: float) -> str:
    """A flow with three figures."""
    return f"{flow:.0f}" if flow >= 100.0 else f"{flow:#.3g}"


def sentences(outcome: Outcome) -> list[Markup]:
    """What the floods of a year add to the answer; nothing where the study gives no annual maxima."""
    annual = outcome.annual
    if annual is None:
        return []
    found = [_in_a_year(annual)]
    if annual.unblocked is not None and 0.0 < annual.unblocked.probability.value < 1.0:
        found.append(_with_nothing_blocked(annual))
    if annual.life is not None:
        template = "Over {} years the probability of at least one overtopping is <strong>{}</strong>."
        found.append(_said(template, str(annual.life.years), _with_interval(annual.life.probability)))
    wanted = outcome.study.content.flow.design_annual_probability or QUOTED
    line = next(line for line in annual.lines if line.annual_probability == wanted)
    template = "In the flood of an annual probability of {} the water stays below the bank with an assurance of {}."
    return [*found, _said(template, share_words(wanted), _with_interval(line.assurance))]


def _said(template: str, *values: str) -> Markup:
    """A sentence; the values are text, whatever they hold."""
    return Markup(template).format(*values)


def _with_interval(estimate: Estimate) -> str:
    value, interval = rounded(estimate, "p")
    return f"{value} (95\u00a0% interval {interval})"


def _in_a_year(annual: Annual) -> Markup:
    best = annual.probability
    if best.value in (0.0, 1.0):
        how = "does not go over the bank in any" if best.value == 0.0 else "goes over the bank every year in every one"
        template = "In a year the water {} of {} states of knowledge: the annual probability is <strong>{}</strong>."
        return _said(template, how, f"{best.samples:,}", rounded(best, "p").interval)
    rare = f", or {one_in(best.value)}" if best.value < 0.5 else ""
    low, high = (rounded(annual.knowledge[share], "p").value for share in (0.05, 0.95))
    return _said(
        "In any one year the water goes over the bank with a probability of <strong>{}</strong>{}; what is not known "
        "leaves it between {} and {} (5 to 95\u00a0%).",
        _with_interval(best),
        rare,
        low,
        high,
    )


def _with_nothing_blocked(annual: Annual) -> Markup:
    assert annual.unblocked is not None
    clean, best = annual.unblocked.probability, annual.probability
    template = "With nothing blocked it would be {}"
    if best.value < 0.5:
        turned = f": blockage turns {one_in(clean.value)} a year into {one_in(best.value)}"
        return _said(template + "{}.", _with_interval(clean), turned)
    return _said(template + ".", _with_interval(clean))


class Kinds(NamedTuple):
    """Names of the uncertain numbers that come out anew in each flood, and of those that are the same in all.

    parameters : whether those of the flood distribution are among what is not known
    """

    each_flood: str
    knowledge: str
    parameters: bool


def kinds(outcome: Outcome) -> Kinds | None:
    """None where the study gives no annual maxima."""
    annual = outcome.annual
    if annual is None:
        return None
    given = annual.given
    return Kinds(_listed(given.each_flood), _listed(given.knowledge), not given.floods.known)


def _listed(names: tuple[str, ...]) -> str:
    known = [plain_name(name) for name in names]
    return "; ".join(f"{each.in_full} of {QUOTE.format(each.group)}" for each in known) or "nothing"


def notes(outcome: Outcome) -> tuple[str, ...]:
    """What a reader must know beside the figures."""
    annual = outcome.annual
    return () if annual is None else tuple(_notes(outcome, annual))


def _notes(outcome: Outcome, annual: Annual) -> Iterator[str]:
    floods = annual.given.floods
    if annual.life is not None:
        short = 1.0 - (1.0 - annual.probability.value) ** annual.life.years
        yield (
            f"The probability over {annual.life.years} years is found in each state of knowledge and then averaged: "
            "floods of different years are independent, but what is not known stays the same from year to year. From "
            f"the averaged annual probability alone it would come out as {100.0 * short:.3g}\u00a0%."
        )
    if isinstance(floods.fit, LikelyFit):
        yield from _of_whole_record(floods.fit, floods.words)
    elif floods.fit is not None:
        moments = floods.fit.moments
        yield (
            f"Annual maxima: {floods.words}. L-moments of the record: mean {moments.mean:.4g} m³/s, L-scale "
            f"{moments.scale:.4g} m³/s, L-skew {moments.skew:.3f}, L-kurtosis {moments.kurtosis:.3f}. Floods much "
            f"rarer than 1 in {floods.fit.years} rest on the family, not on the record."
        )
    else:
        yield f"Annual maxima: {floods.words}."
    if not floods.known:
        yield (
            "Averaged over what is not known of the flood distribution, a flow is exceeded more often than by the best "
            "estimate: the flow that this average gives an annual probability of 1\u00a0% is larger than the 1\u00a0% "
            "flood in the table, which is that of the best estimate."
        )
    yield from _with_the_flood(outcome, annual)
    yield from beyond_rating(outcome.problem.site.tailwater, annual)


def _of_whole_record(fit: LikelyFit, words: str) -> Iterator[str]:
    """What was fitted, with which weights, and which low floods stand out."""
    yield f"Annual maxima: {words}. Floods much rarer than 1 in {fit.years} rest on the family, not on the record."
    if isinstance(fit.record, Peaks):
        often = -math.expm1(-fit.record.rate)
        yield (
            "Floods over the threshold are taken to come at random and one by one; below it, for probabilities above "
            f"{100.0 * often:.0f}\u00a0% a year, the curve is carried on."
        )
    if len(fit.families) > 1:
        rare = ", ".join(
            f"{each.name.replace('_', ' ')} {_flow(float(each.best.quantile(0.99)))}" for each in fit.families
        )
        yield (
            "The families are weighted by how likely each makes the record. Their own floods of an annual probability "
            f"of 1\u00a0% [m³/s]: {rare}; of their average {_flow(float(fit.best.quantile(0.99)))}."
        )
    if isinstance(fit.record, Peaks):
        return
    outliers = low_outliers(tuple(flow for flow in fit.record.maxima if flow > 0.0))
    if outliers.count and outliers.threshold > fit.record.least:
        yield (
            f"The {outliers.count} smallest floods stand out (multiple Grubbs-Beck test) and pull at the whole "
            f"fit: ignore_below_m3_s = {outliers.threshold:g} would count them as below that and no more."
        )


def beyond_rating(tailwater: Tailwater, annual: Annual) -> Iterator[str]:
    """Where a rating of the tailwater ends before the floods do."""
    if not isinstance(tailwater, Rating):
        return
    beyond = next((line for line in annual.lines if line.flow > tailwater.flows[-1]), None)
    if beyond is not None:
        yield (
            f"The rating of the tailwater ends at {_flow(tailwater.flows[-1])} m³/s, below the flood of an annual "
            f"probability of {share_words(beyond.annual_probability)}: in larger floods its end level is held, "
            "which is too low."
        )


def _with_the_flood(outcome: Outcome, annual: Annual) -> Iterator[str]:
    """Numbers that go with the flood: what they are in a rare one."""
    given, score = annual.given, -float(ndtri(QUOTED))
    _, rare = settled(given.copula, ANNUAL, score, given.distributions)
    design = outcome.study.content.flow.design_annual_probability
    for name, before, after in zip(given.copula.names[:-1], given.distributions, rare, strict=True):
        if isinstance(after, Settled):
            known, then = plain_name(name), after.median
            taken = (
                "take it as it is stated, without that"
                if design is None
                else f"take it as it is in the flood of an annual probability of {share_words(design)}"
            )
            yield (
                f"In the floods of a year, {known.in_full} of {QUOTE.format(known.group)} goes with the flood: its "
                f"median is {before.median:.3g} over all floods and {then:.3g} in the flood of an annual "
                f"probability of {share_words(QUOTED)}. The answers for the design flood {taken}."
            )


def figures(annual: Annual) -> Iterator[tuple[str, Estimate, str]]:
    """Key figures: words, figure and unit as `words.rounded` knows it."""
    yield "by the threshold method over the flow", annual.probability, "p"
    yield "by plain count of sampled floods", annual.plain, "p"
    for share, estimate in annual.knowledge.items():
        yield f"with {share_words(share)} of what is not known", estimate, "p"
    if annual.unblocked is not None:
        yield "with nothing blocked", annual.unblocked.probability, "p"
    if annual.life is not None:
        yield f"at least once in {annual.life.years} years", annual.life.probability, "p"
