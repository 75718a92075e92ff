"""Sections of the page: of a full run all that have something to say, of a part of it only what was asked for."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from overbank.outputs.outcome import Outcome
from overbank.outputs.registry import OUTPUTS, output, with_needs
from overbank.report import page
from overbank.report.figures import FIGURES, figures_of
from overbank.report.sections.registry import SECTIONS

from .outcomes import outcome
from .reading import Page

ALWAYS = {"answer", "judged", "assumptions", "checks", "cautions", "reproduce"}
"""Sections of every page."""


def asked(study: str, *names: str) -> Outcome:
    """The outcome of a study as it would be had only these outputs been asked for."""
    made, known = outcome(study), with_needs(names)
    samples = made.samples if any(output(name).sampled for name in known) else None
    return replace(made, asked=names, samples=samples, **{name: None for name in OUTPUTS if name not in known})


@cache
def shown(study: str, *names: str) -> str:
    """The page without pictures, of all or of some outputs."""
    made = asked(study, *names) if names else outcome(study)
    plates = {name: page.Plate(name, page.Markup(""), page.CAPTIONS[name](made)) for name in figures_of(made)}
    return page.page(made, plates)


def sections(text: str) -> list[str]:
    return re.findall(r'<section id="([^"]+)"', text)


def test_anchors_and_figures_are_each_of_one_section_and_every_output_is_shown() -> None:
    anchors = [section.anchor for section in SECTIONS]
    assert len(anchors) == len(set(anchors))
    figures = [name for section in SECTIONS for name in section.figures]
    assert sorted(figures) == sorted(FIGURES)
    of_checks = {"automatic", "convergence", "remarks"}
    assert {name for section in SECTIONS for name in section.shows} == set(OUTPUTS) - of_checks
    home = Path(page.__file__).parent / "sections"
    assert {path.name for path in home.glob("*.html")} == {section.template for section in SECTIONS}


def test_a_full_run_has_its_sections_in_order() -> None:
    found = sections(shown("lane"))
    left_out = {
        *(
            "floods",
            "tails-compared",
            "arrangements-compared",
            "years",
            "money",
            "surveys-over-life",
            "receptors",
            "spilled",
            "flood-in-time",
        ),
        *("floods-seen", "requirements", "decision-map"),
    }
    assert found == [section.anchor for section in SECTIONS if section.anchor not in left_out]
    assert "Not on this page" not in shown("lane")


@pytest.mark.parametrize("study", ["lane", "no blockage", "never a way through"])
@pytest.mark.parametrize("name", OUTPUTS)
def test_every_output_alone_makes_a_whole_page(study: str, name: str) -> None:
    text = shown(study, name)
    made, found = Page(text), sections(text)
    assert set(found) >= ALWAYS
    assert "reviewers" not in found
    known = with_needs((name,))
    for section in SECTIONS:
        if section.anchor in found:
            assert not section.shows or set(section.shows) & set(known), section.anchor
    ids = {attributes["id"] for _, attributes in made.elements if "id" in attributes}
    assert {attributes["href"][1:] for _, attributes in made.elements if "href" in attributes} <= ids
    assert not re.search(r"\b(nan|None|inf)\b", made.text.split("The study file as it was read")[0])
    assert "Could not be done" not in text
    assert f"Only this was asked for: {name}." in made.text
    assert f"overbank run study.toml --only {name}" in made.text


def test_a_page_of_the_level_alone_says_what_is_missing() -> None:
    text = shown("lane", "headwater")
    assert sections(text) == [
        *("answer", "picture", "judged", "cautions", "key-figures", "assumptions", "level", "checks", "reproduce")
    ]
    words = Page(text).text
    assert "This is about the water upstream of the culvert “lane” in the design flood" in words
    assert "it stays below" in words
    (missing,) = re.findall(
        r"Not on this page, as it was not asked for or the study has nothing of it: ([^.]*)\.", words
    )
    for title in ("What blockage does", "The allowance", "What drives it", "People", "Reviewer's index"):
        assert title in missing
    assert "Probability of going over the bank" not in words


def test_pictures_of_a_part_can_be_drawn(tmp_path: Path) -> None:
    for name in ("headwater", "medians", "long_section", "drivers"):
        made, folder = asked("no blockage", name), tmp_path / name
        folder.mkdir()
        page.write_report(made, folder)
        assert {path.stem for path in folder.glob("figures/*.svg")} == set(figures_of(made))
        assert "Could not be done" not in (folder / "report.html").read_text(encoding="utf-8")
