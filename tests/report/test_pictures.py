"""Long section, plan and sections of a check as a picture."""

from __future__ import annotations

from pathlib import Path

import pytest

from overbank.errors import FolderError
from overbank.outputs.medians import deterministic_run
from overbank.report.pictures import save_site
from overbank.report.section import section_at_medians
from overbank.study.load import read_study

from .outcomes import STUDIES, outcome


@pytest.mark.parametrize("study", ["quillet-lane", "box-under-a-road"])
def test_picture_is_a_png_whatever_its_name(study: str, tmp_path: Path) -> None:
    path = tmp_path / "section.anything"
    save_site(deterministic_run(read_study(STUDIES / study)), path)
    assert path.read_bytes()[:8] == b"\x89PNG\r\n\x1a\n"


def test_a_run_without_a_way_through_can_be_drawn(tmp_path: Path) -> None:
    made = outcome("never a way through")
    result = deterministic_run(made.study)
    assert not section_at_medians(result).pieces[-1].certain[0] < 1e9
    save_site(result, tmp_path / "section.png")


def test_a_place_that_cannot_be_written_is_one_clear_message(tmp_path: Path) -> None:
    result = deterministic_run(read_study(STUDIES / "quillet-lane"))
    with pytest.raises(FolderError, match="expected a PNG file that can be written; got No such file"):
        save_site(result, tmp_path / "missing" / "section.png")
    with pytest.raises(FolderError, match="expected a PNG file that can be written; got Is a directory"):
        save_site(result, tmp_path)
