"""A headless Chromium that a test drives by its own protocol: real presses of mouse and keys, at any width."""

from __future__ import annotations

import asyncio
import base64
import json
import re
import shutil
import subprocess
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Self

from tornado.websocket import WebSocketClientConnection, websocket_connect

PATIENCE = 60.0
"""No answer of a page takes longer [s]."""

TOLD = ("Runtime.exceptionThrown", "Log.entryAdded", "Runtime.consoleAPICalled")
"""What the protocol calls that which a page throws or says on its console."""


class Page:
    """One page of the browser."""

    def __init__(self, loop: asyncio.AbstractEventLoop, socket: WebSocketClientConnection) -> None:
        self._loop, self._socket, self._number = loop, socket, 0
        self.told: list[str] = []
        """What the page has said on the console, and what it threw."""

    @classmethod
    def at(cls, loop: asyncio.AbstractEventLoop, address: str) -> Self:
        async def connected() -> WebSocketClientConnection:
            return await websocket_connect(address, max_message_size=2**26)

        page = cls(loop, loop.run_until_complete(connected()))
        for part in ("Page", "Runtime", "Log"):
            page.call(f"{part}.enable")
        return page

    def call(self, method: str, **parameters: Any) -> Any:
        """One command of the protocol and its answer."""
        self._number += 1
        question = {"id": self._number, "method": method, "params": parameters}
        return self._loop.run_until_complete(asyncio.wait_for(self._exchanged(question), PATIENCE))

    async def _exchanged(self, question: dict[str, Any]) -> Any:
        await self._socket.write_message(json.dumps(question))
        while (said := await self._socket.read_message()) is not None:
            answer = json.loads(said)
            if answer.get("method") in TOLD:
                self.told.append(json.dumps(answer["params"]))
            if answer.get("id") == question["id"]:
                assert "error" not in answer, answer
                return answer["result"]
        raise AssertionError("the browser has gone")

    def value(self, expression: str) -> Any:
        """What an expression of the page gives."""
        found = self.call("Runtime.evaluate", expression=expression, returnByValue=True, awaitPromise=True)
        assert "exceptionDetails" not in found, found
        return found["result"].get("value")

    def go(self, address: str, width: int = 1280, height: int = 900) -> None:
        """Load a page at a width."""
        self.call(
            "Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=width < 600
        )
        self.call("Page.navigate", url=address)

    def until(self, expression: str) -> None:
        """Wait until an expression holds."""
        last = time.monotonic() + PATIENCE
        while not self.value(expression):
            assert time.monotonic() < last, f"still not: {expression}"
            time.sleep(0.02)

    def drag(self, begin: tuple[float, float], end: tuple[float, float]) -> None:
        """Press the mouse at one place, move it in steps, and let go at another."""
        self._mouse("mousePressed", begin)
        for step in range(1, 6):
            share = step / 5
            self._mouse("mouseMoved", tuple(a + share * (b - a) for a, b in zip(begin, end, strict=True)))
        self._mouse("mouseReleased", end)

    def click(self, selector: str) -> None:
        """Press the mouse on the middle of an element."""
        self.value(f"document.querySelector({selector!r}).scrollIntoView({{block: 'center', behavior: 'instant'}})")
        x, y, wide, high = self.place(selector)
        self.drag((x + wide / 2, y + high / 2), (x + wide / 2, y + high / 2))

    def place(self, selector: str) -> tuple[float, float, float, float]:
        """Left, top, width and height of an element in the window."""
        box = f"(({{x, y, width, height}}) => [x, y, width, height])(document.querySelector({selector!r})"
        x, y, wide, high = self.value(f"{box}.getBoundingClientRect())")
        return x, y, wide, high

    def key(self, name: str) -> None:
        """Press a key."""
        for kind in ("keyDown", "keyUp"):
            self.call("Input.dispatchKeyEvent", type=kind, key=name, code=name)

    def picture(self, file: Path) -> None:
        """The whole page as a PNG file."""
        size = self.call("Page.getLayoutMetrics")["cssContentSize"]
        clip = {"x": 0, "y": 0, "width": size["width"], "height": size["height"], "scale": 1}
        shot = self.call("Page.captureScreenshot", captureBeyondViewport=True, clip=clip)
        file.write_bytes(base64.b64decode(shot["data"]))

    def _mouse(self, kind: str, at: tuple[float, ...]) -> None:
        held = 0 if kind == "mouseReleased" else 1
        self.call("Input.dispatchMouseEvent", type=kind, x=at[0], y=at[1], button="left", buttons=held, clickCount=1)


@contextmanager
def browser(profile: Path) -> Iterator[Page]:
    """A browser with one page; it is ended with the block."""
    program = shutil.which("chromium") or shutil.which("chromium-browser")
    assert program is not None, "no headless Chromium on this machine"
    command = [program, "--headless", "--no-sandbox", "--disable-gpu", "--remote-debugging-port=0", "about:blank"]
    log = profile.with_suffix(".log")
    with log.open("w") as told, subprocess.Popen([*command, f"--user-data-dir={profile}"], stderr=told) as process:
        loop = asyncio.new_event_loop()
        try:
            port = _port(log)
            with urllib.request.urlopen(f"http://127.0.0.1:{port}/json", timeout=PATIENCE) as answer:
                pages = json.load(answer)
            address = next(each["webSocketDebuggerUrl"] for each in pages if each["type"] == "page")
            yield Page.at(loop, address)
        finally:
            process.terminate()
            loop.close()


def _port(log: Path) -> int:
    """The port that the browser says it listens on."""
    last = time.monotonic() + PATIENCE
    while time.monotonic() < last:
        if found := re.search(r"ws://127\.0\.0\.1:(\d+)/", log.read_text()):
            return int(found[1])
        time.sleep(0.05)
    raise AssertionError("the browser has not begun")
