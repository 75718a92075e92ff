"""Alternatives: what they change, and that the impossible ones are reported together before anything runs."""

from __future__ import annotations

from pathlib import Path

import pytest

from overbank.errors import StudyError
from overbank.study.build import build
from overbank.study.load import Study, read_study
from small import SMALL, written

WIDE = '[[alternative]]\nname = "wide gaps"\nset = { "lane.screen.gap_m" = 0.15, "lane.screen.width_m" = 5.0 }\n'
NONE = (
    '[[alternative]]\nname = "no screen"\nremove = ["lane.screen"]\n'
    'set = { "lane.blockage" = { beta = { a = 1.5, b = 4.0 } } }\n'
)


def read(folder: Path, text: str) -> Study:
    return read_study(written(folder, SMALL + "\n" + text))


def faults(folder: Path, text: str) -> list[str]:
    with pytest.raises(StudyError) as caught:
        read(folder, text)
    return [str(fault) for fault in caught.value.faults]


def test_changes_are_made_and_all_else_stays(tmp_path: Path) -> None:
    study = read(tmp_path, WIDE)
    own, other = build(study), build(study.alternative("wide gaps"))
    differ = {name for name in own.fixed if own.fixed[name] != other.fixed[name]}
    assert differ == {"lane.screen.gap_m", "lane.screen.width_m"}
    assert other.fixed["lane.screen.gap_m"] == 0.15
    assert own.inputs.names == other.inputs.names
    assert study.alternative("wide gaps").alternatives == {}


def test_what_is_removed_takes_its_dependences_along(tmp_path: Path) -> None:
    study = read(tmp_path, NONE)
    other = build(study.alternative("no screen"))
    assert "lane.blockage" in other.inputs.names
    assert not any(name.startswith("lane.screen") for name in (*other.inputs.names, *other.fixed))
    assert other.dependences == ()
    assert build(study).dependences != ()


def test_an_element_can_be_taken_out(tmp_path: Path) -> None:
    study = read(tmp_path, '[[alternative]]\nname = "no garden"\nremove = ["garden"]\n')
    assert [each.id for each in build(study.alternative("no garden")).site.elements] == ["lane"]


def test_tables_on_the_way_are_made(tmp_path: Path) -> None:
    change = 'set = { "lane.relief.barrel" = { shape = "pipe", diameter_m = 0.9, length_m = 20.0, '
    change += "upstream_invert_m = 31.2, downstream_invert_m = 31.1, manning_n = 0.013 }, "
    study = read(
        tmp_path,
        f'[[alternative]]\nname = "a relief pipe"\n{change}"lane.relief.inlet.edge" = "square edge in headwall" }}\n',
    )
    assert build(study.alternative("a relief pipe")).site.elements[0].relief is not None  # type: ignore[attr-defined]


def test_all_faults_of_all_alternatives_come_at_once(tmp_path: Path) -> None:
    text = WIDE.replace("lane.screen.gap_m", "lane.screen.gapp_m") + NONE.replace('["lane.screen"]', '["lane.scren"]')
    text += '[[alternative]]\nname = "sunken road"\nset = { "lane.road.level_m" = 29.0, "lne.road.length_m" = 20.0 }\n'
    found = faults(tmp_path, text)
    line = len(SMALL.splitlines())
    assert len(found) == 5, found
    assert f"line {line + 4}, alternative 1.set.lane.screen.gapp_m" in found[0]
    assert "Did you mean gap_m?" in found[0]
    assert 'at lane.screen.gapp_m in the alternative "wide gaps"' in found[0]
    assert any("alternative 2.remove" in each and '"lane.scren"' in each for each in found)
    assert any("alternative 2" in each and "blockage on the screen" in each for each in found)
    assert any("a road above the inlet invert" in each and 'in the alternative "sunken road"' in each for each in found)
    assert any('Did you mean "lane"?' in each for each in found)


def test_a_fault_of_the_study_itself_is_not_told_again_by_its_alternatives(tmp_path: Path) -> None:
    with pytest.raises(StudyError) as caught:
        read_study(written(tmp_path, SMALL.replace("height_m = 1.9", "height_m = -1.9") + "\n" + WIDE))
    assert len(caught.value.faults) == 1


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ('[[alternative]]\nname = "a"\n', "set or remove"),
        ('[[alternative]]\nset = { "lane.screen.gap_m" = 0.15 }\n', "a name for the arrangement"),
        (WIDE + WIDE, "a name that no other alternative bears"),
        ('[[alternative]]\nname = "a"\nset = { lane.screen.gap_m = 0.15 }\n', "dotted names in quotation marks"),
        ('[[alternative]]\nname = "a"\nset = {}\n', "the keys to change"),
        ('[[alternative]]\nname = "a"\nremove = "lane.screen"\n', "a list of dotted names"),
        ('[[alternative]]\nname = "a"\nset = { "lane.kind.x" = 1 }\n', "a dotted name of a key"),
        ('[[alternative]]\nname = "a"\nset = { "lane.kind.x.y" = 1 }\n', "where kind is no table"),
        ('[[alternative]]\nname = "a"\nremove = ["lane.screen.gapp_m"]\n', "something that the study has"),
        ('alternative = { name = "a" }\n', "[[alternative]], in double brackets"),
    ],
)
def test_faults(tmp_path: Path, text: str, expected: str) -> None:
    if text.startswith("alternative"):
        with pytest.raises(StudyError) as caught:
            read_study(written(tmp_path, text + SMALL))
        found = [str(fault) for fault in caught.value.faults]
    else:
        found = faults(tmp_path, text)
    assert any(expected in each for each in found), found
