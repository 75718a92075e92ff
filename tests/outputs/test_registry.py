"""Only what is asked for is run, with what that needs: each output by itself is the one of the run in full."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

import overbank
from outputs.everything import everything
from overbank.errors import DomainError
from overbank.files import store
from overbank.outputs.outcome import Outcome
from overbank.outputs.registry import HEADLINES, OUTPUTS, output, with_needs
from overbank.run import QUICK, run
from overbank.study.load import Study
from small import study


@pytest.fixture(scope="module")
def asked(tmp_path_factory: pytest.TempPathFactory) -> Study:
    return everything(tmp_path_factory.mktemp("everything"))


@pytest.fixture(scope="module")
def whole(asked: Study) -> Outcome:
    return run(asked)


def test_every_output_is_found_when_it_is_asked_for(whole: Outcome) -> None:
    """But for the number of samples, which this study gives itself."""
    assert [name for name in OUTPUTS if getattr(whole, name) is None] == ["automatic"]
    assert whole.asked is None
    assert whole.limits == ()


@pytest.mark.parametrize("name", OUTPUTS)
def test_an_output_stands_after_what_it_needs(name: str) -> None:
    assert all(OUTPUTS.index(need) < OUTPUTS.index(name) for need in output(name).needs)


@pytest.mark.parametrize("name", OUTPUTS)
def test_an_output_by_itself_is_that_of_the_run_in_full(whole: Outcome, asked: Study, name: str) -> None:
    alone = run(asked, only=(name,))
    assert {each for each in OUTPUTS if getattr(alone, each) is not None} <= set(with_needs((name,)))
    if name == "automatic":
        assert alone.automatic is None
        return
    found, expected = getattr(alone, name), getattr(whole, name)
    assert output(name).summary(found) == output(name).summary(expected)
    tables: dict[str, Any] = dict(output(name).tables(found))
    for file, table in output(name).tables(expected).items():
        if table is None:
            assert tables[file] is None
        else:
            pd.testing.assert_frame_equal(tables[file], table, check_exact=True)
    assert (alone.samples is not None) is any(output(each).sampled for each in with_needs((name,)))


def test_less_is_run_where_less_is_asked_for(whole: Outcome, asked: Study) -> None:
    headlines = run(asked, only=HEADLINES)
    assert 0 < headlines.runs < 0.5 * whole.runs
    assert run(asked, only=("one_at_a_time",)).runs == 0


def test_the_long_section_ends_in_the_levels_of_the_samples(whole: Outcome) -> None:
    """Marched by another way: the last station is the place furthest upstream."""
    (last,) = whole.long_section.sampled[-1:]
    np.testing.assert_allclose(last.level, whole.samples.site.elements[-1].level, rtol=0.0, atol=1e-9)


def test_an_unknown_output_is_refused_with_the_words_that_are_allowed(asked: Study) -> None:
    with pytest.raises(DomainError, match=r"expected some of medians, headwater, .*; got 'headwatr'"):
        run(asked, only=("overtopping", "headwatr"))


def test_a_part_writes_its_own_tables_and_says_what_was_left_out(asked: Study, tmp_path: Path) -> None:
    found = run(asked, only=("headwater",))
    report = overbank.write_results(found, tmp_path / "results")
    assert sorted(file.name for file in report.parent.iterdir()) == [
        *("exceedance.csv", "figures", "manifest.json", "report.html", "samples.parquet", "summary.json")
    ]
    said = store.summary(found)
    assert said["limits"] == ["Only this was asked for: headwater."]
    assert "probability_of_overtopping" not in said
    page = report.read_text(encoding="utf-8")
    assert "Only this was asked for: headwater." in page
    assert "must review it" in page


def test_without_samples_there_is_no_table_of_them(asked: Study, tmp_path: Path) -> None:
    found = run(asked, only=("medians",))
    overbank.write_results(found, tmp_path / "results")
    assert not (tmp_path / "results" / "samples.parquet").exists()
    assert set(overbank.tables(found)) == {"influence"}
    assert "level of one run" in found._repr_html_()


@pytest.mark.parametrize(("samples", "replicates"), [("8192", "16"), ("4000", "10"), ("1024", "8")])
def test_a_quick_look_takes_few_samples_and_says_so(tmp_path: Path, samples: str, replicates: str) -> None:
    """All replicates are kept, with as many samples in each as every design allows: a power of two."""
    design = "monte_carlo" if samples == "4000" else "sobol"
    many = f'samples = {samples}\nreplicates = {replicates}\ndesign = "{design}"'
    found = run(study(tmp_path, ("samples = 4096\nreplicates = 8", many)), quick=True)
    replicate, each = found.samples.levels.shape
    assert replicate == int(replicates)
    assert replicate * each <= min(int(samples), QUICK)
    assert each & (each - 1) == 0
    assert found.asked == HEADLINES
    assert found.limits[0] == "A quick look with few samples: run the study in full before anything rests on it."
    assert found.overtopping.best.low <= found.overtopping.best.value <= found.overtopping.best.high
    assert found.limits[0] in found._repr_html_()


def test_a_quick_look_tries_no_numbers_of_samples(tmp_path: Path) -> None:
    automatic = ("samples = 4096", 'samples = "auto"\nprecision_m = 0.001')
    assert run(study(tmp_path, automatic), quick=True).samples.levels.size <= QUICK


def test_the_docs_tell_every_output_in_order() -> None:
    """The rows of their table begin with the words of `--only`."""
    page = (Path(__file__).parents[2] / "docs" / "pages" / "reference" / "results.md").read_text(encoding="utf-8")
    rows = page.split("## Only a part")[1].split("## Many studies")[0].splitlines()
    assert tuple(row.split("`")[1] for row in rows if row.startswith("| `")) == OUTPUTS
