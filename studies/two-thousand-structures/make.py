"""Makes the invented register: structures.csv and visits.csv beside this file, the same every time.

    python studies/two-thousand-structures/make.py [ROWS]

Nothing in it stands for a real structure. About one row in two hundred is spoilt on purpose.
"""

from __future__ import annotations

import csv
import sys
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np

HERE = Path(__file__).parent
ROWS, SEED = 2000, 18
CLASSES = {"urban": (0.35, 0.06), "rural": (0.50, 0.03), "wooded": (0.20, 0.15)}
"""Mean chances that a visit finds nothing, and everything, blocked."""

ALIKE = 8.0
"""How alike the screens of a class are, in looks."""

Row = dict[str, Any]


def culvert(rng: np.random.Generator, flow: float, screened: bool) -> Row:
    """A box under a road, its barrel about right for the flow, give or take."""
    span = 0.9 * flow**0.4 * rng.uniform(0.75, 1.5)
    rise = span * rng.uniform(0.55, 0.9)
    bed, length = rng.uniform(5.0, 90.0), rng.uniform(6.0, 40.0)
    row: Row = {
        "Width (mm)": round(1000 * span, -1),
        "Height (mm)": round(1000 * rise, -1),
        "Length (m)": round(length, 1),
        "Invert up": round(bed + length * rng.uniform(0.002, 0.02), 2),
        "Invert down": round(bed, 2),
        "Bank": round(bed + rise * rng.uniform(1.4, 2.6) + 0.3, 2),
        "Water below": round(bed + rise * rng.uniform(0.3, 0.8), 2),
    }
    if screened:
        row |= {"Screen width (mm)": round(1000 * span * rng.uniform(1.1, 2.0), -1)}
        row |= {"Screen height (mm)": round(1000 * rise * rng.uniform(1.1, 1.7), -1)}
    if rng.random() < 0.7:
        row |= {"Road": round(row["Bank"] + rng.uniform(0.0, 0.8), 2), "Road length (m)": round(rng.uniform(6, 25))}
    return row


def weir(rng: np.random.Generator, flow: float) -> Row:
    """A broad crest in a channel."""
    bed, width = rng.uniform(5.0, 90.0), 1.5 + 1.2 * flow**0.5 * rng.uniform(0.7, 1.6)
    crest = bed + rng.uniform(0.4, 1.5)
    return {
        "weir.crest.level_m": round(crest, 2),
        "weir.approach.section.width_m": round(width, 2),
        "weir.approach.bed_level_m": round(bed, 2),
        "Bank": round(crest + 0.5 * flow**0.4 * rng.uniform(0.8, 1.8), 2),
        "Water below": round(crest - rng.uniform(0.1, 0.4), 2),
    }


def bridge(rng: np.random.Generator, flow: float) -> Row:
    """One flat opening over a channel."""
    bed, span, rise = rng.uniform(5.0, 90.0), 1.6 * flow**0.5 * rng.uniform(0.8, 1.6), 1.0 + 0.25 * flow**0.5
    return {
        "bridge.opening.span_m": round(span, 2),
        "bridge.opening.rise_m": round(rise, 2),
        "bridge.opening.bed_level_m": round(bed, 2),
        "bridge.approach.section.bed_width_m": round(1.1 * span, 2),
        "bridge.approach.bed_level_m": round(bed, 2),
        "Bank": round(bed + rise * rng.uniform(0.9, 1.4), 2),
        "Water below": round(bed + rise * rng.uniform(0.35, 0.6), 2),
    }


def structures(rng: np.random.Generator, rows: int) -> Iterator[Row]:
    """Every row, some of them spoilt."""
    for number in range(1, rows + 1):
        kind = str(rng.choice(["culvert", "weir", "bridge"], p=[0.7, 0.15, 0.15]))
        flow = float(np.round(np.exp(rng.normal(1.2, 0.8)), 2))
        screened = kind == "culvert" and rng.random() < 0.55
        row: Row = {"Asset": f"S{number:05d}", "What": kind, "Setting": str(rng.choice(list(CLASSES)))}
        row |= {"District": str(rng.choice(["north", "south"])), "Flow (l/s)": round(1000 * flow)}
        row |= culvert(rng, flow, screened) if kind == "culvert" else (weir if kind == "weir" else bridge)(rng, flow)
        row |= {"Loss": round(float(np.exp(rng.normal(9.5, 1.0))), -2), "Cost of enlarging": round(20000 * flow, -2)}
        if rng.random() < 0.005:
            row |= {"Flow (l/s)": "n.k."} if rng.random() < 0.5 else {"Bank": ""}
        yield row


def visits(rng: np.random.Generator, rows: list[Row]) -> Iterator[Row]:
    """Visits to three screens in four; of each screen's own chances, drawn from those of its class."""
    for row in rows:
        if "Screen width (mm)" not in row or rng.random() < 0.25:
            continue
        nothing, everything = CLASSES[row["Setting"]]
        chances = rng.dirichlet(ALIKE * np.array([nothing, 1.0 - nothing - everything, everything]))
        for visit in range(int(rng.integers(1, 13))):
            found = rng.choice(3, p=chances)
            share = (0.0, 5.0 * round(float(np.clip(20.0 * rng.beta(1.6, 2.6), 2.0, 18.0))), 100.0)[found]
            start = datetime(2025, 1, 1, 9) + timedelta(days=30 * visit + int(rng.integers(0, 20)))
            yield {
                **{"asset_id": row["Asset"], "time_start": start.isoformat(), "reason": "scheduled", "observed": "yes"},
                **{"blocked_before_pct": share, "blocked_basis": "clear_opening"},
                **{"method": "eye", "cleared": "full"},
            }


def write(file: Path, rows: list[Row]) -> None:
    """All rows as CSV."""
    heads = list(dict.fromkeys(head for row in rows for head in row))
    with file.open("w", encoding="utf-8", newline="") as opened:
        table = csv.DictWriter(opened, heads, lineterminator="\n")
        table.writeheader()
        table.writerows(rows)


def make(folder: Path, count: int = ROWS) -> None:
    """Both tables into a folder."""
    rng = np.random.default_rng(SEED)
    rows = list(structures(rng, count))
    write(folder / "structures.csv", rows)
    write(folder / "visits.csv", list(visits(rng, rows)))


if __name__ == "__main__":
    make(HERE, int(sys.argv[1]) if len(sys.argv) > 1 else ROWS)
