"""Random studies, each from its seed alone. All sites are invented.

Twelve kinds go round with the seed, so that any twelve in a row hold every kind; within a kind everything is random.
The bank is put where the event is neither sure nor impossible, by a small pilot of the referee's own.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from pathlib import Path

import numpy as np

from referee import drawing
from referee.case import Case
from referee.parts import (
    Draft,
    annual_flow,
    bridge,
    culvert,
    design_flow,
    level_below,
    lumpy,
    reach,
    screen,
    visits,
    weir,
)
from referee.reading import DESIGN
from referee.site_adapter import SiteFunction

PILOT = 2000

SHARE = "lane.screen.blockage"


def with_lumps(draft: Draft) -> None:
    """A screen with lumps, a road, and debris that goes with the flood."""
    draft.flow, draft.tailwater = design_flow(draft), level_below(draft)
    draft.elements = [culvert(draft, road=True, more=screen(draft, lumpy(draft)))]
    draft.depend(DESIGN, SHARE)


def no_way_through(draft: Draft) -> None:
    """A screen without a way over it and no road: full blockage lets nothing through."""
    draft.flow, draft.tailwater = design_flow(draft), level_below(draft)
    draft.elements = [culvert(draft, road=False, more=screen(draft, lumpy(draft), overflow=False))]
    draft.depth = (0.2, 0.7)


def narrow_support(draft: Draft) -> None:
    """A blockage that is known to lie between two values."""
    low, wide = draft.pick(0.1, 0.5, 2), draft.pick(0.15, 0.4, 2)
    draft.flow, draft.tailwater = design_flow(draft), level_below(draft)
    blockage = f"{{ uniform = {{ low = {low}, high = {round(low + wide, 2)} }} }}"
    draft.elements = [culvert(draft, road=True, more=screen(draft, blockage))]
    if draft.rng.random() < 0.5:
        draft.depend("lane.inlet.head_factor", SHARE)


def discrete(draft: Draft) -> None:
    """Numbers that take a few values only, so that levels have ties."""
    median = draft.pick(4.0, 7.0, 1)
    flows = f"[{round(0.8 * median, 1)}, {median}, {round(1.4 * median, 1)}]"
    draft.flow = f"design_m3_s = {{ discrete = {{ values = {flows}, weights = [0.3, 0.5, 0.2] }} }}"
    draft.tailwater = "level_m = { discrete = { values = [30.6, 30.9, 31.3], weights = [0.5, 0.3, 0.2] } }"
    blockage = "{ discrete = { values = [0.0, 0.4, 0.8, 1.0], weights = [0.4, 0.3, 0.2, 0.1] } }"
    draft.elements = [
        culvert(draft, road=True, more=screen(draft, blockage))
        .replace("head_factor = { normal = { mean = 1.0, sd = 0.05 } }", "head_factor = 1.0")
        .replace("coefficient = { uniform = { low = 1.4, high = 1.7 } }", "coefficient = 1.55")
        .replace("{ triangular = { low = 0.012, mode = 0.014, high = 0.02 } }", "0.014")
    ]
    draft.depend(DESIGN, SHARE)


def at_a_weir(draft: Draft) -> None:
    """A weir over a reach, without debris, with numbers that go against each other."""
    draft.flow, draft.tailwater = design_flow(draft), level_below(draft)
    draft.elements = [reach(draft), weir(draft)]
    draft.depend("below.manning_n", "lane.crest.coefficient")


def rare(draft: Draft) -> None:
    """A bank so high that the samples hardly ever see the water there."""
    draft.flow, draft.tailwater = design_flow(draft), level_below(draft)
    blockage = f"{{ beta = {{ a = {draft.pick(1.2, 2.0, 1)}, b = {draft.pick(4.0, 8.0, 1)} }} }}"
    draft.elements = [culvert(draft, road=draft.rng.random() < 0.5, more=screen(draft, blockage))]
    draft.depth_over_bank = draft.pick(0.6, 1.6, 2)


def debris_of_a_year(draft: Draft) -> None:
    """Annual maxima that are known, and debris that goes with them."""
    draft.flow, draft.tailwater = annual_flow(draft), level_below(draft)
    draft.elements = [culvert(draft, road=True, more=screen(draft, lumpy(draft)))]
    draft.depend("flow.annual", SHARE)


def short_record(draft: Draft) -> None:
    """Annual maxima of which only a record tells."""
    draft.flow, draft.tailwater = annual_flow(draft, record=True), level_below(draft)
    draft.elements = [culvert(draft, road=True, more=screen(draft, lumpy(draft)))]


def river_below(draft: Draft) -> None:
    """Annual maxima, and a river below whose level is known, or comes out anew, or is left to the program."""
    kind = draft.one_of("knowledge", "each flood")
    draft.flow, draft.tailwater = annual_flow(draft), level_below(draft, kind)
    if kind == "each flood" and draft.rng.random() < 0.5:
        draft.tailwater = draft.tailwater.replace(f', kind = "{kind}"', "")
    draft.elements = (
        [weir(draft)] if draft.rng.random() < 0.5 else [culvert(draft, road=True, own=f"blockage = {lumpy(draft)}\n")]
    )
    if kind == "each flood":
        draft.depend("flow.annual", "tailwater.level_m")


def of_records(draft: Draft) -> None:
    """A blockage of which only visits tell, with the floods of a year."""
    draft.flow, draft.tailwater = annual_flow(draft), level_below(draft)
    draft.files |= visits(draft.rng, int(draft.rng.integers(6, 45)))
    prior = draft.one_of("screen, medium debris, routine raking", "screen, low debris, raked on alert")
    blockage = f'{{ records = {{ assets = "assets.csv", visits = "visits.csv", asset = "lane", prior = "{prior}" }} }}'
    draft.elements = [culvert(draft, road=True, more=screen(draft, blockage))]


def seen(draft: Draft) -> None:
    """Two floods that were seen, and a coefficient that goes with the blockage."""
    draft.flow, draft.tailwater = design_flow(draft), level_below(draft)
    a, b = draft.pick(1.2, 2.5, 1), draft.pick(2.0, 4.0, 1)
    draft.elements = [culvert(draft, road=True, more=screen(draft, f"{{ beta = {{ a = {a}, b = {b} }} }}"))]
    draft.depend("lane.inlet.head_factor", SHARE)
    for flow in (draft.pick(3.0, 4.0, 1), draft.pick(4.0, 5.0, 1)):
        draft.observations.append(
            f"\n[[observation]]\nflow_m3_s = {{ normal = {{ mean = {flow}, sd = 0.2 }} }}\n"
            f"level_m = SEEN{flow}\nsd_m = 0.08\n"
        )


def three_in_a_row(draft: Draft) -> None:
    """A culvert with debris, a reach and a bridge above it, whose bank counts."""
    draft.flow, draft.tailwater = design_flow(draft), level_below(draft)
    below = culvert(draft, road=True, own=f"blockage = {lumpy(draft)}\n")
    without_bank = "\n".join(line for line in below.splitlines() if not line.startswith("bank_level_m"))
    draft.elements = [without_bank.replace('id = "lane"', 'id = "track"'), reach(draft, "paddock"), bridge(draft)]
    draft.elements[1] = draft.elements[1].replace("bed_level_m = 30.0\n", "bed_level_m = 30.1\n")
    draft.depend(DESIGN, "track.blockage")


KINDS: tuple[Callable[[Draft], None], ...] = (
    *(with_lumps, no_way_through, narrow_support, discrete, at_a_weir, rare),
    *(debris_of_a_year, short_record, river_below, of_records, seen, three_in_a_row),
)


def study(seed: int, samples: int = 2048) -> Case:
    """The study of a seed."""
    kind = KINDS[seed % len(KINDS)]
    draft = Draft(np.random.default_rng([2026, seed]), samples, f"{kind.__name__.replace('_', ' ')} {seed}")
    kind(draft)
    trial = Case(f"{seed:03d} {kind.__name__}", draft.text("60.0").replace("SEEN", "30"), draft.files)
    with tempfile.TemporaryDirectory() as folder:
        site, reading = SiteFunction(trial.written(Path(folder))), trial.reading
    rng = np.random.default_rng([2027, seed])
    draw = drawing.design(reading, rng, PILOT)
    levels = site.level(draw.values, PILOT)
    levels = np.sort(levels[np.isfinite(levels)])
    share = rng.uniform(*draft.depth)
    place = float(np.quantile(levels, share)) + draft.depth_over_bank * float(levels[-1] - np.median(levels))
    text = draft.text(f"{place:.2f}")
    for each in reading.observations:
        assert not isinstance(each.flow, float)
        values = draw.values | {DESIGN: each.flow.values(rng.standard_normal(PILOT), each.flow.given)}
        level = float(np.median(site.level(values, PILOT))) + 0.05 * float(rng.standard_normal())
        text = text.replace(f"SEEN{each.flow.given['mean']}", f"{level:.2f}")
    return Case(trial.name, text, draft.files)
