"""The table of a register: heads, units, blanks, faults by row and column; and what becomes of each row."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy.stats import gumbel_r

from overbank.errors import DomainError, StudyError
from overbank.register.floods import gumbel_through
from overbank.register.rows import cell_faults, changed_by, document_of, study_of, values_of
from overbank.register.table import read_register
from registers import DEFAULTS, TABLE, read


def values(folder: Path, name: str, table: str = TABLE, defaults: str = DEFAULTS) -> dict[str, object]:
    register, said = read(folder, table, defaults)
    entry = next(each for each in register.entries if each.id == name)
    return values_of(entry, said)


def test_an_owners_heads_and_units_become_paths_and_metres(tmp_path: Path) -> None:
    register, _ = read(tmp_path)
    first = register.entries[0]
    assert first.cells["culvert.barrel.span_m"] == pytest.approx(1.8)
    assert first.cells["culvert.bank_level_m"] == 12.0
    assert (first.id, first.kind, first.class_, first.region, first.costs) == (
        *("mill", "culvert", "wooded", "north"),
        {"rake": 450.0},
    )


def test_a_row_goes_before_its_region_and_that_before_its_class_and_kind(tmp_path: Path) -> None:
    more = DEFAULTS + "\n[class.wooded.culvert.barrel]\nrise_m = 1.1\nlength_m = 14\n"
    more = more.replace("[region.north]", "[region.north]\nculvert.barrel.length_m = 15")
    table = TABLE.replace("action.rake.cost", "culvert.barrel.rise_m").replace(",450", ",1.4")
    found = values(tmp_path, "mill", table, more.replace("\n[class.wooded.culvert.barrel]\n", "\n[class.wooded2]\n"))
    assert found["culvert.barrel.rise_m"] == 1.4
    assert found["culvert.barrel.length_m"] == 15
    assert found["flow.design_m3_s.cov"] == 0.35
    assert values(tmp_path, "lane")["flow.design_m3_s.cov"] == 0.2


def test_a_default_fills_a_part_but_never_makes_one(tmp_path: Path) -> None:
    assert "culvert.screen.gap_m" in values(tmp_path, "lane")
    assert not any(path.startswith("culvert.screen") for path in values(tmp_path, "ford"))


def test_what_a_row_gives_takes_the_place_of_other_ways_in_the_defaults(tmp_path: Path) -> None:
    table = TABLE.replace("flow.design_m3_s", "flow.flood.2,flow.flood.100", 1).replace("3.0,2.4", "1.6,3.1,2.4", 1)
    table = table.replace("3.0,2.6", "1.6,3.1,2.6").replace("2.4,,,\n", "1.2,2.5,,,\n").replace("3.5,,", "2.0,3.6,,")
    more = DEFAULTS.replace("[all]", "[all]\nflow.design_annual_probability = 0.02")
    register, said = read(tmp_path, table, more)
    entry = register.entries[1]
    found = study_of(entry, values_of(entry, said), said, tmp_path).content.flow
    law = gumbel_r(*gumbel_through({2.0: 1.6, 100.0: 3.1}))
    np.testing.assert_allclose(law.isf([0.5, 0.01]), [1.6, 3.1], rtol=1e-12)
    assert found.design_annual_probability == 0.02
    assert found.annual is not None


@pytest.mark.parametrize(
    "floods", [{2.0: 3.0}, {2.0: 3.0, 10.0: 2.0}, {0.5: 1.0, 10.0: 2.0}, {2.0: 1.0, 10.0: 1.1, 100.0: 9.0}]
)
def test_floods_that_no_gumbel_meets_are_refused(floods: dict[float, float]) -> None:
    with pytest.raises(DomainError):
        gumbel_through(floods)


def test_three_floods_of_a_gumbel_give_it_back() -> None:
    law = gumbel_r(4.0, 1.3)
    np.testing.assert_allclose(gumbel_through({t: law.isf(1.0 / t) for t in (2.0, 10.0, 100.0)}), (4.0, 1.3))


def test_the_error_of_a_number_makes_it_a_distribution(tmp_path: Path) -> None:
    register, said = read(tmp_path)
    document = document_of(register.entries[1], values_of(register.entries[1], said), said)
    assert document["flow"]["design_m3_s"]["lognormal"] == {"median": 3.0, "cov": 0.2}


def test_an_action_is_done_only_where_its_part_is(tmp_path: Path) -> None:
    register, said = read(tmp_path)
    (rake,) = said.actions
    after = {each.id: changed_by(rake, each, values_of(each, said)) for each in register.entries}
    assert [name for name, found in after.items() if found is not None] == ["mill", "lane"]
    assert after["mill"]["culvert.screen.blockage"]["inflated_beta"]["at_zero"] == 0.7


SPOILT = (
    ("Asset,name", "Asset,name", "lane,Lane", "mill,Lane", 3, "id"),
    ("Asset,name", "Asset,name", "sill,,weir", "sill,,wier", 5, "kind"),
    ("Asset,name", "Asset,name", "1700", "17OO", 3, "Width (mm)"),
    ("Asset,name", "Asset,name", "11.9,3.5", "11.9,inf", 5, "flow.design_m3_s"),
    ("Asset,name", "Asset,name", "2.6,,450", "2.6,,-450", 2, "action.rake.cost"),
    ("Asset,name", "Asset,name", "2.4,,,", "{ normal = { mean = },,,", 4, "flow.design_m3_s"),
)


@pytest.mark.parametrize(("head", "other", "old", "new", "line", "column"), SPOILT)
def test_a_spoilt_cell_is_told_by_row_and_column(
    tmp_path: Path, head: str, other: str, old: str, new: str, line: int, column: str
) -> None:
    register, _ = read(tmp_path, TABLE.replace(head, other).replace(old, new, 1))
    told = [(fault.line, fault.column.replace("Asset", "id")) for fault in register.faults]
    assert told == [(line, column)]
    assert len(register.entries) == 3


def test_what_cannot_stand_in_a_study_is_told_by_the_owners_head(tmp_path: Path) -> None:
    register, said = read(tmp_path, TABLE.replace("1800,12.0", "-1800,9.0"))
    entry = register.entries[0]
    with pytest.raises(StudyError) as refused:
        study_of(entry, values_of(entry, said), said, tmp_path)
    faults = list(cell_faults(entry, refused.value, register))
    assert {fault.column for fault in faults} >= {"Width (mm)"}
    assert all(fault.line == 2 and fault.remedy for fault in faults)


@pytest.mark.parametrize(
    "table", ["", "\n\n", "name,kind\nx,culvert\n", "Asset\nx\n", "Asset,id,kind\na,b,culvert\n", "Asset,kind\n\xff"]
)
def test_a_table_that_cannot_be_read_is_one_message(tmp_path: Path, table: str) -> None:
    _, said = read(tmp_path)
    (tmp_path / "table.csv").write_bytes(table.encode("latin-1"))
    with pytest.raises(StudyError):
        read_register(tmp_path / "table.csv", said)
    with pytest.raises(StudyError):
        read_register(tmp_path / "none.csv", said)


@pytest.mark.parametrize("sign", ["\x0b", "\x0c", "\x1c", "\x1d", "\x1e", "\x85", "\u2028"])
def test_a_row_ends_where_its_line_does_and_nowhere_else(tmp_path: Path, sign: str) -> None:
    """RFC 4180: a row ends with CRLF, here also with either of the two; Python's text ends lines at more signs."""
    read_rows = read(tmp_path, TABLE.replace("lane,Lane", f"lane,La{sign}ne"))[0].rows
    assert read_rows == TABLE.strip().count("\n")
    assert read(tmp_path, TABLE.replace("\n", "\r\n"))[0].rows == read_rows


def test_semicolons_and_parquet_give_the_same(tmp_path: Path) -> None:
    register, said = read(tmp_path)
    (tmp_path / "other.csv").write_text(TABLE.replace(",", ";"), encoding="utf-8")
    pd.read_csv(tmp_path / "table.csv", dtype=str).to_parquet(tmp_path / "table.parquet")
    for other in ("other.csv", "table.parquet"):
        assert read_register(tmp_path / other, said).entries == register.entries


def test_faults_of_the_defaults_are_told_at_once(tmp_path: Path) -> None:
    spoilt = DEFAULTS.replace('unit = "mm"', 'unit = "furlong"').replace("money = 500", 'money = "much"')
    with pytest.raises(StudyError) as refused:
        read(tmp_path, defaults=spoilt.replace("[all]", "[every]").replace("= 512", '= "automatic"'))
    assert len(refused.value.faults) == 4
