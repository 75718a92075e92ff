"""The studies of the repository: run at a reduced size, held to stored figures and to their published source."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from scipy.optimize import brentq

from overbank.model import Model
from overbank.run import run
from overbank.site.row import ElementOutcome
from overbank.store import summary
from overbank.study.build import build
from overbank.study.load import read_study

STUDIES = Path(__file__).parents[1] / "studies"
NAMES = sorted(path.parent.name for path in STUDIES.glob("*/study.toml"))


def expected(name: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads((STUDIES / name / "expected.json").read_text(encoding="utf-8"))
    return found


@pytest.fixture(scope="module")
def reduced(tmp_path_factory: pytest.TempPathFactory) -> dict[str, dict[str, Any]]:
    """The summary of every study, run with fewer samples."""
    summaries = {}
    for name in NAMES:
        text = (STUDIES / name / "study.toml").read_text(encoding="utf-8")
        fewer, times = re.subn(r"(?m)^(samples\s*=\s*)\d+", rf"\g<1>{expected(name)['samples']}", text)
        assert times == 1
        folder = tmp_path_factory.mktemp(name)
        (folder / "study.toml").write_text(fewer, encoding="utf-8")
        summaries[name] = summary(run(read_study(folder)))
    return summaries


def figure(tree: dict[str, Any], path: str) -> float:
    """The figure at a dotted path whose parts may hold dots themselves."""
    found: Any = tree
    while path:
        key = max((key for key in found if path == key or path.startswith(f"{key}.")), key=len)
        found, path = found[key], path[len(key) + 1 :]
    return float(found)


@pytest.mark.parametrize("name", NAMES)
def test_key_figures_are_those_stored(reduced: dict[str, dict[str, Any]], name: str) -> None:
    stored = {path: entry for path, entry in expected(name).items() if isinstance(entry, dict)}
    assert len(stored) >= 8
    for path, entry in stored.items():
        assert figure(reduced[name], path) == pytest.approx(entry["value"], abs=entry["tolerance"]), path
    assert reduced[name]["probability_of_overtopping"]["agree"]
    assert reduced[name]["uncertain_numbers_without_basis"] == []


@pytest.mark.parametrize("name", NAMES)
def test_every_study_has_its_page_and_picture(name: str) -> None:
    page = (STUDIES / name / "README.md").read_text(encoding="utf-8")
    assert "invented" in page.split("##")[0]
    assert "picture.png" in page
    assert (STUDIES / name / "picture.png").read_bytes().startswith(b"\x89PNG")


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
