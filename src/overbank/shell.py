"""What a shell lets this process use of memory; loads nothing, so that it can be asked before anything is loaded."""

from __future__ import annotations

from collections.abc import Iterator

LIMITS = ("RLIMIT_AS", "RLIMIT_DATA")
"""What a shell's `ulimit` may limit: address space, and data alone."""


def limits() -> Iterator[tuple[str, float]]:
    """Each limit that is set, and how much it allows [bytes]."""
    try:
        import resource
    except ImportError:  # Windows has none
        return
    for name in LIMITS:
        limit = resource.getrlimit(getattr(resource, name))[0]
        if limit != resource.RLIM_INFINITY:
            yield name, float(limit)
