"""The command `overbank register`: a table of many structures, computed, ranked and weighed."""

from __future__ import annotations

import time
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from overbank.commands.interrupt import Interrupt
from overbank.commands.speaking import visible
from overbank.errors import DomainError

if TYPE_CHECKING:
    from overbank.register.defaults import Defaults
    from overbank.register.outcome import Whole
    from overbank.register.table import CellFault, Register

OFTEN = 5.0
"""So often the progress is told where no terminal shows it [s]."""

TOLD = 20
"""So many faults are printed; all of them stand in faults.csv."""


def register(
    table: Annotated[Path, typer.Argument(help="A CSV or Parquet file with a row a structure.")],
    defaults: Annotated[
        Path | None,
        typer.Option(
            help="What stands in blank cells; defaults.toml beside the table if left out.", show_default=False
        ),
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option(help="Folder for the results; TABLE-results beside it if left out.", show_default=False),
    ] = None,
    check: Annotated[bool, typer.Option("--check", help="Read every row and list its faults; run none.")] = False,
    study: Annotated[
        str | None,
        typer.Option(help="Write the row with this id as a study into the folder --out.", show_default=False),
    ] = None,
) -> None:
    """Compute every structure of a table, rank them, and say what does most good for a sum of money.

    A row with faults is set aside and told; none stops the rest. A run that was stopped goes on where it was.
    """
    from overbank.register.reading import read_both

    read, said = read_both(table, defaults)
    if study is not None:
        _write_study(read, said, study, out or table.parent / study)
    elif check:
        _check(read, said)
    else:
        _run(read, said, out or table.parent / f"{table.stem}-results")


def _say(words: str, err: bool = False) -> None:
    typer.echo(visible(words), err=err)


def _write_study(read: Register, said: Defaults, name: str, folder: Path) -> None:
    from overbank.files.folders import write_new
    from overbank.register.reading import study_text

    write_new(folder, {"study.toml": study_text(read, said, name)})
    _say(f"Wrote {folder / 'study.toml'}. Next: overbank run {folder}")


def _check(read: Register, said: Defaults) -> None:
    """Exit status 2 where no row is left."""
    from overbank.register.reading import check_register

    begun = time.perf_counter()
    with Interrupt(innermost=True):
        faults = check_register(read, said)
    aside = len({fault.line for fault in faults})
    for fault in faults:
        _say(f"{fault.words}. {fault.remedy}")
    _say(f"{read.rows:,} rows, {aside:,} set aside, in {time.perf_counter() - begun:.0f} s.")
    if read.rows == aside:
        raise typer.Exit(2)


def _run(read: Register, said: Defaults, folder: Path) -> None:
    from overbank._jit import is_compiled, threads
    from overbank.commands.processes import LostProcessError, Processes
    from overbank.register.results import register_folder, run_register

    if not is_compiled():
        _say("First run on this machine: compiling the hydraulic formulas, about half a minute.", err=True)
    workers = threads()
    try:
        with Processes(workers) as processes, register_folder(folder) as places, Interrupt(innermost=True):
            whole = run_register(read, said, places, processes, workers, _Progress())
    except LostProcessError as lost:
        raise DomainError(f"{read.path}: {lost}. Give the same command again: it goes on where it was") from None
    _show(whole)
    _say(f"Page: {folder / 'register.html'}")


class _Progress:
    """Tells the rate and the time left, every few seconds."""

    def __init__(self) -> None:
        self.begun = self.told = time.perf_counter()
        self.first = -1

    def __call__(self, done: int, of: int) -> None:
        from overbank.commands.progress import in_words

        now = time.perf_counter()
        if self.first < 0:
            self.first, self.begun = done, now
            if done:
                _say(f"Going on after {done:,} of {of:,} structures.", err=True)
            return
        if now - self.told < OFTEN and done < of:
            return
        self.told = now
        rate = (done - self.first) / max(now - self.begun, 1e-9)
        left = in_words((of - done) / max(rate, 1e-9))
        _say(f"{done:,} of {of:,} structures, {rate:.1f} a second, {left}", err=True)


def _show(whole: Whole) -> None:
    """The worst, the money and the faults, in short."""
    for row in whole.table[:10].to_dict("records"):
        _say(
            f"{row['rank']:>4}  {row['id']}: {100.0 * row['probability']:.3g} % in the design flood, among the worst "
            f"{whole.worst} with {100.0 * row['among_worst']:.0f} %"
        )
    if whole.spending is not None:
        _say(f"For {whole.spending.cost:,.0f}: {whole.spending.benefit:,.0f} of expected damage saved.")
    _say(f"{whole.rows:,} rows: {len(whole.table):,} computed, {whole.aside:,} set aside.")
    _tell(whole.faults)


def _tell(faults: tuple[CellFault, ...]) -> None:
    for fault in faults[:TOLD]:
        _say(f"  {fault.words}", err=True)
    if len(faults) > TOLD:
        _say(f"  and {len(faults) - TOLD:,} more: see faults.csv", err=True)
