"""A drawing that fails, odd characters, a foreign backend and other threads cost no result and no figure."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import warnings
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import matplotlib
import numpy as np
import pytest

from overbank.commands.many import run_studies
from overbank.outputs.outcome import Outcome
from overbank.report import page
from overbank.report.figures import FIGURES, figures_of
from overbank.report.long_section import long_section_at_medians
from overbank.report.section import Bank, Piece, Section
from overbank.report.style import axes_at, drawn, sheet
from overbank.report.svg import as_svg, inline, legible, save
from overbank.site.long_section import Outline

from .outcomes import TEXTS, outcome
from .reading import Page

ODD = "a\x01b\x1b[31m\x7f\u0085\ufffe\uffffc 水 \u202e"
"""Control characters, no characters at all, one that the type face lacks, a mark of direction."""


@drawn
def odd_figure():  # type: ignore[no-untyped-def]
    figure = sheet(2.0)
    axes = axes_at(figure, 0.6, 0.6, 5.0, 1.0)
    axes.set_xticks([0.5], [ODD])
    axes.set_xlabel(ODD)
    return figure


def test_characters_that_no_document_may_hold_are_replaced() -> None:
    """XML 1.0, production 2: #x9 | #xA | #xD | #x20 to #xD7FF | #xE000 to #xFFFD | from #x10000 (from memory)."""
    kept = "\t\n\r !~\u00a0\ud7ff\ue000\ufffd\U0001f30a"
    assert legible(kept) == kept
    assert legible(ODD) == "a\ufffdb\ufffd[31m\ufffd\ufffd\ufffd\ufffdc 水 \u202e"
    assert legible("half of a pair: \ud800") == "half of a pair: \ufffd"
    for code in (*range(32), 0xFFFE, 0xFFFF):
        ElementTree.fromstring(f"<a>{legible(chr(code))}</a>")


def test_odd_characters_and_missing_glyphs_neither_fail_nor_warn(tmp_path: Path) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        document = save(odd_figure(), "odd", tmp_path)
    assert "水" in document
    assert "<svg" in inline(document, "odd", "words")
    assert (tmp_path / "odd.png").stat().st_size > 1000


def test_odd_characters_of_a_study_reach_the_page_legibly(tmp_path: Path) -> None:
    made = outcome("no blockage")
    content = made.study.content.model_copy(update={"title": ODD})
    odd = replace(made, study=replace(made.study, content=content))
    plates = {name: page.Plate(name, page.Markup(""), page.CAPTIONS[name](odd)) for name in figures_of(odd)}
    text = page.page(odd, plates)
    (tmp_path / "page.html").write_text(text, encoding="utf-8")
    assert legible(text) == text
    assert Page(text).text.count("水") >= 1


def test_a_failed_drawing_costs_the_drawing_only(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(_outcome: Outcome) -> None:
        raise ValueError("no <b>room</b>")

    monkeypatch.setattr(page, "FIGURES", {**FIGURES, "long_section": fails})
    made = outcome("no blockage")
    page.write_report(made, tmp_path)
    found = {path.stem for path in (tmp_path / "figures").glob("*.svg")}
    assert found == set(figures_of(made)) - {"long_section"}
    text = (tmp_path / "report.html").read_text(encoding="utf-8")
    assert "Could not be done</span> (ValueError: no &lt;b&gt;room&lt;/b&gt;)" in text
    assert len(Page(text).all("svg")) == len(figures_of(made)) - 1


def test_a_failed_section_costs_the_section_only(monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(_outcome: Outcome) -> None:
        raise KeyError("<b>")

    site = next(each for each in page.SECTIONS if each.anchor == "governs")
    changed = tuple(replace(each, content=fails) if each is site else each for each in page.SECTIONS)
    before = page.page(outcome("no blockage"), {})
    monkeypatch.setattr(page, "SECTIONS", changed)
    after = page.page(outcome("no blockage"), {})
    whole = re.compile(r'(<section id="governs".*?</h2>\n).*?(</section>)', re.DOTALL)
    assert "Could not be done</span> (KeyError: &#39;&lt;b&gt;&#39;)" in whole.search(after)[0]  # type: ignore[index]
    assert whole.sub(r"\1\2", after) == whole.sub(r"\1\2", before)


@pytest.mark.parametrize("backend", ["module://nowhere.at_all", "inline", "nothing known"])
def test_a_backend_that_is_not_there_stops_nothing(backend: str) -> None:
    code = "import overbank.report.style as s, overbank.report.svg as v; print(len(v.as_svg(s.sheet(1.0))) > 100)"
    done = subprocess.run(
        [sys.executable, "-c", code],
        env={**os.environ, "MPLBACKEND": backend},
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.stdout.strip(), done.stderr) == ("True", "")


def test_threads_draw_what_one_thread_draws() -> None:
    """Four threads at a time, each with another figure; and the settings of the user are as they were."""
    made, before = outcome("no blockage"), dict(matplotlib.rcParams)
    names = figures_of(made) * 3
    one_by_one = {name: as_svg(FIGURES[name](made)) for name in set(names)}
    with ThreadPoolExecutor(4) as pool:
        found = list(pool.map(lambda name: as_svg(FIGURES[name](made)), names))
    assert found == [one_by_one[name] for name in names]
    assert dict(matplotlib.rcParams) == before


def many_reaches(count: int) -> Section:
    """A chain of open reaches, each 50 m long with a bank at its upper end."""
    chainage = 50.0 * np.arange(count + 1)
    bed = 10.0 + 0.001 * chainage
    extents = tuple(
        Outline(f"reach-{k}", "channel", chainage[k], chainage[k + 1], bed[k], bed[k + 1]) for k in range(count)
    )
    banks = tuple(Bank(extent.end, extent.bed_end + 2.0, 11.9, 12.1) for extent in extents)
    return Section(extents, banks, (chainage, bed), (Piece(chainage, bed + 1.0, None),))


def test_two_hundred_elements_are_drawn() -> None:
    """Of them as many are named as find room, and the picture says how many. Trying all combinations never ended."""
    figure = long_section_at_medians(many_reaches(200))
    (words,) = [text.get_text() for text in figure.texts if "elements named" in text.get_text()]
    names = [text.get_text() for text in figure.axes[0].texts if text.get_text().startswith("reach-")]
    assert f"; {len(names)} of 200 elements named" in words
    assert len(names) > 5


def test_a_few_elements_are_all_named() -> None:
    figure = long_section_at_medians(many_reaches(10))
    names = [text.get_text().split(":")[0] for text in figure.axes[0].texts if text.get_text().startswith("reach-")]
    assert sorted(names) == sorted(f"reach-{k}" for k in range(10))
    assert not [text for text in figure.texts if "named" in text.get_text()]


def pages(results: Path) -> dict[str, bytes]:
    """Report and figures of one results folder."""
    return {str(path.relative_to(results)): path.read_bytes() for path in results.rglob("*") if path.suffix in KINDS}


KINDS = {".html", ".svg", ".png"}


@pytest.mark.slow
def test_twelve_reports_by_four_threads_are_those_of_one(tmp_path: Path) -> None:
    """Threads shared one style of the plotting library, and 4 of 54 reports took another figure's."""
    texts = [re.sub(r"(?m)^(samples\s*=\s*)16384", r"\g<1>256", TEXTS[name]) for name in ("box", "plain count only")]
    for folder, copies in (("one", 1), ("many", 6)):
        for place in range(2 * copies):
            study = tmp_path / folder / f"s{place:02d}" / "study.toml"
            study.parent.mkdir(parents=True)
            study.write_text(texts[place % 2], encoding="utf-8")
    with ThreadPoolExecutor(1) as alone, ThreadPoolExecutor(4) as pool:
        one = run_studies(tmp_path / "one", executor=alone)
        many = run_studies(tmp_path / "many", executor=pool)
    assert [run.fault for run in (*one.runs, *many.runs)] == [""] * 14
    expected = [pages(run.results) for run in one.runs]
    assert all(len(each) > 10 for each in expected)
    for place, run in enumerate(many.runs):
        assert pages(run.results) == expected[place % 2], run.name
