"""The page: whole, self-contained, safe against text of a study, true to the figures, the same each time."""

from __future__ import annotations

import itertools
import json
import re
import struct
from pathlib import Path
from tempfile import TemporaryDirectory
from xml.etree import ElementTree

import numpy as np
import pytest

from overbank.files.store import summary
from overbank.outputs.outcome import Outcome
from overbank.report.answer import answer
from overbank.report.figures import figures_of
from overbank.report.page import write_report
from overbank.report.register import assumptions
from overbank.study.flow import ANNUAL
from overbank.words import cautions

from .outcomes import TEXTS, outcome
from .pages import files, html, page

SPACE = "\u00a0"

WITH_FILES = ("lane", "hostile", "floods of a year", "floods seen", "flood in time")
"""Together they have every figure but that of alternatives."""


@pytest.fixture(params=TEXTS)
def study(request: pytest.FixtureRequest) -> str:
    return str(request.param)


def test_page_is_well_formed_and_in_order(study: str) -> None:
    made = page(study)
    assert [len(made.all(tag)) for tag in ("main", "nav", "h1", "footer")] == [1, 1, 1, 1]
    levels = [int(tag[1]) for tag, _ in made.elements if re.fullmatch(r"h[1-6]", tag)]
    assert levels[0] == 1
    assert all(after - before <= 1 for before, after in itertools.pairwise(levels))
    assert "{{" not in made.text.replace("{{7*7}}", "")
    assert "Could not be done" not in made.text
    assert "{%" not in made.text.replace("{% for %}", "")
    assert not re.search(r"\b(nan|None(?! of)|inf)\b", made.text.split("The study file as it was read")[0])


def test_page_asks_for_nothing_from_outside(study: str) -> None:
    made = page(study)
    for tag, attributes in made.elements:
        assert tag not in {"link", "iframe", "object", "embed", "img"}
        assert tag != "script" or set(attributes) <= {"type", "id"}
        for name, value in attributes.items():
            assert not name.startswith("on")
            if name in {"href", "src", "srcset", "action", "xlink:href"}:
                assert value.startswith("#"), value
    head = html(study).split("</style>")[0]
    assert not re.search(r"url\(|@import|https?:|//", head)
    assert re.findall(r"url\((?!#)", html(study)) == []


def test_ids_are_unique_and_every_reference_is_met(study: str) -> None:
    made = page(study)
    ids = [attributes["id"] for _, attributes in made.elements if "id" in attributes]
    assert len(ids) == len(set(ids))
    references = {attributes["href"][1:] for _, attributes in made.elements if "href" in attributes}
    references |= {part for _, attributes in made.elements for part in attributes.get("aria-labelledby", "").split()}
    references |= set(re.findall(r"url\(#([^)]+)\)", html(study)))
    assert references <= set(ids)


def test_figures_and_tables_can_be_read_without_seeing_them(study: str) -> None:
    made = page(study)
    pictures = made.all("svg")
    assert len(pictures) == len(figures_of(outcome(study))) == len(made.all("figure")) == len(made.all("figcaption"))
    for picture in pictures:
        assert picture["role"] == "img"
        assert len(picture["aria-label"]) > 60
    assert all(header.get("scope") in {"col", "row", "rowgroup", "colgroup"} for header in made.all("th"))
    assert made.all("html")[0]["lang"] == "en"


def test_text_of_the_study_stays_text() -> None:
    made, text = page("hostile"), html("hostile")
    title = outcome("hostile").study.title
    assert title.startswith("<script>")
    assert made.text.count(" ".join(title.split())) > 6  # heading and the basis of several numbers
    assert made.all("title") == [{}]
    assert "<script>alert" not in text
    scripts = [attributes.get("id") for attributes in page("lane").all("script")]
    assert [attributes.get("id") for attributes in made.all("script")] == scripts
    for name, content in files("hostile").items():
        if name.endswith(".svg"):
            ElementTree.fromstring(content)
            assert content == files("lane")[name] or b"alert" not in content.replace(b"&lt;script&gt;alert", b"")


def test_hostile_text_changes_no_tag() -> None:
    assert [tag for tag, _ in page("hostile").elements] == [tag for tag, _ in page("lane").elements]


def test_names_are_shown_as_they_are() -> None:
    text = page("odd names").text
    assert "“-0_”" in text
    assert "G-" + "x" * 38 in text


def test_headline_figures_are_those_of_the_summary() -> None:
    figures = json.loads(json.dumps(summary(outcome("lane"))))
    text = page("lane").text.replace(SPACE, " ")
    probability = figures["probability_of_overtopping"]["threshold_method"]["value"]
    level = figures["headwater_not_exceeded_m"]["0.9"]["value"]
    largest, allowed = (
        figures["blockage"][key]["value"] for key in ("largest_within_target", "allowance_for_assurance")
    )
    certain = figures["deterministic"]["level_m"]
    first = text[text.index("In the design flood (") :].split("It rests on")[0]
    assert f"with a probability of {100 * probability:.1f} % (95 %" in first
    assert f"With 90 % assurance it stays below {level:.2f} m" in first
    assert f"it stands at {certain:.2f} m" in first
    assert f"no more than {100 * largest:.0f} % of the screen of “lane”" in first
    assert f"a blockage allowance of {100 * allowed:.0f} %" in first
    for key in ("0.5", "0.8", "0.95", "0.99"):
        assert f"{figures['headwater_not_exceeded_m'][key]['value']:.2f} m" in text


def said(study: str) -> str:
    return answer(outcome(study)).striptags().replace(SPACE, " ")


def test_the_answer_without_blockage() -> None:
    assert "No blockage is uncertain in this study" in said("no blockage")
    assert "allowance of" not in said("no blockage")


def test_the_answer_when_overtopping_is_impossible_or_certain() -> None:
    assert "does not go over the bank in any of 512 samples" in said("impossible")
    assert "Even with all of the screen of “lane” blocked" in said("impossible")
    assert "goes over the bank in every one of 512 samples" in said("certain")
    assert "Even with nothing of the screen of “lane” blocked" in said("certain")


def test_the_answer_by_plain_count_alone() -> None:
    assert outcome("plain count only").overtopping.threshold is None
    assert "cannot go over the bank, whatever the numbers within their stated ranges" in said("plain count only")
    assert "only the plain count could be made" in page("plain count only").text


def test_the_answer_when_there_is_no_way_through() -> None:
    for study in ("no way through", "never a way through"):
        assert "No level can be named that holds with 90 % assurance" in said(study)
        assert "Nor can a blockage allowance be named" in said(study)
    assert "With every uncertain number at its median there is no way through." in said("never a way through")


def test_the_answer_when_no_allowance_reproduces_the_level() -> None:
    assert "No blockage allowance reproduces the level of 1 % assurance: with nothing of the screen" in said(
        "no allowance needed"
    )


def test_a_small_probability_is_also_said_as_one_in_many() -> None:
    best = outcome("rare").overtopping.best
    many = int(re.search(r"or 1 in ([\d,]+)", said("rare"))[1].replace(",", ""))  # type: ignore[index]
    assert many == pytest.approx(1.0 / best.value, rel=0.06)


def test_every_assumption_is_listed_once_with_its_basis(study: str) -> None:
    made = outcome(study)
    entries = [entry for group in assumptions(made) for entry in group.entries]
    assert sorted(entry.path for entry in entries) == sorted(item.name for item in made.problem.assumptions)
    floods = set() if made.problem.annual is None else {ANNUAL}  # in no column of the samples
    varied = {entry.path for entry in entries if entry.taken == "varied"}
    seen = {path for path in varied if path.startswith("observation ")}
    assert bool(seen) == (made.learnt is not None)
    assert varied - seen == set(made.problem.inputs.names) | floods
    known = {item.name: item for item in made.problem.assumptions}
    assert all(entry.basis == (known[entry.path].basis or "") for entry in entries)


def test_a_number_without_a_basis_is_a_visible_gap() -> None:
    assert outcome("a gap").problem.gaps() == ("lane.bank_level_m",)
    text = page("a gap").text
    assert "1 of the varied numbers has no basis: lane.bank_level_m." in text
    assert "gap: nobody says where it comes from" in text
    assert "gap: nobody says" not in page("lane").text


def test_dependence_and_its_basis_are_told() -> None:
    text = page("lane").text
    assert "larger floods bring more debris" in text
    assert "The Sobol' indices take all inputs as independent" in text
    assert "all varied numbers are independent" in page("box").text


def test_regimes_and_checks_are_told(study: str) -> None:
    made, text = outcome(study), page(study).text
    for verdict in made.convergence.values():
        assert " ".join(verdict.words.split()).replace("inf m", "no level") in text
    for remark in made.remarks:
        assert remark.words in text
    for caution in cautions():
        assert caution in text


def test_reproduction_is_told() -> None:
    made, text = outcome("lane"), page("lane").text
    for part in ("overbank run study.toml", made.study.sha256, "20261125", f"{made.runs:,}"):
        assert part in text
    assert " ".join(made.study.text.split()) in text


@pytest.mark.parametrize("study", WITH_FILES)
def test_files_are_there_and_are_what_their_names_say(study: str) -> None:
    made, names = files(study), figures_of(outcome(study))
    figures = {f"figures/{name}.{kind}" for name in names for kind in ("svg", "png")}
    assert set(made) == {"report.html", "statement.txt"} | figures
    assert made["report.html"].decode("utf-8") == html(study)
    for name in names:
        root = ElementTree.fromstring(made[f"figures/{name}.svg"])
        assert root.tag == "{http://www.w3.org/2000/svg}svg"
        png = made[f"figures/{name}.png"]
        assert png[:8] == b"\x89PNG\r\n\x1a\n"
        width, height = struct.unpack(">II", png[16:24])
        assert width == 1088  # 6.8 inches at 160 dots
        assert height > 150


def test_the_same_outcome_gives_the_same_bytes() -> None:
    made: Outcome = outcome("lane")
    with TemporaryDirectory() as folder:
        write_report(made, Path(folder))
        again = {str(path.relative_to(folder)): path.read_bytes() for path in Path(folder).rglob("*") if path.is_file()}
    assert again == files("lane")


def test_shares_of_regimes_come_from_the_samples() -> None:
    made = outcome("lane")
    sampled, once = made.samples.site.element("lane").states, made.deterministic.element("lane").states
    share = float(np.mean(np.logical_and.reduce([sampled[name] == once[name][0] for name in sampled])))
    line = re.search(r"\(so too with every number at its median\)\s*([\d.]+)", page("lane").text)
    assert line is not None
    assert float(line[1]) == pytest.approx(100.0 * share, abs=0.5)
