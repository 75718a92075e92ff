"""The search of the docs works from files, without a server: a small site with our own frame in place of a worker.

On demand, `pytest -m slow tests/browser`; needs a headless Chromium on the machine.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pytest
import yaml

from .test_panel import browse

pytestmark = pytest.mark.slow

DOCS = Path(__file__).parents[2] / "docs"
FRAME = "javascripts/iframe-worker.js"

SITE = f"""
site_name: small
docs_dir: pages
use_directory_urls: false
theme: {{name: material, font: false}}
extra: {{polyfills: [{FRAME}]}}
plugins: [search, offline]
"""


def test_a_word_is_found_on_the_page_that_has_it(tmp_path: Path) -> None:
    pages = tmp_path / "pages"
    (pages / "javascripts").mkdir(parents=True)
    shutil.copy(DOCS / "pages" / FRAME, pages / FRAME)
    (pages / "index.md").write_text("# First\n\nA culvert.\n", encoding="utf-8")
    (pages / "other.md").write_text("# Second\n\nA trapezoid stands here alone.\n", encoding="utf-8")
    (tmp_path / "mkdocs.yml").write_text(SITE, encoding="utf-8")
    subprocess.run([sys.executable, "-m", "mkdocs", "build", "-q"], cwd=tmp_path, check=True, timeout=120)
    page = (tmp_path / "site" / "index.html").as_uri()
    shown = browse(f"{page}?q=trapezoid", tmp_path / "profile", "--virtual-time-budget=10000", "--dump-dom").stdout
    assert "1 matching document" in shown
    assert 'href="other.html' in shown or "/other.html" in shown


def test_the_docs_are_built_with_it() -> None:
    said = yaml.load((DOCS / "mkdocs.yml").read_text(encoding="utf-8"), Loader=yaml.BaseLoader)
    assert "offline" in said["plugins"]
    assert said["extra"]["polyfills"] == [FRAME]
