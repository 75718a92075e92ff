"""Processes of this machine for many runs: one that dies takes only its own run with it, and none outlives us."""

from __future__ import annotations

import multiprocessing
import os
import signal
import sys
from collections.abc import Callable
from concurrent.futures import Executor, Future, ProcessPoolExecutor, ThreadPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import suppress
from queue import SimpleQueue
from threading import Lock, Thread
from types import FrameType, TracebackType
from typing import Any, ParamSpec, TypeVar

P = ParamSpec("P")
T = TypeVar("T")

ONE_THREAD = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "NUMBA_NUM_THREADS")
"""What the libraries below us ask how many threads they may use."""


PATIENCE = 2.0
"""Time that a process gets to clear away what it was doing [s]."""


AT_ONCE = getattr(signal, "SIGKILL", signal.SIGTERM)
"""What ends a process that does not hear; on Windows each word does."""


class LostProcessError(RuntimeError):
    """A process ended before its work was done."""


class Processes(Executor):
    """An executor of `count` processes, each of one thread.

    The standard pool gives up all its work when one of its processes is killed, by a lack of memory for example. Here
    every process is a pool of its own: only the work that it was doing fails, with LostProcessError.
    """

    def __init__(self, count: int) -> None:
        self._idle: SimpleQueue[_Process] = SimpleQueue()
        self._busy: set[_Process] = set()
        for _ in range(count):
            self._idle.put(_Process())
        self._threads = ThreadPoolExecutor(count)

    def submit(self, fn: Callable[P, T], /, *args: P.args, **kwargs: P.kwargs) -> Future[T]:
        """Do this work in the next process that is free."""
        return self._threads.submit(self._do, fn, *args, **kwargs)

    def _do(self, fn: Callable[P, T], /, *args: P.args, **kwargs: P.kwargs) -> T:
        process = self._idle.get()
        self._busy.add(process)
        try:
            return process.do(fn, *args, **kwargs)
        except BrokenProcessPool:
            process.pool.shutdown()
            process = _Process()
            raise LostProcessError("the process was ended from outside, perhaps for lack of memory") from None
        finally:
            self._busy.discard(process)
            self._idle.put(process)

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
        """Take no more work; wait for what is being done."""
        self._threads.shutdown(wait=wait, cancel_futures=cancel_futures)
        while not self._idle.empty():
            self._idle.get().pool.shutdown(wait=wait)

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """After a fault or Ctrl-C, work that has begun is stopped and work that has not is dropped."""
        if kind is not None:
            self._threads.shutdown(wait=False, cancel_futures=True)
            for process in tuple(self._busy):
                process.stop()
        self.shutdown()


class _Process:
    """One process, started when it gets its first work."""

    def __init__(self) -> None:
        spawned = multiprocessing.get_context("spawn")
        self.pool = ProcessPoolExecutor(1, spawned, initializer=_begin)
        self._id: int | None = None
        self._work: Future[Any] | None = None
        self._stopped = False
        self._lock = Lock()

    def do(self, fn: Callable[P, T], /, *args: P.args, **kwargs: P.kwargs) -> T:
        self._id = self._id or self.pool.submit(os.getpid).result()
        with self._lock:
            if self._stopped:
                raise LostProcessError("stopped before it had begun")
            self._work = work = self.pool.submit(fn, *args, **kwargs)
        return work.result()

    def stop(self) -> None:
        """Let its work end at once, as after Ctrl-C; a compiled part may not have heard, so it is told again."""
        with self._lock:
            self._stopped = True
        for word in (signal.SIGTERM, signal.SIGTERM, signal.SIGTERM, AT_ONCE):
            if self._id is None or self._work is None or self._work.done():
                return
            with suppress(OSError):  # it has ended
                os.kill(self._id, word)
            wait([self._work], PATIENCE)


def _begin() -> None:
    """In a new process: one thread; Ctrl-C is the parent's to hear, its word to stop comes as SIGTERM."""
    os.environ.update(dict.fromkeys(ONE_THREAD, "1"))
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, _leave)
    lost = sys.unraisablehook  # a compiled part loses, and would print, the word to leave; it is told again
    sys.unraisablehook = lambda found: None if found.exc_type is SystemExit else lost(found)
    Thread(target=_end_with_parent, daemon=True).start()


def _leave(_number: int, _frame: FrameType | None) -> Any:
    sys.exit(1)


def _end_with_parent() -> None:
    """A killed parent cannot say goodbye; whoever goes on without it would write into folders that nobody watches."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)
