"""What visits to many screens tell of each: a published posterior, what was simulated, and what is carried."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from overbank.errors import DomainError, StudyError
from overbank.register.rows import document_of, values_of
from overbank.register.visits import borrowed, screens_of
from registers import DEFAULTS, read

HEAD = "asset_id,time_start,reason,observed,blocked_before_pct,blocked_basis,method,cleared\n"
VISITS = '\n[visits]\nfile = "visits.csv"\nprior = "screen, medium debris, routine raking"\n'
FOUND = (0, 45, 100)
"""Per cent of a visit that finds nothing, a part, and everything blocked."""


def test_the_posterior_of_a_published_group() -> None:
    """4 of 14 beside Beta(1.4, 8.6): Beta(5.4, 18.6), mean .225 (Gelman and others, Bayesian Data Analysis, ch. 5)."""
    assert borrowed(np.array([4.0, 10.0]), np.array([1.4, 8.6]))[0] == pytest.approx(0.225)


def visits(counts: dict[str, tuple[int, int, int]]) -> str:
    """A file of visits, each a day after the last, the screen raked clean at each."""
    lines = []
    for screen, several in counts.items():
        looks = np.repeat(FOUND, several)
        lines += [
            f"{screen},2025-01-{1 + number:02d}T09:00:00,scheduled,yes,{share},clear_opening,eye,full"
            for number, share in enumerate(looks)
        ]
    return HEAD + "\n".join(lines) + "\n"


def register(folder: Path, counts: dict[str, tuple[int, int, int]], unvisited: int = 0) -> tuple:
    """Screens of one class with these visits, and some that nobody visited."""
    names = [*counts, *(f"new{number}" for number in range(unvisited))]
    rows = [f"{name},culvert,wooded,1800,12.0,3.0,2.6" for name in names]
    table = "\n".join(["Asset,kind,class,Width (mm),Bank,flow.design_m3_s,culvert.screen.width_m", *rows]) + "\n"
    found = read(folder, table, DEFAULTS + VISITS)
    (folder / "visits.csv").write_text(visits(counts), encoding="utf-8")
    return found


def test_screens_borrow_and_stand_nearer_the_truth_than_what_was_seen(tmp_path: Path) -> None:
    """60 screens of known chances with few visits each: the mean square error falls, and every screen moves inwards."""
    rng = np.random.default_rng(4)
    truth = rng.dirichlet(10.0 * np.array([0.3, 0.55, 0.15]), size=60)
    counts = {f"s{k}": tuple(rng.multinomial(int(rng.integers(2, 9)), chances)) for k, chances in enumerate(truth)}
    table = pd.DataFrame(screens_of(*register(tmp_path, counts, unvisited=2)).table)
    visited = table[:60]
    for what, chances in (("nothing", truth[:, 0]), ("everything", truth[:, 2])):
        seen, shared, taken = (visited[f"{what}_{each}"].to_numpy() for each in ("seen", "in_class", "taken"))
        assert np.mean((taken - chances) ** 2) < 0.6 * np.mean((seen - chances) ** 2)
        assert np.mean((taken - chances) ** 2) < np.mean((shared - chances) ** 2)
        inwards = np.abs(taken - shared) <= np.abs(seen - shared) + 1e-12
        assert inwards.all()
    weight = visited["weight_of_own"].to_numpy()
    np.testing.assert_allclose(
        visited["nothing_taken"], weight * visited["nothing_seen"] + (1.0 - weight) * visited["nothing_in_class"]
    )
    new = table[60:]
    assert new["weight_of_own"].tolist() == [0.0, 0.0]
    np.testing.assert_allclose(new["nothing_taken"], new["nothing_in_class"])


def test_the_posterior_is_carried_into_the_study_of_a_row(tmp_path: Path) -> None:
    counts = {"a": (8, 2, 0), "b": (1, 3, 6), "c": (3, 5, 1)}
    register_, said = register(tmp_path, counts)
    screens = screens_of(register_, said)
    first = register_.entries[0]
    document = document_of(first, values_of(first, said, screens.blockages["a"]), said)
    blockage = document["element"][0]["screen"]["blockage"]
    assert blockage["inflated_beta"]["at_zero"] == screens.table[0]["nothing_taken"]
    assert "own visits worth 10 looks" in blockage["basis"]
    taken = [row["everything_taken"] for row in screens.table]
    assert taken[0] < taken[2] < taken[1]


def test_visits_to_screens_that_are_not_there_are_counted(tmp_path: Path) -> None:
    register_, said = register(tmp_path, {"a": (8, 2, 0), "b": (1, 3, 6), "c": (3, 5, 1)})
    with (tmp_path / "visits.csv").open("a", encoding="utf-8") as file:
        file.write("gone,2025-03-01T09:00:00,scheduled,yes,0,clear_opening,eye,full\n")
    assert screens_of(register_, said).unused == 1


def test_too_few_visits_and_faults_of_the_file_are_one_message(tmp_path: Path) -> None:
    register_, said = register(tmp_path, {"a": (3, 0, 0), "b": (0, 1, 1)})
    with pytest.raises(DomainError, match="at 3 screens"):
        screens_of(register_, said)
    (tmp_path / "visits.csv").write_text(HEAD + "a,soon,scheduled,yes,140,clear_opening,eye,full\n", encoding="utf-8")
    with pytest.raises(StudyError) as refused:
        screens_of(register_, said)
    assert len(refused.value.faults) == 2
