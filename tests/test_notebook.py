"""Results in a notebook: that of the repository runs, and what it shows is a short table with figures and cautions."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import nbformat
import pytest
from nbclient import NotebookClient

from overbank.analysis.intervals import Estimate
from overbank.notebook import shown
from overbank.outputs.medians import deterministic_run
from overbank.words import cautions, rounded
from report.outcomes import outcome
from report.reading import Page

STUDIES = Path(__file__).parents[1] / "studies"
NOTEBOOK = STUDIES / "in-a-notebook.ipynb"

TAGS = {"div", "p", "strong", "table", "tr", "th", "td", "details", "summary", "ul", "li"}


@pytest.fixture(scope="module")
def cells() -> list[Any]:
    """The cells of code, run one after another in a fresh kernel."""
    notebook = nbformat.read(NOTEBOOK, as_version=4)
    client = NotebookClient(
        notebook, timeout=120, kernel_name="python3", resources={"metadata": {"path": str(STUDIES)}}
    )
    client.execute()
    return [cell for cell in notebook.cells if cell.cell_type == "code"]


def test_every_cell_shows_something_and_none_complains(cells: list[Any]) -> None:
    for cell in cells:
        kinds = {output.output_type for output in cell.outputs}
        assert kinds in ({"execute_result"}, {"display_data"}), cell.source
    shows = [cell.outputs[0].data for cell in cells]
    assert sum("text/html" in data for data in shows) == 5
    assert sum("image/png" in data for data in shows) == 1
    assert "probability of overtopping" in shows[0]["text/html"]
    assert "95 % interval" in shows[2]["text/html"]


def test_the_notebook_is_stored_without_outputs() -> None:
    notebook = nbformat.read(NOTEBOOK, as_version=4)
    nbformat.validate(notebook)
    assert "invented" in notebook.cells[0].source
    assert all(not cell.outputs for cell in notebook.cells if cell.cell_type == "code")


def test_an_outcome_shows_its_headline_figures_with_intervals_and_cautions() -> None:
    made = outcome("lane")
    page = Page(made._repr_html_())
    best, blocked = made.overtopping.best, made.blockage
    assert blocked is not None
    figures = [(best, "p"), (made.headwater.quantiles[0.9], "m"), (blocked.largest, "%"), (blocked.allowance, "%")]
    text = page.text.replace("\u00a0", " ")
    for estimate, unit in figures:
        for words in rounded(estimate, unit):
            assert words.replace("\u00a0", " ") in text
    for caution in cautions():
        assert caution in text
    assert f"{made.samples.levels.size:,} samples" in text


@pytest.mark.parametrize("study", ["no blockage", "never a way through", "floods of a year", "a gap"])
def test_odd_outcomes_are_shown_too(study: str) -> None:
    made = outcome(study)
    text = Page(made._repr_html_()).text
    assert not any(word in text.split() for word in ("nan", "inf", "None"))
    assert ("overtopping in a year" in text) == (study == "floods of a year")
    assert ("Without a basis" in text) == bool(made.problem.gaps())
    assert made.place in deterministic_run(made.study)._repr_html_()


def test_nothing_is_asked_for_and_text_stays_text() -> None:
    made = outcome("hostile")
    for html in (made._repr_html_(), made.study._repr_html_(), deterministic_run(made.study)._repr_html_()):
        assert {tag for tag, _ in Page(html).elements} <= TAGS
        assert "&lt;script&gt;" in html
        assert "http" not in html.replace("&lt;script&gt;", "")


def test_a_note_stands_beside_its_figure() -> None:
    made = outcome("lane")
    assert made.blockage is not None
    noted = replace(made.blockage, allowance=Estimate(1.0, 1.0, 1.0, "by hand", "all of them stand lower"))
    assert "all of them stand lower" in replace(made, blockage=noted)._repr_html_()


def test_a_table_is_well_formed() -> None:
    page = Page(shown("a < b", ("x", "y"), [("1 & 2", "3")], ["below"], ["more"]))
    assert [len(page.all(tag)) for tag in ("table", "tr", "th", "td", "details")] == [1, 2, 3, 1, 1]
    assert "a < b" in page.text
    assert "<details>" not in shown("a", ("x",), [("1",)])
