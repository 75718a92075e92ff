"""Inspection records to spoil, made here: a screen raked at every visit, and a second one. The site is invented."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np

from overbank.study.build import Problem, build
from overbank.study.load import Study, read_study
from small import BLOCKAGE, edited

ASSETS = """\
asset_id,kind,bar_gap_mm,bar_width_mm,sill_level_m,datum,inspection_interval_days,survey_date
lane,screen,125,20,30.10,local,14,2019-03-01
mill,culvert,,,,,,
"""
HEAD = "asset_id,time_start,reason,observed,blocked_before_pct,blocked_basis,method,cleared"
INCIDENTS = """\
incident_id,asset_id,time_first_report,overtopped,mechanism,blocked_at_peak_low_pct,blocked_at_peak_high_pct
a1,lane,2021-11-02T06:10+00:00,yes,blockage,80,100
a2,mill,2022-01-09T21:00+00:00,no,capacity,,
"""
START = datetime(2020, 1, 6, 9, 0, tzinfo=UTC)
PRIOR = "screen, medium debris, routine raking"

RECORDS = (
    'blockage = { records = { assets = "assets.csv", visits = "visits.csv", incidents = "incidents.csv", '
    f'asset = "lane", prior = "{PRIOR}" }} }}'
)


def visit(
    day: float, share: float | None, reason: str = "scheduled", observed: str = "yes", cleared: str = "full"
) -> str:
    """A row of the visits."""
    time = (START + timedelta(days=day)).isoformat(timespec="minutes")
    told = "" if share is None else f"{share:g}"
    basis = "" if share is None else "clear_opening"
    return f"lane,{time},{reason},{observed},{told},{basis},eye,{cleared}"


def visits(count: int = 48, seed: int = 1) -> str:
    """Visits about every two weeks, every seventh before a storm; 1 in 5 finds nothing, 1 in 16 everything shut."""
    rng = np.random.default_rng(seed)
    rows = []
    for k in range(count):
        chance = rng.random()
        share = 0.0 if chance < 0.2 else 100.0 if chance > 15 / 16 else round(100.0 * rng.beta(1.5, 3.0), 0)
        rows.append(visit(14.0 * k + rng.uniform(-3.0, 3.0), share, "pre_storm" if k % 7 == 6 else "scheduled"))
    return "\n".join([HEAD, *rows]) + "\n"


def study(
    folder: Path,
    text: str | None = None,
    *,
    assets: str = ASSETS,
    seen: str | None = None,
    incidents: str = INCIDENTS,
    blockage: str = RECORDS,
) -> Study:
    """The small study with the blockage of the records, written beside them and read."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, content in (("assets", assets), ("visits", seen or visits()), ("incidents", incidents)):
        (folder / f"{name}.csv").write_text(content, encoding="utf-8")
    file = folder / "study.toml"
    file.write_text(text or edited((BLOCKAGE, blockage)), encoding="utf-8")
    return read_study(file)


def built(folder: Path, **changes: str) -> Problem:
    """What that study builds."""
    return build(study(folder, **changes))
