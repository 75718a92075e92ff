"""Draws picture.png of every study anew: `.venv/bin/python studies/pictures.py`, or of those named after it."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter

import overbank
from overbank.model import Model
from overbank.report.style import DEBRIS, INK, RULE, SOFT, WATER, WATER_PALE, axes_at, drawn, percent, sheet, write
from overbank.run import compare_arrangements
from overbank.study.build import build

STUDIES = Path(__file__).parent

DOTS = 110
"""Dots per inch: wide enough for a page, small enough for the repository."""


def of_a_run(name: str) -> Callable[[Path], Figure]:
    """The figure of that name of a study's own report."""

    def draw(folder: Path) -> Figure:
        return overbank.figure(overbank.run_study(overbank.read_study(folder)), name)

    return draw


def _axes(title: str, across: str) -> Axes:
    figure = sheet(3.9)
    write(figure, 0.05, 3.68, title, color=INK)
    axes = axes_at(figure, 0.62, 0.55, 5.9, 2.95)
    axes.set_xlabel(across)
    axes.grid(axis="y", color=RULE, linewidth=0.6)
    return axes


@drawn
def lowered(folder: Path) -> Figure:
    """How much lower the water stands above the diagonal crest than above the straight one, by flow."""
    model = Model(build(overbank.read_study(folder / "diagonal.toml")))
    flows, sampled = np.linspace(0.5, 60.0, 120), 1024
    rows = model.problem.inputs.sample("sobol", sampled, 1, 1)[1][0]
    numbers = model.numbers(np.tile(rows, (flows.size, 1)))
    numbers = {**numbers, "flow.design_m3_s": np.repeat(flows, sampled)}
    levels = [
        model.problem.site.march({**numbers, "mill.crest.angle_deg": angle}, flows.size * sampled).element("mill")
        for angle in (0.0, 50.0)
    ]
    gain = 100.0 * (levels[0].level - levels[1].level).reshape(flows.size, sampled)
    low, middle, high = np.quantile(gain, (0.05, 0.5, 0.95), axis=1)
    drowned = np.mean((levels[0].results["drowned_factor"] < 1.0).reshape(flows.size, sampled), axis=1)
    axes = _axes("how much lower the water stands above the diagonal weir [cm]", "flow [m³/s]")
    axes.fill_between(flows, low, high, color=WATER_PALE, linewidth=0.0, label="5 to 95 % of the samples")
    axes.plot(flows, middle, color=WATER, linewidth=1.8, label="median")
    from_here = float(np.interp(0.5, drowned, flows))
    words = "straight weir more likely drowned than not"
    axes.axvline(from_here, ymax=0.78, color=SOFT, linestyle=":", label=words)
    heads = np.median(levels[0].results["head"].reshape(flows.size, sampled), axis=1)
    for flow in (2.0, 10.0, 20.0, 35.0, 50.0):
        at = float(np.interp(flow, flows, middle))
        share = at / 100.0 / float(np.interp(flow, flows, heads))
        axes.plot(flow, at, "o", color=WATER, markersize=4.0, label="as a share of the head" if flow == 2.0 else None)
        look: dict[str, Any] = {"textcoords": "offset points", "fontsize": 8, "ha": "center"}
        axes.annotate(f"{100.0 * share:.0f} %", (flow, at), (0, 8), **look)
    axes.set_xlim(0.0, 60.0)
    axes.set_ylim(0.0, 24.0)
    axes.legend(loc="upper left", ncols=2)
    figure = axes.get_figure()
    assert isinstance(figure, Figure)
    return figure


@drawn
def square_and_skewed(folder: Path) -> Figure:
    """Probability of overtopping as debris blocks the arches, square and skewed."""
    axes = _axes("probability that the water goes over the bank", "blocked share of the arches")
    for name, colour, line in (("skewed", DEBRIS, "--"), ("square", WATER, "-")):
        outcome = overbank.run_study(overbank.read_study(folder / f"{name}.toml"))
        assert outcome.blockage is not None
        curve, most = outcome.blockage.fixed, outcome.blockage.largest.value
        words = f"{name}: at most {100.0 * most:.0f} % for the target"
        axes.plot(curve.at, curve.probability, color=colour, linestyle=line, linewidth=1.8, label=words)
        axes.plot(most, outcome.target, "o", color=colour, markersize=5.0)
    axes.axhline(outcome.target, color=SOFT, linestyle=":", label=f"target, {100.0 * outcome.target:g} %")
    for axis in (axes.xaxis, axes.yaxis):
        axis.set_major_formatter(FuncFormatter(percent))
    axes.set_xlim(0.0, 1.0)
    axes.set_ylim(0.0, 1.02)
    axes.legend(loc="center right")
    figure = axes.get_figure()
    assert isinstance(figure, Figure)
    return figure


@drawn
def models(folder: Path) -> Figure:
    """Level just upstream of every model in the flume: with everything at its median, and 5 to 95 % of the samples."""
    found = compare_arrangements(overbank.read_study(folder)).arrangements
    figure = sheet(4.6)
    write(figure, 0.05, 4.38, "water level just upstream of the model [mm above the bed]", color=INK)
    axes = axes_at(figure, 3.15, 0.45, 3.4, 3.7)
    for place, each in enumerate(found):
        low, high = (
            1000.0 * np.interp(share, each.curve.probability[::-1], each.curve.at[::-1]) for share in (0.95, 0.05)
        )
        axes.plot([low, high], [place, place], color=WATER_PALE, linewidth=6.0, solid_capstyle="butt")
        axes.plot(1000.0 * each.deterministic, place, "o", color=WATER, markersize=4.5)
        look: dict[str, Any] = {"textcoords": "offset points", "fontsize": 8, "va": "center"}
        axes.annotate(f"{1000.0 * each.deterministic:.0f}", (high, place), (6, 0), **look)
    axes.set_yticks(range(len(found)), ["the empty flume", *(each.name for each in found[1:])], fontsize=8)
    axes.set_ylim(len(found) - 0.4, -0.6)
    axes.set_xlim(0.0, 200.0)
    axes.grid(axis="x", color=RULE, linewidth=0.6)
    return figure


PICTURES: dict[str, Callable[[Path], Figure]] = {
    "quillet-lane": of_a_run("overtopping_by_blockage"),
    "box-under-a-road": of_a_run("exceedance"),
    "straight-or-diagonal": lowered,
    "twin-arches": square_and_skewed,
    "culvert-below-bridge": of_a_run("long_section"),
    "four-arrangements": of_a_run("arrangements"),
    "desk-flume": models,
    "debris-in-time": of_a_run("course_of_flood"),
    "pipes-with-a-pool": of_a_run("course_of_flood"),
}
"""The picture that shows the answer of each study."""


def main() -> None:
    """Draw and save them."""
    for name in sys.argv[1:] or PICTURES:
        folder = STUDIES / name
        PICTURES[name](folder).savefig(folder / "picture.png", dpi=DOTS)


if __name__ == "__main__":
    main()
