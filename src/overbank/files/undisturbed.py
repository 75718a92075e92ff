"""A step on the disk that a signal does not cut in two: what it would raise waits until the step is done."""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType, TracebackType
from typing import Self

SIGNS = tuple(getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name))
"""Ctrl-C, the word to end, and a terminal that is closed, where the system knows it."""


class Undisturbed:
    """While the block goes on, a signal with a handler in Python waits; it is heard when the block ends, or where it
    says that it may be disturbed. So what must be cleared away is always cleared away.

    A signal is raised in the main thread alone: in another one nothing is to be done.
    """

    def __enter__(self) -> Self:
        main = threading.current_thread() is threading.main_thread()
        known = {sign: signal.getsignal(sign) for sign in SIGNS} if main else {}
        self._before = {sign: handler for sign, handler in known.items() if callable(handler)}
        self._heard: list[int] = []
        self._keep_back()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._let_through()

    @contextmanager
    def disturbed(self) -> Iterator[None]:
        """A part of the block that may be cut short, for it may take long."""
        try:
            self._let_through()
            yield
        finally:
            self._keep_back()

    def _keep_back(self) -> None:
        for sign in self._before:
            signal.signal(sign, self._note)

    def _let_through(self) -> None:
        for sign, handler in self._before.items():
            signal.signal(sign, handler)
        if self._heard:
            signal.raise_signal(self._heard.pop())

    def _note(self, number: int, _frame: FrameType | None) -> None:
        self._heard.append(number)
