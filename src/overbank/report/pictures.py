"""Pictures by themselves, as PNG files."""

from __future__ import annotations

from pathlib import Path

from matplotlib.figure import Figure

from overbank.errors import FolderError
from overbank.outputs.medians import DeterministicRun
from overbank.report.long_section import long_section_at_medians
from overbank.report.section import section_at_medians
from overbank.report.style import DOTS, drawing


def save_long_section(result: DeterministicRun, path: Path) -> None:
    """Draw the long section of a run at the medians into a PNG file.

    Raises
    ------
    FolderError : the file cannot be written
    """
    save_png(long_section_at_medians(section_at_medians(result)), path)


def save_png(figure: Figure, path: Path) -> None:
    """Write a figure as a PNG file that says whose it is.

    Raises
    ------
    FolderError : the file cannot be written
    """
    try:
        with drawing():
            figure.savefig(path, format="png", dpi=DOTS, metadata={"Software": "overbank"})
    except OSError as error:
        raise FolderError(
            f"{path}: expected a PNG file that can be written; got {error.strerror}. Give another path"
        ) from error
