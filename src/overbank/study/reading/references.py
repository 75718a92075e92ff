"""Checks of what refers to something else: ids, the bank that counts, dependences, the rating's reach."""

from __future__ import annotations

from collections.abc import Iterator
from difflib import get_close_matches

from pydantic import ValidationError

from overbank.site.numbers import FLOW
from overbank.study.elements.bank_line import seen_beside_a_line
from overbank.study.flow import ANNUAL
from overbank.study.kinds import table_of
from overbank.study.reading.lines import KeyPath
from overbank.study.reading.readable import Readable, dotted
from overbank.study.reading.refusals import LocatedRefusal, choose, list_of, nearest, number, refusal, shown
from overbank.study.together import Together
from overbank.uncertain.checks import ParameterError
from overbank.uncertain.distributions import Normal
from overbank.uncertain.settled import settled

MISSPELT = 0.85
"""Likeness from which a faulty key is taken for a misspelling of the name that a dependence gives."""


def broken_references(study: Readable) -> Iterator[LocatedRefusal]:
    """Every reference that leads nowhere or to what it must not."""
    yield from _repeated_ids(study)
    yield from _bank_that_counts(study)
    yield from _seen_nowhere(study)
    yield from _bed_of_the_first(study)
    yield from _rating_reach(study)
    together = Together({}, {})
    for path, names, correlation in dependences(study):
        faults = list(_wrong_names(study, path, names))
        if tuple(sorted(names)) in [tuple(sorted(pair)) for pair in together.pairs]:
            got = f"a second one for {names[0]} and {names[1]}"
            faults.append(((*path, "between"), refusal("one dependence for a pair", got, "Remove one of them.")))
        yield from faults
        if not faults and correlation is not None:
            together.pairs[names] = correlation
            tails = study.document["dependence"][path[1]].get("tails", "gaussian")
            if tails != "gaussian" and not study.has_fault((*path, "tails")):
                together.tails[names] = tails
    flow = study.document.get("flow")
    yield from _impossible_together(together, isinstance(flow, dict) and "design_annual_probability" in flow)


def _repeated_ids(study: Readable) -> Iterator[LocatedRefusal]:
    first: dict[str, int] = {}
    for index, element in study.elements():
        name = element.get("id")
        if isinstance(name, str) and first.setdefault(name, index) != index:
            got = f"{shown(name)}, which element {first[name] + 1} bears too"
            fault = refusal("an id that no other element bears", got, "Rename one of them.")
            yield ("element", index, "id"), fault


def _bank_that_counts(study: Readable) -> Iterator[LocatedRefusal]:
    ids = [element["id"] for _, element in study.elements() if isinstance(element.get("id"), str)]
    banks = [
        element["id"]
        for _, element in study.elements()
        if {"bank_level_m", "bank"} & set(element) and isinstance(element.get("id"), str)
    ]
    if not ids:
        return
    if not any({"bank_level_m", "bank"} & set(element) for _, element in study.elements()):
        expected, remedy = (
            "a bank_level_m on at least one element",
            "Add the level at which the water goes over.",
        )
        yield ("element", 0, "bank_level_m"), refusal(expected, "none", remedy)
        return
    decision = study.document.get("decision")
    at = decision.get("at") if isinstance(decision, dict) else None
    if not isinstance(at, str) or not banks or at in banks:
        return
    got = f"{shown(at)}, which has no bank_level_m" if at in ids else shown(at)
    near = nearest(at, banks) if at not in ids else None
    remedy = f'Write "{near}".' if near else f"Write {list_of(banks)}."
    yield ("decision", "at"), refusal("the id of an element with a bank_level_m", got, remedy)


def _seen_nowhere(study: Readable) -> Iterator[LocatedRefusal]:
    """Observations and receptors at an element that is not there."""
    ids = [element["id"] for _, element in study.elements() if isinstance(element.get("id"), str)]
    for key in ("observation", "receptor"):
        entries = study.document.get(key)
        for index, entry in enumerate(entries if isinstance(entries, list) else []):
            at = entry.get("at") if isinstance(entry, dict) else None
            if isinstance(at, str) and at.strip() and ids and at not in ids:
                yield (key, index, "at"), refusal("the id of an element", shown(at), choose(at, ids))
    yield from seen_beside_a_line([element for _, element in study.elements()], study.document)


def _bed_of_the_first(study: Readable) -> Iterator[LocatedRefusal]:
    """A level that would stand on what lies below the first element, where nothing does."""
    first = next(study.elements(), None)
    if first is None or first[0] != 0:
        return
    tailwater = study.document.get("tailwater")
    normal_depth = tailwater.get("normal_depth") if isinstance(tailwater, dict) else None
    table = table_of(first[1])
    if table is not None:
        yield from table.as_the_first(first[1], normal_depth if isinstance(normal_depth, dict) else None)


def _rating_reach(study: Readable) -> Iterator[LocatedRefusal]:
    tailwater = study.document.get("tailwater")
    name = tailwater.get("rating") if isinstance(tailwater, dict) else None
    flow = study.numbers.get(("flow", "design_m3_s"))
    if name is None or flow is None or study.has_fault(("tailwater", "rating")):
        return
    try:
        flows = study.folder.rating(name).flows
    except (ValidationError, ValueError):
        return
    if not flows[0] <= flow.median <= flows[-1]:
        expected = f"a rating that holds the median design flow, {number(flow.median)} m3/s"
        got = f"flows from {number(flows[0])} to {number(flows[-1])} m3/s"
        yield ("tailwater", "rating"), refusal(expected, got, "Extend the rating.")


def dependences(study: Readable) -> Iterator[tuple[KeyPath, tuple[str, str], float | None]]:
    """Dependences whose two names can be read."""
    found = study.document.get("dependence")
    for index, entry in enumerate(found if isinstance(found, list) else []):
        path: KeyPath = ("dependence", index)
        if isinstance(entry, dict) and "between" in entry and not study.has_fault((*path, "between")):
            first, second = entry["between"]
            sound = "rank_correlation" in entry and not study.has_fault((*path, "rank_correlation"))
            yield path, (first, second), float(entry["rank_correlation"]) if sound else None


def _wrong_names(study: Readable, path: KeyPath, names: tuple[str, str]) -> Iterator[LocatedRefusal]:
    numbers = study.names()
    uncertain = [name for name, read in numbers.items() if read.uncertain and not read.shared]
    faulty = [dotted(fault, study.document) for fault in study.faulty]
    for index, name in enumerate(names):
        if name in uncertain or _already_at_fault(study, name, faulty):
            continue
        if name in numbers and (source := numbers[name].shared):
            got = f"{name}, which is {source}"
            fault = refusal("the name of an uncertain number", got, f'Write "{source}".')
        elif name in numbers:
            remedy = "Give that number a distribution, or remove the dependence."
            fault = refusal("the name of an uncertain number", f"{name}, which is certain", remedy)
        else:
            near = nearest(name, uncertain)
            choice = f'Did you mean "{near}"?' if near else _all(uncertain)
            fault = refusal("the name of an uncertain number", f"the unknown name {name}", choice)
        yield (*path, "between", index), fault


def _already_at_fault(study: Readable, name: str, faulty: list[str]) -> bool:
    """Whether the number has a fault of its own, a misspelt name, or a table that is missing."""
    table = name.partition(".")[0]
    missing = table in ("flow", "tailwater") and table not in study.document
    inside = any(f"{fault}.".startswith(f"{name}.") for fault in faulty)
    return missing or inside or bool(get_close_matches(name, faulty, n=1, cutoff=MISSPELT))


def _all(uncertain: list[str]) -> str:
    return f"Write {list_of(uncertain)}." if uncertain else "Remove it: no number is uncertain."


def _impossible_together(together: Together, rarity_known: bool) -> Iterator[LocatedRefusal]:
    names = tuple(dict.fromkeys(name for pair in together.pairs for name in pair if name != ANNUAL))
    try:
        copula = together.of_design_flood(names, rarity_known)
        others = tuple(name for name in names if name != FLOW)
        for each in (copula, together.of_a_year(others)):
            if ANNUAL in each.names:
                settled(each, ANNUAL, 0.0, tuple(Normal(0.0, 1.0) for _ in each.names[1:]))
    except ParameterError as error:
        remedy = "Bring the correlations nearer to 0." if "positive definite" in error.expected else "Correct them."
        yield ("dependence",), refusal(error.expected, error.got, remedy)
