"""What can be said of a register without running any of its structures: its rows, their faults, the study of one."""

from __future__ import annotations

from pathlib import Path

import tomli_w

from overbank.errors import DomainError, StudyError
from overbank.register.defaults import Defaults, read_defaults
from overbank.register.rows import cell_faults, document_of, study_of, values_of
from overbank.register.table import CellFault, Register, read_register
from overbank.register.visits import screens_of
from overbank.study.reading.refusals import nearest

DEFAULTS = "defaults.toml"
"""Beside the table, unless another is named."""


def read_both(table: Path, defaults: Path | None) -> tuple[Register, Defaults]:
    """The table, and what stands beside it.

    Raises
    ------
    StudyError : one of them cannot be read
    """
    beside = table.parent / DEFAULTS
    named = defaults or (beside if beside.is_file() else None)
    found = Defaults() if named is None else read_defaults(named)
    return read_register(table, found), found


def check_register(register: Register, defaults: Defaults) -> list[CellFault]:
    """Read every row as a study, without running any; all faults, in the order of the lines."""
    screens = screens_of(register, defaults)
    faults = list(register.faults)
    for entry in register.entries:
        try:
            study_of(entry, values_of(entry, defaults, screens.blockages.get(entry.id)), defaults, register.path.parent)
        except (StudyError, DomainError) as error:
            faults += cell_faults(entry, error, register)
    return sorted(faults, key=lambda each: each.line)


def study_text(register: Register, defaults: Defaults, name: str) -> str:
    """The study file of one row, as text, to be run by itself.

    Raises
    ------
    DomainError : no row that can be used has that id
    StudyError : the row has faults
    """
    entry = next((each for each in register.entries if each.id == name), None)
    if entry is None:
        near = nearest(name, tuple(each.id for each in register.entries))
        remedy = f"Did you mean {near}?" if near else "Check the table."
        raise DomainError(f"{register.path}: expected the id of a row that can be used; got {name!r}. {remedy}")
    values = values_of(entry, defaults, screens_of(register, defaults).blockages.get(name))
    study_of(entry, values, defaults, register.path.parent)
    document = document_of(entry, values, defaults)
    head = f"# Made from line {entry.line} of {register.path.name}; what it leaves out is as its defaults say.\n\n"
    return head + tomli_w.dumps(document)
