"""The panel: its texts are those of the table beside the page, nothing of a study can get out of it, and it is held
by brute force: independent samples with the blockage set."""

from __future__ import annotations

import json
import math
import re

import numpy as np
import pytest

from overbank.analysis.intervals import Estimate
from overbank.model import Model
from overbank.outputs.panel import Panel, panel_table
from overbank.report import panel
from overbank.words import rounded, share_words

from .outcomes import of_many, outcome
from .pages import html, page

COUNTED = 2**15


def embedded(study: str) -> dict[str, list[list[list[str]]]]:
    """The figures as the script of the page reads them."""
    (text,) = re.findall(r'<script type="application/json" id="panel-figures">(.*?)</script>', html(study), re.DOTALL)
    assert not set("<>&'") & set(text)
    found: dict[str, list[list[list[str]]]] = json.loads(text)
    return found


def panel_of(study: str) -> Panel:
    found = outcome(study).panel
    assert found is not None
    return found


@pytest.mark.parametrize("study", ["lane", "no blockage", "never a way through"])
def test_every_text_is_that_of_the_table(study: str) -> None:
    found, shown = panel_of(study), embedded(study)
    table = panel_table(found)
    assert table is not None
    blockages = [math.nan, *(row.blockage for row in found.rows if row.blockage is not None)]
    assert shown["blockages"] == [share_words(blockage) for blockage in blockages[1:]]
    of_rows = {"probability_above_bank": ("above", "p"), "level_exceeded_m": ("levels", "m")}
    for figure, (name, unit) in of_rows.items():
        rows = table[table["figure"] == figure]
        figures = [Estimate(*line, "") for line in rows[["value", "low", "high"]].to_numpy(dtype=float).tolist()]
        texts = [text for row in shown[name] for text in row]
        assert texts == [list(rounded(each, unit)) for each in figures]
    assert len(shown["above"]) == len(shown["levels"]) == len(blockages)
    assert len(shown["largest"]) == (len(found.banks) if found.name else 0)


def test_a_set_blockage_holds_against_independent_samples() -> None:
    """Independent samples, twice as many, the blockage set: a plain count must lie within both intervals."""
    made = of_many("lane", "panel", "headwater")
    found = made.panel
    assert found is not None
    assert found.name is not None
    model = Model(made.problem)
    rows = made.problem.inputs.sample("monte_carlo", COUNTED, 29, 1)[1][0]
    for blockage in (0.0, 0.5, 0.8):
        changed = rows.copy()
        changed[:, made.problem.inputs.index(found.name)] = blockage
        levels = model.levels(changed)
        row = next(row for row in found.rows if row.blockage == blockage)
        for bank, figure in list(zip(found.banks, row.above, strict=True))[::5]:
            counted = float(np.mean(levels > bank))
            slack = 4.0 * math.sqrt(max(counted * (1.0 - counted), 1e-4) / COUNTED) + (figure.high - figure.low)
            assert figure.value == pytest.approx(counted, abs=slack)
        for target, figure in zip(found.targets, row.levels, strict=True):
            assert figure.value == pytest.approx(float(np.quantile(levels, 1.0 - target)), abs=0.06)


def test_as_assumed_agrees_with_the_plain_count() -> None:
    made = of_many("lane", "panel", "headwater")
    found = made.panel
    assert found is not None
    levels = made.samples.levels
    for bank, figure in zip(found.banks, found.rows[0].above, strict=True):
        assert figure.value == pytest.approx(float(np.mean(levels > bank)), abs=0.02)
    own = found.targets.index(made.target)
    assert found.banks[found.start] == pytest.approx(32.20)
    assert found.rows[0].levels[own].value == pytest.approx(made.headwater.quantiles[0.95].value, abs=1e-9)


def test_more_blockage_and_a_lower_bank_never_make_it_drier() -> None:
    found = panel_of("lane")
    table = np.array([[figure.value for figure in row.above] for row in found.rows[1:]])
    assert np.all(np.diff(table, axis=0) >= -1e-12)
    assert np.all(np.diff(table, axis=1) <= 1e-12)


def test_the_largest_blockage_is_read_where_the_target_is_passed() -> None:
    found = panel_of("lane")
    for bank, figures in enumerate(found.largest):
        along = [row.above[bank].value for row in found.rows[1:]]
        for target, figure in zip(found.targets, figures, strict=True):
            if not figure.note:
                assert np.interp(figure.value, np.linspace(0.0, 1.0, 21), along) == pytest.approx(target, abs=1e-9)
    assert panel.largest(Estimate(math.nan, math.nan, math.nan, "", "more than the target"))[0] == "none"
    assert panel.largest(Estimate(1.0, 1.0, 1.0, "", "within the target whatever the blockage"))[0] == "any of them"
    assert panel.largest(Estimate(0.37, 0.35, 0.39, ""))[0] == "37\u00a0%"


@pytest.mark.parametrize("study", ["lane", "no blockage", "never a way through", "plain count only", "impossible"])
def test_every_slider_has_its_label_and_its_range(study: str) -> None:
    made, found = page(study), panel_of(study)
    ids = {attributes.get("for") for attributes in made.all("label")}
    ranges = [attributes for attributes in made.all("input") if attributes["type"] == "range"]
    assert {attributes["id"] for attributes in ranges} <= ids
    assert len(ranges) == (3 if found.name else 2)
    assert all(0 <= int(each["value"]) <= int(each["max"]) for each in ranges)
    assert "The panel needs JavaScript." in made.text
