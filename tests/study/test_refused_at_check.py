"""What a run could not use is refused when a study is read, by its key and line; so are tables past all bounds."""

from __future__ import annotations

from pathlib import Path

import pytest

from overbank.errors import Fault, StudyError
from overbank.study import load
from overbank.study.load import read_study
from overbank.study.reading import sheets
from small import DEPENDENCE, FLOW, SMALL, edited, written

from .test_flow import MAXIMA, RECORD

SETTINGS = "samples = 4096\nreplicates = 8"
RATED = ('level_m = { normal = { mean = 31.0, sd = 0.1 }, basis = "invented" }', 'rating = "below.csv"')
BELOW = "flow_m3_s,level_m\n0,30.2\n5,30.9\n20,31.6\n"


def only_fault(folder: Path, text: str, **tables: str) -> Fault:
    """The one fault of a study and the tables beside it."""
    file = written(folder, text)
    for name, table in tables.items():
        (folder / f"{name}.csv").write_text(table, encoding="utf-8")
    with pytest.raises(StudyError) as caught:
        read_study(file)
    (fault,) = caught.value.faults
    return fault


def line(part: str, text: str) -> str:
    """The line that holds a part of a text, as a message names it."""
    return f"line {text[: text.index(part)].count(chr(10)) + 1}"


@pytest.mark.parametrize("design", ["sobol", "monte_carlo"])
def test_one_sample_in_each_replicate_tells_no_scatter(tmp_path: Path, design: str) -> None:
    text = edited((SETTINGS, f'samples = 64\nreplicates = 64\ndesign = "{design}"'))
    fault = only_fault(tmp_path, text)
    assert fault.place == f"{line('samples = 64', text)}, run.samples"
    assert "at least 2, in each of the 64 replicates" in fault.expected
    assert fault.remedy == "Write samples = 128."


@pytest.mark.parametrize(
    ("key", "value"),
    [
        *(("target_probability", value) for value in ("1e-300", "1e-16", "0.9999999999999999")),
        *(("assurance", value) for value in ("0.9999999999999999", "0.9999999", "1e-300")),
    ],
)
def test_a_probability_that_rounds_to_0_or_1(tmp_path: Path, key: str, value: str) -> None:
    old = next(each for each in SMALL.splitlines() if each.startswith(key))
    text = edited((old, f"{key} = {value}"))
    fault = only_fault(tmp_path, text)
    assert fault.place == f"{line(key, text)}, decision.{key}"
    assert fault.got == f"the number {float(value)!r}"
    read_study(written(tmp_path, edited((old, f"{key} = {'1e-9' if key[0] == 't' else '0.999999'}"))))


@pytest.mark.parametrize("where", ["study", "alternative"])
def test_a_spread_that_is_none(tmp_path: Path, where: str) -> None:
    narrow = "{ normal = { mean = 31.0, sd = 1e-15 } }"
    text = edited(('{ normal = { mean = 31.0, sd = 0.1 }, basis = "invented" }', narrow), (DEPENDENCE, ""))
    if where == "alternative":
        text = edited((DEPENDENCE, f'[[alternative]]\nname = "x"\nset = {{ "tailwater.level_m" = {narrow} }}'))
    fault = only_fault(tmp_path, text)
    assert fault.place.startswith(line("sd = 1e-15", text))
    assert fault.expected == "a distribution that varies"
    assert fault.got.startswith("the one value 31")


@pytest.mark.parametrize("written_as", ["3_27", "1_00.5", "0x3_27"])
def test_an_underscore_that_parts_no_thousands(tmp_path: Path, written_as: str) -> None:
    """TOML v1.0.0 allows an underscore between any two digits; 3_27 is then 327."""
    text = edited(("span_m = 2.4", f"span_m = {written_as}"), (DEPENDENCE, ""))
    with pytest.raises(StudyError) as caught:
        read_study(written(tmp_path, text))
    fault = next(fault for fault in caught.value.faults if "underscores" in fault.expected)
    assert (fault.place, fault.got) == (f"{line('span_m', text)}, lane.barrel.span_m", written_as)


def test_an_underscore_that_parts_thousands_is_read(tmp_path: Path) -> None:
    study = read_study(written(tmp_path, edited((SETTINGS, "samples = 4_096\nreplicates = 8"))))
    assert study.content.run.samples == 4096


@pytest.mark.parametrize("cell", ["3_0", "\u0663", "\uff13", "0x1e", "3e", "infinity", "nan"])
def test_a_cell_that_is_no_plain_number(tmp_path: Path, cell: str) -> None:
    fault = only_fault(tmp_path, edited(RATED), below=BELOW.replace("30.9", cell))
    assert fault.place.endswith("below.csv row 3")
    assert fault.got == f'"{cell}"'


def test_flows_of_each_day_are_no_annual_maxima(tmp_path: Path) -> None:
    """Forty years of days, which took 2 GB."""
    days = "flow_m3_s\n" + "".join(f"{1.0 + 0.001 * (k % 997)}\n" for k in range(14_600))
    fault = only_fault(tmp_path, edited((FLOW, RECORD), (DEPENDENCE, "")), maxima=days)
    assert fault.got == "14600 rows"
    assert "flows of each day" in fault.remedy


def test_a_record_that_stands_twice_in_its_file(tmp_path: Path) -> None:
    head, rows = MAXIMA.split("\n", maxsplit=1)
    once = edited((FLOW, RECORD), (DEPENDENCE, ""))
    fault = only_fault(tmp_path, once, maxima=f"{head}\n{rows}{rows}")
    assert fault.place.endswith(f"maxima.csv row {2 + len(rows.split())}")
    assert fault.expected == "each annual maximum once"
    (tmp_path / "maxima.csv").write_text(f"{head}\n{rows}{rows}7.25\n", encoding="utf-8")
    read_study(tmp_path)


def test_tables_and_studies_past_all_bounds(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The bounds are brought down, so that nothing large is written."""
    rating = BELOW + "".join(f"{21 + k},32\n" for k in range(50))
    monkeypatch.setattr(sheets, "MOST_ROWS", 20)
    assert only_fault(tmp_path, edited(RATED), below=rating).got == "54"
    monkeypatch.setattr(sheets, "MOST_BYTES", 100)
    assert "a table of at most" in only_fault(tmp_path, edited(RATED), below=rating).expected
    monkeypatch.setattr(load, "MOST_BYTES", 100)
    assert "a file of" in only_fault(tmp_path, edited()).got
