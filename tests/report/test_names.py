"""Dotted names in plain words with their units."""

from __future__ import annotations

import pytest

from overbank.report.names import plain_name

from .outcomes import outcome


@pytest.mark.parametrize(
    ("path", "group", "in_full", "unit"),
    [
        ("flow.design_m3_s", "flow", "design flow", "m³/s"),
        ("lane.screen.blockage", "lane", "screen, blocked share", ""),
        ("lane.bank_level_m", "lane", "bank level", "m"),
        ("lane.screen.inclination_deg", "lane", "screen, inclination", "°"),
        ("tailwater.normal_depth.section.bed_width_m", "tailwater", "normal depth, bed width", "m"),
        ("lane.road.coefficient", "lane", "road, weir coefficient", "m^0.5/s"),
        ("pipe_m.barrel.manning_n", "pipe_m", "barrel, Manning's n", "s/m^(1/3)"),
    ],
)
def test_plain_names(path: str, group: str, in_full: str, unit: str) -> None:
    known = plain_name(path)
    assert (known.group, known.in_full, known.unit) == (group, in_full, unit)


def test_no_plain_name_keeps_an_underscore_or_a_unit() -> None:
    for study in ("lane", "box"):
        for assumption in outcome(study).problem.assumptions:
            words = plain_name(assumption.name).in_full
            assert "_" not in words
            assert not words.endswith((" m", " deg", " s"))
