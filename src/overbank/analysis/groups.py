"""Inputs taken together and ranked as one: all survey levels, say."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from overbank.errors import DomainError

Columns = tuple[int, ...]


def grouped(names: Sequence[str], groups: Mapping[str, Sequence[str]] | None = None) -> dict[str, Columns]:
    """Columns of every group by its name; an input outside all groups is a group of its own, by its own name.

    Parameters
    ----------
    names : of the d inputs, in the order of their columns
    groups : name of the group -> names of its inputs

    Returns
    -------
    the groups, in the order of the first column of each

    Raises
    ------
    DomainError : an unknown input, an input in two groups, an empty group, or a group named like an input
        outside it
    """
    groups = {} if groups is None else groups
    column = {name: j for j, name in enumerate(names)}
    home: dict[str, str] = {}
    for group, members in groups.items():
        if not members:
            raise DomainError(f"group {group!r}: expected at least one input; got none. Leave the group out")
        for member in members:
            if member not in column:
                raise DomainError(f"group {group!r}: expected inputs among {', '.join(names)}; got {member!r}")
            if member in home:
                raise DomainError(
                    f"group {group!r}: expected every input in one group, once; got {member!r} in {home[member]!r} too"
                )
            home[member] = group
    found: dict[str, Columns] = {}
    for name in names:
        group = home.get(name, name)
        if name not in home and group in groups:
            raise DomainError(f"group {group!r}: expected a name of its own; got that of an input outside it")
        found[group] = (*found.get(group, ()), column[name])
    return found
