"""The tables of the report: rows of text, ready for the page."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from overbank.analysis.intervals import Estimate
from overbank.analysis.sensitivity import DUMMY, Indices
from overbank.analysis.shapley import MEANINGS, Shapley
from overbank.outputs.outcome import Outcome
from overbank.outputs.places import Place
from overbank.report import floods
from overbank.report.names import plain_name
from overbank.report.ranking import noise_floor
from overbank.report.readings import at_end, certain_level, index_of, share_above, share_of
from overbank.site.row import ElementOutcome
from overbank.words import rounded, share_words, written


class Figure(NamedTuple):
    """A key figure: value, 95 % interval, method, and what a reader must know beside it."""

    label: str
    value: str
    interval: str
    method: str
    note: str = ""


class FigureGroup(NamedTuple):
    """Key figures that belong together."""

    title: str
    figures: tuple[Figure, ...]


def key_figures(outcome: Outcome) -> tuple[FigureGroup, ...]:
    """Probability, levels, blockage and floods of a year, each with interval and method."""
    groups = []
    if outcome.overtopping is not None:
        title = "Probability of going over the bank in the design flood"
        groups.append(FigureGroup(title, tuple(_probabilities(outcome))))
    if levels := tuple(_levels(outcome)):
        groups.append(FigureGroup(f"Level upstream of {outcome.place} in the design flood", levels))
    if outcome.blockage is not None:
        groups.append(FigureGroup("Blockage", tuple(_blockages(outcome))))
    if outcome.annual is not None:
        found = tuple(_figure(*each) for each in floods.figures(outcome.annual))
        groups.append(FigureGroup("Probability of going over the bank in a year", found))
    return tuple(groups)


def _figure(label: str, estimate: Estimate, unit: str) -> Figure:
    said = rounded(estimate, unit)
    return Figure(label, said.value, said.interval, estimate.method, estimate.note)


def _probabilities(outcome: Outcome) -> Iterable[Figure]:
    over = outcome.overtopping
    if over.beyond is not None:
        yield _figure("the one to quote", over.beyond, "p")
    if over.threshold is not None:
        yield _figure("by the threshold method", over.threshold, "p")
    yield _figure("by plain count of the same samples", over.plain, "p")


def _levels(outcome: Outcome) -> Iterable[Figure]:
    curve = None if outcome.headwater is None else outcome.headwater.curve
    for share, level in () if curve is None else outcome.headwater.quantiles.items():
        chosen = ", the assurance" if share == outcome.assurance else ""
        yield _figure(f"not exceeded with {share_words(share)}{chosen}", level, "m")
    certain = certain_level(outcome)
    if outcome.medians is None:
        return
    if math.isfinite(certain):
        exceeded = (
            ""
            if curve is None
            else f"; exceeded with a probability of {100.0 * share_above(curve, certain):.0f}\u00a0%"
        )
        method = f"one run{exceeded}"
        yield Figure("every uncertain number at its median", f"{certain:.2f}\u00a0m", "not sampled", method)
    else:
        yield Figure("every uncertain number at its median", "no way through", "not sampled", "one run")


def _blockages(outcome: Outcome) -> Iterable[Figure]:
    blocked = outcome.blockage
    assert blocked is not None
    yield _figure(f"largest that keeps overtopping within {share_words(outcome.target)}", blocked.largest, "%")
    yield _figure(f"allowance for one run, {share_words(outcome.assurance)} assurance", blocked.allowance, "%")
    for place in (0, -1):
        at = blocked.fixed.at[place]
        yield _figure(
            f"probability of overtopping with {100.0 * at:.0f}\u00a0% blocked", at_end(blocked.fixed, place), "p"
        )


class PlaceLine(NamedTuple):
    """Overtopping at one place, or at any or all of them."""

    place: str
    probability: str
    interval: str
    first: str


def places(outcome: Outcome) -> tuple[PlaceLine, ...]:
    """Overtopping at every place with a bank and at any and all of them; nothing when there is only one place."""
    found = outcome.places
    if len(found.each) == 1:
        return ()
    lines = [PlaceLine(place.id, *rounded(place.probability, "p"), _first(place)) for place in found.each]
    together = (("at any of them", found.any), ("at all of them", found.all))
    return (*lines, *(PlaceLine(words, *rounded(probability, "p"), "") for words, probability in together))


def _first(place: Place) -> str:
    if math.isnan(place.first.value):
        return "nothing goes over"
    said = rounded(place.first, "p")
    return f"{said.value} ({said.interval})" if said.interval else said.value


class Index(NamedTuple):
    """Indices of one input, as per cent with intervals; empty where there are none."""

    path: str
    words: str
    cells: tuple[str, ...]


class Ranking(NamedTuple):
    """Indices of level and overtopping: by itself, with joint effects and, where inputs depend, the fair share.

    rows : the inputs that can be told from one that does nothing, those taken together, and the noise floor
    rest : how many inputs cannot
    fair : whether the third column is there
    """

    rows: tuple[Index, ...]
    rest: int
    fair: bool


Parts = tuple[tuple[Indices | None, Shapley | None], ...]
"""Of the level and of overtopping, Sobol' indices and Shapley effects."""


def ranking(outcome: Outcome) -> Ranking:
    """What stands in the table of the page; sensitivity.csv and shapley_effects.csv hold all."""
    found, names = outcome.drivers, outcome.problem.inputs.names
    parts: Parts = ((found.level, found.shapley), (found.overtopping, found.shapley_of_event))
    fair = any(shares is not None for _, shares in parts)
    told = [name for name in names if any(_tells(*part, name) for part in parts)]
    rows = [_ranked(name, parts, fair) for name in told]
    if found.groups is not None:
        for name in (str(name) for name in found.groups.table["input"]):
            together = [_index(index_of(found.groups, name, kind)) for kind in ("first", "total")]
            rows.append(Index("", name, (*together, *[""] * (4 if fair else 2))))
    shared = (str(name) for _, shares in parts if shares is not None for name in shares.table["input"])
    for name in dict.fromkeys(name for name in shared if name not in names):
        cells = (cell for _, shares in parts for cell in ("", "", _fair(shares, name)))
        rows.append(Index("", name, tuple(cells)))
    floors = ["none" if indices is None else f"± {100.0 * noise_floor(indices):.1f}" for indices, _ in parts]
    rows.append(Index("", f"noise floor {DUMMY}", tuple(x for floor in floors for x in (floor, floor, *[""] * fair))))
    return Ranking(tuple(rows), len(names) - len(told), fair)


def _tells(indices: Indices | None, shares: Shapley | None, name: str) -> bool:
    """Whether an input stands out of the noise; all do where nobody could look."""
    if indices is None or index_of(indices, name, "total").value > noise_floor(indices):
        return True
    if shares is None or name not in set(shares.table["input"]):
        return False
    return share_of(shares.table, name, "shapley").low > 0.0


def _ranked(name: str, parts: Parts, fair: bool) -> Index:
    """A row of the table."""
    cells: list[str] = []
    for indices, shares in parts:
        cells += ["none" if indices is None else _index(index_of(indices, name, kind)) for kind in ("first", "total")]
        cells += [_fair(shares, name)] * fair
    return Index(name, plain_name(name).in_full, tuple(cells))


def _fair(shares: Shapley | None, name: str) -> str:
    """The Shapley effect; empty where the input has none of its own."""
    if shares is None or name not in set(shares.table["input"]):
        return ""
    return _index(share_of(shares.table, name, "shapley"))


MOST_PAIRS = 10
"""Pairs of inputs shown, those that do most together; the table in the results holds them all."""


class Pair(NamedTuple):
    """Two inputs and the share of the variance that comes from their acting together."""

    inputs: tuple[str, str]
    share: str


class Pairs(NamedTuple):
    """The pairs that can be told from acting apart, and what is to be said of the others."""

    told: tuple[Pair, ...]
    rest: str


def pairs(outcome: Outcome) -> Pairs | None:
    """Second-order indices of the level; None where the study does not ask for them, or they were refused."""
    found = outcome.drivers.pairs
    if found is None:
        return None
    told = found.table[found.table["second_low"] > 0.0].sort_values("second", ascending=False, kind="stable")
    shown = [
        Pair(
            (str(row["input"]), str(row["other"])),
            _index(Estimate(row["second"], row["second_low"], row["second_high"], "")),
        )
        for _, row in told.head(MOST_PAIRS).iterrows()
    ]
    rest = len(found.table) - len(shown)
    words = f"The other {rest} of {len(found.table)} pairs" if shown else f"None of the {rest} pairs"
    more = " do less, or cannot" if len(told) > MOST_PAIRS else " cannot" if shown else " can"
    return Pairs(tuple(shown), f"{words}{more} be told from acting apart." if rest else "")


FAIR_WORDS = f"Fair share: {MEANINGS['shapley']}."
"""What the column of Shapley effects means."""


def _index(found: Estimate) -> str:
    """An index as per cent with the half width of its interval."""
    half = 50.0 * (found.high - found.low)
    if not math.isfinite(half):
        return f"{100.0 * found.value:.0f}"
    decimals = 0 if half >= 0.95 else 1
    shown = written(100.0 * found.value, decimals).replace("-", "\u2212")
    return shown if half < 0.05 else f"{shown} ± {half:.{decimals}f}"


RARE = 0.01
"""States that govern in a smaller share of the samples are told together."""


class Regime(NamedTuple):
    """What governs at an element in a share of the samples; `certain` marks that of the run at the medians."""

    words: str
    share: str
    certain: bool


class Governed(NamedTuple):
    """An element with its regimes, most frequent first."""

    element: str
    regimes: tuple[Regime, ...]


def regimes(outcome: Outcome) -> tuple[Governed, ...]:
    """What governs at each element, in how many of the samples."""
    return tuple(_governed(outcome, element) for element in outcome.samples.site.elements)


def _governed(outcome: Outcome, element: ElementOutcome) -> Governed:
    own, places, counts = outcome.deterministic.element(element.id).governs(), *_states(element)
    total = int(counts.sum())
    found = [
        (count / total, Regime(words := element.governs(int(at)), small_share(count / total), words == own))
        for at, count in zip(places, counts, strict=True)
    ]
    found.sort(key=lambda pair: -pair[0])
    shown = [regime for share, regime in found if share >= RARE or regime.certain]
    rest = [share for share, regime in found if share < RARE and not regime.certain]
    if len(rest) > 1:
        shown.append(
            Regime(f"{len(rest)} other states, each rarer than {small_share(RARE)}", small_share(sum(rest)), False)
        )
    elif rest:
        shown.append(found[-1][1])
    return Governed(f"{element.id} ({element.kind})", tuple(shown))


def _states(element: ElementOutcome) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """A sample of every state that occurs, and in how many samples it does; no solution is one of them."""
    states = np.nan_to_num(np.array(list(element.states.values())), nan=-1.0)
    _, places, counts = np.unique(states, axis=1, return_index=True, return_counts=True)
    return places, counts


def small_share(share: float) -> str:
    """A share of samples: whole per cent, or less when it is small."""
    if 0.0 < share < 0.001:
        return "below 0.1\u00a0%"
    decimals = 0 if share >= 0.0995 or share == 0.0 else 1
    if 0.995 <= share < 1.0:
        return "nearly all"
    return f"{100.0 * share:.{decimals}f}\u00a0%"


class LevelLine(NamedTuple):
    """One element in the run at the medians."""

    element: str
    level: str
    bank: str
    spare: str
    regime: str
    more: str


def certain_levels(outcome: Outcome) -> tuple[LevelLine, ...]:
    """The run with every uncertain number at its median, element by element going upstream."""
    tailwater = f"{outcome.deterministic.tailwater[0]:.2f}"
    lines = [
        LevelLine("below the site", tailwater, "", "", "tailwater", f"flow {outcome.deterministic.flow[0]:.3g} m³/s")
    ]
    return (*lines, *(_level_line(element) for element in outcome.deterministic.elements))


def _level_line(element: ElementOutcome) -> LevelLine:
    level = float(element.level[0])
    bank = math.nan if element.bank_level is None else float(element.bank_level[0])
    return LevelLine(
        f"{element.id} ({element.kind})",
        f"{level:.2f}" if math.isfinite(level) else "no way through",
        "" if math.isnan(bank) else f"{bank:.2f}",
        f"{bank - level:+.2f}".replace("-", "\u2212") if math.isfinite(bank - level) else "",
        element.governs(),
        _more(element),
    )


def _more(element: ElementOutcome) -> str:
    """Flows, velocities and drops worth knowing; what is nought is left out."""
    told = [figure for figure in element.structure.figures if figure.words and figure.name in element.results]
    found = [(figure.words, float(element.results[figure.name][0])) for figure in told]
    return ", ".join(words.format(value) for words, value in found if math.isfinite(value) and value >= 0.005)
