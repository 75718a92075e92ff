"""Every figure of every kind of outcome can be drawn, shows what the outcome holds, and leaves no settings behind."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import matplotlib
import numpy as np
import pytest
from matplotlib.figure import Figure
from matplotlib.text import Text

from overbank.report.figures import FIGURES, figures_of
from overbank.report.ranking import acting
from overbank.report.section import section_of
from overbank.report.style import COLOURS, text_width
from overbank.report.svg import as_svg

from .outcomes import outcome
from .pages import drawings


def texts(figure: Figure) -> list[str]:
    return [text.get_text() for text in figure.findobj(Text) if text.get_text()]


def lines(figure: Figure, axes: int = 0) -> list[np.ndarray]:
    return [np.asarray(line.get_xydata()) for line in figure.axes[axes].get_lines()]


def boxes(document: str) -> tuple[float, float, list[tuple[str, float, float, float, float]]]:
    """Width and height of the sheet, and every text that is really drawn with its left, right, top and lower edge.

    In points from the upper left corner, off the SVG document.
    """
    found, root = [], ElementTree.fromstring(document)
    for element in root.iter("{http://www.w3.org/2000/svg}text"):
        words, style = element.text or "", element.attrib["style"]
        size = float(re.search(r"font-size: ([\d.]+)px", style)[1])  # type: ignore[index]
        width = 72.0 * text_width(words, size)
        share = {"start": 0.0, "middle": 0.5, "end": 1.0}[re.search(r"text-anchor: (\w+)", style)[1]]  # type: ignore[index]
        left, base = float(element.attrib["x"]) - share * width, float(element.attrib["y"])
        found.append((words, left, left + width, base - 0.73 * size, base))
    return float(root.attrib["width"].removesuffix("pt")), float(root.attrib["height"].removesuffix("pt")), found


@pytest.mark.parametrize("study", ["lane", "box", "odd names", "no way through", "certain", "impossible", "rare"])
def test_no_text_leaves_the_sheet_or_meets_another(study: str) -> None:
    for name, document in drawings(study).items():
        width, height, found = boxes(document)
        assert len(found) > 8, name
        for i, (words, left, right, top, low) in enumerate(found):
            assert left >= 0.0, f"{name}: {words!r}"
            assert right <= width, f"{name}: {words!r}"
            assert top >= 0.0, f"{name}: {words!r}"
            assert low <= height, f"{name}: {words!r}"
            for other, second_left, second_right, second_top, second_low in found[:i]:
                across = min(right, second_right) - max(left, second_left)
                up = min(low, second_low) - max(top, second_top)
                assert across <= 0.5 or up <= 0.5, f"{name}: {words!r} meets {other!r}"


def test_figures_of_a_blockage_that_is_certain_say_so() -> None:
    for name in ("overtopping_by_blockage", "blockage_distribution"):
        (words,) = texts(FIGURES[name](outcome("no blockage")))
        assert words.startswith("No blockage is uncertain in this study")


def test_the_way_of_each_headline_figure_ends_at_the_one_that_is_quoted() -> None:
    made = outcome("lane")
    figure = FIGURES["convergence"](made)
    assert made.blockage is not None
    quoted = (made.headwater.quantiles[made.assurance], made.overtopping.best, made.blockage.largest)
    for axes, estimate in zip(range(3), quoted, strict=True):
        points = lines(figure, axes)[-1]
        assert points[:, 0].tolist() == [256.0, 512.0]
        assert points[-1, 1] == estimate.value


def test_settings_of_the_user_are_left_alone() -> None:
    before = dict(matplotlib.rcParams)
    figure = FIGURES["exceedance"](outcome("lane"))
    as_svg(figure)
    assert dict(matplotlib.rcParams) == before


def test_settings_of_the_user_do_not_change_the_picture() -> None:
    plain = as_svg(FIGURES["exceedance"](outcome("lane")))
    with matplotlib.rc_context({"font.size": 23.0, "lines.linewidth": 9.0, "text.parse_math": True}):
        assert as_svg(FIGURES["exceedance"](outcome("lane"))) == plain


def test_exceedance_shows_curve_bank_medians_and_assured_level() -> None:
    made = outcome("lane")
    figure = FIGURES["exceedance"](made)
    curve = np.column_stack([made.headwater.curve.at, made.headwater.curve.probability])
    assert any(line.shape == curve.shape and np.array_equal(line, curve) for line in lines(figure))
    words = " / ".join(texts(figure))
    level = float(made.deterministic.element("lane").level[0])
    for part in ("bank 32.20 m", "road 32.60 m", f"medians: {level:.2f} m", "m with 90\u00a0% assurance"):
        assert part in words


def test_a_rare_overtopping_is_drawn_on_a_logarithmic_scale() -> None:
    assert FIGURES["exceedance"](outcome("rare")).axes[0].get_yscale() == "log"
    assert FIGURES["exceedance"](outcome("lane")).axes[0].get_yscale() == "linear"


def test_blockage_figure_shows_both_curves_only_where_blockage_depends_on_others() -> None:
    made = outcome("lane").blockage
    assert made is not None
    assert made.given is not None
    figure = FIGURES["overtopping_by_blockage"](outcome("lane"))
    found = lines(figure)
    for curve in (made.fixed, made.given):
        drawn = np.column_stack([curve.at, curve.probability])
        assert any(line.shape == drawn.shape and np.array_equal(line, drawn, equal_nan=True) for line in found)
    assert "found in a flood" not in " ".join(texts(FIGURES["overtopping_by_blockage"](outcome("box"))))


def test_blockage_that_cannot_be_found_has_no_flag() -> None:
    for study in ("impossible", "certain"):
        assert "for the target" not in " ".join(texts(FIGURES["overtopping_by_blockage"](outcome(study))))
    assert "in one run" not in " ".join(texts(FIGURES["overtopping_by_blockage"](outcome("never a way through"))))


def test_the_assumed_blockage_shows_its_atoms_as_bars() -> None:
    figure = FIGURES["blockage_distribution"](outcome("lane"))
    heights = [bar.get_height() for container in figure.axes[0].containers for bar in container]
    assert heights == [0.2, 0.05]  # at_zero and at_one of the study


def test_drivers_rank_by_the_larger_total_and_leave_out_what_does_not_act() -> None:
    names, idle = acting(outcome("lane"))
    assert names[:2] == ["lane.screen.blockage", "flow.design_m3_s"]
    assert set(idle) == {"garden.manning_n", "garden.bank_level_m"}  # they lie upstream of the place
    shown = texts(FIGURES["drivers"](outcome("lane")))
    assert all(name in shown for name in names)
    assert not any(name in shown for name in idle)


def test_the_long_section_holds_the_geometry_of_the_study() -> None:
    section = section_of(outcome("lane"))
    culvert, channel = section.extents
    assert (culvert.start, culvert.end, channel.end) == (0.0, 22.0, 102.0)
    assert (culvert.bed_start, culvert.bed_end) == (30.0, 30.1)
    assert channel.bed_end == pytest.approx(30.1 + 0.003 * 80.0)
    assert culvert.roof_end == pytest.approx(31.6)
    assert culvert.screen is not None
    foot, head = culvert.screen
    assert head == pytest.approx((22.0, 32.0))
    assert np.degrees(np.arctan2(head[1] - foot[1], foot[0] - head[0])) == pytest.approx(60.0)


def test_bands_of_the_long_section_agree_with_the_samples() -> None:
    made = outcome("lane")
    levels = made.samples.levels.ravel()
    pool = section_of(made).pieces[-1]
    assert pool.quantiles is not None
    expected = np.quantile(levels, (0.05, 0.25, 0.5, 0.75, 0.95), method="inverted_cdf")
    np.testing.assert_allclose(pool.quantiles[:, 0], expected, atol=0.02)
    assert pool.certain[0] == pytest.approx(float(made.deterministic.element("lane").level[0]))


def test_bands_drawn_from_a_part_of_the_samples_agree_too(monkeypatch: pytest.MonkeyPatch) -> None:
    """One sample in four: taken evenly from the cube. Every fourth Sobol' point lies in one corner, 5 to 8 cm off."""
    monkeypatch.setattr("overbank.outputs.long_section.SAMPLED", 128)
    made = outcome("lane")
    quantiles = section_of(made).pieces[-1].quantiles
    assert quantiles is not None
    expected = np.quantile(made.samples.levels, (0.25, 0.5, 0.75))
    np.testing.assert_allclose(quantiles[1:4, 0], expected, atol=0.035)


def test_vertical_exaggeration_is_what_the_picture_says() -> None:
    figure = FIGURES["long_section"](outcome("lane"))
    axes = figure.axes[0]
    box, (across, up) = axes.get_position(), figure.get_size_inches()
    low, high = axes.get_ylim()
    left, right = axes.get_xlim()
    scale = (box.height * up / (high - low)) / (box.width * across / (right - left))
    assert f"heights drawn {scale:.6g} times as large as lengths" in texts(figure)


def test_a_study_without_blockage_has_no_figures_of_it() -> None:
    assert figures_of(outcome("no blockage")) == (
        "exceedance",
        "drivers",
        "along_inputs",
        "surveys",
        "long_section",
        "cross_sections",
        "convergence",
    )
    others = {"arrangements", "frequency", "learnt", "course_of_flood", "hours_over_bank", "warning_by_travel"}
    assert set(FIGURES) - set(figures_of(outcome("lane"))) == others


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours (W3C, WCAG 2.1, definition of contrast ratio; from memory, unverified)."""

    def luminance(colour: str) -> float:
        parts = [int(colour[i : i + 2], 16) / 255.0 for i in (1, 3, 5)]
        linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    bright, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (bright + 0.05) / (dark + 0.05)


def test_contrast_of_black_and_white_is_21() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)


@pytest.mark.parametrize("name", ["ink", "soft", "water", "debris", "plum", "earth", "stone"])
@pytest.mark.parametrize("side", [0, 1])
def test_every_colour_of_text_and_lines_stands_out_from_the_paper(name: str, side: int) -> None:
    assert contrast(COLOURS[name][side], COLOURS["paper"][side]) >= 4.5
