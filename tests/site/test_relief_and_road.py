"""What is said of a site with relief barrels: a road that is not there is not drowned."""

from __future__ import annotations

import numpy as np
import pytest

from overbank.hydraulics.tables import inlets
from overbank.site.culvert import Culvert, Group
from overbank.site.row import Site
from overbank.site.tailwater import FixedLevel
from overbank.site.validity import remarks

EDGE = inlets()["box", "wingwalls 30 to 75 deg"]
DROWNED = "tailwater above the road, which drowns it"


def barrels(path: str, invert: float) -> dict[str, float]:
    return {
        **{f"{path}.barrel.span_m": 2.4, f"{path}.barrel.rise_m": 1.5, f"{path}.barrel.count": 1.0},
        **{f"{path}.barrel.length_m": 20.0, f"{path}.barrel.manning_n": 0.014, f"{path}.barrel.bed_manning_n": 0.014},
        **{f"{path}.barrel.upstream_invert_m": invert, f"{path}.barrel.downstream_invert_m": invert - 0.1},
        **{f"{path}.inlet.head_factor": 1.0, f"{path}.inlet.entrance_loss": 0.4, f"{path}.inlet.exit_loss": 1.0},
        **{f"{path}.blockage": 0.0, f"{path}.pattern": 0.0},
    }


ROAD = {"lane.road.level_m": 32.6, "lane.road.length_m": 14.0, "lane.road.coefficient": 1.6}


@pytest.mark.parametrize(
    ("has_road", "tailwater", "drowned", "governs"),
    [
        (False, 31.0, False, "part of the flow through the relief barrels"),
        (True, 31.0, False, "part of the flow through the relief barrels; flow over the road"),
        (True, 35.5, True, "part of the flow through the relief barrels; flow over the road, drowned from below"),
    ],
)
def test_a_road_is_drowned_only_where_there_is_one(
    has_road: bool, tailwater: float, drowned: bool, governs: str
) -> None:
    culvert = Culvert("lane", "box", EDGE, has_screen=False, has_road=has_road, relief=Group("box", EDGE))
    site = Site((culvert,), FixedLevel())
    numbers = {
        **barrels("lane", 30.1),
        **barrels("lane.relief", 30.9),
        **(ROAD if has_road else {}),
        **{"flow.design_m3_s": 40.0, "tailwater.level_m": tailwater},
    }
    outcome = site.march(numbers)
    (element,) = outcome.elements
    assert element.results["relief_flow"][0] > 0.0
    assert element.governs().endswith(governs)
    assert (DROWNED in [remark.words for remark in remarks(site, outcome, numbers)]) == drowned
    assert np.isfinite(element.level).all()
