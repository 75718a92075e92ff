"""The report as PDF and as a Word document, read back by other means than those that wrote it."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import docx
import pypdf
import pytest

from overbank.commands import cli
from overbank.errors import DomainError, FolderError
from overbank.files.folders import add_to_results, fresh_folder
from overbank.files.owned import sha256
from overbank.outputs.outcome import Outcome
from overbank.report.pdf import write_pdf
from overbank.report.word import write_docx
from overbank.results import write_results
from overbank.study.load import read_study
from shared import shared_run
from small import edited, written

from .reading import Page

ONLY = ("headwater", "overtopping", "blockage", "allowances", "depth_over_bank", "one_at_a_time")


@pytest.fixture(scope="module")
def made() -> Outcome:
    from tempfile import TemporaryDirectory

    with TemporaryDirectory() as folder:
        text = edited(("samples = 4096\nreplicates = 8", "samples = 512\nreplicates = 8"))
        return shared_run(read_study(written(Path(folder), text)), ONLY)


def report(monkeypatch: pytest.MonkeyPatch, *words: str | Path) -> int:
    monkeypatch.setattr(sys, "argv", ["overbank", "report", *map(str, words)])
    with pytest.raises(SystemExit) as end:
        cli.main()
    return int(end.value.code or 0)


def flat(text: str) -> str:
    """The letters and digits alone: line breaks and spaces fall elsewhere on paper."""
    return "".join(each for each in text if each.isalnum())


def test_both_hold_the_statement_and_every_table(
    tmp_path: Path, made: Outcome, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = write_results(made, tmp_path / "results").parent
    assert report(monkeypatch, folder, "--pdf", "--docx") == 0
    assert "report.pdf" in capsys.readouterr().out
    statement = (folder / "statement.txt").read_text(encoding="utf-8")
    page = Page((folder / "report.html").read_text(encoding="utf-8"))

    printed = [each.extract_text() for each in pypdf.PdfReader(folder / "report.pdf").pages]
    assert flat(statement) in flat("".join(printed[:3]).replace(f"page 1 of {len(printed)}", ""))
    for number, text in enumerate(printed, 1):
        assert f"page {number} of {len(printed)}" in text
        assert "A small study (invented)" in text
        assert "revision not stated" in text

    word = docx.Document(str(folder / "report.docx"))
    said = [each.text for each in word.paragraphs]
    assert statement.strip() in said
    assert len(word.inline_shapes) == len(page.all("figure"))
    assert len(word.tables) == len(page.all("table"))
    cells = [cell.text for table in word.tables for row in table.rows for cell in row.cells]
    for cell in filter(None, cells):
        assert flat(cell) in flat(page.text), cell
    assert "".join(word.sections[0].header.paragraphs[0].text.split("\t")).startswith("A small study (invented)")
    assert "PAGE" in word.sections[0].footer._element.xml

    marked = json.loads((folder / "manifest.json").read_text(encoding="utf-8"))
    assert marked["files_sha256"]["report.pdf"] == sha256(folder / "report.pdf")
    with fresh_folder(folder):  # what stands there is overbank's own
        pass


def test_neither_and_no_results_are_one_message(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert report(monkeypatch, tmp_path) == 2
    assert capsys.readouterr().err == "report: expected --pdf, --docx or --xlsx, or several; got none. Say which\n"
    assert report(monkeypatch, tmp_path, "--docx") == 2
    assert "expected a folder of results; got none. Run the study first" in capsys.readouterr().err


def test_another_file_of_that_name_is_not_lost(tmp_path: Path) -> None:
    (tmp_path / "manifest.json").write_text(
        '{"written_by": "overbank 0", "files": ["manifest.json"], "files_sha256": {}}', encoding="utf-8"
    )
    (tmp_path / "report.pdf").write_text("mine", encoding="utf-8")
    with pytest.raises(FolderError, match=r"another file\. Move it"):
        add_to_results(tmp_path, "report.pdf", lambda file: file.touch())
    assert (tmp_path / "report.pdf").read_text(encoding="utf-8") == "mine"


def test_a_missing_library_is_one_message(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "report.html").write_text("<html></html>", encoding="utf-8")
    monkeypatch.setitem(sys.modules, "weasyprint", None)
    monkeypatch.setitem(sys.modules, "docx", None)
    with pytest.raises(DomainError, match=r"pip install 'overbank\[pdf\]'"):
        write_pdf(tmp_path, tmp_path / "report.pdf")
    with pytest.raises(DomainError, match=r"pip install 'overbank\[docx\]'"):
        write_docx(tmp_path, tmp_path / "report.docx")
