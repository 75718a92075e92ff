"""Ctrl-C and the system's word to end, heard without fail and without a trace."""

from __future__ import annotations

import signal
import sys
from types import FrameType, TracebackType
from typing import Any, Self

from overbank.files.undisturbed import SIGNS

AGAIN = 0.25
"""A stop that was lost is told again after so long [s]."""

TOLD_AGAIN = hasattr(signal, "setitimer")
"""Windows has no such clock: there a stop that a compiled part loses is heard when Ctrl-C is pressed again."""


class StoppedError(BaseException):
    """The user has pressed Ctrl-C. The libraries below us tell of KeyboardInterrupt in their own ways, not of this.

    Parameters
    ----------
    sign : the signal that was heard
    """

    def __init__(self, sign: int) -> None:
        self.sign = sign
        super().__init__(sign)


class Interrupt:
    """While the block goes on, each of `SIGNS` raises StoppedError; one that is ignored, as Ctrl-C in the background,
    stays so.

    Compiled parts of libraries lose, and print, what is raised inside them. What they print is kept back, and within
    the innermost block, which clears nothing away, it is raised again until it is heard.

    Parameters
    ----------
    innermost : whether this is such a block
    """

    def __init__(self, innermost: bool = False) -> None:
        self._innermost = innermost

    def __enter__(self) -> Self:
        self._before = {sign: handler for sign in SIGNS if (handler := signal.getsignal(sign)) is not None}
        self._hooks = told, lost = sys.excepthook, sys.unraisablehook
        self._heard = int(signal.SIGINT)
        for sign, handler in self._before.items():
            if handler is not signal.SIG_IGN:
                signal.signal(sign, self._press)
        sys.excepthook = lambda kind, *rest: None if kind is StoppedError else told(kind, *rest)
        sys.unraisablehook = lambda found: None if found.exc_type is StoppedError else lost(found)
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._innermost and TOLD_AGAIN:
            signal.setitimer(signal.ITIMER_REAL, 0.0)
        sys.excepthook, sys.unraisablehook = self._hooks
        for sign, handler in self._before.items():
            signal.signal(sign, handler)

    def _press(self, number: int, _frame: FrameType | None) -> Any:
        self._heard = number if number in SIGNS else self._heard
        if self._innermost and TOLD_AGAIN:
            signal.signal(signal.SIGALRM, self._press)
            signal.setitimer(signal.ITIMER_REAL, AGAIN)
        raise StoppedError(self._heard)
