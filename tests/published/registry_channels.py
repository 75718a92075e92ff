"""Adapters from the inputs of a check to overbank's functions for channels, weirs, gates and bridges; results in SI."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cache
from math import inf, sqrt
from typing import Any

import numpy as np
from scipy.optimize import brentq, minimize_scalar

from overbank.constants import GRAVITY
from overbank.hydraulics import (
    afflux,
    bridge_methods,
    crests,
    gate,
    jump,
    oblique,
    profile,
    sections,
    surveyed,
    surveyed_levels,
    uniform,
    weir_level,
)
from overbank.hydraulics.surveyed_table import SurveyTable, survey_table
from overbank.hydraulics.tables import read_table
from overbank.uncertain.distributions import Lognormal, Triangular

Inputs = Mapping[str, Any]
Result = float | tuple[float, ...]


def channel(i: Inputs) -> sections.Section:
    n = i.get("manning_n", 0.03)
    if i.get("side_slope", 0.0) > 0.0:
        return sections.trapezoid(i["width"], i["side_slope"], n)
    return sections.rectangle(i["width"], n)


def with_alpha(i: Inputs) -> dict[str, Any]:
    """The same channel for a flow with an energy coefficient, another gravity [ft/s2] and another Manning factor `kn`.

    Only Fr^2 = alpha Q^2 T / (g A^3) and Sf, which goes with (Q n)^2, enter: flow and roughness can carry them exactly.
    """
    gravity = i["gravity"] * 0.3048 if "gravity" in i else GRAVITY
    raise_flow = sqrt(i.get("alpha", 1.0) * GRAVITY / gravity)
    factor = i["kn"] * 0.3048 ** (1.0 / 3.0) if "kn" in i else 1.0
    changed = {**i, "flow": i["flow"] * raise_flow}
    if "manning_n" in i:
        changed["manning_n"] = i["manning_n"] / raise_flow / factor
    return changed


def normal_depth(i: Inputs) -> float:
    i = with_alpha(i)
    return uniform.normal_depth(channel(i), i["flow"], i["slope"])


def critical_depth(i: Inputs) -> float:
    i = with_alpha(i)
    return uniform.critical_depth(channel(i), i["flow"])


def normal_froude(i: Inputs) -> float:
    return uniform.froude(channel(i), i["flow"], normal_depth(i))


def critical_slope(i: Inputs) -> float:
    s = channel(i)
    return float((i["flow"] / sections.conveyance(s, uniform.critical_depth(s, i["flow"]))) ** 2)


def alternate_depths(i: Inputs) -> Result:
    """The shallow one from the specific energy, the deep one by its own function."""
    s, flow, energy = channel(i), i["flow"], i["energy"]
    critical = uniform.critical_depth(s, flow)
    shallow = brentq(lambda y: uniform.specific_energy(s, flow, y) - energy, 1e-3, critical, xtol=1e-13)
    return float(shallow), uniform.subcritical_depth(s, flow, energy)


def profile_depths(i: Inputs) -> Result:
    """Depth at each distance upstream: `step` metres apart, `steps` of them, from `first`."""
    distances = (i["first"] + k * i["step"] for k in range(int(i["steps"])))
    return tuple(profile.depth_upstream(channel(i), i["flow"], i["slope"], x, i["depth_below"]) for x in distances)


def profile_distance(i: Inputs) -> float:
    """How far upstream the depth is reached."""
    i = with_alpha(i)
    s = channel(i)
    below = i.get("depth_below", uniform.critical_depth(s, i["flow"]))

    def excess(length: float) -> float:
        return profile.depth_upstream(s, i["flow"], i["slope"], length, below) - float(i["depth"])

    return float(brentq(excess, 1e-9, 1e5, xtol=1e-9, rtol=1e-14))


def backwater_length(i: Inputs) -> float:
    """L S0 / yn in which an afflux, a share of normal depth, falls to a tenth: a channel 1e6 times as wide as deep."""
    slope, flow = 1e-3, 1e6 * i["froude"] * sqrt(GRAVITY)
    s = sections.rectangle(1e6, 1.0)
    s = sections.rectangle(1e6, sections.conveyance(s, 1.0) * sqrt(slope) / flow)

    def excess(length: float) -> float:
        return profile.depth_upstream(s, flow, slope, length, 1.0 + i["afflux"]) - 1.0 - 0.1 * i["afflux"]

    return float(brentq(excess, 1.0, 1e4)) * slope


def _pipe_flow(depth: float) -> float:
    """Manning's flow over that of the full bore."""
    s = sections.pipe(1.0, 0.013)
    return sections.conveyance(s, depth) / sections.conveyance(s, 1.0)


@cache
def pipe_peak_depth() -> float:
    found = minimize_scalar(lambda y: -_pipe_flow(y), bounds=(0.85, 1.0), options={"xatol": 1e-10})
    return float(found.x)


COMPOUND_OFFSETS = (0.0, 2.0, 12.0, 14.0, 16.0, 20.0, 22.0, 24.0, 38.0, 40.0)
COMPOUND_LEVELS = (4.0, 2.0, 1.8, 0.2, 0.0, 0.0, 0.3, 1.8, 2.1, 4.0)
COMPOUND_DIVISIONS = (12.0, 24.0)
COMPOUND_MANNING = (0.060, 0.035, 0.050)
"""The compound section of the checks: a channel between two flood plains (invented)."""


@cache
def compound_table() -> SurveyTable:
    return survey_table(COMPOUND_OFFSETS, COMPOUND_LEVELS, COMPOUND_DIVISIONS)


def compound(i: Inputs) -> surveyed.Surveyed:
    method = float(surveyed.METHODS.index(i.get("method", "subdivided")))
    return surveyed.Surveyed(compound_table(), np.array(COMPOUND_MANNING), method, 0.0)


def compound_geometry(i: Inputs) -> Result:
    s, level = compound(i), i["level"]
    return surveyed.area(s, level), surveyed.wetted_perimeter(s, level), surveyed.top_width(s, level)


def at_level(function: Callable[[surveyed.Surveyed, float], float]) -> Callable[[Inputs], float]:
    return lambda i: function(compound(i), i["level"])


def compound_normal_roots(i: Inputs) -> Result:
    """Every normal level from the bed upwards."""
    found: list[float] = []
    level = -inf
    while True:
        level, _ = surveyed_levels.next_normal_level(compound(i), i["flow"], i["slope"], level)
        if level == inf:
            return tuple(found)
        found.append(level)
        level += surveyed.BESIDE


def compound_energy_minima(i: Inputs) -> Result:
    s, found, level = compound(i), [], -inf
    while (level := surveyed_levels.next_energy_minimum(s, i["flow"], level)) < inf:
        found.append(level)
        level += surveyed.BESIDE
    return tuple(found)


def froude_scales(i: Inputs) -> Result:
    """Model over prototype of n and of the flow, from sections and a broad crest a `ratio` smaller."""
    ratio = i["ratio"]
    large = sections.conveyance(sections.trapezoid(5.0 * ratio, 1.5, 1.0), 2.0 * ratio)
    small = sections.conveyance(sections.trapezoid(5.0, 1.5, 1.0), 2.0)
    wide = crests.broad_crested(0.5 * ratio, 3.0 * ratio, 1.0 * ratio)
    flows = crests.broad_crested(0.5, 3.0, 1.0) / wide
    return small / large / flows, flows


def distorted_scales(i: Inputs) -> Result:
    """Model over prototype: velocity, and n of a very wide channel with its own slope."""
    across, up, flows = 1.0 / i["horizontal"], 1.0 / i["vertical"], 1.0 / i["flow_ratio"]
    wide = 1e9
    real = sections.conveyance(sections.rectangle(wide, 1.0), 1.0)
    model = sections.conveyance(sections.rectangle(wide * across, 1.0), up)
    return flows / (across * up), model / real * sqrt(up / across) / flows


def log_sd_of_n(i: Inputs) -> float:
    """Coefficient of variation of a lognormal roughness whose logarithm has the standard deviation asked for."""
    wanted = 0.582 + 0.10 * np.log(i["manning_n"])
    return float(
        brentq(lambda cov: np.log(Lognormal(i["manning_n"], cov).value(1.0) / i["manning_n"]) - wanted, 0.01, 2.0)
    )


def triangular_cov(i: Inputs) -> float:
    row = next(row for row in read_table("channel_roughness") if row["id"] == i["row"])
    spread = Triangular(*(float(row[name]) for name in ("low", "normal", "high")))
    return spread.sd / spread.mean


def crest_of(i: Inputs) -> weir_level.Crest:
    """A crest across a rectangular channel of its own width, as high as `height`; the kind in words."""
    numbers = {
        "breadth": 1.0,
        "angle_deg": 0.0,
        "gain": 1.0,
        "factor": 1.0,
        "coefficient": crests.CRITICAL_CREST,
        "modular_limit": 0.0,
    }
    numbers |= {name: i[name] for name in numbers if name in i}
    return weir_level.Crest(
        approach=sections.rectangle(i.get("approach_width", i["width"]), 0.03),
        plate=weir_level.NO_PLATE,
        kind=float(crests.KINDS.index(i["kind"])),
        level=i["height"],
        width=i["width"],
        approach_bed=0.0,
        **numbers,
    )


def weir_depths(i: Inputs) -> Result:
    """Energy and depth upstream of a weir that is not drowned."""
    state = weir_level.weir_state(crest_of(i), i["flow"], -1.0, -1.0)
    return state.energy, state.level


def drowned_weir_head(i: Inputs) -> float:
    """Head from a pool upstream, so that static and energy heads are the same."""
    c = crest_of({"kind": "given", "height": 0.0, "approach_width": inf, **i})
    return weir_level.weir_level(c, i["flow"], i["drowned_head"], i["drowned_head"])


def _own_gravity(i: Inputs) -> float:
    """Flow over a weir goes with the root of gravity."""
    return sqrt(i.get("gravity", GRAVITY) / GRAVITY)


def thin_plate(i: Inputs) -> float:
    row = crests.plate_row(i["width_ratio"])._replace(**{name: i[name] for name in ("width_shift",) if name in i})
    return crests.kindsvater_carter(i["head"], i["height"], i["width"], row) * _own_gravity(i)


def _approach_energy(i: Inputs, coefficient: float) -> float:
    area = i["width"] * (i["head"] + i["height"])
    return crests.energy_head(i["head"], crests.CRITICAL_CREST * coefficient * i["width"], area)


def total_head_flow(i: Inputs) -> Result:
    """Flow and energy head with a coefficient of the energy form."""
    energy_head = _approach_energy(i, i["coefficient"])
    flow = crests.CRITICAL_CREST * i["coefficient"] * i["width"] * crests.three_halves(energy_head)
    return flow, energy_head


def round_nosed_flow(i: Inputs) -> Result:
    coefficient = crests.round_nosed_coefficient(i["head"], i["width"], i["breadth"])
    energy_head = _approach_energy(i, coefficient)
    return coefficient, crests.round_nosed(i["head"], energy_head, i["width"], i["breadth"])


def triangular_flow(i: Inputs) -> float:
    coefficient = crests.triangular(i["head"], i["head"], 1.0, crests.TRIANGULAR_OFFSET) / (
        crests.CRITICAL_CREST * crests.three_halves(i["head"])
    )
    return crests.triangular(i["head"], _approach_energy(i, coefficient), i["width"], crests.TRIANGULAR_OFFSET)


def borghei_slope_change(_: Inputs) -> float:
    """Angle at which the coefficient of Borghei et al. does not change with the head [deg]."""

    def slope(angle: float) -> float:
        low, high = (oblique.borghei_2003(h, 1.0, 1.0, angle) / h**1.5 for h in (0.2, 0.4))
        return high - low

    return float(brentq(slope, 10.0, 80.0))


def choking_limits(i: Inputs) -> Result:
    return tuple(afflux.choking_limit(i["first"] + k * i["step"]) for k in range(int(i["steps"])))


def arch_opening(i: Inputs) -> Result:
    s = sections.arch(i["span"], i["rise"], 0.0, 0.03)
    return sections.top_width(s, i["height"]), sections.area(s, i["height"])


def pier_k(i: Inputs) -> float:
    row = next(row for row in read_table("pier_shapes") if row["id"] == i["pier"])
    return float(row["yarnell_k"])


def yarnell_afflux(i: Inputs) -> float:
    return afflux.yarnell_afflux(pier_k(i), i["flow"], i["width"], i["pier_width"], i["depth"])


def choked_upstream(i: Inputs) -> Result:
    """Depths between and upstream of choked piers; the loss of square and of rounded ends from the table."""
    losses = {row["id"]: float(row["loss"]) for row in read_table("pier_choking")}
    return afflux.choked_depths(losses[i["ends"]], i["flow"], i["width"], i["opening"])


def sluice(i: Inputs) -> gate.Gate:
    """A gate as wide as its channel, on the bed, without flow over the top."""
    return gate.Gate(i["width"], i["opening"], i["contraction"], i["width"], 0.0, 0.0, inf, 0.0)


def gate_depth(i: Inputs) -> float:
    """Depth upstream of a gate from the flow, the channel below as wide."""
    below, velocity = i["depth_below"], i["flow"] / (i["width"] * i["depth_below"])
    return gate.gate_state(sluice(i), i["flow"], below, below + velocity**2 / (2.0 * GRAVITY)).level


def gate_flow(i: Inputs) -> float:
    """Flow that makes a depth upstream of a gate."""
    return float(brentq(lambda flow: gate_depth({**i, "flow": flow}) - i["depth"], 1e-6, 100.0, xtol=1e-10))


def opening_before_a_sill(i: Inputs) -> float:
    """Opening whose jet has just the energy of critical flow over a sill further down."""
    energy = i["sill"] + 1.5 * gate.critical(i["flow"], i["width"])
    return float(
        brentq(
            lambda opening: gate.jet_energy(i["flow"], i["width"], i["contraction"] * opening) - energy,
            *(0.01, gate.critical(i["flow"], i["width"]) / i["contraction"]),
            xtol=1e-12,
        )
    )


def by_name(function: Callable[..., float]) -> Callable[[Inputs], float]:
    """The function itself, its parameters named as in the check."""
    return lambda i: function(**i)


CHANNEL_FUNCTIONS: dict[str, Callable[[Inputs], Result]] = {
    "normal_depth": normal_depth,
    "normal_froude": normal_froude,
    "critical_depth": critical_depth,
    "critical_slope": critical_slope,
    "critical_energy": lambda i: uniform.critical_energy(channel(i), i["flow"]),
    "alternate_depths": alternate_depths,
    "sequent_depth": by_name(jump.sequent_depth),
    "profile_depths": profile_depths,
    "profile_distance": profile_distance,
    "backwater_length": backwater_length,
    "pipe_peak_depth": lambda _: pipe_peak_depth(),
    "pipe_peak_flow": lambda _: _pipe_flow(pipe_peak_depth()),
    "pipe_full_flow_depth": lambda _: float(brentq(lambda y: _pipe_flow(y) - 1.0, 0.5, 0.93, xtol=1e-12)),
    "compound_geometry": compound_geometry,
    "compound_conveyance": at_level(surveyed.conveyance),
    "compound_alpha": at_level(surveyed.energy_coefficient),
    "compound_manning": at_level(surveyed.composite_manning),
    "compound_normal_level": lambda i: surveyed_levels.normal_level(compound(i), i["flow"], i["slope"]).level,
    "compound_normal_roots": compound_normal_roots,
    "compound_energy_minima": compound_energy_minima,
    "froude_scales": froude_scales,
    "distorted_scales": distorted_scales,
    "lognormal_cov_of_n": log_sd_of_n,
    "triangular_cov_of_n": triangular_cov,
    "weir_depths": weir_depths,
    "drowned_weir_head": drowned_weir_head,
    "thin_plate": thin_plate,
    "rehbock": by_name(crests.rehbock),
    "broad_crested": by_name(crests.broad_crested),
    "total_head_flow": total_head_flow,
    "round_nosed_flow": round_nosed_flow,
    "triangular_flow": triangular_flow,
    "triangular_drowned_factor": by_name(crests.triangular_drowned_factor),
    "drowned_factor": by_name(crests.drowned_factor),
    "critical_crest": lambda _: crests.CRITICAL_CREST,
    "normal_component_flow": by_name(oblique.normal_component_flow),
    "full_length_flow": by_name(oblique.full_length_flow),
    "borghei_slope_change": borghei_slope_change,
    "bollrich_contraction": by_name(gate.bollrich_contraction),
    "free_jet_flow": by_name(gate.free_jet_flow),
    "gate_depth": gate_depth,
    "gate_flow": gate_flow,
    "opening_before_a_sill": opening_before_a_sill,
    "pier_k": pier_k,
    "yarnell_afflux": yarnell_afflux,
    "choking_limits": choking_limits,
    "choked_depths": choked_upstream,
    "daubuisson_afflux": by_name(afflux.daubuisson_afflux),
    "drag_afflux": by_name(afflux.drag_afflux),
    "contraction_backwater": by_name(bridge_methods.contraction_backwater),
    "molesworth_afflux": by_name(afflux.molesworth_afflux),
    "arch_opening": arch_opening,
    "biery_delleur": by_name(bridge_methods.biery_delleur),
    "sluice_flow": by_name(bridge_methods.sluice_flow),
    "orifice_flow": by_name(bridge_methods.orifice_flow),
    "projected_opening": by_name(afflux.projected_opening),
}
"""What each check's `function` means, for channels, weirs, gates and bridges."""
