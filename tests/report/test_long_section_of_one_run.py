"""The long section of one run: where the geometry of a weir, a bridge and relief barrels stands in the picture."""

from __future__ import annotations

from pathlib import Path

import pytest
from matplotlib.text import Text

import overbank
from overbank.report.long_section import long_section_at_medians
from overbank.report.section import Section, section_at_medians
from small import ROAD, study
from study.river import read_river

RELIEF = """[element.relief]
barrel = { shape = "pipe", diameter_m = 0.9, length_m = 20.0, upstream_invert_m = 31.2, downstream_invert_m = 31.1, manning_n = 0.013 }
inlet = { edge = "square edge in headwall" }
blockage = 0.0

"""  # noqa: E501


def key(section: Section) -> set[str]:
    """Texts of the picture."""
    figure = long_section_at_medians(section)
    return {text.get_text() for text in figure.findobj(Text) if text.get_text()}


def test_weir_and_bridge_of_a_river(tmp_path: Path) -> None:
    """The reach of 120 m lies between them; crest 10.8 m, main openings from their bed to the soffit."""
    section = section_at_medians(overbank.check_study(read_river(tmp_path)))
    sill, meadow, road, _ = section.extents
    assert (sill.kind, meadow.kind, road.kind) == ("weir", "channel", "bridge")
    assert sill.road == 10.8
    assert meadow.end - meadow.start == pytest.approx(120.0)
    assert meadow.bed_end - meadow.bed_start == pytest.approx(0.12)
    assert road.bed_start < road.roof_start < road.road
    assert "weir" in key(section)


def test_relief_barrels_end_where_the_main_barrels_do(tmp_path: Path) -> None:
    """A pipe of 0.9 m, 20 m long, from 31.2 m to 31.1 m: four corners by hand."""
    section = section_at_medians(overbank.check_study(study(tmp_path, (ROAD, RELIEF + ROAD))))
    lane = section.extents[0]
    foot, head, roof_above, roof_below = lane.relief
    assert head == (lane.end, 31.2)
    assert foot == pytest.approx((lane.end - 20.0, 31.1))
    assert (roof_above[1], roof_below[1]) == pytest.approx((32.1, 32.0))
    assert "relief barrels" in key(section)
