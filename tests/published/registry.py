"""Small adapters from the inputs of a check to a function of overbank; results in SI."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from math import inf, sqrt
from typing import Any

from scipy.optimize import brentq

from overbank.hydraulics import (
    clean_screens,
    culverts,
    outlet_control,
    people,
    profile,
    screens,
    sections,
    uniform,
    weirs,
)
from overbank.hydraulics.tables import inlets, read_table
from overbank.uncertain.bounded import Beta, InflatedBeta
from overbank.uncertain.families import family

from .registry_channels import CHANNEL_FUNCTIONS

Inputs = Mapping[str, Any]
Result = float | tuple[float, ...]

BARREL_N = 0.013
"""Where a check does not depend on roughness."""


def barrel(i: Inputs) -> sections.Section:
    n = i.get("manning_n", BARREL_N)
    match i["shape"]:
        case "box":
            return sections.box(i["span"], i["rise"], n)
        case "pipe":
            return sections.pipe(i["diameter"], n)
        case "arch":
            return sections.arch(i["span"], i["rise"], i["wall_height"], n)
        case "ellipse":
            return sections.ellipse(i["span"], i["rise"], n)
    raise ValueError(f"no barrel of shape {i['shape']!r}")


def inlet_row(i: Inputs) -> culverts.InletRow:
    """Constants of the named row of our table, each replaced where the check gives its own."""
    names = culverts.InletRow._fields
    entry = next((entry for entry in inlets().values() if entry.id == i.get("inlet")), None)
    return culverts.InletRow(*(float(i.get(name, getattr(entry, name, None))) for name in names))


def slots(i: Inputs) -> sections.Section:
    """The net width of a blocked screen as a short open channel without friction."""
    return sections.rectangle(net_width(i), 0.0)


def net_width(i: Inputs) -> float:
    return float(i["width"] * i["clear"] * (1.0 - i.get("blockage", 0.0)))


def section_geometry(i: Inputs) -> Result:
    s, y = barrel(i), i["depth"]
    return sections.area(s, y), sections.wetted_perimeter(s, y), sections.top_width(s, y)


def full_section(i: Inputs) -> Result:
    s, y = barrel(i), i["rise"]
    area, perimeter = sections.area(s, y), sections.wetted_perimeter(s, y)
    return area, perimeter, area / perimeter


def critical_flow(i: Inputs) -> Result:
    s, flow = barrel(i), i["flow"]
    return uniform.critical_depth(s, flow), uniform.critical_energy(s, flow)


def inlet_head(i: Inputs) -> float:
    return culverts.inlet_head(barrel(i), i["flow"], i["slope"], inlet_row(i))


def inlet_level(i: Inputs) -> float:
    return float(i["invert"]) + inlet_head(i)


def inlet_ratio(i: Inputs) -> float:
    return inlet_head(i) / sections.clear_height(barrel(i))


def blocked_inlet_heads(i: Inputs) -> Result:
    clean = (barrel(i), i["flow"], i["slope"], inlet_row(i))
    return tuple(
        culverts.blocked_inlet_head(*clean, head_factor=1.0, blockage=i["blockage"], pattern=pattern)
        for pattern in (screens.UNIFORM, screens.FLOATING_RAFT, screens.BOTTOM_UP)
    )


def _outlet_arguments(i: Inputs) -> tuple[Any, ...]:
    names = ("slope", "length", "tailwater", "entrance_loss", "exit_loss")
    return (barrel(i), i["flow"], outlet_control.Lay(*(i[name] for name in names)))


def outlet_head(i: Inputs) -> float:
    return outlet_control.outlet_head(*_outlet_arguments(i))


def shortcut_head(i: Inputs) -> float:
    return outlet_control.full_barrel_head(*_outlet_arguments(i))


def outlet_heads(i: Inputs) -> Result:
    """Shortcut, and the published head from the profile alone."""
    s, flow = barrel(i), i["flow"]
    depth = profile.depth_upstream(s, flow, i["slope"], i["length"], i["tailwater"])
    head = depth + (1.0 + i["entrance_loss"]) * uniform.velocity_head(s, flow, depth)
    return shortcut_head(i), head


def headwater_levels(i: Inputs) -> Result:
    """Inlet control, and outlet control by the shortcut of the design form."""
    return inlet_level(i), i["invert"] + shortcut_head(i)


def drowned_opening_loss(i: Inputs) -> float:
    """Head difference across an opening far below both levels, from `slot_flow`."""
    behind = 10.0 * i["height"]

    def excess(loss: float) -> float:
        opening = (i["coefficient"], net_width(i), 0.0, i["height"])
        return screens.slot_flow(*opening, behind + loss, behind) - float(i["flow"])

    return float(brentq(excess, 0.0, 100.0, xtol=1e-13))


def underflow_head(i: Inputs) -> float:
    return drowned_opening_loss({**i, "height": i["gap"], "clear": 1.0})


def _depth_for(i: Inputs, flow_at: Callable[[float], float]) -> float:
    behind = float(i["depth_behind"])
    return float(brentq(lambda depth: flow_at(depth) - i["flow"], behind, behind + 100.0, xtol=1e-12))


def slot_depth(i: Inputs) -> float:
    slot = (i["coefficient"], net_width(i), 0.0, inf)
    return _depth_for(i, lambda depth: screens.slot_flow(*slot, depth, i["depth_behind"]))


def orifice_depth(i: Inputs) -> float:
    """Only the part below the level behind counts."""
    opening = (i["coefficient"], net_width(i), 0.0, i["depth_behind"])
    return _depth_for(i, lambda depth: screens.slot_flow(*opening, depth, i["depth_behind"]))


def slot_weir_depth(i: Inputs) -> float:
    """The slots as a weir at sill level, drowned after Villemonte, with the coefficient of the free slot."""
    weir = screens.slot_flow(i["coefficient"], 1.0, 0.0, inf, 1.0, -inf)
    return _depth_for(i, lambda depth: screens.overflow(depth, i["depth_behind"], 0.0, net_width(i), weir))


def slot_control_energy(i: Inputs) -> float:
    s, flow = slots(i), i["flow"]
    critical = uniform.critical_depth(s, flow)
    return critical + (1.0 + i["contraction_loss"]) * uniform.velocity_head(s, flow, critical)


def blockage_of_control(i: Inputs) -> float:
    """Blockage from which the slots need more energy than the water behind the screen has."""
    channel = sections.rectangle(i["width"], BARREL_N)
    behind = uniform.specific_energy(channel, i["flow"], i["depth_behind"])
    return float(brentq(lambda blockage: slot_control_energy({**i, "blockage": blockage}) - behind, 0.0, 0.99))


def _net_ratio(i: Inputs) -> float:
    return float(i["clear"] * (1.0 - i["blockage"]))


def _with_velocity(i: Inputs, loss_coefficient: float) -> float:
    return clean_screens.head_loss(loss_coefficient, i["flow"] / i["area"])


def kirschmer_head_loss(i: Inputs) -> float:
    names = ("shape_factor", "bar", "gap", "inclination_deg")
    return clean_screens.head_loss(clean_screens.kirschmer(*(i[name] for name in names)), i["velocity"])


def wastewater_head_loss(i: Inputs) -> float:
    zeta = clean_screens.wastewater_form(i["velocity"] / i["gap_velocity"], i["discharge_factor"])
    return clean_screens.head_loss(zeta, i["velocity"])


def inflated_beta(i: Inputs) -> Result:
    blockage = InflatedBeta(at_zero=i["at_zero"], a=i["a"], b=i["b"], at_one=i["at_one"])
    above = 1.0 - float(blockage.cdf(i["above"]))
    return blockage.mean, blockage.sd, above, blockage.median


def starting_point_mean(i: Inputs) -> float:
    row = table_row("blockage_starting_points", i)
    numbers = {name: float(row[name]) for name in ("at_zero", "a", "b", "at_one")}
    return InflatedBeta(**numbers).mean


def by_name(function: Callable[..., float]) -> Callable[[Inputs], float]:
    """The function itself, its parameters named as in the check."""
    return lambda i: function(**i)


def manning_flow(i: Inputs) -> float:
    s = sections.trapezoid(i["bed_width"], i["side_slope"], i["manning_n"])
    return float(sections.conveyance(s, i["depth"]) * sqrt(i["slope"]))


def table_row(table: str, i: Inputs) -> Mapping[str, str]:
    return next(row for row in read_table(table) if row["id"] == i["row"])


def table_value(table: str, column: str) -> Callable[[Inputs], float]:
    return lambda i: float(table_row(table, i)[column])


def person_forces(i: Inputs) -> Result:
    drag = people.drag_force(i["drag_coefficient"], i["area"], i["velocity"])
    return drag, people.pressure_force(i["area"], i["drop"])


def build_up(i: Inputs) -> Result:
    found = family("build_up", {name: value for name, value in i.items() if name != "above"})
    return found.mean, 1.0 - float(found.cdf(i["above"]))


FUNCTIONS: dict[str, Callable[[Inputs], Result]] = {
    "intensity_factor": lambda _: culverts.KU,
    "intensity_limits": lambda _: (
        culverts.UNSUBMERGED_TO / culverts.KU,
        culverts.SUBMERGED_FROM / culverts.KU,
    ),
    "section_geometry": section_geometry,
    "manning_flow": manning_flow,
    "full_section": full_section,
    "critical_flow": critical_flow,
    "inlet_head": inlet_head,
    "inlet_level": inlet_level,
    "inlet_ratio": inlet_ratio,
    "unsubmerged_ratio": lambda i: culverts.unsubmerged_ratio(
        inlet_row(i), i["q"], i["critical_energy_ratio"], i["slope"]
    ),
    "submerged_ratio": lambda i: culverts.submerged_ratio(inlet_row(i), i["q"], i["slope"]),
    "blocked_inlet_heads": blocked_inlet_heads,
    "outlet_head": outlet_head,
    "outlet_heads": outlet_heads,
    "headwater_levels": headwater_levels,
    "road_flow": lambda i: weirs.road_flow(i["head"], -inf, i["length"], i["coefficient"]),
    "road_head": lambda i: weirs.road_head(i["flow"], -1.0, i["length"], i["coefficient"]),
    "road_table": table_value("road_coefficients", "coefficient"),
    "blockage_guidance": lambda i: 100.0 * table_value("blockage_guidance", "most_likely_blockage")(i),
    "villemonte": by_name(weirs.villemonte),
    "kirschmer_head_loss": kirschmer_head_loss,
    "meusburger": by_name(clean_screens.meusburger),
    "idelchik_bars": by_name(clean_screens.idelchik_bars),
    "sharp_plate": by_name(clean_screens.sharp_plate),
    "sharp_plate_head_loss": lambda i: _with_velocity(i, clean_screens.sharp_plate(_net_ratio(i))),
    "usbr_net": by_name(clean_screens.usbr_net),
    "usbr": by_name(clean_screens.usbr),
    "usbr_head_loss": lambda i: _with_velocity(i, clean_screens.usbr(_net_ratio(i))),
    "levin": by_name(clean_screens.levin),
    "clark": by_name(clean_screens.clark),
    "raynal": by_name(clean_screens.raynal),
    "wastewater_head_loss": wastewater_head_loss,
    "contraction_loss": by_name(screens.contraction_loss),
    "slot_flow": by_name(screens.slot_flow),
    "slot_critical_depth": lambda i: uniform.critical_depth(slots(i), i["flow"]),
    "slot_control_energy": slot_control_energy,
    "blockage_of_control": blockage_of_control,
    "slot_depth": slot_depth,
    "slot_weir_depth": slot_weir_depth,
    "orifice_depth": orifice_depth,
    "drowned_opening_loss": drowned_opening_loss,
    "underflow_head": underflow_head,
    "inflated_beta": inflated_beta,
    "starting_point_mean": starting_point_mean,
    "beta_above": lambda i: 1.0 - float(Beta(i["a"], i["b"]).cdf(i["above"])),
    "hazard_rating": by_name(people.hazard_rating),
    "person_forces": person_forces,
    "build_up": build_up,
    **CHANNEL_FUNCTIONS,
}
"""What each check's `function` means."""
