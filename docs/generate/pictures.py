"""The figures of the pages, drawn while they are built."""

from __future__ import annotations

import io
from functools import cache, partial
from pathlib import Path

import numpy as np
from matplotlib.figure import Figure

from generate.commands import ROOT
from overbank.commands.cli import Kind
from overbank.hydraulics.culverts import InletRow, inlet_head
from overbank.hydraulics.outlet_control import Lay, outlet_head
from overbank.hydraulics.profile import depth_upstream
from overbank.hydraulics.sections import box, trapezoid
from overbank.hydraulics.tables import inlets
from overbank.hydraulics.uniform import normal_depth
from overbank.model import Model
from overbank.outputs.medians import deterministic_run
from overbank.report.long_section import long_section_at_medians
from overbank.report.section import section_at_medians
from overbank.report.style import (
    DEBRIS,
    EARTH,
    INK,
    PLUM,
    RULE,
    SOFT,
    WATER,
    axes_at,
    drawing,
    sheet,
)
from overbank.report.style import (
    drawn as in_our_style,
)
from overbank.site.row import SiteOutcome
from overbank.study.build import build
from overbank.study.load import read_study
from overbank.study.patterns import PATTERNS

DOTS = 110
SIZE = (0.75, 0.55, 5.2, 2.9)
"""Left, bottom, width and height of the axes [in]."""

STUDIES = ROOT / "studies"
STARTERS = ROOT / "src" / "overbank" / "study" / "starter"

TUTORIAL = ("exceedance", "overtopping_by_blockage", "drivers", "long_section")


def drawn(tutorial: Path) -> dict[str, bytes]:
    """Every figure by its file name; those of the tutorial come from the folder of its commands."""
    figures = tutorial / "mine" / "results" / "figures"
    theory = {"inlet": inlet, "backwater": backwater, "patterns": patterns, "threshold": threshold}
    theory |= {"weirs": weirs, "bridges": bridges, "chains": chains}
    theory |= {f"gallery-{kind.value}": partial(starter, kind) for kind in Kind}
    return {
        **{f"{name}.png": (figures / f"{name}.png").read_bytes() for name in TUTORIAL},
        **{f"{name}.png": _png(draw()) for name, draw in theory.items()},
        "quillet-lane.png": (STUDIES / "quillet-lane" / "picture.png").read_bytes(),
    }


def _png(figure: Figure) -> bytes:
    content = io.BytesIO()
    with drawing():
        figure.savefig(content, format="png", dpi=DOTS)
    return content.getvalue()


def _axes(across: str, up: str):
    axes = axes_at(sheet(3.7), *SIZE)
    axes.set_xlabel(across)
    axes.set_ylabel(up)
    axes.grid(color=RULE, linewidth=0.6)
    return axes


def starter(kind: Kind) -> Figure:
    """The long section of the study that `overbank new --kind` writes, every number at its median."""
    study = read_study(STARTERS / f"{kind.value}.toml")
    return long_section_at_medians(section_at_medians(deterministic_run(study)))


@in_our_style
def inlet() -> Figure:
    """Inlet and outlet control of a box, and the zone between the two inlet equations."""
    entry = inlets()["box", "wingwalls 30 to 75 deg"]
    row = InletRow(entry.form, entry.K, entry.M, entry.c, entry.Y, entry.slope_factor)
    barrel, slope, rise = box(2.4, 1.5, 0.014), 0.1 / 22.0, 1.5
    flows = np.linspace(0.05, 16.0, 400)
    axes = _axes("flow [m³/s]", "head above the inlet invert [m]")
    by_inlet = [inlet_head(barrel, flow, slope, row) for flow in flows]
    for tailwater, line in ((0.0, "-"), (1.2, "--"), (1.8, ":")):
        lay = Lay(slope, 22.0, tailwater, entrance_loss=0.4, exit_loss=1.0)
        heads = [outlet_head(barrel, flow, lay) for flow in flows]
        axes.plot(flows, heads, color=EARTH, linestyle=line, label=f"outlet control, tailwater {tailwater:g} m deep")
    axes.plot(flows, by_inlet, color=WATER, linewidth=2.0, label="inlet control")
    scale = 2.4 * rise * rise**0.5 * 0.3048**0.5
    axes.axvspan(3.5 * scale, 4.0 * scale, color=RULE, linewidth=0.0, label="between the two inlet equations")
    axes.axhline(rise, color=SOFT, linewidth=0.8)
    axes.set_xlim(0.0, 16.0)
    axes.set_ylim(0.0)
    axes.legend(loc="upper left")
    return axes.figure


@in_our_style
def backwater() -> Figure:
    """Depth upstream of three levels, all going to normal depth."""
    section, flow, slope = trapezoid(2.5, 1.5, 0.05), 6.0, 0.003
    distance = np.linspace(0.0, 600.0, 121)
    axes = _axes("distance upstream [m]", "depth [m]")
    for start, colour in ((2.4, WATER), (1.9, PLUM), (0.7, DEBRIS)):
        depths = [depth_upstream(section, flow, slope, length, start) for length in distance]
        axes.plot(distance, depths, color=colour, label=f"from a depth of {start:g} m")
    axes.axhline(normal_depth(section, flow, slope), color=INK, linestyle=":", label="normal depth")
    axes.set_xlim(0.0, 600.0)
    axes.set_ylim(0.0)
    axes.legend()
    return axes.figure


@cache
def _model(study: str) -> Model:
    return Model(build(read_study(STUDIES / study)))


def _lane() -> Model:
    return _model("quillet-lane")


@in_our_style
def patterns() -> Figure:
    """Level upstream of the screen at Quillet Lane by blockage, for the three patterns."""
    model = _lane()
    shares = np.linspace(0.0, 1.0, 201)
    names = model.problem.inputs.names
    rows = np.repeat(model.medians(), shares.size, axis=0)
    rows[:, names.index("lane.screen.blockage")] = shares
    axes = _axes("blocked share of the screen", "level upstream of the lane [m]")
    for code, colour in enumerate((WATER, DEBRIS, PLUM)):
        rows[:, names.index("lane.screen.pattern")] = code
        axes.plot(shares, model.levels(rows), color=colour, label=PATTERNS[code].replace("_", " "))
    axes.axhline(32.2, color=EARTH, linestyle="--", label="bank")
    axes.axhline(32.6, color=SOFT, linestyle="-.", label="road")
    axes.set_xlim(0.0, 1.0)
    axes.legend(loc="lower right")
    return axes.figure


@in_our_style
def threshold() -> Figure:
    """Sixteen samples of everything but the blockage: each crosses its bank at a blockage of its own."""
    model = _lane()
    inputs = model.problem.inputs
    _, values = inputs.sample("sobol", 16, 3, 1)
    shares = np.linspace(0.0, 1.0, 101)
    axes = _axes("blocked share of the screen", "level minus bank [m]")
    for sample in values[0]:
        rows = np.repeat(sample[np.newaxis], shares.size, axis=0)
        rows[:, inputs.index("lane.screen.blockage")] = shares
        margin = model.levels(rows) - model.banks(rows)
        axes.plot(shares, margin, color=WATER, linewidth=0.8)
        if margin[0] < 0.0 < margin[-1]:
            axes.plot(np.interp(0.0, margin, shares), 0.0, "o", color=DEBRIS, markersize=4.0)
    axes.axhline(0.0, color=EARTH)
    axes.set_xlim(0.0, 1.0)
    return axes.figure


def _swept(study: str, path: str, values: np.ndarray, **changes: float) -> SiteOutcome:
    """A study at its medians with one number swept."""
    model = _model(study)
    numbers = {**model.numbers(model.medians()), **{name: np.full(values.size, to) for name, to in changes.items()}}
    return model.problem.site.march({**numbers, path: values}, values.size)


FLOW = "flow.design_m3_s"


@in_our_style
def weirs() -> Figure:
    """The mill weir straight and diagonal, from free to drowned."""
    flows = np.linspace(0.1, 60.0, 300)
    axes = _axes("flow [m³/s]", "level [m]")
    for study, colour, line in (("straight", WATER, "-"), ("diagonal", DEBRIS, "--")):
        outcome = _swept(f"straight-or-diagonal/{study}.toml", FLOW, flows)
        axes.plot(flows, outcome.element("mill").level, color=colour, linestyle=line, label=f"upstream, {study}")
    axes.plot(flows, outcome.tailwater, color=SOFT, label="tailwater")
    axes.axhline(21.3, color=EARTH, linestyle=":", label="crest")
    axes.set_xlim(0.0, 60.0)
    axes.legend(loc="lower right")
    return axes.figure


@in_our_style
def bridges() -> Figure:
    """Two arches by flow: free surface, soffit, road; clean and under a raft."""
    study, flows = "twin-arches/square.toml", np.linspace(1.0, 90.0, 300)
    axes = _axes("flow [m³/s]", "level [m]")
    for share, colour, words in ((0.4, DEBRIS, "two fifths blocked by a raft"), (0.0, WATER, "clean")):
        outcome = _swept(study, FLOW, flows, **{"arches.blockage": share, "arches.pattern": 1.0})
        axes.plot(flows, outcome.element("arches").level, color=colour, label=f"upstream, {words}")
    axes.plot(flows, outcome.tailwater, color=SOFT, label="tailwater")
    for level, line, words in ((43.7, "-.", "approach road"), (42.7, ":", "soffit")):
        axes.axhline(level, color=EARTH, linestyle=line, label=words)
    axes.set_xlim(0.0, 90.0)
    axes.legend(loc="lower right")
    return axes.figure


@in_our_style
def chains() -> Figure:
    """A culvert that blocks, and the bridge above it."""
    study, shares = "culvert-below-bridge", np.linspace(0.0, 1.0, 201)
    outcome = _swept(study, "track.blockage", shares, **{"track.pattern": 1.0})
    axes = _axes("blocked share of the culvert", "level [m]")
    for place, colour, words in (
        ("lane", DEBRIS, "upstream of the bridge"),
        ("paddock", PLUM, "just below the bridge"),
        ("track", WATER, "upstream of the culvert"),
    ):
        axes.plot(shares, outcome.element(place).level, color=colour, label=words)
    for level, line, words in ((52.55, "--", "banks"), (52.01, ":", "soffit of the bridge")):
        axes.axhline(level, color=EARTH, linestyle=line, label=words)
    axes.set_xlim(0.0, 1.0)
    axes.set_ylim(51.4, 53.8)
    axes.legend(loc="upper left", ncols=2)
    return axes.figure
