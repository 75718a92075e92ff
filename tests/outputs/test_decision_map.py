"""What would change the choice: each corner is the study written so, marched by hand."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from overbank.outputs.decision_map import turn
from overbank.run import run
from overbank.study.load import read_study
from small import DEPENDENCE, edited, written

WIDER = """
[[alternative]]
name = "Wider"
set = { "lane.screen.width_m" = 5.0 }
"""
FEWER = ("samples = 4096", "samples = 512")


def test_each_corner_is_the_study_written_so(tmp_path: Path) -> None:
    made = run(read_study(written(tmp_path / "a", edited(FEWER) + WIDER)), only=("decision_map", "overtopping"))
    assert made.decision_map is not None
    found = {(each.debris, each.dependence): each for each in made.decision_map}
    assert len(found) == 9
    plain = made.overtopping.plain.value
    assert found["as assumed", "as stated"].probability["as it stands"].value == plain
    for words, change in (("none", ""), ("with high tails", f'{DEPENDENCE}tails = "survival_clayton"\n')):
        other = run(
            read_study(written(tmp_path / words, edited(FEWER, (DEPENDENCE, change)) + WIDER)), only=("comparison",)
        )
        assert other.comparison is not None
        for each in other.comparison.arrangements:
            corner = found["as assumed", words]
            assert corner.probability[each.name].value == each.overtopping.plain.value
    for corner in found.values():
        assert corner.turn is None
        assert corner.least == "Wider"  # less of the same debris on a larger screen never raises the level
        stands, wider = (corner.probability[name].value for name in ("as it stands", "Wider"))
        assert corner.apart.value == pytest.approx(stands - wider, abs=1e-12)


def test_the_bank_that_changes_the_order_is_where_two_normal_tails_cross() -> None:
    """P(depth > b) of N(-0.3, 0.1) and N(-0.2, 0.3) are alike at (b + 0.3)/0.1 = (b + 0.2)/0.3: b = -0.35 (closed)."""
    z = np.random.default_rng(1).standard_normal((8, 20000))
    depths = {"even": -0.3 + 0.1 * z, "wild": -0.2 + 0.3 * z}
    found = turn(depths, "even")
    assert found is not None
    assert found[1] == "wild"
    assert -0.38 <= found[0] <= -0.35
    assert turn({"even": depths["even"], "worse": depths["even"] + 0.05}, "even") is None


def test_debris_moves_the_open_share_by_its_power(tmp_path: Path) -> None:
    """Twice the debris leaves the square of the open share: 1 - (1 - b)^2, put into the model by hand."""
    made = run(read_study(written(tmp_path / "a", edited(FEWER) + WIDER)), only=("decision_map",))
    assert made.decision_map is not None
    twice = next(e for e in made.decision_map if (e.debris, e.dependence) == ("twice as much debris", "as stated"))
    numbers = dict(
        zip(made.problem.inputs.names, made.samples.values.reshape(-1, made.problem.inputs.dimension).T, strict=True)
    )
    blocked = 1.0 - np.square(1.0 - numbers["lane.screen.blockage"])
    levels = made.study.model().levels({**numbers, "lane.screen.blockage": blocked})["lane"]
    over = float(np.mean(np.asarray(levels) > numbers["lane.bank_level_m"]))
    assert twice.probability["as it stands"].value == pytest.approx(over)
