"""The printed front is at most three A4 pages, and the button of the statement does what it says.

On demand, `pytest -m slow tests/browser`; needs a headless Chromium on the machine.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from overbank.report.page import write_report
from overbank.run import run
from overbank.study.load import read_study
from report.outcomes import STUDIES, outcome

from .test_panel import browse

pytestmark = pytest.mark.slow

MOST_PAGES, FEWER_THAN = 3, 16


@pytest.mark.parametrize("study", ["lane", "floods of a year", "floods seen", "a gap"])
def test_the_front_is_at_most_three_pages(tmp_path: Path, study: str) -> None:
    write_report(outcome(study), tmp_path)
    text = (tmp_path / "report.html").read_text(encoding="utf-8")
    front, appendices = text.split('<p class="part" id="appendices">')
    printed, cut = tmp_path / "front.pdf", tmp_path / "front.html"
    cut.write_text(front + appendices[appendices.index("</main>") :], encoding="utf-8")
    browse(cut.as_uri(), tmp_path / "profile", "--no-pdf-header-footer", f"--print-to-pdf={printed}")
    pages = len(re.findall(rb"/Type\s*/Page\b", printed.read_bytes()))
    assert 1 <= pages <= MOST_PAGES


@pytest.mark.parametrize("name", ["quillet-lane", "debris-in-time"])
def test_the_whole_prints_on_fewer_than_16_pages(tmp_path: Path, name: str) -> None:
    write_report(run(read_study(STUDIES / name).with_samples(256)), tmp_path)
    printed = tmp_path / "whole.pdf"
    page = (tmp_path / "report.html").as_uri()
    browse(page, tmp_path / "profile", "--no-pdf-header-footer", f"--print-to-pdf={printed}")
    assert len(re.findall(rb"/Type\s*/Page\b", printed.read_bytes())) < FEWER_THAN


@pytest.mark.parametrize("width", ["400,844", "1280,900"])
def test_the_button_copies_or_marks_the_statement(tmp_path: Path, width: str) -> None:
    write_report(outcome("lane"), tmp_path)
    page = tmp_path / "report.html"
    press = '<script>document.getElementById("statement-copy").click();</script></body>'
    page.write_text(page.read_text(encoding="utf-8").replace("</body>", press), encoding="utf-8")
    loaded = browse(page.as_uri(), tmp_path / "profile", f"--window-size={width}", "--dump-dom")
    said = re.search(r'id="statement-copied">([^<]*)<', loaded.stdout)
    assert said is not None
    assert said[1] in ("Copied.", "Marked: copy it with the keyboard.")
    assert re.search(r'id="statement-copy"(?! hidden)>', loaded.stdout)
