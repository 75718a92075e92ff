"""Whether a shell leaves the memory that the libraries take while they load; with less they crash, or wait for ever."""

from __future__ import annotations

import os

from overbank import shell
from overbank.errors import DomainError

NEEDED = {"RLIMIT_AS": 0.9e9, "RLIMIT_DATA": 0.5e9}
"""What a command needs of each limit on one core [bytes]; measured, see the trials of places."""

OF_A_CORE = 0.1e9
"""What the linear algebra sets aside for each further core [bytes]; measured."""

THREADS = "OPENBLAS_NUM_THREADS"
"""What says how many cores the linear algebra uses, where it is not to be all of them."""

POOL = "ARROW_DEFAULT_MEMORY_POOL"
"""Where the library of tables takes its memory from: its own pool sets a gigabyte aside at once, the system none."""


def load_sparingly() -> None:
    """Let the libraries that are loaded from here on set no memory aside that they may never use."""
    os.environ.setdefault(POOL, "system")


def refuse_too_little() -> None:
    """Refuse limits of the shell with which the libraries cannot be loaded.

    Raises
    ------
    DomainError : it allows less than a command needs before it does anything
    """
    for name, limit in shell.limits():
        needed = NEEDED[name] + OF_A_CORE * (_cores() - 1)
        if limit < needed:
            option = "-v" if name == "RLIMIT_AS" else "-d"
            raise DomainError(
                f"ulimit {option}: expected {needed / 1e9:.1f} GB of memory, or the program cannot be loaded; got "
                f"{limit / 1e9:.1f} GB. Give it more, or fewer cores with {THREADS}=1"
            )


def _cores() -> int:
    """Cores that the linear algebra uses; one where the system does not say it."""
    asked = os.environ.get(THREADS, "")
    affinity = getattr(os, "sched_getaffinity", lambda _: (0,))
    return max(1, int(asked)) if asked.isdecimal() else len(affinity(0))
