"""One input at a time, the freeboard ledger, and deterministic answers placed on the curve."""

from __future__ import annotations

import numpy as np
import pytest

from overbank.analysis.intervals import Estimate
from overbank.files.store import tables
from overbank.model import Model
from overbank.report import freeboard, one_at_a_time
from overbank.report.readings import certain_level, from_last_nought

from .outcomes import of_many, outcome
from .pages import page


def test_one_at_a_time_is_a_run_with_one_number_changed() -> None:
    made = outcome("lane")
    model = Model(made.problem)
    found = {each.name: each.changes for each in made.one_at_a_time}
    assert list(found) == list(made.problem.inputs.names)
    row = model.medians()
    flow = made.problem.inputs.index("flow.design_m3_s")
    # lognormal of median 6, cov 0.2: 6 exp(1.2816 sqrt(ln 1.04)), closed form
    row[0, flow] = 6.0 * np.exp(1.2815515655 * np.sqrt(np.log(1.04)))
    assert found["flow.design_m3_s"][1] == pytest.approx(float(model.levels(row)[0]) - certain_level(made), abs=1e-7)
    assert found["lane.bank_level_m"] == (0.0, 0.0)


def test_one_at_a_time_as_a_table() -> None:
    made = outcome("lane")
    table = tables(made)["one_at_a_time"].set_index("input")
    flow = table.loc["flow.design_m3_s"]
    # 10 and 90 % quantiles of the lognormal, closed form
    spread = np.exp(1.2815515655 * np.sqrt(np.log(1.04)))
    assert (flow["low_value"], flow["high_value"]) == pytest.approx((6.0 / spread, 6.0 * spread), rel=1e-7)
    assert flow["high_level_m"] - flow["high_change_m"] == pytest.approx(certain_level(made), abs=1e-9)


def test_the_widest_swing_comes_first_and_the_bars_fit() -> None:
    made = one_at_a_time.tests(outcome("lane"))
    assert made is not None
    assert made.swings[0].path == "lane.screen.blockage"
    for line in made.swings:
        assert line.left is not None
        assert line.width is not None
        assert -0.01 <= line.left <= line.left + line.width <= 100.02
    assert one_at_a_time.tests(outcome("never a way through")) is None


def test_the_ledger_adds_up() -> None:
    made = outcome("lane")
    found = freeboard.ledger(made)
    assert found is not None
    assured = made.headwater.quantiles[made.assurance].value
    clean = Model(made.problem).level_with("lane.screen.blockage", 0.0)
    margins = [float(line.margin.replace("\u2212", "-").split("\u00a0")[0]) for line in found.lines[1:]]
    assert margins[0] == pytest.approx(certain_level(made) - clean, abs=0.006)
    assert margins[1] == pytest.approx(assured - certain_level(made), abs=0.006)
    assert sum(margins[:3]) == pytest.approx(32.20 - clean, abs=0.02)  # the median bank of the study
    assert margins[3] == pytest.approx(margins[1] + margins[2], abs=0.02)
    assert [kind.split(" (")[0] for kind in found.within][:2] == ["flow", "level below"]
    assert all("lane" in kind or "garden" in kind for kind in found.within[3:])
    assert "Double counting:" in page("lane").text


def test_an_answer_on_the_curve_is_the_share_of_samples_above_it() -> None:
    made = of_many("lane", "allowances", "headwater", "medians")
    for level in (31.5, certain_level(made), 32.2, 32.6):
        counted = float(np.mean(made.samples.levels > level))
        assert freeboard.above(made, level).value == pytest.approx(counted, abs=0.02)
    fixed = {each.blockage: each.exceeded for each in made.allowances.fixed} if made.allowances else {}
    for share, exceeded in fixed.items():
        level = Model(made.problem).level_with("lane.screen.blockage", share)
        assert freeboard.above(made, level).value == pytest.approx(exceeded.value, abs=1e-9)


@pytest.mark.parametrize("study", ["lane", "box", "no blockage", "never a way through", "floods of a year"])
def test_every_placed_answer_stands_on_the_page(study: str) -> None:
    text = page(study).text
    for line in freeboard.placed(outcome(study)):
        for words in (line.words, line.level, line.above):
            assert " ".join(words.split()) in text


def test_quantiles_of_nought_are_told_once() -> None:
    nought, unsure, some = (Estimate(0.0, 0.0, high, "") for high in (0.0, 0.1, 0.2))
    found = from_last_nought({0.5: nought, 0.8: nought, 0.9: unsure, 0.95: some})
    assert list(found) == [0.8, 0.9, 0.95]
    assert list(from_last_nought({0.5: unsure, 0.8: some})) == [0.5, 0.8]
    assert list(from_last_nought({0.5: nought, 0.8: nought})) == [0.8]
