"""Checks of the floods of a year: a fit that tells nothing of its error, and what goes with a flood."""

from __future__ import annotations

from collections.abc import Iterator

from overbank.site.numbers import FLOW
from overbank.study.collect import kind_of
from overbank.study.flow import ANNUAL, floods_of
from overbank.study.kinds import KINDS
from overbank.study.reading.lines import KeyPath
from overbank.study.reading.readable import Readable
from overbank.study.reading.references import dependences
from overbank.study.reading.refusals import LocatedRefusal, list_of, refusal, shown
from overbank.uncertain.build_up import BuildUp
from overbank.uncertain.checks import ParameterError


def impossible_floods(study: Readable) -> Iterator[LocatedRefusal]:
    """Every fault of the floods of a year that a table alone cannot show."""
    yield from _unknown_error(study)
    yield from _debris_twice(study)
    yield from _reaches(study)
    if ("flow", "annual") in study.numbers:
        yield from _dependences_of_a_flood(study)


def _unknown_error(study: Readable) -> Iterator[LocatedRefusal]:
    """A fit whose refits have no maximum of the likelihood too often."""
    flow = study.flow()
    if flow is None:
        return
    try:
        floods_of(flow, study.seed)
    except ParameterError as error:
        yield ("flow", "fit", "method"), refusal(error.expected, error.got, 'Write method = "l_moments".')


def _debris_twice(study: Readable) -> Iterator[LocatedRefusal]:
    """Debris of the flood that is in what blocks it at the beginning, and comes once more while it passes."""
    flow = study.flow()
    if flow is None or flow.debris is None:
        return
    for path, number in study.numbers.items():
        held = number.distribution
        if isinstance(held, BuildUp) and held.flood_rate_per_hour * held.flood_hours > 0.0:
            expected = "a build-up without debris of the flood beside [flow.debris]"
            remedy = "Remove flood_rate_per_hour and flood_hours here: what blocks it when the flood begins is meant."
            yield path, refusal(expected, "flood_rate_per_hour and flood_hours", remedy)


def _reaches(study: Readable) -> Iterator[LocatedRefusal]:
    """A pool in what is no reach above the place, and a velocity where no reach lies just above it."""
    flow, document = study.flow(), study.document
    elements = [element for _, element in study.elements()]
    decision = document.get("decision")
    asked = decision.get("at") if isinstance(decision, dict) else None
    at = next((i for i, each in enumerate(elements) if asked == each.get("id") or (not asked and _BANK in each)), None)
    if flow is None or at is None:
        return
    upper = elements[at + 1 :]
    above = [any(kind == each.get("kind") and KINDS[kind].table.IS_REACH for kind in KINDS) for each in upper]
    reaches = [str(each.get("id")) for each, reach in zip(upper, above, strict=True) if reach]
    if flow.pool is not None and flow.pool.reach is not None and flow.pool.reach not in reaches:
        remedy = f"Write {list_of(reaches)}." if reaches else "Give a table, or a reach above the place."
        yield ("flow", "pool", "reach"), refusal("the id of a reach above the place", shown(flow.pool.reach), remedy)
    if flow.pool is not None and flow.pool.start_level_m is not None and "flap" not in elements[at]:
        expected, remedy = "a flap at the place, which the water outside can shut", "Add one, or remove start_level_m."
        yield ("flow", "pool", "start_level_m"), refusal(expected, "none", remedy)
    if flow.crew is not None and flow.crew.not_above_m_s is not None and not (above and above[0]):
        expected, remedy = "a reach just above the place, for its velocity", "Add one, or remove not_above_m_s."
        yield ("flow", "crew", "not_above_m_s"), refusal(expected, "none", remedy)


_BANK = "bank_level_m"


def _dependences_of_a_flood(study: Readable) -> Iterator[LocatedRefusal]:
    """What goes with the flood of a year must come out anew in each flood, and what goes with the design flow and
    comes out anew in each flood must be said to go, or not to go, with the flood of a year."""
    given: dict[frozenset[str], KeyPath] = {frozenset(names): path for path, names, _ in dependences(study)}
    kinds = {name: kind_of(name, number) for name, number in study.names().items()}
    for names, path in given.items():
        if ANNUAL in names:
            (other,) = names - {ANNUAL}
            if kinds.get(other) == "knowledge":
                expected = f"beside {ANNUAL} a number that comes out anew in each flood"
                remedy = 'Write kind = "each flood" beside its distribution, or remove the dependence.'
                got = f"{other}, which is the same in all floods"
                yield (*path, "between"), refusal(expected, got, remedy)
        elif FLOW in names:
            (other,) = names - {FLOW}
            if kinds.get(other) == "each flood" and frozenset((ANNUAL, other)) not in given:
                expected = f"a dependence of {ANNUAL} and {other} too, for the floods of a year"
                remedy = "Add one; rank_correlation = 0 says that there is none."
                yield (*path, "between"), refusal(expected, f"one of {FLOW} only", remedy)
