"""The page as a PDF file, printed by WeasyPrint (BSD licence), an optional extra that needs the text library Pango."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

from overbank.errors import DomainError
from overbank.report.page import FILE as PAGE

FILE = "report.pdf"

DRAWN = re.compile(r'(<figure id="(\w+)">\s*<div class="plate"[^>]*aria-label="([^"]*)">)<svg.*?</svg>', re.DOTALL)
"""A figure within the page: what stands before it, its name, its title, and the drawing itself."""


def write_pdf(results: Path, file: Path) -> None:
    """Print the page of a folder of results, with headers, footers and page numbers, into a file.

    The drawings come from figures/, in the colours of light paper.

    Raises
    ------
    DomainError : the library, or what it needs of the system, is not there
    """
    text = (results / PAGE).read_text(encoding="utf-8")
    printed = DRAWN.sub(r'\1<img src="figures/\2.svg" alt="\3">', text)
    _library().HTML(string=printed, base_url=str(results)).write_pdf(str(file))


def _library() -> Any:
    """WeasyPrint; one clear message where it, or a library of the system, is missing."""
    try:
        import weasyprint
    except ImportError as error:
        raise DomainError(
            "--pdf: expected the package weasyprint; got none. Install it: pip install 'overbank[pdf]', or print "
            "report.html from a browser"
        ) from error
    except OSError as error:
        raise DomainError(
            f"--pdf: expected the text library Pango of the system, which weasyprint needs; got {error}. Install Pango "
            "1.44 or newer, or print report.html from a browser"
        ) from error
    return weasyprint
