"""Texts of a study that try to be code: each stands as text on the page, in the drawings, the tables and the JSON."""

from __future__ import annotations

import csv
import json
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from xml.etree import ElementTree

import pytest

from overbank.report.svg import legible
from overbank.results import write_results
from overbank.run import run
from overbank.study.load import read_study
from small import SMALL, written

from .reading import Page

pytestmark = pytest.mark.slow

PAYLOADS = (
    *("<script>alert(1)</script>", "</script><script>alert(1)</script>", "<img src=x onerror=alert(1)>"),
    *("</title><h1>x</h1>", "</style><style>*{display:none}", "<!-- ", "-->", "]]><b>", "<svg/onload=alert(1)>"),
    *('" onmouseover="alert(1)', "' autofocus onfocus='alert(1)", "javascript:alert(1)", "<a href=//x.invalid>x</a>"),
    *(
        "&lt;script&gt;alert(1)",
        "&#60;b&#62;",
        "{{ 7 * 7 }}",
        "{% raw %}",
        "{# x #}",
        "${7*7}",
        "$\\frac{1}{2}$",
        "%s%n{0}",
    ),
    *(
        "=1+1",
        "+1",
        "-1+1",
        "@SUM(A1)",
        '=HYPERLINK("//x.invalid")',
        "\t=1",
        "\u202e<b>\u2066",
        "<meta http-equiv=refresh>",
    ),
    *(
        "<base href=//x.invalid>",
        "<iframe src=//x.invalid>",
        "<form action=//x.invalid>",
        "<link rel=stylesheet href=//x>",
    ),
    *("[bold red]x[/]", "[link=//x.invalid]x[/link]", "*x* _x_ `x`", "\\u003cscript\\u003e", "\\", "\\\\\\", '"""'),
)
"""Ways into HTML, attributes, styles, scripts, SVG, templates, formulas, markup of terminals and escapes of JSON."""

HARMLESS = "plain words"

FORMULA = ("=", "+", "-", "@", "\t")
"""What a spreadsheet takes for the beginning of a formula (CWE-1236)."""


def study_with(text: str) -> str:
    """The small study with the same text wherever a study takes one."""
    told = json.dumps(text)
    found = SMALL.replace("samples = 4096\nreplicates = 8", "samples = 64\nreplicates = 2")
    tables = (
        f"[document]\nauthor = {told}\nchecker = {told}\nrevision = {told}\n",
        f"[[receptor]]\nname = {told}\nlevel_m = 32.3\nbasis = {told}\n",
        f'[[alternative]]\nname = {told}\nset = {{ "lane.screen.gap_m" = 0.15 }}\n',
    )
    found = found.replace('"A small study (invented)"', told).replace('"invented"', told)
    return "\n".join([found, *tables])


@cache
def files(text: str) -> dict[str, bytes]:
    """Every file of the results of the study with that text."""
    with TemporaryDirectory() as folder:
        study = read_study(written(Path(folder), study_with(text)))
        asked = ("medians", "headwater", "overtopping", "blockage", "comparison", "receptors", "remarks", "panel")
        results = write_results(run(study, only=asked), Path(folder) / "results").parent
        found = (path for path in results.rglob("*") if path.is_file())
        return {path.relative_to(results).as_posix(): path.read_bytes() for path in found}


def text_of(name: str, text: str) -> str:
    return files(text)[name].decode("utf-8")


@pytest.mark.parametrize("payload", PAYLOADS, ids=ascii)
def test_a_text_stays_text(payload: str) -> None:
    page, plain = (Page(text_of("report.html", text)) for text in (payload, HARMLESS))
    assert [tag for tag, _ in page.elements] == [tag for tag, _ in plain.elements]
    assert [sorted(attributes) for _, attributes in page.elements] == [sorted(each) for _, each in plain.elements]
    assert " ".join(legible(payload).split()) in page.text
    assert set(files(payload)) == set(files(HARMLESS))
    for name, content in files(payload).items():
        if name.endswith(".json"):
            json.loads(content)
        elif name.endswith(".svg"):
            drawn, known = (ElementTree.fromstring(each) for each in (content, files(HARMLESS)[name]))
            assert {each.tag for each in drawn.iter()} == {each.tag for each in known.iter()}
        elif name.endswith(".csv"):
            cells = {cell for row in csv.reader(content.decode("utf-8").splitlines()) for cell in row}
            assert not [cell for cell in cells if cell.startswith(FORMULA) and not is_number(cell)]
    assert json.loads(text_of("summary.json", payload))["title"] == payload


def is_number(cell: str) -> bool:
    try:
        float(cell)
    except ValueError:
        return False
    return True
