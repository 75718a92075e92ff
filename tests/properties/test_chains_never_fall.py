"""Laws of whole rivers: one to five structures of any kind in a row, drawn at random.

No level falls anywhere when flow, tailwater, blockage, roughness or skew rises, when piers widen, losses grow or
crests shorten. Three limits, all of them the water's own:

- In a *steep* reach drowned from a pool that hardly rises with the flow, the surface falls while its energy rises:
  there the energy is held to the law, and no level above it.
- The roughness of a surveyed section rises in all its zones alike. In one zone alone it can make the velocities more
  even; alpha falls, and the energy with it, and what stands upstream keeps the energy.
- In a *surveyed* reach so steep that its level stands where the energy falls as the level rises, the energy passed on
  may fall. Surveyed sections are drawn in rivers of up to 0.4 % here.

Tolerance as for single crossings, 2e-5 m, more where debris holds up tens of metres.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import product

import numpy as np
import pytest
from random_chains import EVERY_KIND, Array, Chain, Numbers, chain

from overbank.hydraulics.surveyed_table import survey_table
from overbank.site.bridge import Bridge
from overbank.site.channel import Channel, SurveyedChannel
from overbank.site.row import Site, SiteOutcome
from overbank.site.surveyed import SurveyedSection
from overbank.site.tailwater import FixedLevel

TOLERANCE = 2e-5
CHAINS = 48
STEEPEST = 60.0
"""Skew up to which a bridge is turned [deg]."""

Change = Callable[[Chain, Array], Iterator[Numbers]]


def ending(c: Chain, *ends: str) -> Iterator[str]:
    return (name for name in c.numbers if name.endswith(ends))


def more(*ends: str) -> Change:
    """Every such number by itself, greater by a share."""
    return lambda c, share: ({name: c.numbers[name] * (1 + share)} for name in ending(c, *ends))


def less(*ends: str) -> Change:
    return lambda c, share: ({name: c.numbers[name] * (1 - share)} for name in ending(c, *ends))


def higher(*ends: str) -> Change:
    return lambda c, share: ({name: c.numbers[name] + share} for name in ending(c, *ends))


def towards(most: float, *ends: str) -> Change:
    return lambda c, share: ({name: c.numbers[name] + (most - c.numbers[name]) * share} for name in ending(c, *ends))


def rougher(c: Chain, share: Array) -> Iterator[Numbers]:
    """Section by section, the zones of a survey together; then everything at once."""
    names = list(ending(c, "manning_n"))
    for section in {name.split(".zone_")[0] for name in names}:
        yield {name: c.numbers[name] * (1 + share) for name in names if name.startswith(section)}
    yield {name: c.numbers[name] * (1 + share) for name in names}


def wider_piers(c: Chain, share: Array) -> Iterator[Numbers]:
    """Spans of flat soffits narrowed (an arch keeps its span, having its rise), and longer piers across the flow."""
    for element in c.site.elements:
        if isinstance(element, Bridge) and element.shapes[0] == "box":
            name = f"{element.id}.opening.span_m"
            yield {name: c.numbers[name] * (1 - share)}
    yield from more("skew.pier_length_m")(c, share)


CHANGES: dict[str, Change] = {
    "flow": more("flow.design_m3_s"),
    "tailwater": higher("tailwater.level_m", "tailwater.rating_shift_m"),
    "blockage": towards(1.0, "blockage"),
    "roughness": rougher,
    "skew of a bridge": towards(STEEPEST, "skew.angle_deg"),
    "wider piers": wider_piers,
    "losses": more("contraction_loss", "expansion_loss", "entrance_loss", "afflux_factor"),
    "shorter crests": less("crest.width_m", "crest.flow_factor", "deck.length_m", "road.length_m"),
}


def fallen(before: Array, after: Array, level: Array) -> Array:
    """How far something fell, less the tolerance, which grows with the head beyond 20 m."""
    with np.errstate(invalid="ignore"):
        fall = np.where(np.isinf(after), 0.0, before - after)
    return fall - TOLERANCE * np.maximum(1.0, (np.where(np.isinf(level), 10.0, level) - 10.0) / 20.0)


def hold_the_law(c: Chain, before: SiteOutcome, changes: Numbers, what: object) -> None:
    after = c.march(**changes)
    steep = np.zeros(c.samples, dtype=bool)
    for a, b in zip(before.elements, after.elements, strict=True):
        assert not np.isnan(b.level).any(), what
        falls = {"level": (a.level, b.level)}
        if a.kind == "channel":
            falls["energy"] = (a.results["energy"], b.results["energy"])
            steep |= np.maximum(a.results["steep"], b.results["steep"]) > 0.0
        for name, (x, y) in falls.items():
            excess = np.where(steep, 0.0, fallen(x, y, a.level)) if name == "level" else fallen(x, y, a.level)
            worst = int(np.argmax(excess))
            assert excess[worst] <= 0.0, (what, a.id, name, x[worst], y[worst], c.site, c.told(worst))


@pytest.mark.parametrize("what", CHANGES)
def test_levels_never_fall(what: str) -> None:
    """Steps from a ten-thousandth to a half: both a jump and a gentle slope the wrong way would be seen."""
    met = 0
    for seed in range(CHAINS):
        c = chain(seed)
        share = 10.0 ** np.random.default_rng(seed).uniform(-4.0, -0.3, c.samples)
        before = c.march()
        for changes in CHANGES[what](c, share):
            hold_the_law(c, before, changes, (what, seed))
            met += 1
    assert met >= CHAINS // 4


@pytest.mark.parametrize("what", ["flow", "tailwater", "blockage", "roughness"])
def test_levels_never_fall_where_reaches_are_steep(what: str) -> None:
    for seed in range(1000, 1000 + CHAINS // 2):
        c = chain(seed, steep=True, surveyed=False)
        share = 10.0 ** np.random.default_rng(seed).uniform(-4.0, -0.3, c.samples)
        before = c.march()
        for changes in CHANGES[what](c, share):
            hold_the_law(c, before, changes, (what, seed))


@pytest.mark.parametrize("kind", EVERY_KIND)
def test_a_ladder_of_blockages_and_one_of_flows(kind: str) -> None:
    """As the threshold method climbs, in rows of up to five of one kind: no rung below the one before."""
    for seed in range(2000, 2006):
        c = chain(seed, samples=40, kinds=(kind,))
        flow = c.numbers["flow.design_m3_s"]
        rungs = [{"flow.design_m3_s": flow * x} for x in np.geomspace(0.01, 4.0, 25)]
        ladders = [rungs]
        for name in ending(c, "blockage"):
            ladders.append([{name: np.full(c.samples, x)} for x in 1.0 - (1.0 - np.linspace(0.0, 1.0, 25)) ** 2])
        for ladder in ladders:
            marched = [c.march(**rung) for rung in ladder]
            for i, element in enumerate(c.site.elements):
                levels = np.array([outcome.elements[i].level for outcome in marched])
                assert fallen(levels[:-1], levels[1:], levels[:-1]).max() <= 0.0, (seed, element.id)


def test_the_draw_is_wide() -> None:
    """Every kind of structure, crest, opening, tailwater and regime occurs, and few levels are endless."""
    kinds: set[str] = set()
    states: dict[str, set[tuple[float, ...]]] = {}
    levels = []
    for seed in range(CHAINS):
        c = chain(seed)
        kinds |= {type(c.site.tailwater).__name__, f"{len(c.site.elements)} in a row"}
        for structure, element in zip(c.site.elements, c.march().elements, strict=True):
            kinds |= {
                type(structure).__name__,
                *(str(v) for v in vars(structure).values() if isinstance(v, str | tuple)),
            }
            states.setdefault(element.kind, set()).update(zip(*element.states.values(), strict=True))
            levels.append(element.level)
    assert {"Weir", "Bridge", "Culvert", "Channel", "SurveyedChannel"} <= kinds
    assert {"NormalDepth", "SurveyedNormalDepth", "FixedLevel", "Rating"} <= kinds
    assert {"broad_crested", "round_nosed", "thin_plate", "triangular", "given"} <= kinds
    assert {f"{n} in a row" for n in range(1, 6)} <= kinds
    assert {(1,), (2,)} <= states["weir"]
    assert set(product((0, 1), (1, 2, 3, 4))) <= states["bridge"]
    assert {1, 2, 3, 5} <= {state[-1] for state in states["culvert"]}
    assert np.isfinite(np.concatenate(levels)).all()


def test_a_rougher_channel_between_its_plains_can_lower_the_energy() -> None:
    """The limit of the law of roughness at its smallest: a pool held at 2.5 m, 5 m of a compound section.

    With its main channel a quarter rougher the water goes more evenly: the level rises by millimetres, alpha and the
    energy fall, and a wide reach upstream, entered with that energy, stands lower. All zones rougher: it does not.
    """
    table = survey_table([0, 2, 12, 14, 16, 20, 22, 24, 38, 40], [4, 2, 1.8, 0.2, 0, 0, 0.3, 1.8, 2.1, 4], [12, 24])
    names = [f"meadow.section.zone_{zone}.manning_n" for zone in (1, 2, 3)]
    numbers: Numbers = dict(zip(names, (0.06, 0.035, 0.05), strict=True))
    numbers |= {"meadow.section.method": 0.0, "meadow.section.shift_m": 0.0, "wide.section.width_m": 40.0}
    numbers |= {"flow.design_m3_s": 60.0, "tailwater.level_m": 2.5, "wide.manning_n": 0.03, "wide.bed_level_m": 0.0}
    for reach in ("meadow", "wide"):
        numbers |= {f"{reach}.length_m": 5.0, f"{reach}.bed_slope": 0.0}
    site = Site((SurveyedChannel("meadow", SurveyedSection(table, 4.0)), Channel("wide", "rectangle")), FixedLevel())

    def found(**changes: float) -> tuple[float, float, float]:
        meadow, wide = site.march({**numbers, **changes}).elements
        return meadow.level[0], meadow.results["energy"][0], wide.level[0]

    level, energy, above = found()
    rougher = found(**{names[1]: 1.25 * 0.035})
    assert level < rougher[0] < level + 0.01
    assert rougher[1] < energy - 0.005
    assert rougher[2] < above - 0.005
    assert np.all(np.array(found(**{name: 1.25 * numbers[name] for name in names})) > (level, energy, above))
