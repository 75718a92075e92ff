"""The reviewer's index answers with figures: each is that of the run, and a screen taken away is told."""

from __future__ import annotations

import numpy as np
import pytest

from overbank.outputs.outcome import Outcome
from overbank.report import reviewers_figures as told
from overbank.words import change, rounded
from shared import shared_run
from small import edited, written

SPACE = "\u00a0"
UNSCREENED = """
[[alternative]]
name = "No screen"
remove = ["lane.screen"]
"""
ONLY = ("medians", "variations", "one_at_a_time", "comparison", "overtopping", "headwater", "blockage", "drivers")


@pytest.fixture(scope="module")
def outcome(tmp_path_factory: pytest.TempPathFactory) -> Outcome:
    from overbank.study.load import read_study

    text = edited(("samples = 4096", "samples = 256")) + UNSCREENED
    return shared_run(read_study(written(tmp_path_factory.mktemp("told"), text)), ONLY)


def test_a_screen_taken_away_says_what_is_no_longer_caught(outcome: Outcome) -> None:
    (words,) = told.lost_screens(outcome, "No screen")
    assert "the bars of “lane”, 0.125\u00a0m apart" in words
    assert "a barrel 1.50\u00a0m at its narrowest" in words  # the lesser of 2.4 and 1.5 m
    assert "what lodges inside cannot be raked, and no blockage inside it is in the figures" in words
    assert told.unscreened(outcome) == words


def test_answers_hold_the_figures_of_the_run(outcome: Outcome) -> None:
    found = {each.name: each for each in outcome.variations}
    free, rough = found["no number depends on another"], found[f"every roughness 20{SPACE}% higher"]
    for words, each in ((told.independent(outcome), free), (told.rougher(outcome), rough)):
        assert each.more is not None
        assert rounded(each.probability, "p").value in words
        assert change(each.more, "p").value in words
    assert "flow.design_m3_s with lane.screen.blockage +0.4" in told.pairs(outcome, "flow.", "blockage")
    assert told.pairs(outcome, "tailwater.", "flow.") == ""
    for name in (
        *(f"10{SPACE}% less flow", f"10{SPACE}% more flow", f"the water below the site 0.1{SPACE}m higher"),
        f"10{SPACE}% of what is open shut as well",
    ):
        size = found[name].higher
        assert size is not None
        assert f"({name} moves the level by {change(size, 'm').value})" in told.left_out(outcome)
    garden = outcome.medians.outcome.element("garden").results["velocity"][0]
    assert f"in “garden” at the medians stands up by its velocity head, {garden**2 / (2 * 9.81):.2f}\u00a0m" in (
        told.left_out(outcome)
    )
    assert told.flow(outcome).endswith("invented (judgement)")
    assert "“No screen” higher in" in told.worse_off(outcome)
    assert told.climate(outcome) == ""
    assured = outcome.headwater.quantiles[0.9].value
    banks = outcome.samples.site.element("lane").bank_level
    assert banks is not None
    assert told.freeboard(outcome).startswith(f"{float(np.median(banks)) - assured:+.2f}".replace("-", "\u2212"))
    assert told.freeboard(outcome).endswith("up to the median bank 32.20\u00a0m")


def test_no_more_than_a_few_items_in_a_line() -> None:
    assert told.several(list("abc")) == "a; b; c"
    assert told.several(list("abcdef")) == "a; b; c; d; and 2 more"
