"""The small study with two alternatives, live; and a browser's questions to it without a browser."""

from __future__ import annotations

import io
import json
from pathlib import Path
from typing import Any, NamedTuple

from overbank.live.answers import Live
from overbank.live.application import Application
from overbank.study.load import Study
from small import DEPENDENCE, study

ALTERNATIVES = """

[[alternative]]
name = "wide gaps"
set = { "lane.screen.gap_m" = 0.150, "lane.screen.width_m" = 5.0 }

[[alternative]]
name = "raked"
set = { "lane.screen.blockage" = { inflated_beta = { at_zero = 0.4, a = 1.5, b = 4.0, at_one = 0.0 } } }
"""

TOKEN, PORT = "a-token-of-the-test", "8123"


class Said(NamedTuple):
    """An answer: its status, its headers and its body."""

    status: int
    headers: dict[str, str]
    body: str

    @property
    def told(self) -> Any:
        return json.loads(self.body)


def lane(folder: Path) -> Study:
    """The study, with few samples."""
    return study(folder, ("samples = 4096", "samples = 512"), (DEPENDENCE, DEPENDENCE + ALTERNATIVES))


def application(folder: Path) -> Application:
    return Application(Live(lane(folder)), TOKEN)


def ask(app: Application, path: str, question: Any = None, **environ: Any) -> Said:
    """A question as the page asks it; a page or a script where there is none."""
    body = b"" if question is None else json.dumps(question).encode()
    asked = {
        **{"REQUEST_METHOD": "GET" if question is None else "POST", "PATH_INFO": f"/{TOKEN}/{path}"},
        **{"SERVER_PORT": PORT, "HTTP_HOST": f"127.0.0.1:{PORT}", "CONTENT_TYPE": "application/json"},
        **{"CONTENT_LENGTH": str(len(body)), "wsgi.input": io.BytesIO(body), **environ},
    }
    kept: list[Any] = []
    said = b"".join(app(asked, lambda status, headers, *_: kept.append((status, headers)) or io.BytesIO().write))
    (status, headers) = kept[0]
    return Said(int(status.split()[0]), dict(headers), said.decode())
