"""Automatic numbers of samples, and consequences in money: what is read and what is refused."""
# ruff: noqa: E501  (tables, one case a line)

from __future__ import annotations

from pathlib import Path

import pytest

from overbank.errors import Fault
from overbank.study.schema import MOST_AUTOMATIC

from .sound import edited, faults, line_of, only_fault, read

AUTO = edited(("samples = 1024", 'samples = "auto"\nprecision_m = 0.02\nmost_samples = 65536'))
MONEY = edited(('at = "lane"', 'at = "lane"\nloss_if_overtopped = 250000\ncost_of_acting = 18000.0'))


def test_automatic_samples_begin_small(tmp_path: Path) -> None:
    run = read(tmp_path, AUTO).content.run
    assert run.automatic
    assert (run.samples, run.precision_m, run.most) == (8 * 128, 0.02, 65536)
    fewer = read(tmp_path, AUTO.replace("most_samples = 65536\n", "").replace("replicates = 8", "replicates = 4"))
    assert (fewer.content.run.samples, fewer.content.run.most) == (512, MOST_AUTOMATIC)
    plain = read(tmp_path, edited()).content.run
    assert not plain.automatic
    assert plain.samples == 1024


def test_a_study_can_be_given_another_number_of_samples(tmp_path: Path) -> None:
    text = AUTO + '\n[[alternative]]\nname = "Wider"\nset = { "lane.screen.width_m" = 5.0 }\n'
    study = read(tmp_path, text)
    more = study.with_samples(4096)
    assert more.content.run.samples == more.alternatives["Wider"].run.samples == 4096
    assert more.content.run.automatic
    assert study.content.run.samples == 1024
    assert (more.sha256, more.content.flow) == (study.sha256, study.content.flow)


def test_money_is_read(tmp_path: Path) -> None:
    decision = read(tmp_path, MONEY).content.decision
    assert (decision.loss_if_overtopped, decision.cost_of_acting) == (250000.0, 18000.0)
    assert read(tmp_path, edited()).content.decision.loss_if_overtopped is None


ONLY = 'Write samples = "auto", or remove it.'
WHOLE = 'a whole number from 64 to 16777216, or "auto"'
CASES = [
    (AUTO, 'samples = "auto"', 'samples = "atuo"', "run.samples", WHOLE, 'the text "atuo"', 'Write "auto".'),
    (edited(), "samples = 1024", 'samples = "many"', "run.samples", WHOLE, 'the text "many"', "Write a whole number."),
    (AUTO, "precision_m = 0.02", "precision_m = 0", "run.precision_m", "a number above 0", "the number 0", "Correct the number."),
    (AUTO, "precision_m = 0.02", "precison_m = 0.02", "run.precison_m", "one of the keys samples, replicates, design, seed, precision_m, most_samples, second_order", "the unknown key precison_m", "Did you mean precision_m?"),
    (AUTO, "most_samples = 65536", "most_samples = 1024", "run.most_samples", "at least 2048 samples, to hold 1024 against twice as many", "the number 1024", "Raise it, or take fewer replicates."),
    (edited(), "samples = 1024", "samples = 1024\nprecision_m = 0.02", "run.precision_m", 'precision_m only beside samples = "auto"', "it beside a number", ONLY),
    (edited(), "samples = 1024", "most_samples = 4096", "run.most_samples", 'most_samples only beside samples = "auto"', "it beside a number", ONLY),
    (edited(), "samples = 1024", 'samples = 1024\nsecond_order = "yes"', "run.second_order", "true or false", 'the text "yes"', "Write true or false, without quotation marks."),
    (MONEY, "loss_if_overtopped = 250000", "loss_if_overtopped = 0", "decision.loss_if_overtopped", "a number above 0", "the number 0", "Correct the number."),
    (MONEY, "cost_of_acting = 18000.0", "cost_of_actng = 18000.0", "decision.cost_of_actng", "one of the keys target_probability, assurance, target_in_a_year, target_over_life, at, loss_if_overtopped, cost_of_acting, tolerance_m, requirements", "the unknown key cost_of_actng", "Did you mean cost_of_acting?"),
]  # fmt: skip


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case[3]}: {case[5]}")
def test_one_fault_with_its_place_and_its_remedy(case: tuple[str, ...], tmp_path: Path) -> None:
    sound, old, new, name, expected, got, remedy = case
    text = edited((old, new), text=sound)
    line = line_of(new.splitlines()[-1], text)
    assert only_fault(tmp_path, text) == Fault(f"line {line}, {name}", expected, got, remedy)


@pytest.mark.parametrize("missing", ["loss_if_overtopped", "cost_of_acting"])
def test_loss_and_cost_only_together(missing: str, tmp_path: Path) -> None:
    kept = [line for line in MONEY.splitlines() if not line.startswith(missing)]
    fault = only_fault(tmp_path, "\n".join(kept))
    line = kept.index("[decision]") + 1
    expected = "loss_if_overtopped and cost_of_acting, or neither"
    remedy = f"Add {missing} = ... here, or remove the other."
    assert fault == Fault(f"line {line}, decision.{missing}", expected, "only one of them", remedy)


def test_auto_needs_a_precision(tmp_path: Path) -> None:
    found = faults(tmp_path, AUTO.replace("precision_m = 0.02\n", "").replace("seed = 3", "seed = -3"))
    assert [fault.place.split(", ")[1] for fault in found] == ["run.precision_m", "run.seed"]
    assert found[0].got == "nothing"
    assert found[0].remedy == "Add precision_m = ... here."
