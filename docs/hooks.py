"""What the build of these pages does beyond turning Markdown into HTML.

Marks in a page are replaced:

    <!-- generated: verification -->               tables made from the program itself
    <!-- snippet: first_run.py -->                 a file of snippets/, which the tests run
    <!-- snippet: records/visits.csv | 8 -->       its first lines only
    <!-- command: overbank check mine -->          the command and what it prints, carried out by this build
    <!-- edit: mine/study.toml | old | new -->     a change of a file between two commands; leaves nothing on the page

and every figure under pictures/ is drawn by the build.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

from mkdocs.config.defaults import MkDocsConfig
from mkdocs.structure.files import File, Files
from mkdocs.structure.pages import Page

sys.path.insert(0, str(Path(__file__).parent))

from generate import bridge_methods, coefficients, commands, mistakes, pictures, referee, study_file, verification

GENERATED = {
    "verification": verification.page,
    "study-file": study_file.page,
    "coefficients": coefficients.page,
    "bridge-methods": bridge_methods.page,
    "referee-studies": referee.random_studies,
    "referee-coverage": referee.covered,
    "referee-items": referee.once_wrong,
    "mistakes": mistakes.page,
}


DONE: dict[str, commands.Done] = {}
"""What came of the commands of each page."""


def on_files(files: Files, config: MkDocsConfig) -> Files:
    """Carry out the commands of all pages, and add the figures."""
    DONE.update(commands.carried_out({file.src_uri: file.content_string for file in files.documentation_pages()}))
    for name, content in pictures.drawn(DONE[commands.FIRST].folder).items():
        files.append(File.generated(config, f"pictures/{name}", content=content))
    return files


def on_page_markdown(markdown: str, page: Page, **_: Any) -> str:
    """Replace the marks of a page."""
    for name, write in GENERATED.items():
        mark = f"<!-- generated: {name} -->"
        if mark in markdown:
            markdown = markdown.replace(mark, write())
    return commands.replaced(markdown, DONE[page.file.src_uri].texts)
