"""Registers and their defaults, spoilt at random: refused in words, or each row read or told of by its line."""

from __future__ import annotations

import random
import re
from collections import Counter
from pathlib import Path

import pytest

from overbank.errors import OverbankError
from overbank.register.reading import check_register, read_both
from registers import DEFAULTS, TABLE

CELLS = (
    *("", "nan", "inf", "-1", "0", "true", "1e400", "1e-300", "1_000", "3_27", "\u0663", "1,5", "2.4 m", "x" * 5000),
    *("{", "{ normal = { mean = 1 } }", "{a={a={a=1}}}", "{a=1979-05-27}", "[1]", "[" * 5000, "=1+1", "# c"),
    *("\x00", "\x1b[2J", "\u202e", "\ufeff", "\u03a9", '"', '"a"b', "a\nb", "\r", "\t", ";", "culvert", "weir", "wier"),
)
VALUES = (
    *("3", "-1", "true", "nan", "inf", "1e300", '"word"', '""', "[]", "[1, [2]]", "{}", "1979-05-27", "[{ a = 1 }]"),
    *("{ between = 5 }", "[{ between = 5 }]", "[{ between = [[1], 2] }]", "{ normal = { mean = 1, sd = 1 } }"),
)
KEYS = (
    *("dependence", "loss", "money", "cost", "samples", "unit", "path", "set", "file", "prior", "title", '""', "a.b"),
    *("action", "budget", "visits", "columns", "all", "kind", "run", "decision", "worst", "floods", "region", "class"),
)

ENDS = {"refused", "some rows set aside", "read"}


def spoilt_table(chance: random.Random) -> bytes:
    """A sound table with cells put in, taken out, doubled and exchanged, and now and then another byte."""
    rows = [line.split(",") for line in TABLE.strip().split("\n")]
    for _ in range(chance.choice((1, 1, 2, 4))):
        row, place = chance.choice(rows), chance.random()
        if place < 0.5 and row:
            row[chance.randrange(len(row))] = chance.choice(CELLS)
        elif place < 0.6 and row:
            row.pop(chance.randrange(len(row)))
        elif place < 0.7:
            row.insert(chance.randrange(len(row) + 1), chance.choice(CELLS))
        elif place < 0.8:
            rows.append([*row])
        elif place < 0.9 and row:
            at = chance.randrange(len(row))
            row[at] *= 2
        else:
            chance.shuffle(row)
    raw = bytearray("\n".join(map(",".join, rows)).encode())
    if chance.random() < 0.1:
        raw[chance.randrange(len(raw))] = chance.randrange(256)
    return bytes(raw)


def spoilt_defaults(chance: random.Random) -> bytes:
    """Sound defaults with values exchanged, keys put in and lines taken out."""
    lines = DEFAULTS.strip().split("\n")
    for _ in range(chance.choice((1, 1, 2, 4))):
        at, place = chance.randrange(len(lines)), chance.random()
        key, equals, _ = lines[at].partition(" = ")
        if place < 0.4 and equals:
            lines[at] = f"{key} = {chance.choice(VALUES)}"
        elif place < 0.7:
            lines.insert(at, f"{chance.choice(KEYS)} = {chance.choice(VALUES)}")
        elif place < 0.8:
            lines.insert(at, f"[{chance.choice(KEYS)}]")
        elif place < 0.9:
            del lines[at]
        else:
            lines[at] = lines[chance.randrange(len(lines))]
    return "\n".join(lines).encode()


def lines_of_text(raw: bytes) -> set[int]:
    """Lines of a table below its head that hold a letter or a digit; none where quotes may join lines."""
    text = raw.decode("utf-8-sig")
    lines = [] if '"' in text else re.split(r"\r\n|\r|\n", text)
    return {number for number, line in enumerate(lines, start=1) if number > 1 and any(map(str.isalnum, line))}


def look(folder: Path, table: bytes, defaults: bytes) -> str:
    """Read a register and check every row, as `overbank register --check` does; how it ended."""
    (folder / "table.csv").write_bytes(table)
    (folder / "defaults.toml").write_bytes(defaults)
    try:
        register, said = read_both(folder / "table.csv", None)
        faults = check_register(register, said)
    except OverbankError as refused:
        return "refused" if re.search("expected .+; got ", str(refused)) else f"no words: {refused}"
    told = {fault.line for fault in faults}
    assert lines_of_text(table) <= told | {entry.line for entry in register.entries}, "a row was dropped in silence"
    assert len(lines_of_text(table)) <= register.rows
    assert all(fault.expected and fault.got and fault.remedy for fault in faults), faults
    return "some rows set aside" if told else "read"


def many(folder: Path, count: int, seed: int) -> Counter[str]:
    chance, ends = random.Random(seed), Counter[str]()
    for number in range(count):
        both = (spoilt_table(chance), DEFAULTS.encode()) if number % 2 else (TABLE.encode(), spoilt_defaults(chance))
        try:
            ends[look(folder, *both)] += 1
        except Exception as error:
            error.add_note(f"table {both[0][:2000]!r}\ndefaults {both[1]!r}")
            raise
    return ends


def test_spoilt_registers(tmp_path: Path) -> None:
    assert set(many(tmp_path, 60, 17)) == ENDS


@pytest.mark.slow
def test_many_spoilt_registers(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    ends = many(tmp_path, 5000, 20261201)
    assert set(ends) == ENDS
    with capsys.disabled():
        print(f"\nspoilt registers: {dict(ends)}")


def faults_of(folder: Path, table: str, defaults: str = DEFAULTS) -> list[str]:
    (folder / "table.csv").write_text(table, encoding="utf-8", newline="")
    (folder / "defaults.toml").write_text(defaults, encoding="utf-8")
    return [fault.words for fault in check_register(*read_both(folder / "table.csv", None))]


@pytest.mark.parametrize("cell", ["3_0", "\u0663", "\uff13", "1_000"])
def test_a_number_with_underscores_or_in_another_script_is_none(tmp_path: Path, cell: str) -> None:
    """Python reads 3_0 as 30."""
    (words,) = faults_of(tmp_path, TABLE.replace(",12.1,3.0,", f",12.1,{cell},"))
    assert words == f'line 3, lane, flow.design_m3_s: expected a plain number in digits; got "{cell}"'


@pytest.mark.parametrize("at", ["Lane", "2.4,,"])
def test_a_quote_that_is_never_closed_swallows_no_rows(tmp_path: Path, at: str) -> None:
    with pytest.raises(OverbankError, match=r"line 3.*Close the quotes"):
        faults_of(tmp_path, TABLE.replace(at, f'"{at}'))


def test_a_cell_over_several_lines_shifts_no_line(tmp_path: Path) -> None:
    table = TABLE.replace("Lane", '"La\nne"').replace("11.7,2.4", "11.7,-2.4")
    (words,) = faults_of(tmp_path, table)
    assert words.startswith("line 5, ford, ")


@pytest.mark.parametrize(
    ("defaults", "words"),
    [
        (DEFAULTS.replace('unit = "mm"', 'unit = ["mm"]'), r"columns\.Width \(mm\)\.unit"),
        (DEFAULTS.replace("[[action]]", "[action]"), r"action: expected tables \[\[action\]\]"),
        (f"{DEFAULTS}a = {'[' * 5000}", "the file: expected a readable file in TOML"),
        (DEFAULTS.replace("[all]", "[all]\ndependence = 5"), r"all\.dependence: expected tables with two paths"),
        (
            DEFAULTS.replace("[all]", "[all]\ndependence = [{ between = [[1], 2] }]"),
            r"all\.dependence: expected tables",
        ),
        (
            DEFAULTS.replace("[class.open]", "[class.open]\nrun.samples = 64"),
            r"class\.open\.run\.samples: expected a number",
        ),
        (DEFAULTS.replace("[class.open]", "[class.open]\nelement = 5"), r"class\.open\.element: expected a number"),
    ],
)
def test_spoilt_defaults_are_refused_by_their_key(tmp_path: Path, defaults: str, words: str) -> None:
    with pytest.raises(OverbankError, match=words):
        faults_of(tmp_path, TABLE, defaults)
