"""Ctrl-C, heard without fail and without a trace."""

from __future__ import annotations

import signal
import sys
from types import FrameType, TracebackType
from typing import Any, Self

AGAIN = 0.25
"""A stop that was lost is told again after so long [s]."""


class StoppedError(BaseException):
    """The user has pressed Ctrl-C. The libraries below us tell of KeyboardInterrupt in their own ways, not of this."""


class Interrupt:
    """While the block goes on, Ctrl-C raises StoppedError; where Ctrl-C is ignored, as in the background, it stays so.

    Compiled parts of libraries lose, and print, what is raised inside them. What they print is kept back, and within
    the innermost block, which clears nothing away, it is raised again until it is heard.

    Parameters
    ----------
    innermost : whether this is such a block
    """

    def __init__(self, innermost: bool = False) -> None:
        self._innermost = innermost

    def __enter__(self) -> Self:
        self._before = signal.getsignal(signal.SIGINT), sys.excepthook, sys.unraisablehook
        handler, told, lost = self._before
        if handler is not signal.SIG_IGN:
            signal.signal(signal.SIGINT, self._press)
        sys.excepthook = lambda kind, *rest: None if kind is StoppedError else told(kind, *rest)
        sys.unraisablehook = lambda found: None if found.exc_type is StoppedError else lost(found)
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._innermost:
            signal.setitimer(signal.ITIMER_REAL, 0.0)
        handler, sys.excepthook, sys.unraisablehook = self._before
        signal.signal(signal.SIGINT, handler)

    def _press(self, _number: int, _frame: FrameType | None) -> Any:
        if self._innermost:
            signal.signal(signal.SIGALRM, self._press)
            signal.setitimer(signal.ITIMER_REAL, AGAIN)
        raise StoppedError
