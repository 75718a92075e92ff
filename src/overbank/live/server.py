"""The server of the live page: waitress (ZPL 2.1), on the loopback address of this machine alone."""

from __future__ import annotations

import logging
import os
import secrets
import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from overbank.errors import DomainError
from overbank.live.answers import Live

HOST = "127.0.0.1"

THREADS = 4
"""Requests answered at a time: those of one page."""

MISSING = (
    "open: expected the packages waitress and tomlkit; got none of one of them. Install them: "
    "pip install 'overbank[live]'"
)


def refuse_if_missing() -> None:
    """Say so before anything is computed.

    Raises
    ------
    DomainError : a package of the extra is not there
    """
    try:
        import tomlkit  # noqa: F401
        import waitress  # noqa: F401
    except ImportError as error:
        raise DomainError(MISSING) from error


@contextmanager
def served(live: Live, port: int) -> Iterator[str]:
    """The address of the live page, which is served as long as the block goes on.

    Parameters
    ----------
    port : 0 for any that is free

    Raises
    ------
    DomainError : another program has the port
    """
    from overbank.live.application import Application

    token = secrets.token_urlsafe(24)
    server, closing = _server(Application(live, token), port), threading.Event()
    thread = threading.Thread(target=_run, args=(server, closing), name="overbank live page", daemon=True)
    thread.start()
    try:
        yield f"http://{HOST}:{server.effective_port}/{token}/"
    finally:
        closing.set()
        server.close()
        thread.join(5.0)


def _run(server: Any, closing: threading.Event) -> None:
    """Serve until the server is closed, which takes its sockets away from under a wait for them."""
    try:
        server.run()
    except (OSError, ValueError):
        if not closing.is_set():
            raise


def _server(application: Any, port: int) -> Any:
    from waitress.server import create_server

    logging.getLogger("waitress").setLevel(logging.CRITICAL)  # nothing on the terminal but what we say
    listening = socket.socket()
    try:
        if os.name == "posix":  # a port that was just closed serves again; elsewhere this would share it with others
            listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind((HOST, port))
    except OSError as error:
        listening.close()
        expected, got = "a port that this program may have", f"{port} ({error.strerror})"
        raise DomainError(f"--port: expected {expected}; got {got}. Leave it out for any that is free") from error
    return create_server(application, sockets=[listening], threads=THREADS, ident="overbank")
