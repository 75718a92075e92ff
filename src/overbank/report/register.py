"""The register of assumptions: every number of the study with what it rests on, and the checks made."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby
from typing import NamedTuple

import numpy as np

from overbank.analysis.intervals import Estimate
from overbank.outputs.outcome import Outcome
from overbank.outputs.overtopping import Overtopping
from overbank.outputs.tails import Figures
from overbank.report.names import plain_name
from overbank.report.tables import small_share
from overbank.study.collect import Assumption
from overbank.words import rounded

TAILS = {
    "gaussian": "none (jointly normal)",
    "survival_clayton": "strong, high with high (survival Clayton)",
    "gumbel": "high with high (Gumbel)",
    "t": "in both ends (Student's t, 4 degrees of freedom)",
}
"""How far the extremes of two numbers go together, in words."""

SEEN = "observation "
"""How the names of floods that were seen begin; no element is called so."""


class Entry(NamedTuple):
    """One number: plain words, dotted path, value or distribution, unit, basis ("" is a gap), evidence, and how taken.

    taken : "varied", "fixed", or "default" where the study leaves it out
    kind : of a varied number, "knowledge" or "each flood"
    """

    words: str
    path: str
    value: str
    unit: str
    basis: str
    evidence: str
    taken: str
    kind: str


class EntryGroup(NamedTuple):
    """The numbers of the flow, of the tailwater or of one element."""

    title: str
    entries: tuple[Entry, ...]


class Together(NamedTuple):
    """Two inputs that depend on each other."""

    pair: tuple[str, str]
    correlation: str
    tails: str
    basis: str


class TakenRow(NamedTuple):
    """A row of a published table that an element uses."""

    element: str
    row: str
    values: str
    source: str
    verified: bool
    note: str


class Check(NamedTuple):
    """What was looked at and what was found; `good` is None where nothing is to be judged."""

    what: str
    found: str
    good: bool | None = None


def assumptions(outcome: Outcome) -> tuple[EntryGroup, ...]:
    """Every number in the order of the site."""
    kinds = {element.id: element.kind for element in outcome.problem.site.elements}
    listed = sorted(outcome.problem.assumptions, key=lambda item: _rank(item, list(kinds)))
    groups = groupby(listed, key=lambda item: plain_name(item.name).group)
    return tuple(
        EntryGroup(f"{group} ({kinds[group]})" if group in kinds else group, tuple(_entry(item) for item in items))
        for group, items in groups
    )


def _rank(item: Assumption, order: list[str]) -> int:
    """Flow and tailwater first, then the elements going upstream, then the floods that were seen."""
    group = plain_name(item.name).group
    if group.startswith(SEEN):
        return 1 + len(order)
    return 1 + order.index(group) if group in order else (-1 if group == "flow" else 0)


def _entry(item: Assumption) -> Entry:
    known = plain_name(item.name)
    taken = "varied" if item.uncertain else ("default" if item.assumed else "fixed")
    basis, evidence, kind = item.basis or "", item.evidence or "", item.kind or ""
    return Entry(known.in_full, item.name, item.words, known.unit, basis, evidence, taken, kind)


def dependences(outcome: Outcome) -> tuple[Together, ...]:
    """Rank correlations with their tails and their basis."""
    return tuple(
        Together(
            each.between,
            f"{each.rank_correlation:+g}".replace("-", "\u2212"),
            TAILS[each.tails],
            each.basis or "",
        )
        for each in outcome.problem.dependences
    )


class TailsRow(NamedTuple):
    """The headline figures under one kind of tails, each with its interval."""

    tails: str
    overtopping: str
    level: str
    in_a_year: str


def tails_compared(outcome: Outcome) -> tuple[TailsRow, ...]:
    """How the answers move where the dependences have no tails of their own; nothing where none has."""
    found = outcome.tails
    if found is None:
        return ()
    return (_tails_row("as stated", found.stated), _tails_row("jointly normal", found.normal))


def _tails_row(words: str, found: Figures) -> TailsRow:
    in_a_year = "" if found.in_a_year is None else _with_interval(found.in_a_year, "p")
    return TailsRow(words, _with_interval(found.overtopping, "p"), _with_interval(found.level, "m"), in_a_year)


def _with_interval(estimate: Estimate, unit: str) -> str:
    value, interval = rounded(estimate, unit)
    return f"{value} ({interval})"


def taken_rows(outcome: Outcome) -> tuple[TakenRow, ...]:
    """The published inlet rows of every culvert."""
    return tuple(TakenRow(element.id, *row) for element in outcome.problem.site.elements for row in element.published())


def checks(outcome: Outcome) -> tuple[Check, ...]:
    """Agreement of the methods, stability, failures, monotony, and what lies outside the formulas' ranges."""
    over, sampled = outcome.overtopping, outcome.samples is not None
    found = [] if over is None else [agreement(over)]
    found += [*(_of_samples(outcome) if sampled else ()), *_of_floods_seen(outcome)]
    found += [
        Check(f"Enough samples: {what}", settling.words.replace("inf m", "no level"), settling.settled)
        for what, settling in (outcome.convergence or {}).items()
    ]
    found += [] if over is None else [_chosen(outcome), _fallen(outcome)]
    found += [*([_failed(outcome)] if sampled else ()), *_of_floods(outcome), *_of_drivers(outcome)]
    return (*found, *_remarks(outcome), *_slips(outcome))


def _remarks(outcome: Outcome) -> Iterator[Check]:
    """What lies outside the ranges of the formulas; nothing where that was not looked at."""
    if outcome.remarks is None:
        return
    for each in outcome.remarks:
        yield Check(f"At {each.element}", f"{each.words}: {small_share(each.share)} of the samples")
    if not outcome.remarks:
        yield Check("Ranges of the formulas", "no sample outside them", True)


def _slips(outcome: Outcome) -> Iterator[Check]:
    """Numbers that can be true and look wrong: nobody but the reader can tell."""
    for words in outcome.slips:
        yield Check("A number that looks wrong", words, False)
    if not outcome.slips:
        yield Check("Numbers that look wrong", "none outside what is usual", True)


def agreement(over: Overtopping) -> Check:
    """Whether the two methods agree."""
    if over.threshold is None:
        words = "only the plain count could be made: the study has no uncertain blockage or flow to integrate out"
        return Check("Two methods", words)
    both = [f"{rounded(each, 'p').value} ({rounded(each, 'p').interval})" for each in (over.threshold, over.plain)]
    said = "their intervals overlap" if over.agree else "their intervals do not overlap: look into it"
    return Check("Two methods", f"threshold method {both[0]}, plain count {both[1]}: {said}", over.agree)


def _of_samples(outcome: Outcome) -> list[Check]:
    """How the number of samples was found, where the run chose it; and what looks at a part of them only."""
    found, search = [], outcome.automatic
    if search is not None:
        tried = ", ".join(f"{step.samples:,}" for step in search.steps)
        found.append(Check("Number of samples", f"{search.words} Tried: {tried}", search.met))
    replicates, held, _ = outcome.samples.values.shape
    total = outcome.samples.levels.size
    if replicates * held < total:
        words = (
            f"overtopping, levels and blockage are from all {total:,} samples; design checks, people, what governs, "
            f"remarks, curves along the inputs and what floods or surveys teach from the first {replicates * held:,}"
        )
        found.append(Check("Samples looked at", words))
    return found


def _of_floods_seen(outcome: Outcome) -> list[Check]:
    """Whether the study could have foretold the floods that were seen."""
    learnt = outcome.learnt
    if learnt is None:
        return []
    if learnt.taught is None:
        return [Check("Floods seen", f"nothing is learnt from them: {learnt.refusal}", False)]
    chances = ", ".join(f"{chance:.2g}" for chance in learnt.taught.chances)
    words = f"chance of each as far out as it was: {chances}; {learnt.taught.effective:,.0f} samples effective"
    return [Check("Floods seen", words, True)]


def _chosen(outcome: Outcome) -> Check:
    """Which input was integrated out, and why."""
    choice = outcome.overtopping.choice
    words = "no uncertain blockage, flow or tailwater to integrate out" if choice is None else choice.words
    beyond = outcome.overtopping.beyond
    if beyond is not None:
        words += f". Beyond the samples: {beyond.method}" + (f" ({beyond.note})" if beyond.note else "")
    return Check("Input integrated out", words)


def _fallen(outcome: Outcome) -> Check:
    over = outcome.overtopping
    total = f"{outcome.samples.levels.size:,}"
    if over.integrated is None:
        return Check("Rising level", "not needed by the plain count")
    best = None if over.choice is None else over.choice.best
    moved = "rose" if best is None or best.sign > 0 else "fell"
    if over.fallen == 0:
        words = f"in none of {total} samples did the level fall, or a run fail, while {over.integrated} {moved}"
        return Check("Rising level", words, True)
    words = (
        f"in {over.fallen:,} of {total} samples the level fell, or a run failed, while {over.integrated} {moved}: "
        "there the plain count stands in"
    )
    return Check("Rising level", words, False)


def _failed(outcome: Outcome) -> Check:
    failed = int(np.count_nonzero(np.isnan(outcome.samples.depth_over_bank)))
    total = f"{outcome.samples.depth_over_bank.size:,}"
    if failed:
        return Check("Failed runs", f"{failed:,} of {total} samples gave no level and are left out", False)
    return Check("Failed runs", f"none of {total} samples", True)


def _of_floods(outcome: Outcome) -> list[Check]:
    annual = outcome.annual
    if annual is None:
        return []
    both = [
        f"{rounded(each, 'p').value} ({rounded(each, 'p').interval})" for each in (annual.probability, annual.plain)
    ]
    said = "overlap" if annual.agree else "do not overlap: look into it"
    words = f"threshold method over the flow {both[0]}, plain count of floods {both[1]}: their intervals {said}"
    total = annual.states * annual.floods_of_each
    fallen = f"in {annual.fallen:,} of {total:,} samples the level fell, or a run failed, while the flow rose"
    return [
        Check("Two methods, floods of a year", words, annual.agree),
        Check("Rising level, floods of a year", fallen, annual.fallen == 0),
    ]


def _of_drivers(outcome: Outcome) -> list[Check]:
    drivers, found = outcome.drivers, []
    if drivers is None:
        return found
    of_crossed_samples = {
        "Indices of the level": drivers.level,
        "Indices of inputs together": drivers.groups,
        "Indices of the overtopping": drivers.overtopping,
        "Second-order indices of the level": drivers.pairs,
        "Shapley effects of the level": drivers.shapley,
        "Shapley effects of the overtopping": drivers.shapley_of_event,
    }
    for what, indices in of_crossed_samples.items():
        if indices is not None and (indices.dropped or indices.warning):
            words = f"{indices.dropped:,} of {indices.rows:,} rows left out. {indices.warning}".strip()
            found.append(Check(what, words, False))
    given = drivers.given
    if given is not None and (given.dropped or given.warning):
        words = f"{given.dropped:,} of {given.dropped + given.samples:,} samples left out. {given.warning}".strip()
        found.append(Check("Indices from the samples already made", words, False))
    for output, along in drivers.effects.items():
        notes = dict.fromkeys(each.note for each in along if each.note)
        found += [Check(f"Curves along the inputs, {output}", words, False) for words in notes]
    return found
