"""From a row of a register to a small study: its own cells, its screen's records, and the defaults for the blanks."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cache
from math import nan
from pathlib import Path
from typing import Any

from overbank.errors import DomainError, StudyError
from overbank.register.defaults import Action, Defaults
from overbank.register.floods import gumbel_through
from overbank.register.table import ERRORS, LOSS, OWN, CellFault, Entry, Register, of_kind
from overbank.site.numbers import FLOW
from overbank.study.kinds import KINDS
from overbank.study.load import Study, make_study
from overbank.study.reading.refusals import shown
from overbank.study.reading.table import Table

FLOODS = "flow.flood."
"""Begins the path of a flood by its return period in years: flow.flood.100 [m3/s]."""

INSTEAD = (
    ("tailwater.level_m", "tailwater.normal_depth", "tailwater.rating"),
    ("flow.design_m3_s", "flow.design_annual_probability"),
    ("flow.flood", "flow.annual.gumbel", "flow.annual.gev", "flow.annual_maxima"),
)
"""Ways to give one thing: what a row says takes the place of what a default says of another."""

Values = dict[str, Any]


def is_below(path: str, top: str) -> bool:
    """Whether a path is `top`, or lies below it."""
    return path == top or path.startswith(f"{top}.")


@cache
def optional_parts(kind: str) -> frozenset[str]:
    """Parts of a kind that a structure may lack: a default gives them numbers, but never makes one."""
    fields = KINDS[kind].table.model_fields
    return frozenset(name for name, each in fields.items() if not each.is_required() and _holds_table(each.annotation))


def _holds_table(annotation: Any) -> bool:
    several = getattr(annotation, "__args__", ())
    if several:
        return any(map(_holds_table, several))
    return isinstance(annotation, type) and issubclass(annotation, Table)


def values_of(entry: Entry, defaults: Defaults, recorded: Mapping[str, Any] | None = None) -> Values:
    """Every value of a row by its path.

    recorded : what its screen's records tell, by paths; goes before the defaults and after the row's own cells
    """
    own = dict(entry.cells)
    found: Values = {}
    for level in (*defaults.of(entry.kind, entry.class_, entry.region), recorded or {}):
        meant = {of_kind(path, entry.kind): value for path, value in level.items()}
        found = _over(found, {path: value for path, value in meant.items() if _applies(path, entry)})
    return _over(found, own)


def _over(below: Values, above: Mapping[str, Any]) -> Values:
    """What lies above in place of what lies below it, and of other ways to give the same."""
    replaced = [
        other
        for ways in INSTEAD
        if any(is_below(path, way) for path in above for way in ways)
        for other in ways
        if not any(is_below(path, other) for path in above)
    ]
    kept = {path: each for path, each in below.items() if not any(is_below(path, other) for other in replaced)}
    for path in above:
        errors = {f"{path}.{end}" for end in ERRORS}
        kept = {
            other: each
            for other, each in kept.items()
            if other in errors or not (is_below(other, path) or is_below(path, other))
        }
    return {**kept, **above}


def _applies(path: str, entry: Entry) -> bool:
    """Whether a default belongs to the row: of its kind, and of no part that the row itself does not have."""
    root, _, rest = path.partition(".")
    if root not in KINDS:
        return True
    part = rest.split(".", 1)[0]
    if root != entry.kind:
        return False
    return part not in optional_parts(root) or any(is_below(cell, f"{root}.{part}") for cell in entry.cells)


def changed_by(action: Action, entry: Entry, values: Values) -> Values | None:
    """The values of a row once an action is done; None where the structure lacks a part that it changes."""
    changes = {of_kind(path, entry.kind): value for path, value in action.set.items()}
    able = all(any(is_below(each, path.rsplit(".", 1)[0]) for each in values) for path in changes)
    return _over(values, changes) if able else None


def document_of(entry: Entry, values: Values, defaults: Defaults) -> dict[str, Any]:
    """The study of a row, as plain tables.

    Raises
    ------
    DomainError : two values cannot stand in one table, or its floods are none
    """
    told = _with_errors(_with_floods(values))
    loss_of(told)
    title = f"{entry.id}: {entry.name}" if entry.name else entry.id
    document: dict[str, Any] = {"title": title, "run": dict(defaults.run), "decision": dict(defaults.decision)}
    element: dict[str, Any] = {"kind": entry.kind, "id": entry.kind}
    for path in sorted(told, key=lambda each: each.count(".")):
        root, _, rest = path.partition(".")
        if path in ("dependence", LOSS):
            continue
        if root in KINDS and root != entry.kind:
            raise DomainError(f"{path}: expected a blank, for the row is a {entry.kind}; got {shown(told[path])}")
        _put(element if root in KINDS else document, rest if root in KINDS else path, told[path])
    document["element"] = [element]
    if dependence := [each for each in told.get("dependence", ()) if _both_uncertain(each, told)]:
        document["dependence"] = dependence
    return document


def loss_of(values: Values) -> float:
    """What is lost when the water goes over the bank [money]; nan where nothing says it.

    Raises
    ------
    DomainError : it is no number from 0
    """
    loss = values.get(LOSS, nan)
    if isinstance(loss, bool) or not isinstance(loss, int | float) or loss < 0.0:
        raise DomainError(f"{LOSS}: expected a number from 0; got {shown(loss)}")
    return float(loss)


def _both_uncertain(dependence: Any, values: Values) -> bool:
    """Whether a row has both numbers that a dependence names, uncertain."""
    return isinstance(dependence, dict) and all(isinstance(values.get(p), dict) for p in dependence.get("between", ()))


def _put(table: dict[str, Any], path: str, value: Any) -> None:
    *way, last = path.split(".")
    for step in way:
        table = table.setdefault(step, {})
        if not isinstance(table, dict):
            raise DomainError(f"{path}: expected one value or a table; got both at {step}. Remove one of the columns")
    table[last] = value


def _with_floods(values: Values) -> Values:
    """Floods by their return periods made a distribution of annual maxima."""
    floods = {path.removeprefix(FLOODS): value for path, value in values.items() if path.startswith(FLOODS)}
    if not floods:
        return values
    try:
        location, scale = gumbel_through({float(period): float(flow) for period, flow in floods.items()})
    except (TypeError, ValueError):
        raise DomainError(f"{FLOODS}: expected flows by return periods in years; got {shown(floods)}") from None
    except DomainError as error:
        raise DomainError(f"{FLOODS}: expected {error}; got {', '.join(map(str, floods.values()))}") from None
    kept = {path: value for path, value in values.items() if not path.startswith(FLOODS)}
    return {
        **kept,
        "flow.annual.gumbel": {"location": location, "scale": scale},
        "flow.annual.basis": kept.get("flow.annual.basis", f"floods of {len(floods)} return periods in the table"),
    }


def _with_errors(values: Values) -> Values:
    """Numbers with their own errors made distributions; an error without a plain number beside it tells nothing."""
    found = {path: value for path, value in values.items() if path.rsplit(".", 1)[-1] not in ERRORS}
    for path, error in values.items():
        base, _, end = path.rpartition(".")
        number = found.get(base)
        if end not in ERRORS or isinstance(number, bool) or not isinstance(number, int | float):
            continue
        if error == 0:
            continue
        family = {"lognormal": {"median": number, "cov": error}} if end == "cov" else None
        found[base] = family or {"normal": {"mean": number, "sd": error}}
        found[base]["basis"] = (
            f"the table of the register, {'coefficient of variation' if end == 'cov' else 'sd'} {error}"
        )
    return found


def study_of(entry: Entry, values: Values, defaults: Defaults, folder: Path) -> Study:
    """The study of a row.

    Raises
    ------
    StudyError, DomainError : with every fault of its cells
    """
    return make_study(document_of(entry, values, defaults), folder)


def cell_faults(entry: Entry, error: StudyError | DomainError, register: Register) -> Iterator[CellFault]:
    """The faults of a row by the heads of its columns."""
    if isinstance(error, DomainError):
        place, _, rest = str(error).partition(": expected ")
        expected, _, got = rest.partition("; got ")
        yield CellFault(entry.line, entry.id, register.heads.get(place, place), expected, got, "Correct the row.")
        return
    for fault in error.faults:
        place = fault.place.split(", ", 1)[1] if fault.place.startswith("line ") else fault.place
        heads = {of_kind(path, entry.kind): head for path, head in register.heads.items()}
        head = next((head for path, head in heads.items() if is_below(place, path)), place)
        yield CellFault(entry.line, entry.id, head, fault.expected, fault.got, fault.remedy)


def uncertain_names(register: Register, defaults: Defaults) -> tuple[str, ...]:
    """Every path that may be uncertain in some row: a column of the sampling design each, the same for all."""
    found = {FLOW}
    for values in (*defaults.levels.values(), *(entry.cells for entry in register.entries)):
        found |= {path for path, value in values.items() if isinstance(value, dict) and path not in OWN}
        found |= {path.rpartition(".")[0] for path in values if path.rsplit(".", 1)[-1] in ERRORS}
    found |= {path for action in defaults.actions for path, value in action.set.items() if isinstance(value, dict)}
    found = {of_kind(path, kind) for path in found for kind in KINDS}
    if defaults.visits is not None:
        found |= {f"{kind}.screen.blockage" for kind in KINDS if "screen" in optional_parts(kind)}
    return tuple(sorted(found))
