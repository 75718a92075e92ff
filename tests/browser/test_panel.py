"""The page in a real browser: it asks for nothing, says nothing on the console, and the panel shows the figures stored.

On demand, `pytest -m slow tests/browser`; needs a headless Chromium on the machine.
"""

from __future__ import annotations

import re
import shutil
import subprocess
from functools import partial
from html import unescape
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from threading import Thread

import pytest

from overbank.report.page import write_report
from overbank.words import rounded
from report.outcomes import outcome

pytestmark = pytest.mark.slow


def browse(address: str, profile: Path, *more: str) -> subprocess.CompletedProcess[str]:
    """Load a page and give its document back, and what the browser has logged."""
    program = shutil.which("chromium") or shutil.which("chromium-browser")
    assert program is not None, "no headless Chromium on this machine"
    command = [program, "--headless", "--no-sandbox", "--disable-gpu", f"--user-data-dir={profile}"]
    command += ["--enable-logging=stderr", "--virtual-time-budget=3000", *more, address]
    return subprocess.run(command, capture_output=True, text=True, timeout=120, check=True)


def shown(document: str, name: str) -> str:
    """The text of a part of the panel."""
    found = re.search(rf'<(output|span)[^>]* id="panel-{name}"[^>]*>(.*?)</\1>', document)
    assert found is not None, name
    return unescape(found[2])


@pytest.mark.parametrize("width", ["390,844", "1280,900"])
def test_the_panel_reads_off_what_is_chosen(tmp_path: Path, width: str) -> None:
    made = outcome("lane")
    assert made.panel is not None
    write_report(made, tmp_path)
    page = tmp_path / "report.html"
    loaded = browse(page.as_uri(), tmp_path / "profile", f"--window-size={width}", "--dump-dom")
    assert "CONSOLE" not in loaded.stderr
    found, target = made.panel, made.panel.targets.index(made.target)
    assert shown(loaded.stdout, "above") == rounded(found.rows[0].above[found.start], "p").value
    assert shown(loaded.stdout, "level") == rounded(found.rows[0].levels[target], "m").value
    choose = """<script>
    document.getElementById("panel-assumed").click();
    for (const [name, value] of [["blockage", 13], ["bank", 7], ["target", 3]]) {
      const input = document.getElementById("panel-" + name);
      input.value = value;
      input.dispatchEvent(new Event("input"));
    }
    </script></body>"""
    page.write_text(page.read_text(encoding="utf-8").replace("</body>", choose), encoding="utf-8")
    moved = browse(page.as_uri(), tmp_path / "profile", f"--window-size={width}", "--dump-dom")
    assert "CONSOLE" not in moved.stderr
    row = found.rows[14]
    assert row.blockage == 0.65
    assert shown(moved.stdout, "above") == rounded(row.above[7], "p").value
    assert shown(moved.stdout, "above-interval") == rounded(row.above[7], "p").interval
    assert shown(moved.stdout, "level") == rounded(row.levels[3], "m").value


WIDTH = """<script>addEventListener("load", () => {
  const {scrollWidth, clientWidth} = document.documentElement, line = document.createElement("pre");
  document.body.append(Object.assign(line, {id: "wide", textContent: scrollWidth - clientWidth}));
});</script></body>"""


@pytest.mark.parametrize("width", [400, 1280])
def test_nothing_sticks_out_of_the_page(tmp_path: Path, width: int) -> None:
    """Wide tables scroll in themselves; the page never does. In a frame, since a window is never narrower than 500."""
    write_report(outcome("lane"), tmp_path)
    page, frame = tmp_path / "report.html", tmp_path / "frame.html"
    page.write_text(page.read_text(encoding="utf-8").replace("</body>", WIDTH), encoding="utf-8")
    inner = "document.querySelector('iframe').contentDocument.getElementById('wide').textContent"
    tell = f"addEventListener('load', () => {{ document.title = {inner} }})"
    frame.write_text(
        f'<html><body><iframe src="report.html" style="border:0;width:{width}px;height:900px"></iframe>'
        f"<script>{tell}</script></body></html>",
        encoding="utf-8",
    )
    loaded = browse(frame.as_uri(), tmp_path / "profile", "--allow-file-access-from-files", "--dump-dom")
    found = re.search(r"<title>(-?\d+)</title>", loaded.stdout)
    assert found is not None, loaded.stdout
    assert int(found[1]) <= 0


LIST = """<script>addEventListener("load", () => setTimeout(() => {
  const names = performance.getEntriesByType("resource").map((entry) => entry.name);
  document.body.append(Object.assign(document.createElement("pre"), {id: "asked", textContent: names.join(" ")}));
}, 500));</script></body>"""


class Quiet(SimpleHTTPRequestHandler):
    """Serves files without a word."""

    def log_message(self, *_: object) -> None:
        """Say nothing."""


def asked_for(page: Path, profile: Path) -> str:
    """Everything that the page has asked for besides itself, by the browser's own account.

    Served from this machine, since that account leaves out files; the icon of a site is then asked for by the browser.
    """
    with ThreadingHTTPServer(("127.0.0.1", 0), partial(Quiet, directory=str(page.parent))) as server:
        Thread(target=server.serve_forever, daemon=True).start()
        address = f"http://127.0.0.1:{server.server_port}/{page.name}"
        document = browse(address, profile, "--dump-dom").stdout
        server.shutdown()
    found = re.search(r'<pre id="asked">(.*?)</pre>', document)
    assert found is not None
    return " ".join(name for name in found[1].split() if not name.endswith("/favicon.ico"))


def test_the_page_asks_for_nothing_and_prints(tmp_path: Path) -> None:
    write_report(outcome("lane"), tmp_path)
    page, printed = tmp_path / "report.html", tmp_path / "report.pdf"
    browse(page.as_uri(), tmp_path / "profile", f"--print-to-pdf={printed}")
    assert printed.read_bytes().startswith(b"%PDF")
    text = page.read_text(encoding="utf-8")
    page.write_text(text.replace("</body>", LIST), encoding="utf-8")
    assert asked_for(page, tmp_path / "profile") == ""
    for picture in ("a-picture.png", "https://example.invalid/a-picture.png"):
        page.write_text(text.replace("</body>", f'<img src="{picture}" alt="">{LIST}'), encoding="utf-8")
        assert "a-picture.png" in asked_for(page, tmp_path / "profile")  # the account would have told
