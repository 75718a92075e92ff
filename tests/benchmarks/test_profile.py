"""Where the time of a standard run goes: the Quillet Lane study, from its file to its report.

The times are by the clock and depend on the machine: they are shown, not asserted.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from benchmarks.table import Table
from overbank import results, run
from overbank.files import store
from overbank.model import Model
from overbank.report import page
from overbank.study.build import build
from overbank.study.load import read_study
from overbank.uncertain.inputs import Inputs

pytestmark = pytest.mark.benchmark

STUDY = Path(__file__).parents[2] / "studies" / "quillet-lane"


class Shares:
    """Time inside some functions, without that of the others inside them [s]."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self._patch = monkeypatch.setattr
        self._open: list[float] = []
        self.spent: dict[str, float] = {}

    def watch(self, part: str, owner: object, *names: str) -> None:
        for name in names:
            self._patch(owner, name, self._timed(part, getattr(owner, name)))

    def _timed(self, part: str, function: Callable[..., Any]) -> Callable[..., Any]:
        def timed(*given: Any, **named: Any) -> Any:
            self._open.append(0.0)
            begun = time.perf_counter()
            try:
                return function(*given, **named)
            finally:
                taken = time.perf_counter() - begun
                self.spent[part] = self.spent.get(part, 0.0) + taken - self._open.pop()
                if self._open:
                    self._open[-1] += taken

        return timed


def test_shares_of_a_standard_run(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, table: Table) -> None:
    study = read_study(STUDY)
    model = Model(build(study))
    model.march(model.problem.inputs.sample("sobol", 16, 1, 1)[1][0])  # compiled, or fetched from the disk
    shares = Shares(monkeypatch)
    shares.watch("hydraulics", Model, "march", "levels_at", "levels")
    shares.watch("sampling", Inputs, "values", "sample")
    shares.watch("figures", page, "_plate")
    shares.watch("report", page, "write_report")
    shares.watch("tables", results, "write_tables")
    begun = time.perf_counter()
    outcome = run.run(study)
    between = time.perf_counter()
    results.write_all(outcome, tmp_path)
    end = time.perf_counter()
    spent = {**shares.spent, "analysis": between - begun - shares.spent["hydraulics"] - shares.spent["sampling"]}
    assert store.summary(outcome)["model_runs"] == outcome.runs
    whole = end - begun
    table.share(f"Quillet Lane, {outcome.samples.levels.size:,} samples, {outcome.runs:,} model runs", whole, whole)
    for part, seconds in sorted(spent.items(), key=lambda item: -item[1]):
        table.share(f"  {part}", seconds, whole)
    for stage, seconds in outcome.seconds.items():
        table.share(f"  of the run, {stage}", seconds, whole)
    table.at_most("Quillet Lane, figures, report and tables", end - between, 10.0, "s")
