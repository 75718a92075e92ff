"""The live page in a real browser: dragged by the mouse, it shows what the model gives; a copy is asked about.

On demand, `pytest -m slow tests/browser`; needs a headless Chromium on the machine.
"""

from __future__ import annotations

import random
from collections.abc import Iterator

import pytest

from live.lane import lane
from overbank.live.answers import Live
from overbank.live.server import served
from overbank.outputs.medians import deterministic_run
from overbank.study.load import Study, read_study
from overbank.words import measure

from .driven import Page, browser

pytestmark = pytest.mark.slow

ANSWERED = "document.body && document.body.dataset.state === 'answered'"
NUMBERS = (
    "[...document.querySelectorAll('#controls fieldset.held')].map((each) => "
    "[each.dataset.name, each.querySelector('input[type=number]').valueAsNumber])"
)


class Open:
    """A study that is open, the page that shows it, and its address."""

    def __init__(self, study: Study, page: Page, address: str) -> None:
        self.study, self.page, self.address = study, page, address

    def text(self, name: str) -> str:
        """What a part of the page says."""
        return str(self.page.value(f"document.getElementById({name!r}).textContent"))

    def agrees(self) -> None:
        """The level shown is that of the study with the numbers that the page holds, run apart."""
        held = dict(self.page.value(NUMBERS))
        place = deterministic_run(self.study.with_values(held) if held else self.study).outcome.element("lane")
        assert self.text("level") == measure(float(place.level[0]), "m"), held
        assert not self.page.told, self.page.told


@pytest.fixture(scope="module")
def opened(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Open]:
    """The small study, whose tailwater is a level, so that `with_values` takes all that a hand can hold."""
    folder = tmp_path_factory.mktemp("open")
    study = lane(folder / "mine")
    with served(Live(study), 0) as address, browser(folder / "profile") as page:
        yield Open(study, page, address)


@pytest.mark.parametrize("width", [400, 1280])
def test_twenty_random_drags_show_the_levels_of_the_model(opened: Open, width: int) -> None:
    page, chance = opened.page, random.Random(20261130 + width)
    page.go(opened.address, width)
    page.until(ANSWERED)
    opened.agrees()
    sliders = page.value("document.querySelectorAll('#controls input[type=range]').length")
    assert sliders == 4
    for _ in range(20):
        number = chance.randrange(sliders)
        selector = f"#controls fieldset:nth-of-type({number + 1}) input[type=range]"
        page.value(f"document.querySelector({selector!r}).scrollIntoView({{block: 'center', behavior: 'instant'}})")
        x, y, wide, high = page.place(selector)
        at = page.value(f"((s) => (s.value - s.min) / (s.max - s.min))(document.querySelector({selector!r}))")
        thumb = 8.0
        begin, end = (x + thumb + share * (wide - 2 * thumb) for share in (at, chance.random()))
        page.drag((begin, y + high / 2), (end, y + high / 2))
        page.until(ANSWERED)
        opened.agrees()
    assert len(page.value(NUMBERS)) == sliders
    assert page.value("document.documentElement.scrollWidth - document.documentElement.clientWidth") <= 0
    rows = page.value("document.querySelectorAll('#arrangements tr').length")
    assert rows == 1 + len(opened.study.alternatives)


def test_keys_and_typed_numbers_move_it_too(opened: Open) -> None:
    page = opened.page
    page.go(opened.address)
    page.until(ANSWERED)
    page.value("document.querySelector('#controls input[type=range]').focus()")
    page.key("ArrowRight")
    page.until(ANSWERED)
    assert dict(page.value(NUMBERS)) == {"flow.design_m3_s": 6.01}
    opened.agrees()
    page.value("document.querySelector('#controls input[type=number]').select()")
    page.call("Input.insertText", text="99")
    assert "a number from" in opened.text("fault")
    page.value("document.querySelector('#controls input[type=number]').select()")
    page.call("Input.insertText", text="8")
    page.until(ANSWERED)
    assert dict(page.value(NUMBERS)) == {"flow.design_m3_s": 8}
    assert opened.text("fault") == ""
    opened.agrees()
    page.click("#reset")
    page.until(ANSWERED)
    assert page.value(NUMBERS) == []
    opened.agrees()


def test_a_copy_is_written_only_when_the_reader_agrees(opened: Open) -> None:
    page, copy = opened.page, opened.study.folder / "by-hand-1"
    page.go(opened.address)
    page.until(ANSWERED)
    assert page.value("document.getElementById('copy').disabled")
    page.value("document.querySelector('#controls input[type=range]').focus()")
    page.key("PageUp")
    page.until(ANSWERED)
    for agree, there in (("#refuse", False), ("#write", True)):
        page.click("#copy")
        page.until("document.getElementById('ask').open")
        assert not copy.exists()
        page.click(agree)
        page.until("!document.getElementById('ask').open")
        if there:
            page.until("document.getElementById('copied').textContent.startsWith('Written')")
        assert copy.exists() is there
    assert read_study(copy).content.flow.design_m3_s.median == 6.1
    assert page.value("document.getElementById('folder').value") == "by-hand-2"


def test_nothing_but_its_own_address_is_asked(opened: Open) -> None:
    page = opened.page
    page.go(opened.address)
    page.until(ANSWERED)
    asked = page.value("performance.getEntriesByType('resource').map((entry) => entry.name)")
    assert asked
    assert all(name.startswith(opened.address) for name in asked if not name.startswith("data:"))
