"""Draws picture.png of every study anew: `.venv/bin/python studies/pictures.py`."""

from __future__ import annotations

from pathlib import Path

import overbank

PICTURES = {"quillet-lane": "overtopping_by_blockage", "box-under-a-road": "exceedance"}
"""The figure that shows the answer of each study."""

DOTS = 110
"""Dots per inch: wide enough for a page, small enough for the repository."""


def main() -> None:
    """Run every study and save its figure."""
    for name, figure in PICTURES.items():
        folder = Path(__file__).parent / name
        outcome = overbank.run_study(overbank.read_study(folder))
        overbank.figure(outcome, figure).savefig(folder / "picture.png", dpi=DOTS)


if __name__ == "__main__":
    main()
