"""The pages: their snippets run, their commands exist, and what they generate is complete."""

from __future__ import annotations

import re
import runpy
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

import overbank
from overbank.outputs.outcome import Outcome
from overbank.run import run
from overbank.study.kinds import KINDS
from overbank.study.load import Study
from overbank.study.reading.families import FAMILIES
from overbank.study.reading.table import Table
from small import study

ROOT = Path(__file__).parents[1]
DOCS = ROOT / "docs"
PAGES = sorted((DOCS / "pages").rglob("*.md"))
SNIPPETS = sorted((DOCS / "snippets").glob("*.py"))

sys.path.insert(0, str(DOCS))

from generate import coefficients, commands, docstrings, study_file, verification  # noqa: E402

OF_RESULTS = {
    "recount": study,
    "weighted": lambda _: overbank.read_study(DOCS / "snippets" / "reach").with_samples(1024),
}
"""Snippets that read a results folder, and the study that is run for them."""

FEW = 512
"""Samples of a snippet's runs in the tests, which look at whether it runs; the pages show it with its own number."""


def run_with_few(study: Study) -> Outcome:
    return run(study.with_samples(min(FEW, study.content.run.samples)))


@pytest.mark.parametrize("path", SNIPPETS, ids=lambda path: path.stem)
def test_snippet_runs_and_says_something(
    path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(ROOT)
    monkeypatch.setattr(overbank, "run_study", run_with_few)
    if path.stem in OF_RESULTS:
        overbank.write_results(overbank.run_study(OF_RESULTS[path.stem](tmp_path)), tmp_path / "results")
        monkeypatch.setattr(sys, "argv", [str(path), str(tmp_path / "results")])
    runpy.run_path(str(path), run_name="__main__")
    assert capsys.readouterr().out.count("\n") >= 3


def test_every_snippet_is_shown_and_run_on_a_page() -> None:
    text = "".join(page.read_text(encoding="utf-8") for page in PAGES)
    for path in SNIPPETS:
        assert f"<!-- snippet: {path.name} -->" in text
        assert f"<!-- command: python docs/snippets/{path.name}" in text


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.stem)
def test_commands_of_a_page_are_real(page: Path) -> None:
    """Each is a command of the program with options that it has, or a snippet."""
    for command in re.findall(r"<!-- command: (.*?) -->", page.read_text(encoding="utf-8")):
        program, word, *_ = command.split()
        if program == "overbank":
            assert word in {"new", "check", "run", "compare", "register"}
        else:
            assert (program, (ROOT / word).is_file()) == ("python", True)


def test_marks_of_pages_are_carried_out_in_their_order() -> None:
    """A page that goes on with the results of the first works in its folder, any other in one of its own."""
    pages = {
        commands.GO_ON[0]: "Mend it: <!-- edit: mine/study.toml | rise_m              = 1.5 | rise_m = -1.5 -->",
        "other.md": "<!-- snippet: brook/ford-lane.toml | 1 -->",
        commands.FIRST: "<!-- command: overbank new mine -->, and again <!-- command: overbank new mine -->",
    }
    done = commands.carried_out(pages)
    written, refused = done[commands.FIRST].texts
    assert written.startswith("```sh\noverbank new mine\n```")
    assert "Wrote mine/study.toml" in written
    assert "mine: expected a folder without study.toml" in refused
    assert (done[commands.FIRST].folder / "mine" / "study.toml").read_text(encoding="utf-8").count("rise_m = -1.5") == 1
    assert commands.replaced(pages[commands.GO_ON[0]], done[commands.GO_ON[0]].texts) == "Mend it: "
    assert done["other.md"].texts == ['```toml\ntitle = "Ford Lane (invented)"\n```']
    assert done["other.md"].folder != done[commands.FIRST].folder


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.stem)
def test_lines_of_a_page_fit_an_editor(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    assert max(len(line) for line in text.splitlines() if not line.startswith(("|", "<!--"))) <= 130


def keys_of(found: type[study_file.Table]) -> set[str]:
    """Every key of a table and of the tables in it."""
    keys = set(found.model_fields)
    for field in found.model_fields.values():
        for inner in study_file._tables(field.annotation):
            keys |= keys_of(inner)
    return keys


def test_reference_of_the_study_file_is_complete() -> None:
    page = study_file.page()
    for key in keys_of(study_file.schema.StudyFile):
        assert f"| `{key}` | " in page, key
    for word in FAMILIES:
        assert f"| `{word}` | " in page, word
    for kind in KINDS:
        assert study_file.cell(f'of kind = "{kind}"') in page


def test_reference_of_the_study_file_explains_every_key() -> None:
    rows = [line.split(" | ") for line in study_file.page().splitlines() if line.startswith("| `")]
    assert len(rows) > 80
    for row in rows:
        assert all(cell.strip(" |") for cell in row), row


def test_keys_lead_to_where_their_words_are_explained() -> None:
    page = study_file.page()
    made = coefficients.page()
    for key, link in study_file.LINKS.items():
        assert f"| `{key}` | " in page
        assert f"([words]({link}))" in page
        name, _, anchor = link.partition("#")
        file = DOCS / "pages" / "reference" / (name or "study-file.md")
        headings = re.findall(r"^#+ (.*)$", file.read_text(encoding="utf-8") + "\n" + made, re.MULTILINE)
        assert anchor in {heading.lower().replace(" ", "-") for heading in headings}, link


def test_a_whole_example_of_every_kind_stands_in_the_reference() -> None:
    page = study_file.page()
    for kind in KINDS:
        assert re.search(rf'^kind *= "{kind}"', page, re.MULTILINE), kind


def test_words_for_absent_keys_are_of_keys_that_are_there() -> None:
    tables = list(every_table(Table))
    assert len(tables) > 60
    for table in tables:
        own = table.__dict__.get("IF_LEFT_OUT", {})
        keys = {key for each in (table, *every_table(table)) for key in each.model_fields}
        assert set(own) <= keys, table.__name__
    assert set(study_file.WHAT) <= {key for table in tables for key in table.model_fields}


def every_table(parent: type[Table]) -> Iterator[type[Table]]:
    """All tables that are made from this one, the program's own."""
    for each in parent.__subclasses__():
        if each.__module__.startswith("overbank."):
            yield each
            yield from every_table(each)


def test_expectations_are_those_of_the_program() -> None:
    """Two that are known from the design: a roughness, and the words of a pattern."""
    page = study_file.page()
    assert "a Manning n from 0.005 to 0.5, or a distribution" in page
    assert '"uniform", "floating&#95;raft" or "bottom&#95;up"' in page


def test_verification_shows_every_value_and_those_not_met_first() -> None:
    rows = verification.rows_with_results()
    page = verification.page()
    for row in rows:
        assert f"| {verification.cell(row['id'])} | " in page
    missed = sum(not row["within"] for row in rows)
    assert f"{len(rows) - missed} are met within the deviation allowed, {missed} are not." in page


def test_a_value_that_is_not_met_is_shown_plainly(monkeypatch: pytest.MonkeyPatch) -> None:
    row = {**verification.rows_with_results()[0], "id": "wrong-one", "within": False, "obtained": 123.0}
    monkeypatch.setattr(verification, "rows_with_results", lambda: [row])
    page = verification.page()
    assert page.index("wrong&#45;one" if "wrong&#45;one" in page else "wrong-one") < page.index("All values")
    assert "0 are met within the deviation allowed, 1 are not" in page


def test_coefficients_name_their_source() -> None:
    page = coefficients.page()
    assert "`wingwalls 30 to 75 deg`" in page
    assert page.count("FHWA HDS-5") > 50


def test_docstrings_keep_their_words() -> None:
    parts = ("flow, depth : of water [m]\n    and more", "Returns\n-------\nA level.", "It : ends.")
    text = "\n\n".join(["Head.", f"Parameters\n----------\n{parts[0]}", *parts[1:]])
    changed = docstrings.reworded(text, "float")
    assert "flow, depth\n    of water [m]\n    and more\n" in changed
    assert "Returns\n-------\nfloat\n    A level.\n" in changed
    assert changed.endswith("It : ends.")
