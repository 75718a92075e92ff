"""The studies of the repository: run at a reduced size, held to stored figures and to their published source."""

from __future__ import annotations

import json
import math
import re
import shutil
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.optimize import brentq

from overbank.files.store import summary
from overbank.model import Model
from overbank.run import run
from overbank.site.row import ElementOutcome, SiteOutcome
from overbank.study.build import build
from overbank.study.load import read_study

LOOKED_AT = (
    "medians",
    "headwater",
    "overtopping",
    "places",
    "blockage",
    "comparison",
    "over_capacity",
    "through_flood",
)
"""The outputs that the stored figures are of."""

STUDIES = Path(__file__).parents[1] / "studies"
ASKED_FOR, REGISTER = "requirements.toml", "defaults.toml"
"""An authority's figures beside a study; what stands beside a register, which is no study."""

BESIDE = (ASKED_FOR, REGISTER)
FILES = sorted(str(path.relative_to(STUDIES)) for path in STUDIES.glob("*/*.toml") if path.name not in BESIDE)
"""A folder holds one study.toml, or a pair of files to compare."""

FOLDERS = sorted({Path(file).parent.name for file in FILES})


def expected(file: str) -> dict[str, Any]:
    """The stored figures of a study file: all of its folder's, or those under its own name."""
    path = STUDIES / file
    found: dict[str, Any] = json.loads((path.parent / "expected.json").read_text(encoding="utf-8"))
    own: dict[str, Any] = found.get(path.stem, found)
    return own


@pytest.fixture(scope="module")
def reduced(tmp_path_factory: pytest.TempPathFactory) -> dict[str, dict[str, Any]]:
    """The summary of every study, run with fewer samples."""
    summaries = {}
    for file in FILES:
        text = (STUDIES / file).read_text(encoding="utf-8")
        fewer, times = re.subn(r"(?m)^(samples\s*=\s*)\d+", rf"\g<1>{expected(file)['samples']}", text)
        assert times == 1
        folder = tmp_path_factory.mktemp("study")
        if (asked_for := STUDIES / Path(file).parent / ASKED_FOR).exists():
            shutil.copy(asked_for, folder)
        for table in (STUDIES / file).parent.glob("*.csv"):
            shutil.copy(table, folder)
        (folder / "study.toml").write_text(fewer, encoding="utf-8")
        summaries[file] = summary(run(read_study(folder), only=LOOKED_AT))
    return summaries


def figure(tree: dict[str, Any], path: str) -> float:
    """The figure at a dotted path whose parts may hold dots themselves."""
    found: Any = tree
    while path:
        key = max((key for key in found if path == key or path.startswith(f"{key}.")), key=len)
        found, path = found[key], path[len(key) + 1 :]
    return float(found)


@pytest.mark.parametrize("file", FILES)
def test_key_figures_are_those_stored(reduced: dict[str, dict[str, Any]], file: str) -> None:
    stored = {path: entry for path, entry in expected(file).items() if isinstance(entry, dict)}
    assert len(stored) >= 8
    for path, entry in stored.items():
        assert figure(reduced[file], path) == pytest.approx(entry["value"], abs=entry["tolerance"]), path
    assert reduced[file]["probability_of_overtopping"]["agree"]
    assert reduced[file]["uncertain_numbers_without_basis"] == []


@pytest.mark.parametrize("name", FOLDERS)
def test_every_study_has_its_page_and_picture(name: str) -> None:
    page = (STUDIES / name / "README.md").read_text(encoding="utf-8")
    assert "invented" in page.split("##")[0]
    assert "picture.png" in page
    assert (STUDIES / name / "picture.png").read_bytes().startswith(b"\x89PNG")


# --- four-arrangements: each difference has the sign that the trade expects, whatever the sampling ---------------

EXPECTED = {
    "wide gaps, three times the area": -1,  # more open area: the same debris share holds up less (energy balance)
    "flumed entrance": -1,  # lower entrance loss and a later throat (HDS-5, 2nd ed. 2001, p. 79 and 85-87)
    "raked twice as often": -1,  # less debris, less loss
    "tailwater half a metre higher": 1,  # outlet control stands on the tailwater (energy balance)
}


@pytest.mark.parametrize(("name", "sign"), EXPECTED.items())
def test_arrangements_differ_as_the_trade_expects(reduced: dict[str, dict[str, Any]], name: str, sign: int) -> None:
    found = reduced["four-arrangements/study.toml"]["arrangements"][name]
    for change in (found["change_of_probability"], found["change_of_assured_level_m"]):
        assert sign * change["low"] > 0.0
        assert sign * change["high"] > 0.0


# --- box-under-a-road against its source: FHWA HDS-5, 2nd ed. (2001), example III-4, p. 64-65 (read in the source) ---

INVERT = 30.480
PUBLISHED = ((11.327, 32.96), (16.990, 33.93), (19.822, 34.71), (22.654, 35.52), (29.87, 35.81))
"""Total flow [m3/s] and headwater level [m]; of the last flow 24.069 m3/s go through the box and 5.8 over the road."""


@pytest.fixture(scope="module")
def box() -> Model:
    return Model(build(read_study(STUDIES / "box-under-a-road")))


def at(model: Model, changes: dict[str, float]) -> ElementOutcome:
    """The box at the medians with some numbers replaced."""
    return model.problem.site.march({**model.numbers(model.medians()), **changes}, 1).element("box")


@pytest.mark.parametrize(("flow", "level"), PUBLISHED)
def test_published_levels_are_reproduced(box: Model, flow: float, level: float) -> None:
    assert box.level_with("flow.design_m3_s", flow) == pytest.approx(level, abs=0.05 * (level - INVERT))


def test_published_flow_over_the_road_is_reproduced(box: Model) -> None:
    state = at(box, {"flow.design_m3_s": 29.87})
    assert state.results["road_flow"][0] == pytest.approx(5.8, rel=0.02)
    assert state.results["barrel_flow"][0] == pytest.approx(24.069, rel=0.02)


def test_published_flow_over_the_road_at_the_greater_head_is_reproduced(box: Model) -> None:
    """29.7 m3/s at a head of 0.45 m over the road, with the source's coefficient there, 2.92 ft^0.5/s."""
    coefficient = 2.92 * 0.3048**0.5

    def state(flow: float) -> ElementOutcome:
        return at(box, {"flow.design_m3_s": flow, "box.road.coefficient": coefficient})

    total = brentq(lambda flow: state(flow).level[0] - (35.65 + 0.45), 30.0, 80.0, xtol=1e-9)
    assert state(total).results["road_flow"][0] == pytest.approx(29.7, rel=0.01)


def test_table_of_the_page_says_what_is_obtained(box: Model) -> None:
    page = (STUDIES / "box-under-a-road" / "README.md").read_text(encoding="utf-8")
    rows = re.findall(r"(?m)^\| ([\d.]+) \| ([\d.]+) \| ([\d.]+) \| ([+-][\d.]+) % \|$", page)
    assert [(float(flow), float(level)) for flow, level, _, _ in rows] == list(PUBLISHED)
    for flow, published, obtained, deviation in rows:
        level = box.level_with("flow.design_m3_s", float(flow))
        assert f"{level:.2f}" == obtained
        assert f"{100.0 * (level - float(published)) / (float(published) - INVERT):+.1f}" == deviation


# --- pairs: two files that differ in one thing only, and tables of the pages ---------------------------------------

WEIR, ARCHES = "straight-or-diagonal", "twin-arches"


def without(file: str, element: str, *keys: str) -> dict[str, Any]:
    """A study file without its title and without some keys of its first element."""
    raw = tomllib.loads((STUDIES / file).read_text(encoding="utf-8"))
    del raw["title"]
    (found,) = (each for each in raw["element"] if each["id"] == element)
    for key in keys:
        *tables, last = key.split(".")
        table = found
        for name in tables:
            table = table[name]
        table.pop(last, None)
    return raw


def test_pairs_differ_only_in_what_they_compare() -> None:
    varied = ("crest.angle_deg", "crest.oblique_gain")
    assert without(f"{WEIR}/straight.toml", "mill", *varied) == without(f"{WEIR}/diagonal.toml", "mill", *varied)
    assert without(f"{ARCHES}/square.toml", "arches", "skew") == without(f"{ARCHES}/skewed.toml", "arches", "skew")


def swept(file: str, rows: list[dict[str, float]]) -> SiteOutcome:
    """A study at its medians, once for each row of numbers that are set."""
    model = Model(build(read_study(STUDIES / file)))
    columns = {name: np.array([row[name] for row in rows]) for name in rows[0]}
    return model.problem.site.march({**model.numbers(model.medians()), **columns}, len(rows))


def table_rows(folder: str, columns: int) -> list[list[str]]:
    """Rows of a page's table of that many columns, of figures only."""
    page = (STUDIES / folder / "README.md").read_text(encoding="utf-8")
    rows = [[cell.strip() for cell in line.strip("|").split("|")] for line in page.splitlines() if line[:2] == "| "]
    return [row for row in rows if len(row) == columns and re.fullmatch(r"[\d.]+( %)?", row[0])]


def test_diagonal_weir_stands_lower_by_a_share_that_shrinks() -> None:
    """As in tests with oblique crests (Noori and Chilmeran 2005, abstract): the gain falls as the head rises."""
    rows = table_rows(WEIR, 5)
    flows = [{"flow.design_m3_s": float(row[0])} for row in rows]
    straight, diagonal = (swept(f"{WEIR}/{kind}.toml", flows).element("mill") for kind in ("straight", "diagonal"))
    gain = straight.level - diagonal.level
    share = gain / straight.results["head"]
    assert np.all(gain > 0.0)
    # the velocity of approach adds 0.0005 where the head is smallest; where the balance over the low drowned crest
    # takes over from the law of drowning (own proposal), at 40 m3/s, the share rises once by 0.0045
    assert np.all(np.diff(share) < 0.005)
    assert np.sum(np.diff(share) > 0.001) <= 1
    assert share[-1] < share[0] / 5.0
    for place, row in enumerate(rows):
        assert f"{straight.level[place]:.2f}" == row[1]
        assert f"{diagonal.level[place]:.2f}" == row[2]
        assert f"{100.0 * gain[place]:.1f} cm, {100.0 * share[place]:.0f} %" == row[3]
        assert straight.governs(place) == row[4]


def test_skew_raises_the_water_at_the_arches() -> None:
    """An opening projected by cos 30 deg has 0.866 of its area; to first order the afflux goes as 1/area squared."""
    rows = table_rows(ARCHES, 5)
    blocked = [{"arches.blockage": float(row[0].removesuffix(" %")) / 100.0, "arches.pattern": 1.0} for row in rows]
    found = [swept(f"{ARCHES}/{kind}.toml", blocked).element("arches") for kind in ("square", "skewed")]
    for place, row in enumerate(rows):
        for bridge, level, afflux in zip(found, row[1::2], row[2::2], strict=True):
            assert f"{bridge.level[place]:.2f}" == level
            assert f"{bridge.results['afflux'][place]:.2f}" == afflux
    square, skewed = found
    assert np.all(skewed.level > square.level)
    assert skewed.results["opening_ratio"][0] == pytest.approx(
        math.cos(math.radians(30.0)) * square.results["opening_ratio"][0]
    )


def test_culvert_drowns_the_bridge_above_it() -> None:
    rows = table_rows("culvert-below-bridge", 6)
    blocked = [{"track.blockage": float(row[0].removesuffix(" %")) / 100.0, "track.pattern": 1.0} for row in rows]
    outcome = swept("culvert-below-bridge/study.toml", blocked)
    bridge = outcome.element("lane")
    for place, row in enumerate(rows):
        levels = [f"{outcome.element(id).level[place]:.2f}" for id in ("track", "paddock", "lane")]
        assert levels == row[1:4]
        assert f"{100.0 * bridge.results['afflux'][place]:.0f} cm" == row[4]
        assert bridge.governs(place) == row[5]
    assert np.all(np.diff(bridge.level) > 0.0)
    assert bridge.results["air_gap"][0] > 0.0 > bridge.results["air_gap"][-1]


# --- desk-flume: every model moves the water as the trade knows, and four levels by hand ----------------------------

FLUME = "desk-flume"
STEPS = (
    ("the same crest, diagonal", "broad crest 50 mm high, straight", (-8.0, -1.0)),  # a longer crest, by a few mm
    ("the same arches, skewed", "twin arches, half the width", (0.2, 5.0)),  # "slightly higher"
    ("the same, drowned outlet", "arch culvert, half the area, free outfall", (10.0, 60.0)),
    ("the same, cheeks at the inlet", "the same, drowned outlet", (-15.0, -2.0)),
    ("screen: close bars, clean", "the same, drowned outlet", (2.0, 20.0)),
    ("screen: wide gaps, three times the area, clean", "the same, drowned outlet", (0.0, 2.0)),
    ("screen: close bars, with debris", "screen: close bars, clean", (20.0, 100.0)),
    (
        "screen: wide gaps, three times the area, with debris",
        "screen: wide gaps, three times the area, clean",
        (1.0, 10.0),
    ),
)
"""Model, the one before it, and the least and the most that the step may come to [mm] (common practice, no source)."""


@pytest.fixture(scope="module")
def flume() -> dict[str, ElementOutcome]:
    """Every model of the flume at the medians."""
    study = read_study(STUDIES / FLUME)
    problems = {
        "the empty flume": build(study),
        **{each: build(study.alternative(each)) for each in study.alternatives},
    }
    return {name: each.site.march(each.medians(), 1).element("model") for name, each in problems.items()}


def test_the_table_of_the_flume(flume: dict[str, ElementOutcome]) -> None:
    page = (STUDIES / FLUME / "README.md").read_text(encoding="utf-8")
    rows = re.findall(r"(?m)^\| (.+) \| ([\d.]+) \| (.+) \|$", page)
    found = [(name, f"{1000.0 * each.level[0]:.1f}", each.governs()) for name, each in flume.items()]
    assert rows == found


@pytest.mark.parametrize(("model", "before", "ends"), STEPS)
def test_every_step_in_the_flume(
    flume: dict[str, ElementOutcome], model: str, before: str, ends: tuple[float, float]
) -> None:
    low, high = ends
    assert low < 1000.0 * (flume[model].level[0] - flume[before].level[0]) < high


def test_levels_of_the_flume_by_hand(flume: dict[str, ElementOutcome]) -> None:
    """Manning; a square-edged broad crest, 0.848 of the free flow (ISO 3846, from memory, unverified); critical flow
    between the piers with 0.3 of its velocity head lost; a full barrel with Ke 0.5 and Ko 1 (HDS-5 p. 34)."""
    wide, flow, n = 0.30, 0.0045, 0.010

    def manning(y: float) -> float:
        return wide * y * (wide * y / (wide + 2.0 * y)) ** (2.0 / 3.0) * math.sqrt(0.001) / n - flow

    def approach(energy: float, share: float = 1.0) -> float:
        return brentq(lambda y: y + share * (flow / (wide * y)) ** 2 / 19.62 - energy, 0.03, 0.2)

    assert flume["the empty flume"].level[0] == pytest.approx(brentq(manning, 0.01, 0.2) + 0.0005, abs=2e-5)
    head = (flow / (0.848 * (2.0 / 3.0) ** 1.5 * math.sqrt(9.81) * wide)) ** (2.0 / 3.0)
    assert flume["broad crest 50 mm high, straight"].level[0] == pytest.approx(approach(0.05 + head), abs=1e-3)
    critical = ((flow / 0.15) ** 2 / 9.81) ** (1.0 / 3.0)
    arches = approach(critical * (1.5 + 0.3 * 0.5), 1.3)
    assert flume["twin arches, half the width"].level[0] == pytest.approx(arches, abs=5e-4)
    high, radius = 0.035, (0.075**2 + 0.035**2) / 0.07
    half = math.asin(0.075 / radius)
    area = 0.15 * 0.02 + radius**2 * (half - math.sin(half) * math.cos(half))
    perimeter = 0.15 + 2.0 * 0.02 + 2.0 * radius * half
    assert high == pytest.approx(radius * (1.0 - math.cos(half)))
    friction = (n * flow / area) ** 2 * (perimeter / area) ** (4.0 / 3.0) * 0.5
    energy = 0.08 + friction + 1.5 * (flow / area) ** 2 / 19.62
    bed = 0.0005
    full = bed + approach(energy - bed, 1.5)
    assert flume["the same, drowned outlet"].level[0] == pytest.approx(full, abs=2e-4)
