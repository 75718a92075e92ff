"""The slider of the travel time in a real browser: keys and mouse move it, and it shows the figures that were found.

On demand, `pytest -m slow tests/browser`; needs a headless Chromium on the machine.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from browser.driven import Page, browser
from overbank.report.page import write_report
from overbank.report.passing import own_travel, through_of
from overbank.words import rounded
from report.outcomes import outcome

pytestmark = pytest.mark.slow

PARTS = ("travel-time-words", "travel-in-time", "travel-in-time-interval", "travel-over", "travel-over-interval")


def shown(page: Page) -> list[str]:
    """What stands beside the slider."""
    return [page.value(f"document.getElementById({name!r}).textContent") for name in PARTS]


@pytest.mark.parametrize("width", [400, 1280])
def test_the_slider_of_the_travel_time(tmp_path: Path, width: int) -> None:
    made = outcome("flood in time")
    found = through_of(made).by_travel
    assert found is not None
    write_report(made, tmp_path)
    told = []
    for travel, share in found.in_time.items():
        part, over = rounded(share, "p"), rounded(found.over[travel], "p")
        told.append([f"{travel:g} hours", part.value, part.interval, over.value, over.interval])
    with browser(tmp_path / "profile") as page:
        page.go((tmp_path / "report.html").as_uri(), width)
        page.until("document.getElementById('travel') && !document.getElementById('travel').hidden")
        assert shown(page) == told[own_travel(made)]
        page.value("document.getElementById('travel-time').focus()")
        page.key("End")
        assert shown(page) == told[-1]
        for row in told[-2::-1]:
            page.key("ArrowLeft")
            assert shown(page) == row
        page.value("document.getElementById('travel-time').scrollIntoView({block: 'center', behavior: 'instant'})")
        x, y, wide, high = page.place("#travel-time")
        page.drag((x + 8.0, y + high / 2), (x + wide - 2.0, y + high / 2))
        assert shown(page) == told[-1]
        assert page.value("document.getElementById('travel-time').getAttribute('aria-valuetext')") == told[-1][0]
        assert page.told == []
