"""Rivers at random: one to five structures of any kind in a row above any tailwater; sound, and all invented.

A chain is drawn from a seed: first what stands in it, then the numbers of every sample.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from overbank.hydraulics.crests import KINDS
from overbank.hydraulics.sections import SILT_MANNING_N
from overbank.hydraulics.surveyed_table import SurveyTable, survey_table
from overbank.hydraulics.tables import inlets
from overbank.site.bridge import Bridge
from overbank.site.channel import Channel, SurveyedChannel
from overbank.site.culvert import Culvert
from overbank.site.row import Site, SiteOutcome
from overbank.site.structure import Structure
from overbank.site.surveyed import SurveyedNormalDepth, SurveyedSection
from overbank.site.tailwater import FixedLevel, NormalDepth, Rating, Tailwater
from overbank.site.weir import Weir

Array = NDArray[np.float64]
Numbers = dict[str, float | Array]

ENTRIES = [entry for entry in inlets().values() if entry.shape in ("box", "pipe", "arch", "ellipse")]
BED = 10.0
"""Level of the bed below the first structure [m]."""

POINTS = (0.0, 0.05, 0.3, 0.35, 0.4, 0.5, 0.55, 0.6, 0.95, 1.0)
HEIGHTS = (2.0, 1.0, 0.9, 0.1, 0.0, 0.0, 0.15, 0.9, 1.05, 2.0)
"""A channel between two flood plains, as shares of its width and of its bank's height."""


@dataclass(frozen=True)
class Chain:
    """A site with the numbers of its samples."""

    site: Site
    numbers: Numbers
    samples: int

    def march(self, **changes: float | Array) -> SiteOutcome:
        return self.site.march({**self.numbers, **changes}, self.samples)

    def told(self, sample: int) -> dict[str, float]:
        """One sample by name, for the message of a failure."""
        return {name: float(np.broadcast_to(v, self.samples)[sample]) for name, v in self.numbers.items()}


class Builder:
    """Draws structure upon structure; `bed` follows the bed upstream."""

    def __init__(self, seed: int, samples: int, kinds: tuple[str, ...], steep: bool, surveyed: bool) -> None:
        self.rng = np.random.default_rng(seed)
        self.samples, self.kinds, self.steep, self.surveyed = samples, kinds, steep, surveyed
        self.numbers: Numbers = {}
        self.width = np.exp(self.draw(0.8, 2.7))
        self.bed = np.full(samples, BED)

    def draw(self, low: float, high: float) -> Array:
        return self.rng.uniform(low, high, self.samples)

    def one(self, *choices: object) -> str:
        return str(self.rng.choice(np.array(choices, dtype=object)))

    def chance(self, share: float) -> bool:
        return bool(self.rng.random() < share)

    def put(self, path: str, **numbers: float | Array) -> None:
        self.numbers |= {f"{path}.{key.replace('__', '.')}": value for key, value in numbers.items()}

    def open_section(self, path: str) -> str:
        """A rectangle or a trapezoid about as wide as the river."""
        wide = self.width * self.draw(0.7, 1.4)
        if self.chance(0.5):
            self.put(path, section__width_m=wide)
            return "rectangle"
        self.put(path, section__bed_width_m=wide, section__side_slope=self.draw(0.0, 2.0))
        return "trapezoid"

    def slope(self) -> Array:
        kinds = [self.draw(0.0, 0.002), self.draw(0.0, 0.06 if self.steep else 0.004), self.draw(-0.001, 0.0)]
        return np.choose(self.rng.integers(3, size=self.samples), kinds)

    def survey(self, path: str) -> SurveyedSection:
        wide, high = 3.0 * float(np.median(self.width)), float(self.rng.uniform(0.8, 2.0))
        offsets, levels = np.array(POINTS) * wide, np.array(HEIGHTS) * high
        zones = {f"section__zone_{i + 1}__manning_n": self.draw(0.03, 0.08) for i in range(3)}
        self.put(path, section__method=self.rng.choice([0.0, 0.0, 1.0, 2.0], self.samples), **zones)
        return SurveyedSection(survey_table(offsets, levels, (0.3 * wide, 0.6 * wide)), float(levels[-1]))

    def channel(self, name: str) -> Structure:
        length, slope = np.exp(self.draw(1.0, 5.5)), self.slope()
        self.put(name, length_m=length, bed_slope=slope)
        if self.chance(0.4) and self.surveyed:
            reach: Structure = SurveyedChannel(name, self.survey(name))
            self.put(name, section__shift_m=self.bed)
        else:
            reach = Channel(name, self.open_section(name))
            self.put(name, bed_level_m=self.bed, manning_n=self.draw(0.02, 0.08))
        self.bed = self.bed + slope * length
        return reach

    def approach(self, name: str) -> tuple[str, SurveyedSection | None]:
        """The channel upstream of a weir or on both sides of a bridge: its shape, and its survey if it has one."""
        path = f"{name}.approach"
        self.put(path, bed_level_m=self.bed)
        if not self.surveyed or self.chance(0.65):
            return self.open_section(path), None
        survey = self.survey(path)
        self.put(path, section__shift_m=self.bed)
        return "surveyed", survey

    def weir(self, name: str) -> Structure:
        kind = self.one(*KINDS)
        shape, survey = self.approach(name)
        keys = {"rectangle": "width_m", "trapezoid": "bed_width_m"}
        wide = self.width if survey else self.numbers[f"{name}.approach.section.{keys[shape]}"]
        straight = self.chance(0.5)
        self.put(
            f"{name}.crest",
            level_m=self.bed + self.draw(0.1, 1.5),
            width_m=wide * self.draw(0.5, 1.2),
            breadth_m=self.draw(0.2, 3.0),
            angle_deg=0.0 if straight else self.draw(0.0, 70.0),
            oblique_gain=self.draw(0.0, 1.5),
            flow_factor=self.draw(0.8, 1.2),
            coefficient=self.draw(1.3, 2.0),
            modular_limit=0.0 if kind == "thin_plate" else self.draw(0.3, 0.85),
        )
        return Weir(name, kind, shape, survey)

    def opening(self, path: str, shape: str, share: Array) -> None:
        """Openings that leave the given share of the river's width."""
        count = self.rng.integers(1, 4, self.samples).astype(float)
        span = self.width * share / count
        rise = span if shape == "pipe" else self.draw(0.8, 2.5)
        wall = np.maximum(rise - span / 2, rise * self.draw(0.05, 0.9))
        self.put(path, count=count, span_m=span, diameter_m=span, rise_m=rise, wall_height_m=wall)

    def bridge(self, name: str) -> Structure:
        shapes = tuple(self.one("box", "arch", "arch", "ellipse") for _ in range(2 if self.chance(0.3) else 1))
        self.opening(f"{name}.opening", shapes[0], self.draw(0.3, 0.95))
        self.put(f"{name}.opening", bed_level_m=self.bed + self.draw(-0.2, 0.1))
        if len(shapes) == 2:
            self.opening(f"{name}.side_opening", shapes[1], self.draw(0.1, 0.5))
            self.put(f"{name}.side_opening", bed_level_m=self.bed + self.draw(0.0, 1.5))
        approach, survey = self.approach(name)
        self.put(
            name,
            skew__angle_deg=self.draw(0.0, 40.0),
            skew__pier_length_m=self.draw(0.0, 0.5),
            contraction_loss=self.draw(0.1, 0.4),
            expansion_loss=self.draw(0.2, 0.8),
            sluice_coefficient=self.draw(0.3, 0.6),
            orifice_coefficient=self.draw(0.7, 0.9),
            afflux_factor=self.draw(0.7, 1.9),
            blockage=self.draw(0.0, 0.9),
            pattern=self.rng.integers(3, size=self.samples).astype(float),
        )
        deck, road = self.chance(0.7), self.chance(0.5)
        for crest, low in (("deck", 1.5), ("approach_road", 1.0)):
            level = self.bed + self.draw(low, low + 2.0)
            self.put(f"{name}.{crest}", level_m=level, length_m=self.width * self.draw(0.5, 3.0))
            self.put(f"{name}.{crest}", coefficient=self.draw(1.4, 1.7))
        return Bridge(name, shapes, approach, self.chance(0.5), self.chance(0.5), deck, road, survey)

    def culvert(self, name: str) -> Structure:
        entry = ENTRIES[int(self.rng.integers(len(ENTRIES)))]
        self.opening(f"{name}.barrel", entry.shape, self.draw(0.3, 0.9))
        length, down = self.draw(4.0, 60.0), self.bed + self.draw(-0.1, 0.1)
        up = down + self.slope() * length
        n = self.draw(0.011, 0.035)
        self.put(f"{name}.barrel", length_m=length, upstream_invert_m=up, downstream_invert_m=down, manning_n=n)
        bed_n, silt_n = np.maximum(n, self.draw(0.0, 0.05)), np.full(self.samples, SILT_MANNING_N)
        self.put(f"{name}.barrel", bed_manning_n=bed_n, silt_manning_n=silt_n)
        self.put(f"{name}.inlet", head_factor=self.rng.normal(1, 0.05, self.samples))
        self.put(f"{name}.inlet", entrance_loss=self.draw(0.2, 0.9), exit_loss=self.draw(0.3, 1.0))
        has_screen, has_road = self.chance(0.5), self.chance(0.7)
        if has_screen:
            self.screen(f"{name}.screen", up, self.numbers[f"{name}.barrel.rise_m"])
        else:
            self.put(name, blockage=self.draw(0.0, 0.9), pattern=self.rng.integers(3, size=self.samples).astype(float))
        self.put(f"{name}.road", level_m=up + self.draw(1.5, 4.0), length_m=self.width * self.draw(0.5, 4.0))
        self.put(f"{name}.road", coefficient=self.draw(1.4, 1.7))
        self.bed = up
        return Culvert(name, entry.shape, entry, has_screen, has_road)

    def screen(self, path: str, sill: Array, rise: float | Array) -> None:
        self.put(
            path,
            width_m=self.width * self.draw(0.5, 1.5),
            height_m=rise * self.draw(0.8, 2.0),
            bar_m=self.draw(0.01, 0.03),
            gap_m=self.draw(0.07, 0.3),
            inclination_deg=self.draw(30, 90),
            shape_factor=self.draw(0.8, 2.42),
            blockage=self.draw(0.0, 0.9),
            pattern=self.rng.integers(3, size=self.samples).astype(float),
            sill_level_m=sill,
            overflow_coefficient=np.where(self.rng.random(self.samples) < 0.3, 0.0, 1.7),
        )

    def tailwater(self, flow: Array) -> Tailwater:
        path = "tailwater.normal_depth"
        match self.one("normal", "surveyed" if self.surveyed else "normal", "fixed", "rating"):
            case "normal":
                shape = self.open_section(path)
                self.put(
                    path, bed_level_m=self.bed, slope=np.exp(self.draw(-8.0, -6.0)), manning_n=self.draw(0.02, 0.08)
                )
                return NormalDepth(shape)
            case "surveyed":
                survey = self.survey(path)
                self.put(path, section__shift_m=self.bed, slope=np.exp(self.draw(-8.0, -6.0)))
                return SurveyedNormalDepth(survey)
            case "fixed":
                self.put("tailwater", level_m=self.bed + self.draw(0.0, 3.0))
                return FixedLevel()
            case _:
                self.put("tailwater", rating_shift_m=self.draw(-0.3, 0.3))
                flows = np.quantile(flow, [0.0, 0.5, 1.0])
                return Rating(tuple(flows), (BED + 0.5, BED + 1.2, BED + 2.5))

    def chain(self) -> Chain:
        flow = self.width * np.exp(self.draw(-2.0, 1.6))
        self.put("flow", design_m3_s=flow)
        tailwater = self.tailwater(flow)
        build: dict[str, Callable[[str], Structure]] = {
            "channel": self.channel,
            "weir": self.weir,
            "bridge": self.bridge,
            "culvert": self.culvert,
        }
        count = int(self.rng.integers(1, 6))
        elements = [build[self.one(*self.kinds)](f"e{i}") for i in range(count)]
        for i, above in enumerate(elements[1:]):
            below = elements[i]
            if isinstance(below, Culvert) and isinstance(above, Channel):
                elements[i] = replace(below, approach=(above.id, above.shape))
        return Chain(Site(tuple(elements), tailwater), self.numbers, self.samples)


EVERY_KIND = ("channel", "weir", "bridge", "culvert")


def chain(
    seed: int, samples: int = 60, kinds: tuple[str, ...] = EVERY_KIND, steep: bool = False, surveyed: bool = True
) -> Chain:
    """A chain by its seed; with reaches of up to 6 % instead of 0.4, or without surveyed sections, if asked for."""
    return Builder(seed, samples, kinds, steep, surveyed).chain()


def scaled(c: Chain, scale: float) -> Chain:
    """The same river larger: lengths times L, flow times L^2.5, roughness times L^(1/6)."""

    def larger(name: str, value: float | Array) -> float | Array:
        if name.endswith("_m3_s"):
            return value * scale**2.5
        if name.endswith("_m"):
            return value * scale
        return value * scale ** (1 / 6) if name.endswith("manning_n") else value

    def section(s: SurveyedSection) -> SurveyedSection:
        t = s.table
        areas, perimeters = t.areas * np.array([scale**2, scale, 1.0]), t.perimeters * np.array([scale, 1.0])
        return SurveyedSection(SurveyTable(t.breaks * scale, areas, perimeters), s.height * scale)

    def structure(e: Structure) -> Structure:
        survey = getattr(e, "survey", None)
        return e if survey is None else replace(e, survey=section(survey))

    tail = c.site.tailwater
    if isinstance(tail, SurveyedNormalDepth):
        tail = SurveyedNormalDepth(section(tail.survey))
    if isinstance(tail, Rating):
        tail = Rating(tuple(q * scale**2.5 for q in tail.flows), tuple(z * scale for z in tail.levels))
    numbers = {name: larger(name, value) for name, value in c.numbers.items()}
    return Chain(Site(tuple(map(structure, c.site.elements)), tail), numbers, c.samples)
