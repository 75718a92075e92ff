"""What commands are asked to change: keys set, samples, sweeps; and what is refused in words."""

from __future__ import annotations

import json
from pathlib import Path

import pandas as pd
import pytest

from overbank.commands.asked import changed, values_of
from overbank.errors import DomainError, OverbankError
from small import edited, study
from test_cli import QUICK, Overbank, overbank, written  # noqa: F401  (a fixture)


def test_keys_are_set_as_a_study_would_say_them(tmp_path: Path) -> None:
    asked = ("lane.screen.gap_m=0.15", "lane.screen.pattern = bottom_up", "lane.screen.blockage={ value = 0.5 }")
    found = changed(study(tmp_path), asked, 256)
    assert found.content.run.samples == 256
    assert found.given == {
        "lane.screen.gap_m": 0.15,
        "lane.screen.pattern": "bottom_up",
        "lane.screen.blockage": {"value": 0.5},
    }


@pytest.mark.parametrize("words", ["lane.screen.gap_m", "=0.15", "lane.screen.gap_m="])
def test_what_sets_nothing_is_refused(words: str, tmp_path: Path) -> None:
    with pytest.raises(OverbankError, match="expected name=value, such as lane"):
        changed(study(tmp_path), (words,), None)


def test_values_of_a_sweep() -> None:
    assert values_of("2:4:0.5") == [2.0, 2.5, 3.0, 3.5, 4.0]
    assert values_of("0.1:0.3:0.1") == [0.1, 0.2, 0.3]
    assert values_of("0.10, 0.15") == [0.10, 0.15]
    assert values_of("uniform,bottom_up") == ["uniform", "bottom_up"]
    for wrong in ("2:4", "2:4:0", "4:2:1", "0:1:0.0001", "a:b:c", "", ","):
        with pytest.raises(DomainError, match="the values: expected"):
            values_of(wrong)


def test_a_sweep_gives_table_and_picture(overbank: Overbank, tmp_path: Path) -> None:  # noqa: F811
    file, table, picture = written(tmp_path, edited(QUICK)), tmp_path / "widths.csv", tmp_path / "widths.png"
    words = ("sweep", file, "lane.screen.width_m", "3.0,5.0", "--out", table, "--picture", picture)
    said = overbank(*words)
    assert (said.status, "allowance" in said.out) == (0, True)
    found = pd.read_csv(table)
    assert found["lane.screen.width_m"].tolist() == [3.0, 5.0]
    assert found["probability"].is_monotonic_decreasing
    assert picture.read_bytes().startswith(b"\x89PNG")
    assert overbank(*words).status == 0
    table.write_text("mine\n", encoding="utf-8")
    assert (overbank(*words).status, table.read_text(encoding="utf-8")) == (2, "mine\n")


def test_a_run_tells_what_it_was_given(overbank: Overbank, tmp_path: Path) -> None:  # noqa: F811
    said = overbank("run", written(tmp_path, edited(QUICK)), "--set", "lane.screen.gap_m=0.15", "--quick")
    assert said.status == 0
    manifest = json.loads((tmp_path / "results" / "manifest.json").read_text(encoding="utf-8"))
    assert manifest["given"] == {"lane.screen.gap_m": "0.15"}
    assert "= 0.15" in (tmp_path / "results" / "report.html").read_text(encoding="utf-8")


def test_the_version_is_told(overbank: Overbank) -> None:  # noqa: F811
    assert overbank("--version").out.startswith("overbank ")
