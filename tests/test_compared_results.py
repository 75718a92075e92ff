"""Two finished results beside each other: figures counted again from their files, and every key that is different."""

from __future__ import annotations

import json
from functools import reduce
from pathlib import Path

import pytest

from overbank.commands.compared import compare_folders
from overbank.errors import DomainError
from overbank.files.compared import compare_results
from overbank.results import write_results
from overbank.run import run
from overbank.study.load import read_study
from small import edited, written

ONLY = ("medians", "headwater", "overtopping", "blockage")

CHANGES = (
    ("lognormal = { median = 6.0, cov = 0.2 }", "lognormal = { median = 7.0, cov = 0.2 }"),
    ("manning_n = 0.014 }", "manning_n = 0.014, count = 1 }"),
    ("level_m = 32.6", "level_m = 32.7"),
    ("seed = 11", "seed = 12"),
    ("samples = 4096", "samples = 1024"),
)


@pytest.fixture(scope="module")
def two(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """Results of the small study, and of one with five lines changed."""
    folders = []
    for name, changes in (("a", ()), ("b", CHANGES)):
        folder = tmp_path_factory.mktemp(name)
        study = read_study(written(folder, edited(*changes))).with_samples(1024)
        write_results(run(study, only=ONLY), folder / "results")
        folders.append(folder)
    return folders[0], folders[1]


def test_figures_are_those_of_the_two_summaries(two: tuple[Path, Path]) -> None:
    found = compare_results(two[0], two[1] / "results")
    said = [json.loads((folder / "results" / "summary.json").read_text(encoding="utf-8")) for folder in two]
    by_words = {each.words: each for each in found.figures}
    assert "probability of overtopping in a year" not in by_words
    for words, path in (
        ("probability of overtopping", ("probability_of_overtopping", "threshold_method", "value")),
        ("level with the assurance asked for", ("headwater_not_exceeded_m", "0.9", "value")),
        ("blockage allowance", ("blockage", "allowance_for_assurance", "value")),
    ):
        values = [reduce(lambda tree, key: tree[key], path, each) for each in said]
        assert (by_words[words].first.value, by_words[words].second.value) == tuple(values)
        assert by_words[words].change == pytest.approx(values[1] - values[0])
    assert not by_words["probability of overtopping"].within, "a sixth more water is no matter of sampling"
    assert by_words["bank, at its median"].within


def test_every_changed_key_is_named_and_no_other(two: tuple[Path, Path]) -> None:
    found = {each.name: (each.first, each.second) for each in compare_results(*two).changes}
    assert found == {
        "flow.design_m3_s.lognormal.median": ("6.0", "7.0"),
        "lane.barrel.count": ("", "1"),
        "lane.road.level_m": ("32.6", "32.7"),
        "[seed]": ("11", "12"),
    }


def test_results_beside_themselves_are_the_same(two: tuple[Path, Path]) -> None:
    found = compare_results(two[0], two[0])
    assert found.changes == ()
    assert all(each.change == 0.0 and each.within for each in found.figures)


def test_the_command_shows_both(two: tuple[Path, Path], capsys: pytest.CaptureFixture[str]) -> None:
    compare_folders(*two, as_json=False)
    said = capsys.readouterr().out
    for words in ("lane.road.level_m: 32.6 -> 32.7", "overtopping", "points", "[[alternative]]"):
        assert words in said, said
    compare_folders(*two, as_json=True)
    told = json.loads(capsys.readouterr().out)
    assert list(told) == ["titles", "places", "figures", "changes"]
    assert all(each["second"]["value"] is not None for each in told["figures"])


def test_a_folder_without_results_is_one_message(two: tuple[Path, Path], tmp_path: Path) -> None:
    (tmp_path / "summary.json").write_text("{}", encoding="utf-8")
    with pytest.raises(DomainError, match=r"expected a folder of results.*Run the study first"):
        compare_results(two[0], tmp_path)
    broken = tmp_path / "broken"
    broken.mkdir()
    for name in ("manifest.json", "summary.json"):
        (broken / name).write_bytes((two[0] / "results" / name).read_bytes())
    (broken / "summary.json").write_text("{", encoding="utf-8")
    with pytest.raises(DomainError, match=r"summary\.json: cannot be read back"):
        compare_results(two[0], broken)
