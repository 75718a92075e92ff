"""Froude's law of similarity: a site ten times as large behaves the same.

Lengths times L, flow times L^2.5, Manning's n times L^(1/6), coefficients of weirs unchanged (their sqrt(g) does not
scale). The inlet equations obey it too: they use Q / (A D^0.5). What remains is the fixed tolerances of the solvers.
"""

from __future__ import annotations

import numpy as np
import pytest
from random_crossings import AT, Table, crossings, levels
from test_sites_never_fall import ENTRIES, SAMPLES, random_numbers

from overbank.hydraulics.sections import PIPE_ARCH
from overbank.site.channel import Channel
from overbank.site.culvert import Culvert
from overbank.site.row import Site
from overbank.site.tailwater import NormalDepth

LENGTHS = (
    *("width", "rise", "wall_height", "silt", "length", "upstream_invert", "downstream_invert"),
    *("relief_width", "relief_rise", "relief_wall_height", "relief_silt", "relief_length"),
    *("relief_upstream_invert", "relief_downstream_invert"),
    *("screen_width", "screen_height", "screen_sill", "road_level", "road_length", "tailwater"),
    *("bypass_width", "bypass_top"),
)


def scaled(table: Table, scale: float) -> Table:
    new = table.copy()
    for name in LENGTHS:
        new[AT[name]] *= scale
    for group in ("", "relief_"):  # of a pipe-arch it is the height of its corners' centres
        length = np.where(table[AT[f"{group}shape"]] == PIPE_ARCH, scale, 1.0)
        new[AT[f"{group}side_slope"]] *= length
    for name in (name for name in AT if name.endswith(("manning_n", "silt_n"))):
        new[AT[name]] *= scale ** (1 / 6)
    new[AT["flow"]] *= scale**2.5
    return new


@pytest.mark.parametrize("scale", [0.5, 10.0])
def test_crossings(scale: float) -> None:
    table = crossings(10_000, seed=41, relief=0.25)
    here, there = levels(table), levels(scaled(table, scale)) / scale
    bed = table[AT["upstream_invert"]]
    difference = np.abs(there - here) / np.maximum(here - bed, table[AT["rise"]])
    # the split between barrel and road is solved to 1e-7 m of level and 1e-10 of the flow, at either scale
    assert np.quantile(difference, 0.999) < 1e-6
    assert difference.max() < 5e-6


@pytest.mark.parametrize("entry", ENTRIES[::8], ids=lambda e: e.id)
def test_whole_sites(entry: object) -> None:
    culvert = Culvert("lane", entry.shape, entry, has_screen=True, has_road=True)  # type: ignore[attr-defined]
    parts = (Channel("lower", "trapezoid"), culvert, Channel("garden", "trapezoid"))
    site = Site(parts, NormalDepth("trapezoid"))
    numbers = random_numbers(np.random.default_rng(1), entry.shape, True)  # type: ignore[attr-defined]
    scale = 8.0
    larger = {}
    for name, values in numbers.items():
        if name.endswith("_m"):
            larger[name] = values * scale
        elif "manning_n" in name:
            larger[name] = values * scale ** (1 / 6)
        else:
            larger[name] = values * scale**2.5 if name == "flow.design_m3_s" else values
    for a, b in zip(site.march(numbers, SAMPLES).elements, site.march(larger, SAMPLES).elements, strict=True):
        np.testing.assert_allclose(b.level / scale, a.level, rtol=1e-6)
