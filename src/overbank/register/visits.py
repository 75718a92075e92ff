"""What the visits to all screens of a register tell of each: screens of a class borrow from each other.

Each screen has its own chances of nothing, a part and everything blocked, drawn from one Dirichlet distribution for its
class, whose worths w the looks at all its screens tell (`uncertain.pooled`). The chances of a screen with counts n are
then

    (w_k + n_k) / (W + N),     W = sum w, N = sum n:

its own shares with the weight N/(N + W), those of its class with the rest; a screen that nobody visited has those of
its class. What lies between is one beta a class, fitted to all its looks. A class with looks at fewer screens than
`uncertain.pooled` needs takes the looks of all classes together.

These are the chances in the next flood. How sure they are at each screen is told by its weight alone: the ranking takes
them as known.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import chain
from typing import Any

import numpy as np

from overbank.errors import DomainError
from overbank.register.defaults import Defaults
from overbank.register.rows import is_below, values_of
from overbank.register.table import Entry, Register
from overbank.sampling.samples import Array
from overbank.study.guidelines import starting_points
from overbank.study.records.many import looks_of_all
from overbank.uncertain.bounded import InflatedBeta
from overbank.uncertain.pooled import FEWEST, shared_prior
from overbank.uncertain.records import Looks, counts_of, fit_records, worths_of


@dataclass(frozen=True)
class Screens:
    """What the visits tell.

    blockages : of every screen of the register, by the id of its row and then by its path
    table : a dict a screen: its looks, its own shares, those of its class, and what is taken
    unused : visits to no screen of the register
    """

    blockages: Mapping[str, Mapping[str, Any]]
    table: tuple[dict[str, Any], ...]
    unused: int


@dataclass(frozen=True)
class _Class:
    """What the screens of a class have in common: looks that their chances are worth, the beta between, and words."""

    worths: Array
    between: InflatedBeta
    words: str


def borrowed(counts: Array, worths: Array) -> Array:
    """Chances of a screen from its own counts and the worths of its class, (w + n)/(W + N)."""
    return np.asarray((worths + counts) / (worths.sum() + counts.sum()))


def screens_of(register: Register, defaults: Defaults) -> Screens:
    """What the visits tell of every screen of the register.

    Raises
    ------
    StudyError : the file of visits has faults
    DomainError : no visits of a register whose defaults name none, or looks at too few screens
    """
    visits = defaults.visits
    screens = {entry.id: entry for entry in register.entries if has_screen(entry)}
    if visits is None:
        return Screens({}, (), 0)
    start = starting_points()[visits.prior]
    bars = {name: _bars(entry, defaults) for name, entry in screens.items()}
    looks, unused = looks_of_all(register.path.parent, visits.file, bars)
    classes = _classes(screens, looks, start, f"{visits.file}, prior {visits.prior}")
    blockages, rows = {}, []
    for name, entry in screens.items():
        own = counts_of(looks[name], start) if name in looks else np.zeros(3)
        shared = classes[entry.class_]
        chances = borrowed(own, shared.worths)
        blockages[name] = {f"{entry.kind}.screen.blockage": _blockage(chances, own, shared)}
        rows.append(_row(entry, own, shared.worths, chances))
    return Screens(blockages, tuple(rows), unused)


def has_screen(entry: Entry) -> bool:
    """Whether a row gives a screen."""
    return any(is_below(path, f"{entry.kind}.screen") for path in entry.cells)


def _bars(entry: Entry, defaults: Defaults) -> dict[str, float]:
    """Gap and bar in millimetres, where they are plain numbers, for visits that tell the share of the gross area."""
    values = values_of(entry, defaults)
    keys = {"bar_gap_mm": "gap_m", "bar_width_mm": "bar_m"}
    found = {ours: values.get(f"{entry.kind}.screen.{key}") for ours, key in keys.items()}
    return {ours: 1000.0 * value for ours, value in found.items() if isinstance(value, int | float)}


def _classes(
    screens: Mapping[str, Entry], looks: Mapping[str, Looks], start: InflatedBeta, words: str
) -> dict[str, _Class]:
    """What each class of screens has in common; of all together where it has too few looks of its own."""
    found = {}
    for name in {entry.class_ for entry in screens.values()}:
        own = [each for screen, each in looks.items() if screens[screen].class_ == name]
        few = len(own) < FEWEST
        found[name] = _class(list(looks.values()) if few else own, start, words, "all screens" if few else "its class")
    return found


def _class(looks: list[Looks], start: InflatedBeta, words: str, whose: str) -> _Class:
    if len(looks) < FEWEST:
        raise DomainError(f"visits: expected usable looks at {FEWEST} screens at least; got {len(looks)}. Add visits")
    counts = np.array([counts_of(each, start) for each in looks])
    pooled = shared_prior(counts, worths_of(start))
    fields = ("low", "high", "zero", "one", "weight")
    whole = Looks(*(tuple(chain.from_iterable(getattr(each, name) for each in looks)) for name in fields))
    alike = "; the records do not tell these screens apart" if pooled.alike else ""
    told = f"{whose} of {pooled.screens} visited screens, worth {sum(pooled.worths):.3g} looks{alike} ({words})"
    return _Class(np.array(pooled.worths), fit_records(whole, start).nearest, told)


def _blockage(chances: Array, own: Array, shared: _Class) -> dict[str, Any]:
    """The blockage of a screen, as a study writes it."""
    numbers = {"at_zero": float(chances[0]), "a": shared.between.a, "b": shared.between.b, "at_one": float(chances[2])}
    basis = f"own visits worth {own.sum():.3g} looks, and {shared.words}; empirical Bayes"
    return {"inflated_beta": numbers, "basis": basis, "evidence": "local record" if own.sum() else "judgement"}


def _row(entry: Entry, own: Array, worths: Array, chances: Array) -> dict[str, Any]:
    """A row of the table of screens."""
    looks = float(own.sum())
    raw = own / looks if looks else np.full(3, np.nan)
    shared = worths / worths.sum()
    row: dict[str, Any] = {"id": entry.id, "class": entry.class_, "looks": looks}
    row["weight_of_own"] = looks / (looks + worths.sum())
    for place, what in ((0, "nothing"), (2, "everything")):
        row |= {f"{what}_seen": raw[place], f"{what}_in_class": shared[place], f"{what}_taken": chances[place]}
    return row
