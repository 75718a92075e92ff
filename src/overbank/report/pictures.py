"""Pictures by themselves, as PNG files."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.image import imsave
from numpy.typing import NDArray

from overbank.errors import FolderError
from overbank.outputs.medians import DeterministicRun
from overbank.report.cross_sections import cross_sections_of
from overbank.report.long_section import long_section_at_medians
from overbank.report.placed import placed_at_medians
from overbank.report.section import section_at_medians
from overbank.report.style import DOTS, drawing


def save_site(result: DeterministicRun, path: Path) -> None:
    """Draw the site of a run at the medians into a PNG file: long section, plan and sections across.

    Raises
    ------
    FolderError : the file cannot be written
    """
    sections = cross_sections_of(placed_at_medians(result))
    save_png((long_section_at_medians(section_at_medians(result)), sections), path)


def save_png(figures: tuple[Figure, ...], path: Path) -> None:
    """Write figures, one below the other, as a PNG file that says whose it is.

    Raises
    ------
    FolderError : the file cannot be written
    """
    try:
        with drawing():
            sheets = np.vstack([_dots(figure) for figure in figures])
            imsave(path, sheets, format="png", dpi=DOTS, metadata={"Software": "overbank"})
    except OSError as error:
        raise FolderError(
            f"{path}: expected a PNG file that can be written; got {error.strerror}. Give another path"
        ) from error


def _dots(figure: Figure) -> NDArray[np.uint8]:
    """A figure as rows of dots."""
    figure.set_dpi(DOTS)
    canvas: Any = FigureCanvasAgg(figure)  # the library's own methods bear no types
    canvas.draw()
    return np.asarray(canvas.buffer_rgba())
