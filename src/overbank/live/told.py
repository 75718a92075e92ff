"""Answers as the page is told them: figures in words with their intervals, curves and drawings as plain lists."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from overbank.analysis.bands import Curve
from overbank.analysis.intervals import Estimate
from overbank.live.answers import Arrangement, Held, Live, Once, Sampled
from overbank.live.controls import Control
from overbank.outputs.comparison import AS_IT_STANDS
from overbank.report.section import Section
from overbank.sampling.ladder import is_blockage
from overbank.site.long_section import Outline
from overbank.words import measure, rounded, share_words

Told = dict[str, Any]


def site(live: Live, held: Held) -> Told:
    """Everything of the site as it stands with some numbers held."""
    once, sampled = live.base.once(held), live.base.sampled(held)
    return {
        **_once(once),
        **_sampled(sampled),
        "curve": None if sampled.curve is None else _curve(sampled.curve),
        "section": _section(once.section),
        "blocked": {name: _at(once.numbers[name]) for name in once.numbers if is_blockage(name)},
        "elements": _elements(once),
        "remarks": [f"{remark.element}: {remark.words}" for remark in once.remarks],
        "lost": _lost(sampled),
    }


def arrangements(live: Live, held: Held) -> Told:
    """Every arrangement in a row, the site as it stands first."""
    return {"rows": [_arrangement(each, live.place, held) for each in (live.base, *live.others)]}


def controls(live: Live) -> list[Told]:
    """What may be moved, for the script of the page."""
    return [_control(each) for each in live.controls]


def _control(control: Control) -> Told:
    return {
        **{"name": control.name, "words": control.words, "unit": control.unit, "said": control.said},
        **{"low": control.low, "high": control.high, "step": control.step, "start": control.start},
    }


def _arrangement(arrangement: Arrangement, place: str, held: Held) -> Told:
    if arrangement.model.place != place:
        return {"name": arrangement.name, "missing": f"no bank at {place}"}
    kept = sorted(set(held) - set(arrangement.taken(held)))
    words = "" if arrangement.name == AS_IT_STANDS or not kept else f"sets {', '.join(kept)} itself"
    return {
        "name": arrangement.name,
        "kept": words,
        **_once(arrangement.once(held)),
        **_sampled(arrangement.sampled(held)),
    }


def _once(once: Once) -> Told:
    depth = once.level - once.bank
    return {
        "level": _number(once.level),
        "bank": _number(once.bank),
        "level_words": measure(once.level, "m"),
        "bank_words": measure(once.bank, "m"),
        "depth_words": measure(abs(depth), "m"),
        "above": depth > 0.0,
    }


def _sampled(sampled: Sampled) -> Told:
    return {
        "over": _said(sampled.over, "p"),
        "middle": _said(sampled.middle, "m"),
        "assured": _said(sampled.assured, "m"),
        "samples": f"{sampled.samples:,}",
    }


def _lost(sampled: Sampled) -> str:
    """Samples without a level, in words; nothing where there are none."""
    counts = {"without a solution, left out": sampled.failed, "with no way through, counted as over": sampled.endless}
    return "; ".join(f"{count:,} of {sampled.samples:,} samples {words}" for words, count in counts.items() if count)


def _said(figure: Estimate, unit: str) -> tuple[str, str]:
    said = rounded(figure, unit)
    return said.value, said.interval


def _curve(curve: Curve) -> Told:
    return {
        "level": _list(curve.at),
        **{"probability": _list(curve.probability), "low": _list(curve.low), "high": _list(curve.high)},
    }


def _elements(once: Once) -> list[Told]:
    """Levels going upstream, and what governs."""
    found = []
    for element in once.outcome.elements:
        bank = None if element.bank_level is None else float(element.bank_level[0])
        level = float(element.level[0])
        found.append(
            {
                "id": element.id,
                "level": measure(level, "m"),
                "bank": "" if bank is None else measure(bank, "m"),
                "spare": "" if bank is None or not math.isfinite(level) else measure(bank - level, "m", signed=True),
                "governs": element.governs(),
            }
        )
    return found


def _section(section: Section) -> Told:
    return {
        "ends": section.ends,
        "bed": [_list(part) for part in section.bed],
        "extents": [_extent(extent) for extent in section.extents],
        "banks": [[bank.chainage, bank.level] for bank in section.banks],
        "pieces": [[_list(piece.chainage), _list(piece.certain)] for piece in section.pieces],
    }


def _extent(extent: Outline) -> Told:
    return {
        "id": extent.id,
        "kind": extent.kind,
        "ends": [extent.start, extent.end],
        "bed": [extent.bed_start, extent.bed_end],
        "roof": [_number(extent.roof_start), _number(extent.roof_end)],
        "road": _number(extent.road),
        "crest": extent.crest,
        "hides": extent.hides_water,
        "screen": extent.screen,
        "relief": extent.relief,
    }


def _list(values: NDArray[np.float64]) -> list[float | None]:
    return [_number(value) for value in values]


def _at(number: float | NDArray[np.float64]) -> float:
    """The number of a single run."""
    return float(np.asarray(number).flat[0])


def _number(value: float) -> float | None:
    """As JSON holds it: none for an endless or an unknown one."""
    return round(float(value), 6) if math.isfinite(value) else None


def question(live: Live) -> Told:
    """What the page says of the study before anything is moved."""
    decision = live.study.content.decision
    return {
        "title": live.study.title,
        "place": live.place,
        "target": share_words(decision.target_probability),
        "assurance": share_words(decision.assurance),
        "controls": controls(live),
        "arrangements": bool(live.others),
    }
