"""The page as a Word document, for the engineer's own report: python-docx (MIT licence), an optional extra.

Whatever stands on the page in words, tables and pictures goes over, in the same order; what needs a screen does not.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from io import BytesIO
from pathlib import Path
from typing import Any

from overbank.errors import DomainError
from overbank.report.page import FILE as PAGE

FILE = "report.docx"

WIDTH, PICTURE = 170, 150
"""Of the text on A4, and of a picture [mm]."""

SMALL = 8
"""Type size of tables [pt]."""

LEFT_OUT = {"look-around"}
"""Sections that need a screen."""

Element = Any
"""An element of the page as lxml gives it; it has no types."""


def write_docx(results: Path, file: Path) -> None:
    """Write the page of a folder of results as a Word document into a file.

    Raises
    ------
    DomainError : the library is not there
    """
    try:
        import docx
        from lxml import html
    except ImportError as error:
        raise DomainError(
            "--docx: expected the package python-docx; got none. Install it: pip install 'overbank[docx]'"
        ) from error
    page = html.document_fromstring((results / PAGE).read_text(encoding="utf-8"))
    document = docx.Document()
    _paper(document, page)
    document.add_heading(words(page.find(".//h1")), 0)
    for section in page.iterfind(".//main/section"):
        if section.get("id") not in LEFT_OUT:
            for element in _blocks(section):
                _put(document, element, results)
    saved = BytesIO()  # a full disk is then told once, not again by the archive that was not closed
    document.save(saved)
    file.write_bytes(saved.getvalue())


def words(element: Element) -> str:
    """The text of an element, single spaces between its words."""
    return " ".join("".join(_pieces(element)).split()) if element is not None else ""


def _pieces(element: Element) -> Iterator[str]:
    """The text piece by piece; what stands on a line of its own is kept apart."""
    apart = " " if element.get("class") in ("path", "note") else ""
    yield f"{apart}{element.text or ''}"
    for child in element:
        yield from _pieces(child)
        yield child.tail or ""
    yield apart


def _paper(document: Any, page: Element) -> None:
    """A4, the title and the state of the report at the head of each page, its number at the foot."""
    from docx.oxml import OxmlElement
    from docx.oxml.ns import qn
    from docx.shared import Mm

    paper = document.sections[0]
    paper.page_width, paper.page_height = Mm(210), Mm(297)
    paper.left_margin = paper.right_margin = Mm((210 - WIDTH) // 2)
    state = page.find('.//meta[@name="state"]').get("content")
    paper.header.paragraphs[0].text = f"{words(page.find('.//title'))}\t{state}"
    for kind, text in (("begin", ""), ("", "PAGE"), ("end", "")):
        mark = OxmlElement("w:fldChar" if kind else "w:instrText")
        if kind:
            mark.set(qn("w:fldCharType"), kind)
        mark.text = text
        paper.footer.paragraphs[0].add_run()._r.append(mark)


def _blocks(element: Element) -> Iterator[Element]:
    """What is to be put into the document, in order; boxes are opened."""
    for child in element:
        if child.tag in WAYS:
            yield child
        elif child.tag == "div":
            yield from _blocks(child)


def _put(document: Any, element: Element, results: Path) -> None:
    WAYS[element.tag](document, element, results)


def _heading(document: Any, element: Element, _: Path) -> None:
    document.add_heading(words(element), int(element.tag[1]) - 1)


def _paragraph(document: Any, element: Element, _: Path) -> None:
    if text := words(element):
        document.add_paragraph(text)


def _list(document: Any, element: Element, _: Path) -> None:
    for item in element.iterfind("li"):
        document.add_paragraph(words(item), style="List Bullet")


def _terms(document: Any, element: Element, _: Path) -> None:
    for term, said in zip(element.iterfind("dt"), element.iterfind("dd"), strict=True):
        document.add_paragraph(f"{words(term)}: {words(said)}", style="List Bullet")


def _figure(document: Any, element: Element, results: Path) -> None:
    """The picture, if it could be drawn, and its caption."""
    from docx.shared import Mm

    picture = results / "figures" / f"{element.get('id')}.png"
    if picture.exists():
        document.add_picture(str(picture), width=Mm(PICTURE))
    document.add_paragraph(words(element.find("figcaption")), style="Caption")


def _table(document: Any, element: Element, _: Path) -> None:
    """Caption, head and rows; a cell that spans several columns or rows is written in its first."""
    from docx.shared import Pt

    caption, rows = element.find("caption"), list(element.iter("tr"))
    if caption is not None:
        document.add_paragraph(words(caption), style="Caption")
    cells = list(laid_out(rows))
    across = max(len(row) for row in cells)
    table = document.add_table(len(cells), across, style="Table Grid")
    for line, row in zip(table.rows, cells, strict=True):
        for cell, text in zip(line.cells, row, strict=False):
            cell.text = text
            cell.paragraphs[0].runs[0].font.size = Pt(SMALL)
    document.add_paragraph()


def laid_out(rows: list[Element]) -> Iterator[list[str]]:
    """The texts of a table's cells, as many a row as its columns go."""
    hanging: dict[int, int] = {}
    for row in rows:
        texts: list[str] = []
        for cell in row:
            while hanging.get(len(texts), 0):
                hanging[len(texts)] -= 1
                texts.append("")
            if int(cell.get("rowspan", 1)) > 1:
                hanging[len(texts)] = int(cell.get("rowspan")) - 1
            texts += [words(cell), *[""] * (int(cell.get("colspan", 1)) - 1)]
        yield texts


WAYS: dict[str, Callable[[Any, Element, Path], None]] = {
    **dict.fromkeys(("h2", "h3"), _heading),
    **dict.fromkeys(("p", "blockquote", "pre"), _paragraph),
    "ul": _list,
    "dl": _terms,
    "figure": _figure,
    "table": _table,
}
"""How each kind of element goes over; others, such as scripts and buttons, do not."""
