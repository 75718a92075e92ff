"""The copy says what is held and leaves all else as it was written; it is a new folder inside the study's own."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from facts import each_holds
from overbank.errors import FolderError, StudyError
from overbank.live.answers import Live
from overbank.live.controls import controls_of
from overbank.live.copies import copy_of, edited, free_name, write
from overbank.model import Model
from overbank.study.build import build
from overbank.study.load import make_study, read_study
from small import DEPENDENCE, study

ROOT = Path(__file__).parents[2]
STUDIES = [
    *(ROOT / "studies").glob("*/s[tqk]*.toml"),
    *(ROOT / "src" / "overbank" / "study" / "starter").glob("[bcsw]*.toml"),
]


def holds_every_number(file: Path) -> None:
    """Each control by itself and all of them: the number read back, and every comment of other keys still there."""
    read = read_study(file)
    controls = controls_of(Model(build(read)))
    each = [
        {control.name: control.high} for control in controls if control.name.endswith(("flow.design_m3_s", "blockage"))
    ]
    for held in (*each, {control.name: round(control.start, 3) for control in controls}):
        text = edited(read.text, held)
        if "debris-in-time" in str(file) and "lane.screen.blockage" in held:
            with pytest.raises(StudyError, match="build_up in the alternative"):  # which changes a part of it
                make_study(text, read.folder)
            continue
        copy = make_study(text, read.folder)
        medians = build(copy).medians()
        for name, value in held.items():
            assert float(medians[name]) == value, f"{file}: {name}"
        gone = {line.strip() for line in read.text.splitlines()} - {line.strip() for line in text.splitlines()}
        assert not [line for line in gone if line.startswith("#")], gone
        between = [name for each in copy.document.get("dependence", ()) for name in each["between"]]
        assert not set(between) & set(held)


def test_every_number_of_every_study_can_be_held() -> None:
    assert len(STUDIES) > 10
    each_holds(STUDIES, holds_every_number, str)


def test_us_units_and_another_way_of_saying_it_give_way(tmp_path: Path) -> None:
    flow = 'annual = { gumbel = { location = 4.0, scale = 1.0 }, basis = "invented" }\ndesign_annual_probability = 0.01'
    old = 'design_m3_s = { lognormal = { median = 6.0, cov = 0.2 }, basis = "invented", evidence = "judgement" }'
    dependence = 'between = ["flow.design_m3_s", "lane.screen.blockage"]'
    changes = [
        (old, flow),
        ("bank_level_m = 32.45", "bank_level_ft = 106.5"),
        (dependence, dependence.replace("design_m3_s", "annual")),
    ]
    read = study(tmp_path, *changes)
    copy = make_study(edited(read.text, {"flow.design_m3_s": 7.0, "garden.bank_level_m": 32.6}), tmp_path)
    assert copy.content.flow.design_annual_probability is None
    assert float(build(copy).medians()["flow.design_m3_s"]) == 7.0
    assert float(build(copy).medians()["garden.bank_level_m"]) == 32.6
    assert "bank_level_ft" not in edited(read.text, {"garden.bank_level_m": 32.6})
    feet = (old, old.replace("design_m3_s", "design_ft3_s")), (dependence, dependence.replace("m3_s", "ft3_s"))
    held = make_study(edited(study(tmp_path, *feet).text, {"flow.design_m3_s": 7.0}), tmp_path)
    assert not held.content.dependence
    assert float(build(held).medians()["flow.design_m3_s"]) == 7.0


def test_what_an_alternative_sets_in_feet_is_its_own(tmp_path: Path) -> None:
    wall = '\n[[alternative]]\nname = "wall"\nset = { "lane.bank_level_ft" = 108.0 }\n'
    live = Live(study(tmp_path, (DEPENDENCE, DEPENDENCE + wall), ("samples = 4096", "samples = 256")))
    (other,) = live.others
    assert other.once({"lane.bank_level_m": 32.0}).bank == pytest.approx(108.0 * 0.3048, abs=1e-9)


NAMES = (
    "",
    ".",
    "..",
    "../out",
    "a/b",
    "a\\b",
    "/tmp/x",
    ".hidden",
    "x.toml",
    "ends ",
    " begins",
    "a" * 61,
    "nul\0",
    "ü",
    "a\nb",
)


def test_a_copy_stays_in_the_folder_of_its_study(tmp_path: Path) -> None:
    read = study(tmp_path / "mine")

    def refused(name: str) -> None:
        with pytest.raises(FolderError, match="a plain name for a new folder"):
            copy_of(read, {"flow.design_m3_s": 7.0}, name)

    each_holds(NAMES, refused, repr)
    assert sorted(path.name for path in tmp_path.rglob("*")) == ["mine", "study.toml"]


def test_nothing_is_written_over(tmp_path: Path) -> None:
    read, held = study(tmp_path), {"flow.design_m3_s": 7.0}
    (tmp_path / "a folder").mkdir()
    (tmp_path / "a file").write_text("mine", encoding="utf-8")
    (tmp_path / "a link").symlink_to(tmp_path / "nowhere")
    for name in ("a folder", "a file", "a link"):
        with pytest.raises(FolderError, match="not there yet"):
            copy_of(read, held, name)
    copy = copy_of(read, held, free_name(read))
    copy.folder.mkdir()  # by somebody else, between the question and the answer
    with pytest.raises(FolderError, match="come to be meanwhile"):
        write(copy)
    assert list(copy.folder.iterdir()) == []
    assert free_name(read) == "by-hand-2"


def test_the_files_that_a_study_names_go_with_it(tmp_path: Path) -> None:
    shutil.copytree(ROOT / "studies" / "pipes-with-a-pool", tmp_path / "pool")
    read = read_study(tmp_path / "pool")
    write(copy_of(read, {"flow.design_m3_s": 6.5}, "other"))
    copy = read_study(tmp_path / "pool" / "other")
    assert copy.files == read.files  # the same bytes
    assert set(read.files) == {"flood.csv", "pool.csv"}


def test_numbers_that_make_no_sound_study_are_refused(tmp_path: Path) -> None:
    """A bank below the inlet: the words are those of a check."""
    with pytest.raises(StudyError, match="a bank above the inlet invert"):
        copy_of(study(tmp_path), {"lane.bank_level_m": 29.0}, "low")
