"""defaults.toml of a register: what stands in blank cells, what the owner's heads mean, and what could be done.

    [columns]   the owner's heads: "Width" = { path = "culvert.barrel.span_m", unit = "mm" }, or a path alone
    [run], [decision]   as in a study, the same for every structure
    [all], [kind.culvert], [class.rural], [region.north]   numbers by their paths, any of them a distribution
    [visits]    inspection records of the screens
    [[action]]  what could be done at a structure: name, cost, set
    [budget]    money, and over how many floods or years it is to pay

A row's own cell goes before its region, that before its class, that before its kind, that before all.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from overbank.errors import Fault, StudyError
from overbank.study.blockages import WAYS
from overbank.study.guidelines import starting_words
from overbank.study.reading.families import FAMILIES
from overbank.study.reading.refusals import choose, list_of, shown

Flat = Mapping[str, Any]
"""Values by their dotted paths."""

LEVELS = ("all", "kind", "class", "region")
"""Where a default may stand, the general first."""

TABLES = ("title", "columns", "run", "decision", *LEVELS, "visits", "action", "budget")

SETTINGS: Mapping[str, Any] = {"samples": 1024, "replicates": 16}
"""[run] of a register that says nothing: a first ranking."""

DECISION: Mapping[str, Any] = {"target_probability": 0.05, "assurance": 0.9}
"""[decision] of a register that says nothing."""

NUMBERS = frozenset({"value", *FAMILIES, *WAYS})
"""Keys that tell a table which is one number from one that holds several."""

UNITS: Mapping[str, float] = {"m": 1.0, "mm": 1e-3, "cm": 1e-2, "km": 1e3, "ft": 0.3048, "in": 0.0254} | {
    "m3/s": 1.0,
    "l/s": 1e-3,
    "ft3/s": 0.3048**3,
    "%": 1e-2,
    "1": 1.0,
}
"""What a number in an owner's unit is multiplied by; foot and inch by their definition of 1959."""


@dataclass(frozen=True)
class Column:
    """What an owner's head means: a path, and what its numbers are multiplied by."""

    path: str
    factor: float = 1.0


@dataclass(frozen=True)
class Action:
    """What could be done at a structure.

    cost : where the table has no column `action.NAME.cost` [money]
    set : values by their paths; it can be done where the structure has the parts that these name
    """

    name: str
    cost: float
    set: Flat


@dataclass(frozen=True)
class Visits:
    """Inspection records: a file of visits whose asset_id is the id of a row, and the starting point of the prior."""

    file: str
    prior: str


@dataclass(frozen=True)
class Defaults:
    """What stands beside the table of a register.

    levels : (level, name) -> values by their paths; the name of `all` is empty
    floods : so many design floods, or years where a row has annual floods, over which a benefit counts
    worst : how many structures "the worst" are
    """

    title: str = "Register of structures"
    columns: Mapping[str, Column] = field(default_factory=dict)
    run: Mapping[str, Any] = field(default_factory=lambda: dict(SETTINGS))
    decision: Mapping[str, Any] = field(default_factory=lambda: dict(DECISION))
    levels: Mapping[tuple[str, str], Flat] = field(default_factory=dict)
    visits: Visits | None = None
    actions: tuple[Action, ...] = ()
    money: float | None = None
    floods: float = 1.0
    worst: int = 100

    def of(self, kind: str, class_: str, region: str) -> Iterator[Flat]:
        """The defaults of a row, the general first."""
        for key in (("all", ""), ("kind", kind), ("class", class_), ("region", region)):
            if key in self.levels:
                yield self.levels[key]


def read_defaults(path: Path) -> Defaults:
    """Read and check a defaults.toml.

    Raises
    ------
    StudyError : with every fault found
    """
    try:
        raw = tomllib.loads(path.read_text(encoding="utf-8-sig"))
        reader = _Reader(raw)
        found = reader.read()
    except (OSError, ValueError, RecursionError) as error:
        fault = Fault("the file", "a readable file in TOML", str(error), "Correct it, or name another with --defaults.")
        raise StudyError(str(path), (fault,)) from None
    if reader.faults:
        raise StudyError(str(path), tuple(reader.faults))
    return found


def flat(table: Mapping[str, Any], before: str = "") -> dict[str, Any]:
    """A table's values by their dotted paths; a distribution, and any other way to give a number, is one value."""
    found: dict[str, Any] = {}
    for key, value in table.items():
        path = f"{before}.{key}" if before else key
        if isinstance(value, dict) and NUMBERS.isdisjoint(value):
            found |= flat(value, path)
        else:
            found[path] = value
    return found


def _are_dependences(several: Any) -> bool:
    """Whether these are tables that name the numbers they bind; what else they say is read with the study."""
    if not isinstance(several, list):
        return False
    named = [each.get("between") if isinstance(each, dict) else None for each in several]
    return all(isinstance(paths, list) and all(isinstance(path, str) for path in paths) for paths in named)


class _Reader:
    """Reads a defaults.toml, and keeps what is wrong with it."""

    def __init__(self, raw: dict[str, Any]) -> None:
        self.raw, self.faults = raw, list[Fault]()

    def read(self) -> Defaults:
        for key in self.raw.keys() - set(TABLES):
            self._refuse(key, f"one of {', '.join(TABLES)}", "an unknown key", choose(key, TABLES))
        budget = self._table("budget", ("money", "floods", "worst"))
        run = {**SETTINGS, **self._table("run")}
        if not isinstance(run["samples"], int):
            remedy = "Write samples = 1024, for example."
            self._refuse("run.samples", "the same number for all structures", shown(run["samples"]), remedy)
        return Defaults(
            title=str(self.raw.get("title", Defaults.title)),
            columns=self._columns(),
            run=run,
            decision={**DECISION, **self._table("decision")},
            levels=dict(self._levels()),
            visits=self._visits(),
            actions=tuple(self._actions()),
            money=self._number(budget, "budget", "money", None),
            floods=self._number(budget, "budget", "floods", 1.0) or 0.0,
            worst=int(self._number(budget, "budget", "worst", 100.0) or 1),
        )

    def _refuse(self, place: str, expected: str, got: str, remedy: str) -> None:
        self.faults.append(Fault(place, expected, got, remedy))

    def _table(self, name: str, keys: tuple[str, ...] = ()) -> dict[str, Any]:
        table = self.raw.get(name, {})
        if not isinstance(table, dict):
            self._refuse(name, f"a table [{name}]", shown(table), f"Write [{name}] on a line of its own.")
            return {}
        for key in table.keys() - set(keys) if keys else ():
            self._refuse(f"{name}.{key}", list_of(keys), "an unknown key", choose(key, keys))
        return table

    def _number(self, table: Mapping[str, Any], at: str, key: str, otherwise: float | None) -> float | None:
        value = table.get(key, otherwise)
        if value is None or (isinstance(value, int | float) and not isinstance(value, bool) and 0.0 <= value < 1e15):
            return None if value is None else float(value)
        self._refuse(f"{at}.{key}", "a number from 0", shown(value), "Write a plain number.")
        return otherwise

    def _columns(self) -> dict[str, Column]:
        found = {}
        for head, value in self._table("columns").items():
            said = {"path": value} if isinstance(value, str) else value
            if not isinstance(said, dict) or not isinstance(said.get("path"), str) or said.keys() - {"path", "unit"}:
                remedy = '"Width" = { path = "culvert.barrel.span_m", unit = "mm" }, for example.'
                self._refuse(f"columns.{head}", "a path, or a path and a unit", shown(value), f"Write {remedy}")
                continue
            unit = said.get("unit", "1")
            if not isinstance(unit, str) or unit not in UNITS:
                self._refuse(
                    f"columns.{head}.unit", list_of(tuple(UNITS)), shown(unit), choose(str(unit), tuple(UNITS))
                )
                continue
            found[head] = Column(said["path"], UNITS[unit])
        return found

    def _levels(self) -> Iterator[tuple[tuple[str, str], Flat]]:
        yield ("all", ""), self._flat("all", self._table("all"))
        for level in LEVELS[1:]:
            for name, table in self._table(level).items():
                if isinstance(table, dict):
                    yield (level, name), self._flat(f"{level}.{name}", table)
                else:
                    self._refuse(f"{level}.{name}", "a table of values by their paths", shown(table), "Write a table.")

    def _flat(self, at: str, table: Mapping[str, Any]) -> Flat:
        found = flat(table)
        if not _are_dependences(found.get("dependence", [])):
            remedy = 'Write between = ["flow.design_m3_s", "culvert.screen.blockage"], for example.'
            self._refuse(f"{at}.dependence", "tables with two paths each", shown(found.pop("dependence")), remedy)
        for path in [path for path in found if path == "element" or path.split(".", 1)[0] == "run"]:
            remedy = "Write [run] on a line of its own: it is the same for all."
            self._refuse(f"{at}.{path}", "a number of the structure", shown(found.pop(path)), remedy)
        return found

    def _visits(self) -> Visits | None:
        table, priors = self._table("visits", ("file", "prior")), starting_words()
        if not table:
            return None
        file, prior = table.get("file"), table.get("prior")
        if not isinstance(file, str):
            self._refuse("visits.file", "the name of a CSV file of visits", shown(file), 'Write file = "visits.csv".')
        if prior not in priors:
            self._refuse("visits.prior", list_of(priors), shown(prior), choose(str(prior), priors))
        return Visits(str(file), str(prior))

    def _actions(self) -> Iterator[Action]:
        listed = self.raw.get("action", [])
        if not isinstance(listed, list):
            self._refuse("action", "tables [[action]]", shown(listed), "Write [[action]] on a line of its own.")
            return
        for place, raw in enumerate(listed, start=1):
            said = raw if isinstance(raw, dict) else {}
            name, changes = said.get("name"), said.get("set")
            if not isinstance(name, str) or not isinstance(changes, dict) or not changes:
                remedy = 'Write name = "rake", cost = 400, set = { "culvert.screen.blockage" = 0.1 }, for example.'
                self._refuse(f"action {place}", "a name, a cost and what it sets", shown(raw), remedy)
                continue
            yield Action(name, self._number(said, f"action {place}", "cost", 0.0) or 0.0, flat(changes))
