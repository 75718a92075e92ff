"""Figures as SVG: text stays text, ids do not meet, colours follow the page."""

from __future__ import annotations

import re
from xml.etree import ElementTree

from matplotlib.figure import Figure

from overbank.report.marks import Flag, draw_flags, flown
from overbank.report.style import COLOURS, INK, axes_at, drawn, sheet
from overbank.report.svg import as_svg, inline

HOSTILE = "<script>alert(1)</script> $\\frac{1}{2}$ & \"'--> {{7*7}}"


@drawn
def hostile_figure() -> Figure:
    figure = sheet(3.0)
    axes = axes_at(figure, 0.6, 0.6, 5.0, 1.5)
    axes.plot([0.0, 1.0], [0.0, 1.0], color=INK, marker="o")
    axes.set_xlabel(HOSTILE)
    draw_flags(axes, flown([Flag(0.5, HOSTILE, INK)], (0.0, 1.0), 5.0, 0.5))
    axes.legend([HOSTILE])
    return figure


def test_hostile_text_is_shown_letter_by_letter() -> None:
    document = as_svg(hostile_figure())
    assert "<script" not in document
    words = [text.text for text in ElementTree.fromstring(document).iter("{http://www.w3.org/2000/svg}text")]
    assert words.count(HOSTILE) == 3
    element = inline(document, "one", HOSTILE)
    assert "<script" not in element
    root = ElementTree.fromstring(element)
    assert root.attrib["aria-label"] == HOSTILE
    assert [text.text for text in root.iter("text")].count(HOSTILE) == 3


def test_ids_of_two_figures_do_not_meet_and_references_hold() -> None:
    document = as_svg(hostile_figure())
    ids = []
    for name in ("one", "two"):
        element = inline(document, name, "words")
        own = re.findall(r' id="([^"]+)"', element)
        assert set(re.findall(r'(?:href="#|url\(#)([^")]+)', element)) == set(own) - {f"picture-{name}"}
        ids += own
    assert len(ids) == len(set(ids)) > 4


def test_colours_of_the_page_are_named_with_the_light_one_to_fall_back_on() -> None:
    element = inline(as_svg(hostile_figure()), "one", "words")
    assert f"var(--fig-ink, {INK})" in element
    bare = re.sub(r"var\([^)]*\)", "", element)
    assert not any(light in bare for light, _ in COLOURS.values())


def test_nothing_but_the_drawing_is_left() -> None:
    element = inline(as_svg(hostile_figure()), "one", "words")
    assert not re.search(r"<metadata|<style|http|font-family|<!--", element)
