"""The only importer of numba: formulas become machine code here, and nowhere else.

`kernel` compiles one scalar formula. `sweep` turns such a formula into a function of arrays, which broadcast.
`run_rows` feeds a structure's compiled loop with a whole table of samples, on all cores.

Compiled code is kept on disk in a folder named by a hash of every kernel's source: numba alone does not notice
when a formula in *another* file changes, and would go on using the old one.
"""

from __future__ import annotations

import ctypes
import hashlib
import math
import os
import platform
import tempfile
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager, suppress
from contextvars import ContextVar
from functools import cache
from pathlib import Path
from types import FunctionType
from typing import Any, TypeVar

import numba
import numpy as np
from numba.core import types
from numba.core.caching import _CacheLocator
from numba.extending import intrinsic
from numba.np.unsafe.ndarray import to_fixed_tuple
from numpy.typing import ArrayLike, NDArray

Function = TypeVar("Function", bound=Callable[..., Any])

DECLARES_A_KERNEL = b"\n@kernel\n"

PIECE = 2040
"""Samples handed to a core at a time: small enough that a piece's columns stay in cache, and no power of two, which
would put all the numbers of a sample into the same few lines of it."""

LEAST_PIECE = 264
"""Few samples are shared out in pieces not smaller than this, which still take longer than handing them over."""


def kernel_sources() -> list[Path]:
    """Every file whose code is compiled, or whose numbers are compiled into it."""
    here = Path(__file__).parent
    elsewhere = (file for file in here.rglob("*.py") if DECLARES_A_KERNEL in file.read_bytes())
    return sorted({here / "_jit.py", here / "constants.py", *(here / "hydraulics").glob("*.py"), *elsewhere})


def _digest() -> str:
    """Of every kernel's source and of what compiles it."""
    digest = hashlib.sha256()
    for part in (numba.__version__, np.__version__, platform.python_version(), platform.machine()):
        digest.update(part.encode())
    for source in kernel_sources():
        digest.update(source.read_bytes())
    return digest.hexdigest()[:16]


def _places() -> Iterator[Path]:
    """Where compiled formulas may be kept, best first: where the user says, and nowhere else; at home; beside us."""
    named = os.environ.get("OVERBANK_CACHE")
    if named:
        yield Path(named).absolute()
        return
    with suppress(RuntimeError):  # a user without a home
        yield Path.home() / ".cache" / "overbank"
    yield Path(__file__).parent / "__pycache__" / "overbank"


_REFUSED: list[str] = []
"""Where compiled code could not be kept, and what the system said of it first."""


@cache
def cache_folder() -> Path:
    """Where the compiled formulas are kept; its name changes with the source of any kernel.

    The first place that has them or takes them; where none does, `not_kept` says so and every process compiles anew.
    """
    digest, places, said = _digest(), list(_places()), []
    for place in places:
        folder = place / digest
        try:
            if any(folder.rglob("*.nbc")):
                return folder
            folder.mkdir(parents=True, exist_ok=True)
            with tempfile.TemporaryFile(dir=folder) as probe:
                probe.write(bytes(PROBE))
        except OSError as error:
            said.append(f"{place}: {error.strerror or error}")
        else:
            return folder
    _REFUSED.extend(said[:1])
    return places[0] / digest


PROBE = 2**20
"""So much must fit where compiled formulas are to be kept [bytes]; all of them take some eight times as much."""


def not_kept() -> str:
    """The place that did not take the compiled formulas, and why; empty where it did."""
    cache_folder()
    return _REFUSED[0] if _REFUSED else ""


def is_compiled() -> bool:
    """True once the formulas have been compiled on this machine (the first run takes a little longer)."""
    return any(cache_folder().rglob("*.nbc"))


@contextmanager
def _cached_here() -> Iterator[None]:
    """Point numba's cache at our folder only while one of our own functions is declared; it may be one to read only."""
    before = numba.config.CACHE_DIR, _CacheLocator.ensure_cache_path
    numba.config.CACHE_DIR = str(cache_folder())
    _CacheLocator.ensure_cache_path = lambda _: None
    try:
        yield
    finally:
        numba.config.CACHE_DIR, _CacheLocator.ensure_cache_path = before


def kernel(function: Function) -> Function:
    """Compile a scalar formula. Division by zero gives inf or nan, as in numpy, instead of raising."""
    with _cached_here():
        compiled: Any = numba.njit(cache=True, nogil=True, error_model="numpy", no_cfunc_wrapper=True)(function)
    if not numba.config.DISABLE_JIT:
        _forgive(compiled._cache)
    found: Function = compiled
    return found


def _forgive(kept: Any) -> None:
    """A function whose code cannot be read back is compiled anew; one whose code cannot be kept runs all the same."""
    load, save = kept.load_overload, kept.save_overload

    def load_overload(*words: Any) -> Any:
        try:
            return load(*words)
        except Exception:  # whatever a damaged file makes of itself
            return None

    def save_overload(*words: Any) -> None:
        if _REFUSED:
            return
        try:
            save(*words)
        except OSError as error:
            _REFUSED.append(f"{cache_folder().parent}: {error.strerror or error}")
        except Exception:  # an index that cannot be read back: a new one takes its place
            with suppress(Exception):
                kept.flush()
                save(*words)

    kept.load_overload, kept.save_overload = load_overload, save_overload


if numba.config.DISABLE_JIT:

    def take(column: NDArray[np.float64], start: int, count: int) -> tuple[float, ...]:
        """`count` numbers of a column from `start`, as a tuple."""
        return tuple(float(number) for number in column[start : start + count])

    def peek(place: float, k: int) -> float:
        """The k-th number of an array that begins at this place in memory."""
        return ctypes.c_double.from_address(int(place) + 8 * k).value

else:

    @kernel
    def take(column: NDArray[np.float64], start: int, count: int) -> tuple[float, ...]:
        """`count` numbers of a column from `start`, as a tuple (count must be a constant)."""
        numbers: tuple[float, ...] = to_fixed_tuple(column[start:], count)
        return numbers

    @intrinsic  # type: ignore[untyped-decorator]
    def _number_at(_context: Any, _place: Any) -> Any:
        def read(context: Any, builder: Any, _signature: Any, given: Any) -> Any:
            pointer = builder.inttoptr(given[0], context.get_value_type(types.float64).as_pointer())
            return builder.load(pointer)

        return types.float64(types.int64), read

    @kernel
    def peek(place: float, k: int) -> float:
        """The k-th number of an array that begins at this place in memory; a place is a whole number below 2^53."""
        number: float = _number_at(np.int64(place) + 8 * k)
        return number


_CORES: ContextVar[int] = ContextVar("cores", default=0)


def _cores_here() -> int:
    """Cores that this process may use; those of the machine where the system does not say it."""
    with suppress(AttributeError):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def threads() -> int:
    """Cores to use: those of `on_cores`, else the environment variable OVERBANK_THREADS, else all of this process."""
    asked = os.environ.get("OVERBANK_THREADS")
    return _CORES.get() or (max(1, int(asked)) if asked else _cores_here())


@contextmanager
def on_cores(count: int) -> Iterator[None]:
    """Use so many cores inside the block, where several runs share a machine."""
    token = _CORES.set(count)
    try:
        yield
    finally:
        _CORES.reset(token)


@cache
def _pool(cores: int) -> ThreadPoolExecutor:
    """The threads that pieces are handed to, kept: a run hands over thousands of times. A forked child has its own."""
    return ThreadPoolExecutor(cores)


if hasattr(os, "register_at_fork"):
    os.register_at_fork(after_in_child=_pool.cache_clear)

Rows = Callable[[NDArray[np.float64], NDArray[np.float64]], None]
"""A compiled loop over samples: inputs [n_columns, piece], results [outputs, piece]."""


def run_rows(
    rows: Rows,
    columns: Sequence[ArrayLike],
    outputs: int,
    samples: int,
) -> NDArray[np.float64]:
    """Run a structure's compiled loop over all samples, a piece at a time on every core.

    Parameters
    ----------
    rows : compiled function that fills the results of a piece
    columns : numbers or arrays of length `samples`, in the order the loop expects
    outputs : how many results each sample has
    samples : how many samples

    Returns
    -------
    array [outputs, samples]. Each sample is computed by itself, so the bits do not depend on the threads.
    A sample of which any number is missing (nan) gives nan.
    """
    results = np.empty((outputs, samples))
    arrays = [np.asarray(column, dtype=np.float64) for column in columns]
    cores = threads()
    piece = min(PIECE, max(LEAST_PIECE, -(-samples // cores)))

    def one_piece(start: int) -> None:
        stop = min(start + piece, samples)
        inputs = np.empty((len(arrays), stop - start))
        for row, array in zip(inputs, arrays, strict=True):
            row[:] = array if array.size == 1 else array[start:stop]
        # comparisons with nan are false: a formula would go on to some plausible number, so it never sees one
        missing = np.isnan(inputs).any(axis=0)
        if missing.any():
            inputs = np.ascontiguousarray(inputs[:, ~missing])
        found = np.empty((outputs, inputs.shape[1]))  # of one layout, for which alone the loop is compiled
        rows(inputs, found)
        results[:, start:stop][:, ~missing] = found
        results[:, start:stop][:, missing] = np.nan

    starts = range(0, samples, piece)
    if len(starts) == 1 or cores == 1:
        for start in starts:
            one_piece(start)
    else:
        list(_pool(cores).map(one_piece, starts))
    return results


SIZE = 1
"""How many numbers `_formula` takes."""


def _formula(number: float) -> float:
    """Stands for any formula; `sweep` puts one in its place, and the count of its numbers in that of `SIZE`."""
    return number


def _each(inputs: NDArray[np.float64], results: NDArray[np.float64]) -> None:
    for i in range(inputs.shape[1]):
        results[0, i] = _formula(*take(inputs[:, i], 0, SIZE))


@cache
def sweep(formula: Callable[..., float]) -> Callable[..., Any]:
    """The same formula for arrays, which broadcast: the kernel's own body in a compiled loop, on all cores.

    Where any number is missing (nan), so is the result. Every number of the formula must be given.

    Examples
    --------
    >>> from overbank.hydraulics.weirs import road_flow
    >>> overbank.sweep(road_flow)([0.0, 0.1, 0.2], -1.0, 14.0, 1.5).round(3).tolist()
    [0.0, 0.664, 1.878]
    """
    own = getattr(formula, "py_func", formula)
    size = own.__code__.co_argcount
    bound = {**globals(), "_formula": formula, "SIZE": size}
    loop = FunctionType(_each.__code__, bound, _each.__name__)
    # numba files compiled code by name and types alone: two formulas must not share the name of their loops
    loop.__qualname__ = f"{own.__module__}.{own.__qualname__}_of_arrays"
    rows = kernel(loop)

    def over_arrays(*columns: ArrayLike) -> Any:
        if len(columns) != size:
            raise TypeError(f"{own.__name__}: expected {size} numbers or arrays; got {len(columns)}")
        arrays = [np.asarray(column, dtype=np.float64) for column in columns]
        shape = np.broadcast_shapes(*(array.shape for array in arrays))
        flat = [array if array.ndim == 0 else np.broadcast_to(array, shape).ravel() for array in arrays]
        (found,) = run_rows(rows, flat, 1, math.prod(shape))
        return found.reshape(shape)[()]

    return over_arrays
