"""Pages of the studies of `outcomes`, each drawn once for all tests of the report."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

from overbank.report import page as report
from overbank.report.captions import CAPTIONS
from overbank.report.figures import FIGURES, figures_of
from overbank.report.svg import as_svg, inline
from shared import shared

from .outcomes import outcome
from .reading import Page


@cache
def drawings(study: str) -> dict[str, str]:
    """Every figure of a study as an SVG document."""
    made = outcome(study)
    return shared(("drawings", study), lambda: {name: as_svg(FIGURES[name](made)) for name in figures_of(made)})


def plates(study: str) -> dict[str, report.Plate]:
    """The same as they stand on the page; a figure or a caption that fails fails the test."""
    captions = {name: CAPTIONS[name](outcome(study)) for name in drawings(study)}
    return {
        name: report.Plate(
            name, inline(document, name, f"{captions[name].title} {captions[name].described}"), captions[name]
        )
        for name, document in drawings(study).items()
    }


@cache
def html(study: str) -> str:
    """The page of a study with its figures."""
    return shared(("page", study), lambda: report.page(outcome(study), plates(study)))


@cache
def page(study: str) -> Page:
    """The page, read back."""
    return Page(html(study))


@cache
def files(study: str) -> dict[str, bytes]:
    """Every file that the report of a study consists of; pictures of points cost more than all the rest."""
    with TemporaryDirectory() as folder:
        report.write_report(outcome(study), Path(folder))
        found = sorted(each for each in Path(folder).rglob("*") if each.is_file())
        return {str(each.relative_to(folder)): each.read_bytes() for each in found}
