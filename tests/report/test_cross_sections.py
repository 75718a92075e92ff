"""Plan and sections of a run: what is drawn, and what is told to readers who do not see it."""

from __future__ import annotations

import math

import numpy as np
import pytest

from overbank.report.captions import CAPTIONS
from overbank.report.cross_sections import MOST, cross_sections_of, level_words, shown
from overbank.report.figures import FIGURES
from overbank.report.placed import placed_of

from .outcomes import outcome


@pytest.mark.parametrize("study", ["lane", "never a way through"])
def test_levels_are_those_of_the_run(study: str) -> None:
    made = outcome(study)
    words = CAPTIONS["cross_sections"](made).described
    for each in placed_of(made):
        samples = made.samples.site.element(each.outline.id).level
        level = float(made.deterministic.element(each.outline.id).level[0])
        assert each.level == level
        assert each.band is not None
        assert each.band[0] == np.quantile(samples[~np.isnan(samples)], 0.05, method="inverted_cdf")
        assert (f"water {level:.2f} m" if math.isfinite(level) else "no way through") in words
    assert FIGURES["cross_sections"](made).axes


def test_a_long_row_shows_the_sections_with_a_bank_first() -> None:
    placed = placed_of(outcome("lane"))
    without = [type(each)(each.outline, each.section, each.level, each.band, math.nan) for each in placed]
    row = (*without, *without, *without, *without, *placed, *without)
    assert len(shown(row)) == MOST
    assert set(placed) <= set(shown(row))
    texts = [text.get_text() for text in cross_sections_of(row).texts]
    assert f"{MOST} of {len(row)} elements, for want of room" in texts


def test_words_of_a_bank() -> None:
    lane = placed_of(outcome("lane"))[0]
    assert level_words(lane).endswith("bank 32.20 m")
