"""The page and its answers over WSGI: every request must bear the token of the address and name this machine as host.

    /TOKEN/               the page
    /TOKEN/live.css, .js  what it is dressed in, and its script
    /TOKEN/answer         numbers held -> the site with them
    /TOKEN/arrangements   numbers held -> every arrangement with them
    /TOKEN/copy           numbers held and a folder -> what would be written, and a word for it; nothing is written
    /TOKEN/write          that word -> it is written

Nothing else is served: no address leads to a file.
"""

from __future__ import annotations

import json
import secrets
import threading
from collections.abc import Callable, Iterable
from typing import Any, NamedTuple
from wsgiref.types import StartResponse, WSGIEnvironment

from overbank.errors import DomainError, OverbankError
from overbank.live import told
from overbank.live.answers import Live
from overbank.live.controls import held_by_hand
from overbank.live.copies import Copy, copy_of, free_name, write
from overbank.report.live import live_page, live_script, live_style

MOST_BYTES = 2**14
"""No question of the page is longer."""

HEADERS = (
    ("Cache-Control", "no-store"),
    (
        "Content-Security-Policy",
        "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; img-src data:; base-uri 'none'; "
        "form-action 'none'; frame-ancestors 'none'",
    ),
    ("Cross-Origin-Resource-Policy", "same-origin"),
    ("Referrer-Policy", "no-referrer"),
    ("X-Content-Type-Options", "nosniff"),
)
"""The page asks nobody but this server, nobody frames it, and its address is told to nobody."""

JSON = "application/json"


class Reply(NamedTuple):
    """What a request is answered with."""

    status: str
    kind: str
    body: str


class Application:
    """The live page of one study, as a WSGI application.

    Parameters
    ----------
    live : the study
    token : the first part of every address
    """

    def __init__(self, live: Live, token: str) -> None:
        self.live, self._token = live, token
        self._copies: dict[str, Copy] = {}
        self._alone = threading.Lock()
        self._pages: dict[str, Callable[[], Reply]] = {
            "": self._page,
            "live.css": lambda: Reply("200 OK", "text/css", live_style()),
            "live.js": lambda: Reply("200 OK", "text/javascript", live_script()),
        }
        self._answers: dict[str, Callable[[dict[str, Any]], told.Told]] = {
            "answer": lambda asked: told.site(live, self._held(asked)),
            "arrangements": lambda asked: told.arrangements(live, self._held(asked)),
            "copy": self._copy,
            "write": self._write,
        }

    def __call__(self, environ: WSGIEnvironment, start_response: StartResponse) -> Iterable[bytes]:
        reply = self._reply(environ)
        body = reply.body.encode("utf-8")
        headers = [("Content-Type", f"{reply.kind}; charset=utf-8"), ("Content-Length", str(len(body))), *HEADERS]
        start_response(reply.status, headers)
        return [body]

    def _reply(self, environ: WSGIEnvironment) -> Reply:
        if not _of_this_machine(environ):
            return _fault("403 Forbidden", "This page answers only under the address that overbank has printed.")
        token, _, rest = environ.get("PATH_INFO", "").removeprefix("/").partition("/")
        if not secrets.compare_digest(token.encode("utf-8", "replace"), self._token.encode()):
            return _fault("403 Forbidden", "The address lacks its token. Take it as overbank has printed it.")
        method = environ.get("REQUEST_METHOD")
        if method == "GET" and rest in self._pages:
            return self._pages[rest]()
        if method == "POST" and rest in self._answers:
            return self._answered(environ, self._answers[rest])
        if rest in self._pages or rest in self._answers:
            return _fault("405 Method Not Allowed", "This address is not asked so.")
        return _fault("404 Not Found", "There is nothing here.")

    def _answered(self, environ: WSGIEnvironment, answer: Callable[[dict[str, Any]], told.Told]) -> Reply:
        try:
            return Reply("200 OK", JSON, json.dumps(answer(_asked(environ)), allow_nan=False))
        except OverbankError as error:
            return _fault("400 Bad Request", str(error))

    def _page(self) -> Reply:
        words = {**told.question(self.live), "folder": free_name(self.live.study)}
        return Reply("200 OK", "text/html", live_page(words))

    def _held(self, asked: dict[str, Any]) -> dict[str, float]:
        return held_by_hand(asked.get("held", {}), self.live.controls)

    def _copy(self, asked: dict[str, Any]) -> told.Told:
        """What would be written. A word for it, good for one time, is what `_write` asks for."""
        held, name = self._held(asked), asked.get("folder")
        if not held or not isinstance(name, str):
            raise DomainError("the copy: expected numbers held by hand and a folder; got none. Hold a number first")
        copy, word = copy_of(self.live.study, held, name), secrets.token_urlsafe(16)
        with self._alone:
            self._copies = {word: copy}
        return {"word": word, "folder": str(copy.folder), "files": list(copy.contents)}

    def _write(self, asked: dict[str, Any]) -> told.Told:
        with self._alone:
            copy = self._copies.pop(str(asked.get("word")), None)
        if copy is None:
            raise DomainError("write: expected the word of a copy that was just asked about; got none. Ask first")
        write(copy)
        return {"folder": str(copy.folder), "next": free_name(self.live.study)}


def _of_this_machine(environ: WSGIEnvironment) -> bool:
    """Whether the request names this machine, and comes from no page of another's: a name may be made to lead here."""
    own = {f"{name}:{environ.get('SERVER_PORT')}" for name in ("127.0.0.1", "localhost")}
    origin = environ.get("HTTP_ORIGIN")
    return environ.get("HTTP_HOST") in own and (origin is None or origin.removeprefix("http://") in own)


def _asked(environ: WSGIEnvironment) -> dict[str, Any]:
    """What the page asks: a table in JSON."""
    length = str(environ.get("CONTENT_LENGTH") or "0")
    if environ.get("CONTENT_TYPE", "").partition(";")[0] != JSON:
        raise DomainError(f"the question: expected {JSON}; got another kind. Ask as the page does")
    if not length.isdecimal() or int(length) > MOST_BYTES:
        raise DomainError(f"the question: expected at most {MOST_BYTES:,} bytes; got {length}. Ask less")
    try:
        asked = json.loads(environ["wsgi.input"].read(int(length)))
    except (ValueError, RecursionError):
        asked = None
    if not isinstance(asked, dict):
        raise DomainError("the question: expected a table in JSON; got something else. Ask as the page does")
    return asked


def _fault(status: str, words: str) -> Reply:
    return Reply(status, JSON, json.dumps({"fault": words}))
