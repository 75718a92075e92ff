"""The pass over all structures, a part of the table at a time: each part is kept, so that a killed run goes on from it.

A part does not depend on the others nor on who computes it: the same bits on one core, on several, or on a cluster.
"""

from __future__ import annotations

import hashlib
import json
import shutil
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import FIRST_COMPLETED, Executor, Future, wait
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from overbank import _jit
from overbank.errors import DomainError, FolderError, StudyError
from overbank.files.folders import replace_file
from overbank.files.sources import sources_sha256
from overbank.register.defaults import Defaults
from overbank.register.figures import QUANTILES, Figures, Points, figures_of, points_of
from overbank.register.rows import Values, cell_faults, changed_by, loss_of, study_of, uncertain_names, values_of
from overbank.register.table import CellFault, Entry, Register
from overbank.sampling.samples import Array
from overbank.study.schema import Run as Settings

PART = 64
"""Rows of a part: a few seconds of work."""

HEAD = "head.json"
"""Beside the parts of an unfinished run: what they are parts of."""

COLUMN, DONE = "column:", "done:"
"""Begin the names of arrays in the file of a part: columns of its table, states once an action is done."""

Draws = NDArray[np.float32]
"""Probabilities of overtopping in states of knowledge, a row a structure: they are many, and need no more digits."""

Recorded = Mapping[str, Mapping[str, Any]]
"""What the records of screens tell, by the ids of their rows and then by paths."""


@dataclass(frozen=True)
class Task:
    """A part of the table to compute: everything that it takes."""

    number: int
    entries: tuple[Entry, ...]
    register: Register
    defaults: Defaults
    recorded: Recorded
    names: tuple[str, ...]


@dataclass(frozen=True)
class Part:
    """What was found of a part of the table.

    table : a row a structure
    states : probability of overtopping in every state of knowledge kept, (rows, draws)
    with_action : the same once an action is done, by its name; nan where it cannot be done
    faults : of the rows that were set aside
    """

    table: pd.DataFrame
    states: Draws
    with_action: Mapping[str, Draws]
    faults: tuple[CellFault, ...]


def compute(task: Task) -> Part:
    """The figures of a part, on one core."""
    rows, states, faults = [], [], list[CellFault]()
    done: dict[str, list[Array]] = {action.name: [] for action in task.defaults.actions}
    with _jit.on_cores(1):
        for entry in task.entries:
            try:
                values = values_of(entry, task.defaults, task.recorded.get(entry.id))
                found, after = _figures(entry, values, task)
            except (StudyError, DomainError) as error:
                faults += cell_faults(entry, error, task.register)
                continue
            except Exception as error:  # one row must not cost the others
                got, remedy = f"{type(error).__name__}: {error}", "Write it as a study with --study, and run that."
                faults.append(CellFault(entry.line, entry.id, "", "a structure that can be computed", got, remedy))
                continue
            rows.append(_row(entry, found, after, task.defaults) | {"loss": loss_of(values)})
            states.append(found.states)
            for name, each in done.items():
                each.append(after[name].states if name in after else np.full_like(found.states, np.nan))
    table = pd.DataFrame(rows)
    return Part(table, _stacked(states), {name: _stacked(each) for name, each in done.items()}, tuple(faults))


def _stacked(rows: list[Array]) -> Draws:
    return np.stack(rows).astype(np.float32) if rows else np.empty((0, 0), dtype=np.float32)


def _figures(entry: Entry, values: Values, task: Task) -> tuple[Figures, dict[str, Figures]]:
    """Of a row as it stands, and with each action that can be done at it."""
    study = study_of(entry, values, task.defaults, task.register.path.parent)
    points = _points(task.names, study.content.run)
    after = {}
    for action in task.defaults.actions:
        changed = changed_by(action, entry, values)
        if changed is not None:
            done = study_of(entry, changed, task.defaults, task.register.path.parent)
            after[action.name] = figures_of(done, points)
    return figures_of(study, points), after


@lru_cache(maxsize=1)
def _points_of(names: tuple[str, ...], settings: str) -> Points:
    return points_of(names, Settings.model_validate_json(settings))


def _points(names: tuple[str, ...], settings: Settings) -> Points:
    return _points_of(names, settings.model_dump_json(include={"samples", "replicates", "design", "seed"}))


def _row(entry: Entry, found: Figures, after: Mapping[str, Figures], defaults: Defaults) -> dict[str, Any]:
    """A row of the table of results."""
    ends = ("value", "low", "high")
    row: dict[str, Any] = {"id": entry.id, "name": entry.name, "kind": entry.kind}
    row |= {"class": entry.class_, "region": entry.region, "line": entry.line}
    row |= dict(zip(("probability", "low", "high"), (getattr(found.probability, end) for end in ends), strict=True))
    row |= {"counted": found.plain.value, "integrated_out": found.integrated}
    year = found.in_a_year
    row |= {f"in_a_year{'' if end == 'value' else f'_{end}'}": getattr(year, end, np.nan) for end in ends}
    row |= {f"level_{100 * share:g}_m": found.levels[share].value for share in QUANTILES}
    row["largest_blockage"] = np.nan if found.largest is None else found.largest.value
    row["allowance"] = np.nan if found.allowance is None else found.allowance.value
    for place in range(3):
        name, share = found.drivers[place] if place < len(found.drivers) else ("", np.nan)
        row |= {f"driver_{place + 1}": name, f"driver_{place + 1}_share": share}
    for action in defaults.actions:
        done = after.get(action.name)
        row[f"cost_of_{action.name}"] = entry.costs.get(action.name, action.cost) if done else np.nan
        row[f"probability_after_{action.name}"] = done.probability.value if done else np.nan
        in_a_year = done.in_a_year if done else None
        row[f"in_a_year_after_{action.name}"] = np.nan if in_a_year is None else in_a_year.value
    notes = (found.probability.note, "" if found.allowance is None else found.allowance.note)
    return {**row, "note": "; ".join(note for note in notes if note)}


def tasks_of(register: Register, defaults: Defaults, recorded: Recorded) -> list[Task]:
    """The parts of a table."""
    names = uncertain_names(register, defaults)
    bare = Register(register.path, register.sha256, register.heads, (), (), (), 0)
    starts = range(0, len(register.entries), PART)
    return [
        Task(
            number,
            register.entries[start : start + PART],
            bare,
            defaults,
            recorded_of(register, recorded, start),
            names,
        )
        for number, start in enumerate(starts)
    ]


def recorded_of(register: Register, recorded: Recorded, start: int) -> Recorded:
    """What the records tell of the rows of a part."""
    own = register.entries[start : start + PART]
    return {entry.id: recorded[entry.id] for entry in own if entry.id in recorded}


def digest_of(register: Register, defaults: Defaults, recorded: Recorded) -> str:
    """What the parts of a run depend on; how the money is spent is none of it."""
    what = (sources_sha256(), register.sha256, PART, defaults.columns, defaults.run, defaults.decision, defaults.levels)
    return hashlib.sha256(repr((*what, defaults.actions, recorded)).encode()).hexdigest()


Tell = Callable[[int, int], None]
"""Called with how many structures are done, and of how many."""


def run_parts(
    tasks: list[Task],
    digest: str,
    folder: Path,
    executor: Executor,
    workers: int,
    tell: Tell = lambda _done, _all: None,
) -> Iterator[Part]:
    """Every part in its order, computed now or kept from a run that was killed; never more than a few at a time.

    Raises
    ------
    FolderError : the folder holds the parts of another table
    """
    _prepare(folder, digest)
    total = sum(len(task.entries) for task in tasks)
    missing = [task for task in tasks if not _file(folder, task.number).exists()]
    done = total - sum(len(task.entries) for task in missing)
    tell(done, total)
    left, busy = iter(missing), dict[Future[Part], Task]()
    while True:
        for task in left:
            busy[executor.submit(compute, task)] = task
            if len(busy) >= 2 * workers:
                break
        if not busy:
            break
        for future in wait(busy, return_when=FIRST_COMPLETED).done:
            task = busy.pop(future)
            _keep(folder, task.number, future.result())
            done += len(task.entries)
            tell(done, total)
    for task in tasks:
        yield _kept(folder, task.number)


def _prepare(folder: Path, digest: str) -> None:
    """The folder of the parts; those of an earlier table or program are thrown away."""
    head = folder / HEAD
    if folder.exists() and not head.is_file() and any(folder.iterdir()):
        raise FolderError(f"{folder}: expected parts of a register; got other files. Choose another folder with --out")
    known = json.loads(head.read_text(encoding="utf-8")) if head.is_file() else None
    if known != {"digest": digest}:
        shutil.rmtree(folder, ignore_errors=True)
        folder.mkdir(parents=True)
        replace_file(head, lambda file: file.write_text(json.dumps({"digest": digest}), encoding="utf-8"))


def _file(folder: Path, number: int) -> Path:
    return folder / f"{number:06d}.npz"


def _keep(folder: Path, number: int, part: Part) -> None:
    """Write a part, whole or not at all."""
    arrays = {"states": part.states, "faults": np.array(json.dumps(part.faults))}
    arrays |= {f"{COLUMN}{name}": _plain(part.table[name]) for name in part.table}
    arrays |= {f"{DONE}{name}": each for name, each in part.with_action.items()}

    def write(file: Path) -> None:
        with file.open("wb") as opened:
            np.savez(opened, allow_pickle=False, **arrays)

    replace_file(_file(folder, number), write)


def _plain(column: pd.Series) -> Array:
    """A column as a plain array, of numbers or of texts."""
    return column.to_numpy() if column.dtype.kind in "fi" else column.to_numpy().astype(str)


def _kept(folder: Path, number: int) -> Part:
    with np.load(_file(folder, number)) as kept:
        table = {name.removeprefix(COLUMN): kept[name] for name in kept if name.startswith(COLUMN)}
        done = {name.removeprefix(DONE): kept[name] for name in kept if name.startswith(DONE)}
        faults = tuple(CellFault(*each) for each in json.loads(str(kept["faults"])))
        return Part(pd.DataFrame(table), kept["states"], done, faults)
