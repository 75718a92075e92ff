"""Regime codes in words: every code that a crossing can report has its own sentence."""

from __future__ import annotations

from itertools import product

from overbank.hydraulics import crossing
from overbank.site.regimes import CONTROLS, regime_words


def test_every_code_of_a_culvert_reads_differently() -> None:
    over = (0, crossing.OVER_ROAD, crossing.ROAD_DROWNED)
    codes = [control + top + road for control, top, road in product(CONTROLS, (0, crossing.OVER_SCREEN), over)]
    words = [regime_words("culvert", float(code)) for code in codes]
    assert len(set(words)) == len(codes)
    assert regime_words("culvert", 213.0) == (
        "outlet control, free surface in the barrel; flow over the top of the screen; "
        "flow over the road, drowned from below"
    )


def test_channel() -> None:
    assert regime_words("channel", 0.0) == "subcritical"
    assert "steep" in regime_words("channel", 1.0)
