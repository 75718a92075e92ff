"""Study files and the tables they name, spoilt at random: one clear refusal, or a check with no number missing."""

from __future__ import annotations

import json
import math
import re
import signal
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import FrameType
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from overbank.errors import OverbankError, StudyError
from overbank.outputs.medians import deterministic_run
from overbank.study.load import read_study
from small import DEPENDENCE, FLOW, ROAD, edited

from . import inspections
from .river import BELOW, MEADOW, RIVER
from .test_flow import MAXIMA, RECORD
from .test_mutations import remade, spoilt
from .test_outlet_and_profiles import CREST, LEVEL, PROFILE, UNEVEN

LONGEST = 20
"""Time after which a check hangs [s]."""

TAILWATER = 'level_m = { normal = { mean = 31.0, sd = 0.1 }, basis = "invented" }'
RATING = "flow_m3_s,level_m\n0,30.2\n2,30.6\n5,30.9\n9,31.2\n20,31.6\n"
VALUES = "value\n" + "".join(f"{0.03 + 0.002 * k:.3f}\n" for k in range(20))
FLOOD = "hours,flow_m3_s\n0,0.5\n2,3\n3.5,6\n6,2\n10,0.5\n"
POOL = "level_m,area_m2\n30,10\n31,900\n32,4000\n33,9000\n"
OBSERVED = '{ empirical = { file = "values.csv" } }'

TABLES: dict[str, tuple[str, str]] = {
    "below.csv": (RIVER, BELOW),
    "meadow.csv": (RIVER, MEADOW),
    "rating.csv": (edited((TAILWATER, 'rating = "rating.csv"')), RATING),
    "road.csv": (edited((ROAD, '[element.road]\nprofile = "road.csv"\n\n')), PROFILE),
    "crest.csv": (RIVER.replace(LEVEL, UNEVEN), CREST),
    "flood.csv": (edited((FLOW, f'{FLOW}\nhydrograph = {{ shape = "table", table = "flood.csv" }}')), FLOOD),
    "pool.csv": (
        edited(
            (FLOW, f'{FLOW}\nhydrograph = {{ shape = "table", table = "flood.csv" }}\npool = {{ table = "pool.csv" }}')
        ),
        POOL,
    ),
    "values.csv": (edited(('{ lognormal = { median = 0.05, cov = 0.2 }, basis = "invented" }', OBSERVED)), VALUES),
    "maxima.csv": (edited((FLOW, RECORD), (DEPENDENCE, "")), MAXIMA),
    "assets.csv": (edited((inspections.BLOCKAGE, inspections.RECORDS)), inspections.ASSETS),
    "visits.csv": (edited((inspections.BLOCKAGE, inspections.RECORDS)), inspections.visits()),
    "incidents.csv": (edited((inspections.BLOCKAGE, inspections.RECORDS)), inspections.INCIDENTS),
}
"""Each table that a study can name: the study and a sound table."""

CELLS = [
    *("", " ", ",", "\n", "\r", "\n\n", '"', "'", ";", "\t", "\0", "\ufeff", "é", "#"),
    *(
        "nan",
        "inf",
        "-inf",
        "1e400",
        "1e308",
        "-1e308",
        "5e-324",
        "0",
        "-0.0",
        "-1",
        "1_0",
        "0x10",
        "1,5",
        "=1+1",
        "\u0661",
    ),
    *("lane", "yes", "no", "full", "clear_opening", "2021-11-02", "2021-11-02T06:10+00:00", "9999-12-31T23:59+23:59"),
]


@contextmanager
def within(seconds: int) -> Iterator[None]:
    """Fail when the block takes longer: of this process's own time, whatever else the machine does."""

    def hang(_number: int, _frame: FrameType | None) -> Any:
        raise AssertionError(f"no answer within {seconds} s")

    before = signal.signal(signal.SIGPROF, hang)
    signal.setitimer(signal.ITIMER_PROF, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.signal(signal.SIGPROF, before)


def look(folder: Path) -> None:
    """Read the study of a folder and check it, as `overbank check` does."""
    with within(LONGEST):
        try:
            run = deterministic_run(read_study(folder))
        except StudyError as error:
            told = [part for fault in error.faults for part in (fault.place, fault.expected, fault.got, fault.remedy)]
            if not told or not all(told):
                raise AssertionError(f"a fault without words: {error.faults}") from error
            return
        except OverbankError:
            return
        json.dumps(run.as_json(), allow_nan=False)
        assert run._repr_html_()
    assert math.isfinite(run.outcome.flow[0])
    assert math.isfinite(run.outcome.tailwater[0])
    for element in run.outcome.elements:
        if math.isnan(element.level[0]):
            assert element.governs() == "no solution"


@st.composite
def spoilt_table(draw: st.DrawFn) -> tuple[str, str]:
    """The name of a table, and a sound table of it with a few cells taken out, put in, doubled or exchanged."""
    name = draw(st.sampled_from(sorted(TABLES)))
    own = re.findall(r"[^,\n]+|[,\n]", TABLES[name][1])
    cells = list(own)
    for _ in range(draw(st.integers(1, 4))):
        place = draw(st.integers(0, len(cells) - 1))
        crumb = draw(st.sampled_from(CELLS) | st.sampled_from(own) | st.floats().map(repr) | st.text(max_size=4))
        deed = draw(st.sampled_from(["remove", "insert", "alter", "cut", "double"]))
        if deed == "remove":
            del cells[place]
        elif deed == "insert":
            cells.insert(place, crumb)
        elif deed == "alter":
            cells[place] = crumb
        elif deed == "cut":
            del cells[place : place + draw(st.integers(2, 30))]
        else:
            cells[place:place] = cells[place : place + draw(st.integers(2, 30))]
        cells = cells or [""]
    return name, "".join(cells)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with every table sound."""
    made = tmp_path_factory.mktemp("hostile")
    for name, (_, text) in TABLES.items():
        (made / name).write_text(text, encoding="utf-8")
    return made


def look_at_study(folder: Path, text: str) -> None:
    (folder / "study.toml").write_bytes(text.encode("utf-8", "surrogatepass"))
    look(folder)


def look_at_table(folder: Path, table: tuple[str, str]) -> None:
    name, text = table
    study, sound = TABLES[name]
    (folder / "study.toml").write_text(study, encoding="utf-8")
    try:
        (folder / name).write_bytes(text.encode("utf-8", "surrogatepass"))
        look(folder)
    finally:
        (folder / name).write_text(sound, encoding="utf-8")


def few(examples: int) -> settings:
    return settings(max_examples=examples, deadline=None, suppress_health_check=list(HealthCheck))


@pytest.mark.parametrize("name", sorted(TABLES))
def test_sound_tables_are_taken(folder: Path, name: str) -> None:
    (folder / "study.toml").write_text(TABLES[name][0], encoding="utf-8")
    run = deterministic_run(read_study(folder))
    assert all(math.isfinite(element.level[0]) for element in run.outcome.elements)
    assert name in run.study.files


def test_a_list_of_assets_without_an_asset_is_refused(folder: Path) -> None:
    """Found by the random examples: the refusal itself failed."""
    header = inspections.ASSETS.splitlines()[0]
    (folder / "assets.csv").write_text(header, encoding="utf-8")
    (folder / "study.toml").write_text(TABLES["assets.csv"][0], encoding="utf-8")
    try:
        with pytest.raises(StudyError, match="expected an asset of the list, which is empty"):
            read_study(folder)
    finally:
        (folder / "assets.csv").write_text(inspections.ASSETS, encoding="utf-8")


@given(text=spoilt() | remade())
@few(80)
def test_spoilt_studies(folder: Path, text: str) -> None:
    look_at_study(folder, text)


@given(table=spoilt_table())
@few(60)
def test_spoilt_tables(folder: Path, table: tuple[str, str]) -> None:
    look_at_table(folder, table)


@pytest.mark.slow
@given(text=spoilt() | remade())
@few(20_000)
def test_many_spoilt_studies(folder: Path, text: str) -> None:
    look_at_study(folder, text)


@pytest.fixture(scope="module")
def compiled(folder: Path) -> None:
    """The formulas of every table, which are no hang."""
    for name in TABLES:
        test_sound_tables_are_taken(folder, name)


@pytest.mark.slow
@pytest.mark.usefixtures("compiled")
@given(table=spoilt_table())
@few(5_000)
def test_many_spoilt_tables(folder: Path, table: tuple[str, str]) -> None:
    look_at_table(folder, table)
