"""The run at the medians through a culvert, line by line, each step with its formula, its numbers and its result.

Areas, critical depths and the depth at the inlet end come from the same kernels as everywhere else; the rest is
arithmetic that a reader can do again. The last line of every part stands beside what the program has found.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from math import radians, sin, sqrt

import numpy as np

from overbank.constants import GRAVITY
from overbank.hydraulics import culverts, outlet_control, screens, weirs
from overbank.hydraulics.sections import Section, area
from overbank.hydraulics.uniform import critical_depth, critical_energy, velocity_head
from overbank.site.by_hand import barrel_parts, crest_line
from overbank.site.by_hand.steps import Case, Step, six
from overbank.site.culvert import Culvert
from overbank.site.sections import barrel_parts as barrel_parts_of
from overbank.site.sections import certain_section, channel_parts

SOURCES = "inlet and outlet control after FHWA, Hydraulic Design of Highway Culverts, HDS-5 (2001)"


@dataclass(frozen=True)
class _Run:
    """What the steps need: the case, and the culvert with its barrels and the water at their ends.

    The bed of the approach is counted from the inlet invert.
    """

    case: Case
    culvert: Culvert
    section: Section
    ends: culverts.Ends

    @property
    def flow(self) -> float:
        return self.case.flow

    @property
    def below(self) -> float:
        return self.case.below

    @property
    def found(self) -> dict[str, float]:
        return self.case.found

    def number(self, key: str) -> float:
        """A number of the culvert by its path within it."""
        return self.case.number(key)

    @property
    def each(self) -> float:
        """Flow of one barrel."""
        return self.found["barrel_flow"] / self.number("barrel.count")

    @property
    def outlet_loss(self) -> float:
        """What a flap or bars at the outlet lose, on the velocity head in it."""
        return float(np.asarray(self.culvert.outlet_loss(self.case.numbers, 1)).flat[0])

    @property
    def mouth(self) -> Section:
        """Section of the barrels at their outlet."""
        parts = self.culvert.parts
        last = len(parts.joined)
        return certain_section(barrel_parts_of(self.case.numbers, parts.path_of(last), parts.shape_of(last)))

    @property
    def slope(self) -> float:
        """Slope of the barrels."""
        fall = self.number("barrel.upstream_invert_m") - self.number("barrel.downstream_invert_m")
        return fall / self.number("barrel.length_m")


def _run(case: Case, culvert: Culvert) -> _Run:
    section = certain_section(barrel_parts_of(case.numbers, f"{culvert.id}.barrel", culvert.shape))
    ends = culverts.STILL._replace(head_below=case.found["head_below"])
    if culvert.approach is not None:
        path, shape = culvert.approach
        bed = case.numbers[f"{path}.bed_level_m"] - case.number("barrel.upstream_invert_m")
        ends = ends._replace(approach=certain_section(channel_parts(case.numbers, path, shape)), approach_bed=bed)
    return _Run(case, culvert, section, ends)


def refusal(case: Case, culvert: Culvert) -> str:
    """Why the run cannot be worked by hand with these few steps; empty where it can."""
    return _refusal(_run(case, culvert))


def steps(case: Case, culvert: Culvert) -> Iterator[Step]:
    """From the flow to the level upstream."""
    run = _run(case, culvert)
    yield from (*_start(run), *_inlet(run), *_outlet(run), *_screen(run), *_road(run))


def _refusal(run: _Run) -> str:
    """Why the run cannot be worked by hand with these few steps; empty where it can."""
    if not math.isfinite(run.found["level"]) or run.found["barrel_flow"] <= 0.0:
        return "with every number at its median there is no way through, so there is nothing to work"
    if run.culvert.face is not None or run.culvert.relief is not None:
        return "a tapered entrance or relief barrels take more steps than are laid out here"
    if not run.culvert.has_screen and run.number("blockage") > 0.0 and run.number("pattern") != screens.UNIFORM:
        return "a raft or silt in the barrels takes more steps than are laid out here"
    if run.case.numbers.get(f"{run.culvert.id}.silt", 0.0) > 0.0:
        return "silt in the barrels takes more steps than are laid out here"
    if run.culvert.has_screen and run.number("screen.pattern") != screens.UNIFORM:
        return "a screen blocked from above or below takes more steps than are laid out here"
    return ""


def _start(run: _Run) -> Iterator[Step]:
    count, height = run.number("barrel.count"), run.section.rise
    full = area(run.section, height)
    yield Step("design flow", "Q", "from the study", "", run.flow, "m³/s")
    yield Step("level just downstream", "zd", "from the reach or the tailwater below", "", run.below, "m")
    yield Step(
        "flow through the barrels",
        "Qb",
        "split at which all ways ask for the same level",
        f"Q less {run.found['road_flow']:.6g} over the road",
        run.found["barrel_flow"],
        "m³/s",
    )
    yield Step("flow of one barrel", "q", "Qb / N", f"{run.found['barrel_flow']:.6g} / {count:g}", run.each, "m³/s")
    yield Step("area of one full barrel", "A", f"of the {run.culvert.shape}", f"height D = {height:.6g}", full, "m²")
    yield Step("slope of the barrels", "S", "(z1 \u2212 z2) / L", _fall(run), run.slope, "")


def _fall(run: _Run) -> str:
    keys = ("barrel.upstream_invert_m", "barrel.downstream_invert_m", "barrel.length_m")
    high, low, length = (run.number(key) for key in keys)
    return f"({high:.6g} \u2212 {low:.6g}) / {length:.6g}"


def _inlet(run: _Run) -> Iterator[Step]:
    """Inlet control of HDS-5; debris evenly over the inlet acts as more flow through a whole one."""
    s, row = run.section, _constants(run.culvert)
    blocked = 0.0 if run.culvert.has_screen else run.number("blockage")
    flow, full, height = run.each / (1.0 - blocked), area(s, s.rise), s.rise
    if blocked > 0.0:
        yield Step(
            "flow, as if through a whole inlet",
            "q'",
            "q / (1 \u2212 B)",
            f"{run.each:.6g} / (1 \u2212 {blocked:.6g})",
            flow,
            "m³/s",
        )
    scale = culverts.KU * flow / (full * sqrt(height))
    yield Step(
        "discharge intensity",
        "x",
        "1.811 q / (A √D)",
        f"1.811 \u00d7 {flow:.6g} / ({full:.6g} \u00d7 √{height:.6g})",
        scale,
        "",
    )
    energy = critical_energy(s, flow)
    yield Step(
        "least specific energy",
        "Ec",
        "yc + q² / (2 g A(yc)²)",
        f"yc = {critical_depth(s, flow):.6g}, vc²/2g = {energy - critical_depth(s, flow):.6g}",
        energy,
        "m",
    )
    yield _head(run, row, scale, energy)
    head = culverts.inlet_head(s, flow, run.slope, row)
    invert, factor = run.number("barrel.upstream_invert_m"), run.number("inlet.head_factor")
    numbers, energy = f"{invert:.6g} + {factor:.6g} \u00d7 {head:.6g}", invert + factor * head
    if run.ends.approach.width <= 0.0:
        yield Step("level by inlet control", "zi", "z1 + f Hi", numbers, energy, "m")
        return
    yield Step("energy level by inlet control", "ei", "z1 + f Hi", numbers, energy, "m")
    level = invert + culverts.before_inlet(run.ends, run.found["barrel_flow"], energy - invert)
    yield from _before(run, "level by inlet control", "zi", level, 1.0)


def _before(run: _Run, what: str, symbol: str, level: float, share: float) -> Iterator[Step]:
    """A level in the channel before the barrels, and the energy that it has, with a share of the velocity head."""
    depth = level - run.ends.approach_bed - run.number("barrel.upstream_invert_m")
    velocity = run.found["barrel_flow"] / area(run.ends.approach, depth)
    yield Step(what, symbol, "the higher of the two levels with that energy in the channel above", "", level, "m")
    yield Step("velocity there", "va", "Qb / Aa", f"y = {six(depth)}", velocity, "m/s")
    numbers = f"{six(level)} + {six(share)} \u00d7 {six(velocity)}² / {2.0 * GRAVITY:.6g}"
    energy = level + share * velocity**2 / (2.0 * GRAVITY)
    yield Step(
        "the same energy, to be held against the line before",
        f"e of {symbol}",
        f"{symbol} + k va²/2g",
        numbers,
        energy,
        "m",
    )


def _constants(culvert: Culvert) -> culverts.InletRow:
    row = culvert.inlet
    return culverts.InletRow(float(row.form), row.K, row.M, row.c, row.Y, row.slope_factor)


def _head(run: _Run, row: culverts.InletRow, scale: float, energy: float) -> Step:
    height, slope = run.section.rise, run.slope
    flow = scale * area(run.section, height) * sqrt(height) / culverts.KU
    head = culverts.inlet_head(run.section, flow, slope, row)
    if culverts.UNSUBMERGED_TO < scale < culverts.SUBMERGED_FROM:
        formula = "cubic between the free and the drowned equation, x from 3.5 to 4.0"
        return Step("inlet head", "Hi", formula, f"x = {scale:.6g}", head, "m")
    slope_term = f"{row.slope_factor:+.2g} \u00d7 {slope:.6g}".replace("-", "\u2212")
    if scale >= culverts.SUBMERGED_FROM:
        return Step(
            "inlet head, drowned",
            "Hi",
            "D (c x² + Y + ks S), not below Ec",
            f"{height:.6g} \u00d7 ({row.c:.6g} \u00d7 {scale:.6g}² + {row.Y:.6g} {slope_term})",
            head,
            "m",
        )
    if row.form == 1.0:
        reduced = min(1.0, scale / culverts.SLOPE_TERM_FROM)
        share = f" \u00d7 {reduced:.6g}" if reduced < 1.0 else ""
        return Step(
            "inlet head, free",
            "Hi",
            "D (Ec/D + K x^M + ks S), not below Ec",
            f"{height:.6g} \u00d7 ({energy / height:.6g} + {row.K:.6g} \u00d7 {scale:.6g}^{row.M:.6g} "
            f"{slope_term}{share})",
            head,
            "m",
        )
    return Step(
        "inlet head, free",
        "Hi",
        "D K x^M, not below Ec",
        f"{height:.6g} \u00d7 {row.K:.6g} \u00d7 {scale:.6g}^{row.M:.6g}",
        head,
        "m",
    )


def _outlet(run: _Run) -> Iterator[Step]:
    """Outlet control: the profile gives the depth at the inlet end; the rest is the entrance loss."""
    s, loss = run.section, run.number("inlet.entrance_loss")
    depth, velocity = run.found["depth_in"], run.found["velocity_in"]
    critical = critical_depth(run.mouth, run.each)
    formula = (
        "level just downstream, or critical depth if that is higher; in a steep barrel the depth of its swift flow"
    )
    lost = run.outlet_loss
    if lost > 0.0:
        yield Step("loss of flap and bars at the outlet", "Kf", "on the velocity head in it", "", lost, "")
        formula = "that without flap and bars, and Kf v2²/2g more, v2 = q / A(y2); swift flow in a steep barrel"
    yield Step("depth at the outlet", "y2", formula, f"yc = {critical:.6g}", run.found["depth_out"], "m")
    parts = run.culvert.parts
    yield from barrel_parts.steps(parts, run.case.numbers, s, _lay(run), run.each)
    yield Step(
        "depth at the inlet end",
        "y1",
        f"water-surface profile through {'its first part' if parts.joined else 'the barrel, from y2'} upstream",
        f"L = {run.number('barrel.length_m'):.6g}, n = {s.manning_n:.6g}, S = {run.slope:.6g}",
        depth,
        "m",
    )
    yield Step("velocity there", "v1", "q / A(y1)", f"{run.each:.6g} / {run.each / velocity:.6g}", velocity, "m/s")
    yield from _outlet_level(run, depth + (1.0 + loss) * velocity**2 / (2.0 * GRAVITY))
    if run.culvert.has_screen or run.number("blockage") <= 0.0:
        yield Step(
            "level before the barrels",
            "zb",
            "the higher of zi and zo",
            f"{run.found['inlet_level']:.3f}, {run.found['outlet_level']:.3f}",
            max(run.found["inlet_level"], run.found["outlet_level"]),
            "m",
        )
    else:
        yield Step(
            "level before the debris at the inlet, by outlet control",
            "zo'",
            "as before a screen of area A",
            f"B = {run.number('blockage'):.6g}",
            run.found["outlet_level"],
            "m",
        )


def _lay(run: _Run) -> outlet_control.Lay:
    """How the barrels lie."""
    below = run.below - run.number("barrel.downstream_invert_m")
    losses = (run.number("inlet.entrance_loss"), run.number("inlet.exit_loss"), run.ends.head_below, run.outlet_loss)
    lay = outlet_control.Lay(run.slope, run.number("barrel.length_m"), below, *losses)
    return barrel_parts.below(run.culvert.parts, run.case.numbers, lay)


def _outlet_level(run: _Run, published: float) -> Iterator[Step]:
    """Level by outlet control: with Ke, or near critical depth with the loss that stands there."""
    s, invert, loss = run.section, run.number("barrel.upstream_invert_m"), run.number("inlet.entrance_loss")
    head = outlet_control.outlet_head(s, run.each, _lay(run))
    formula, y, shown = "z1 + y1 + (1 + Ke) v1²/2g", run.found["depth_in"], loss
    note, speed = "", run.found["velocity_in"]
    if abs(head - published) > 1e-9:
        formula, y = "z1 + yc + (1 + k) vc²/2g, k the entrance loss near critical depth", critical_depth(s, run.each)
        note, speed = f"; with y1 {invert + published:.3f}", run.each / area(s, y)
        shown = (head - y) / velocity_head(s, run.each, y) - 1.0
    numbers = f"{invert:.6g} + {y:.6g} + {1.0 + shown:.6g} \u00d7 {speed:.6g}² / {2.0 * GRAVITY:.6g}{note}"
    if run.ends.approach.width <= 0.0:
        yield Step("level by outlet control", "zo", formula, numbers, invert + head, "m")
        return
    yield Step("energy level by outlet control, from still water", "eo", formula, numbers, invert + head, "m")
    end, flow = run.found["depth_in"], run.found["barrel_flow"]
    level = invert + culverts.before_barrel(run.ends, flow, head, end, loss)
    yield from _before(run, "level by outlet control, not under that in the barrel", "zo", level, 1.0 + loss)


def _screen(run: _Run) -> Iterator[Step]:
    """The screen: its loss, and the flow that its law gives for the level found."""
    if not run.culvert.has_screen:
        return
    keys = ("width_m", "height_m", "sill_level_m", "bar_m", "gap_m", "shape_factor", "inclination_deg")
    width, height, sill, bar, gap, shape, angle = (run.number(f"screen.{key}") for key in keys)
    blocked = float(run.culvert.blocked(run.case.numbers))
    if f"{run.culvert.id}.screen.blockage" not in run.case.numbers:
        if f"{run.culvert.id}.screen.debris_m3" in run.case.numbers:
            thick = run.number("screen.debris_thickness_m")
            debris = f"({run.number('screen.debris_m3'):.6g} / {thick:.6g})"
        else:
            debris = f"{run.number('screen.debris_m2'):.6g}"
        bars = f"{width:.6g} \u00d7 {height:.6g} / sin {angle:.6g}°"
        yield Step(
            "blocked share of the screen",
            "B",
            "area of debris / (w h / sin \u03b1)",
            f"{debris} / ({bars})",
            blocked,
            "",
        )
    clear, left = gap / (gap + bar), 1.0 - blocked
    clean = shape * (bar / gap) ** (4.0 / 3.0) * sin(radians(angle))
    yield Step("clear share of the bars", "f", "b / (b + s)", f"{gap:.6g} / ({gap:.6g} + {bar:.6g})", clear, "")
    yield Step(
        "loss of the clean bars",
        "ζ0",
        "β (s/b)^(4/3) sin \u03b1",
        f"{shape:.6g} \u00d7 ({bar:.6g}/{gap:.6g})^(4/3) \u00d7 sin {angle:.6g}°",
        clean,
        "",
    )
    if blocked >= screens.SHUT:
        yield Step("level before the screen, shut", "z", "over its top or beside it", "", run.found["level"], "m")
        return
    lean = sin(radians(angle))
    net, loss = clear * left, screens.screen_loss(clear, clean, blocked, lean)
    yield Step(
        "loss of the blocked screen",
        "ζ",
        "the greater of (sin \u03b1 (1/(F (0.62 + 0.38 F³)) \u2212 1))², F = f (1 \u2212 B), and ζ0 / (1 \u2212 B)²",
        f"F = {clear:.6g} \u00d7 {left:.6g} = {net:.6g}",
        loss,
        "",
    )
    up, down = run.found["level"] - sill, run.found["barrel_level"] - sill
    drowned = screens.slot_flow(1.0, width / sqrt(loss), 0.0, height, up, down)
    free = screens.slot_flow(screens.FREE_SLOT_COEFFICIENT, width * net / lean, 0.0, height, up, -math.inf)
    top = min(height, up)
    a = min(max(down, 0.0), top)
    yield Step(
        "flow between the bars, by the loss",
        "Qζ",
        "√(2g/ζ) w {a √(hu \u2212 hd) + ⅔ [(hu \u2212 a)^1.5 \u2212 (hu \u2212 t)^1.5]}",
        f"w = {width:.6g}, hu = {up:.6g}, hd = {down:.6g}, a = {a:.6g}, t = {top:.6g}",
        drowned,
        "m³/s",
    )
    yield Step(
        "flow between the bars, at most",
        "Qm",
        "0.6 √(2g) w F / sin \u03b1 ⅔ [hu^1.5 \u2212 (hu \u2212 t)^1.5]",
        f"w F / sin \u03b1 = {width * net / lean:.6g}",
        free,
        "m³/s",
    )
    over, beside = run.found["over_screen_flow"], run.found["bypass_flow"]
    if f"{run.culvert.id}.screen.bypass.width_m" in run.case.numbers:
        yield _beside(run, sill, up, down)
    yield Step(
        "flow past the screen",
        "Qs",
        "the lesser of both, over its top and beside it",
        f"{min(drowned, free):.6g} + {over:.6g} + {beside:.6g}; the barrels take {run.found['barrel_flow']:.6g}",
        min(drowned, free) + over + beside,
        "m³/s",
    )


def _beside(run: _Run, sill: float, up: float, down: float) -> Step:
    """The open way beside the bars, a weir drowned from behind."""
    width, level, coefficient = (
        run.number(f"screen.bypass.{key}") for key in ("width_m", "sill_level_m", "coefficient")
    )
    head, behind = max(up - (level - sill), 0.0), down - (level - sill)
    drowned = weirs.villemonte(behind / head, 1.5) if head > 0.0 else 1.0
    formula, numbers = (
        "C w h^1.5 (1 \u2212 (hd/h)^1.5)^0.385",
        f"{six(coefficient)} \u00d7 {six(width)} \u00d7 {six(head)}^1.5",
    )
    flow = drowned * coefficient * width * head**1.5
    return Step("flow beside the bars", "Qw", formula, f"{numbers}; hd = {six(behind)}", flow, "m³/s")


def _road(run: _Run) -> Iterator[Step]:
    """The water over the road, where there is any."""
    over = run.found["road_flow"]
    if over > 0.0:
        crest, length, factor = (run.number(f"road.{key}") for key in ("level_m", "length_m", "coefficient"))
        head = run.found["level"] - crest
        if run.culvert.road_line is not None:
            line, below = run.culvert.road_line.points, run.below - crest
            if below > 0.0:
                yield from crest_line.drowned_parts(line, head, below, factor)
            else:
                yield from crest_line.parts(line, head, factor)
        else:
            drowned = weirs.road_drowning((run.below - crest) / head)
            yield Step(
                "flow over the road",
                "Qr",
                "kt C L h^1.5",
                f"{drowned:.6g} \u00d7 {factor:.6g} \u00d7 {length:.6g} \u00d7 {head:.6g}^1.5",
                weirs.road_flow(head, run.below - crest, length, factor),
                "m³/s",
            )
        yield Step(
            "all of the flow",
            "Q",
            "Qb + Qr",
            f"{run.found['barrel_flow']:.6g} + {over:.6g}",
            run.found["barrel_flow"] + over,
            "m³/s",
        )
    yield Step("level upstream", "z", "the level at which these flows pass", "", run.found["level"], "m")
