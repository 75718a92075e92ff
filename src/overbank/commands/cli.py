"""The commands, but those of a register and the live page. Heavy imports wait inside them: --help is quick."""

from __future__ import annotations

import json
import os
import shlex
import subprocess
import sys
from contextlib import suppress
from enum import StrEnum, auto
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from overbank.commands.asked import changed, values_of
from overbank.commands.interrupt import Interrupt, StoppedError
from overbank.commands.loading import load_sparingly, refuse_too_little
from overbank.commands.open_page import open_page
from overbank.commands.register import register
from overbank.commands.speaking import open_outputs, visible
from overbank.errors import DomainError, OverbankError

app = typer.Typer(
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    help="How high the water stands upstream of a structure when nothing is known exactly, "
    "and how much debris blockage to allow.",
)

if TYPE_CHECKING:
    from collections.abc import Callable

    from overbank.commands.many import StudyRun
    from overbank.study.load import Study

STARTER = ("study.toml", "requirements.toml")
"""What a new folder holds: the study, and an example of an authority's own figures."""


class Kind(StrEnum):
    """Sites that a new study may begin from: the files of study/starter."""

    CULVERT = auto()
    SCREEN = auto()
    BRIDGE = auto()
    WEIR = auto()
    CHAIN = auto()


SCHEMA = "study.schema.json"
"""Beside the study: what an editor tells of its keys and words."""

STOPPED = "Stopped; earlier results are untouched."

OF_AN_ELEMENT = 6
"""Numbers of a sample that are written for every element, its inputs and its results; about so many."""

MISUSED: Any = next(kind for kind in typer.BadParameter.__mro__ if kind.__name__ == "ClickException")
"""What typer raises for a command that it cannot read."""

StudyPath = Annotated[Path, typer.Argument(help="A study file, or the folder that holds study.toml.")]


Settings = Annotated[
    list[str] | None,
    typer.Option("--set", help="A key of the study set for this run: lane.screen.gap_m=0.15. May be repeated."),
]
Fewer = Annotated[int | None, typer.Option(help="So many samples instead of the study's.", show_default=False)]


def _show_version(asked: bool) -> None:
    if asked:
        from overbank import __version__

        say(f"overbank {__version__}")
        raise typer.Exit


@app.callback()
def overbank(
    _version: Annotated[
        bool, typer.Option("--version", help="Print the version.", callback=_show_version, is_eager=True)
    ] = False,
) -> None:
    """How high the water stands upstream of a structure when nothing is known exactly, and how much debris to allow."""
    refuse_too_little()
    load_sparingly()


@app.command()
def new(
    folder: Annotated[Path, typer.Argument(help="Folder to make; it must not hold a study yet.")],
    kind: Annotated[
        Kind, typer.Option(help="The site to begin from; a chain is a culvert below a bridge.")
    ] = Kind.SCREEN,
) -> None:
    """Write a commented starter study (invented) to begin from, and an example of an authority's own figures."""
    from importlib.resources import files

    from overbank.files.folders import write_new
    from overbank.study.json_schema import schema_text

    starter = files("overbank.study").joinpath("starter")
    sources = {name: starter.joinpath(name) for name in STARTER} | {STARTER[0]: starter.joinpath(f"{kind.value}.toml")}
    texts = {name: source.read_text(encoding="utf-8") for name, source in sources.items()}
    write_new(folder, {**texts, SCHEMA: schema_text()})
    say(f"Wrote {' and '.join(str(folder / name) for name in STARTER)}. Open the first in an editor.")
    say(f"Next: overbank check {_quoted(folder)}")


@app.command()
def check(
    study: StudyPath,
    as_json: Annotated[bool, typer.Option("--json", help="Print the levels as JSON and nothing else.")] = False,
    picture: Annotated[
        Path | None,
        typer.Option(help="Also draw long section, plan and cross-sections into this PNG file.", show_default=False),
    ] = None,
    details: Annotated[
        bool, typer.Option("--verbose", "-v", help="Design checks, reach upstream and people as well.")
    ] = False,
) -> None:
    """Read a study, say what is wrong with it, and run it once with every uncertain number at its median."""
    from overbank.outputs.medians import deterministic_run
    from overbank.study.load import read_study

    if picture is not None:
        from overbank.files.folders import refuse_other_file, replace_file

        refuse_other_file(picture)
    read = read_study(study)
    _announce_compiling()
    result = deterministic_run(read)
    if as_json:
        typer.echo(json.dumps(result.as_json(), indent=2))
    else:
        from overbank.commands.terminal import show_check

        show_check(result, details)
    if picture is not None:
        from overbank.report.pictures import save_site

        replace_file(picture, lambda file: save_site(result, file))
        say(f"Picture: {picture}", err=as_json)


@app.command()
def run(
    study: Annotated[
        Path, typer.Argument(help="A study file, the folder that holds study.toml, or a folder of many studies.")
    ],
    out: Annotated[
        Path | None,
        typer.Option(
            help="Folder for the results; 'results' beside the study or studies if left out.", show_default=False
        ),
    ] = None,
    only: Annotated[
        str | None,
        typer.Option(
            help="Only these outputs of one study, with commas between: headwater,overtopping.", show_default=False
        ),
    ] = None,
    quick: Annotated[
        bool, typer.Option("--quick", help="A first look at one study: the headline answers with few samples.")
    ] = False,
    settings: Settings = None,
    samples: Fewer = None,
    log: Annotated[
        Path | None, typer.Option(help="Add what happens, with its time, to this file.", show_default=False)
    ] = None,
) -> None:
    """Run a study in full and write the report, the tables, the samples and the figures.

    Of a folder of many studies, every one without up-to-date results is run, on all cores; one table holds them all.
    """
    from overbank.commands.many import is_folder_of_studies
    from overbank.study.load import read_study

    names = None if only is None else tuple(name.strip() for name in only.split(","))
    if is_folder_of_studies(study):
        if quick or names is not None or settings or samples is not None or log is not None:
            one = "--only, --quick, --set, --samples or --log"
            raise DomainError(f"{study}: expected one study with {one}; got a folder of studies. Name one")
        _run_many(study, out)
        return
    read = changed(read_study(study), settings or (), samples)
    folder = out if out is not None else read.folder / "results"
    _run_into(folder, read, names, quick, log)
    say(f"Report: {folder / 'report.html'}")


@app.command()
def report(
    results: Annotated[Path, typer.Argument(help="A folder of results that a run has written.")],
    pdf: Annotated[bool, typer.Option("--pdf", help="Print report.html into report.pdf beside it.")] = False,
    docx: Annotated[bool, typer.Option("--docx", help="Write it as report.docx, for a report of your own.")] = False,
    xlsx: Annotated[bool, typer.Option("--xlsx", help="Write all tables as results.xlsx, a sheet a table.")] = False,
) -> None:
    """Write the report of a run as PDF or Word document, or its tables as a workbook, into its own folder."""
    if not (pdf or docx or xlsx):
        raise DomainError("report: expected --pdf, --docx or --xlsx, or several; got none. Say which")
    if pdf:
        from overbank.report import pdf as paper

        say(f"PDF: {_added(results, paper.FILE, paper.write_pdf)}")
    if docx:
        from overbank.report import word

        say(f"Word: {_added(results, word.FILE, word.write_docx)}")
    if xlsx:
        from overbank.report import workbook

        say(f"Workbook: {_added(results, workbook.FILE, workbook.write_workbook)}")


def _added(results: Path, name: str, write: Callable[[Path, Path], object]) -> Path:
    """One more file of a folder of results, which is written from those."""
    from overbank.files.folders import add_to_results

    def heard(file: Path) -> None:
        with Interrupt(innermost=True):  # within the lock, which is to be cleared away
            write(results, file)

    return add_to_results(results, name, heard)


@app.command()
def sweep(
    study: StudyPath,
    name: Annotated[str, typer.Argument(help="The dotted name of a key, such as lane.screen.width_m.")],
    values: Annotated[str, typer.Argument(help="2:6:0.5 (lowest, highest, step), or 0.10,0.125,0.15.")],
    out: Annotated[
        Path | None, typer.Option(help="Also write the whole table into this CSV file.", show_default=False)
    ] = None,
    picture: Annotated[Path | None, typer.Option(help="Also draw it into this PNG file.", show_default=False)] = None,
    quick: Annotated[bool, typer.Option("--quick", help="With few samples, for a first look.")] = False,
    settings: Settings = None,
    samples: Fewer = None,
) -> None:
    """The headline answers for several values of one key of a study, on the same random numbers."""
    from overbank.files.folders import refuse_other_file, refuse_other_table, replace_file
    from overbank.study.load import read_study

    several = values_of(values)
    read = changed(read_study(study), settings or (), samples)
    if out is not None:
        refuse_other_table(out, f"{name},title,place,")
    if picture is not None:
        refuse_other_file(picture)
        numbers = all(isinstance(value, int | float) and not isinstance(value, bool) for value in several)
        if not numbers:
            raise DomainError(f"--picture: expected values that are numbers; got {values!r}. Leave the picture out")
    _announce_compiling()
    from overbank.commands.progress import Progress
    from overbank.commands.terminal import show_sweep
    from overbank.results import sweep_study

    steps = {f"{name} = {value}": 1.0 for value in several}
    with Progress(steps) as progress, Interrupt(innermost=True):
        found = sweep_study(read, {name: several}, quick=quick, report=progress.stage)
    show_sweep(read, found, name, quick)
    if out is not None:
        from overbank.files.spreadsheets import write_csv

        replace_file(out, lambda file: write_csv(found, file))
        say(f"Table: {out}")
    if picture is not None:
        from overbank.report.sweeps import save_sweep

        replace_file(picture, lambda file: save_sweep(found, name, file))
        say(f"Picture: {picture}")


@app.command()
def schema() -> None:
    """Print the JSON Schema of study files, by which an editor completes keys and words and marks what is neither."""
    from overbank.study.json_schema import schema_text

    typer.echo(schema_text(), nl=False)


@app.command()
def compare(
    study: Annotated[Path, typer.Argument(help="A study with alternatives; or a folder of results.")],
    other: Annotated[
        Path | None, typer.Argument(help="Another folder of results, to set beside the first.", show_default=False)
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the table as JSON and nothing else.")] = False,
) -> None:
    """Set the alternatives of a study beside the site as it stands, on the same random numbers.

    Of two folders of results: their figures side by side, and what is different in their studies.
    """
    if other is not None:
        from overbank.commands.compared import compare_folders

        compare_folders(study, other, as_json)
        return
    from overbank.commands.progress import Progress
    from overbank.commands.terminal import show_comparison
    from overbank.run import compare_arrangements
    from overbank.sampling.run import SAMPLING
    from overbank.study.load import read_study

    read = read_study(study)
    _announce_compiling()
    steps = {SAMPLING: 1.0, **{f"comparing: {name}": 1.0 for name in read.alternatives}}
    with Progress(steps) as progress, Interrupt(innermost=True):
        comparison = compare_arrangements(read, progress.stage)
    if as_json:
        from overbank.outputs.comparison import arrangement_table

        typer.echo(arrangement_table(comparison).to_json(orient="records", indent=2))
    else:
        show_comparison(read.title, comparison)


app.command()(register)
app.command("open")(open_page)


def _run_into(folder: Path, study: Study, only: tuple[str, ...] | None, quick: bool, log: Path | None) -> None:
    """Everything of a run; the folder changes only when all of it is there."""
    _announce_compiling()
    from overbank.commands.progress import WRITING, Progress, expected_of, logged
    from overbank.commands.terminal import show_answer
    from overbank.files.folders import ROOM, fresh_folder
    from overbank.results import write_all
    from overbank.run import run as run_study
    from overbank.run import stages_of

    expected = expected_of(folder, (*stages_of(only, quick), WRITING))
    settings = study.content.run
    samples = settings.most if settings.automatic else settings.samples
    room = ROOM + 8 * samples * OF_AN_ELEMENT * len(study.content.element)
    with logged(log, study, folder) as note, fresh_folder(folder, room) as staging, Progress(expected) as progress:

        def tell(stage: str) -> None:
            note(stage)
            progress.stage(stage)

        with Interrupt(innermost=True):
            outcome = run_study(study, tell, only, quick=quick)
            write_all(outcome, staging, tell)
    show_answer(outcome)


def _run_many(folder: Path, out: Path | None) -> None:
    """Every study of a folder; exit status 1 when one has failed."""
    _announce_compiling()
    from overbank.commands.many import run_studies

    def tell(run: StudyRun, ended: int, several: int) -> None:
        words = f"run in {run.seconds:.1f} s" if run.state == "run" else run.state
        say(f"[{ended}/{several}] {run.name}: {words}", err=True)

    found = run_studies(folder, out, tell=tell)
    from overbank.commands.terminal import show_studies

    show_studies(found.table())
    for failed in found.failed:
        say(failed.fault, err=True)
    say(f"Table: {found.folder / 'studies.csv'}")
    if found.failed:
        raise typer.Exit(1)


def say(words: str, err: bool = False) -> None:
    """Print words that may hold names and texts of a user's."""
    typer.echo(visible(words), err=err)


def _quoted(path: Path) -> str:
    """A path as the shell of this system takes it."""
    return subprocess.list2cmdline([str(path)]) if sys.platform == "win32" else shlex.quote(str(path))


def _announce_compiling() -> None:
    from overbank._jit import is_compiled

    if not is_compiled():
        say("First run on this machine: compiling the hydraulic formulas, about half a minute.", err=True)


def _tell_of_cache() -> None:
    """That the formulas could not be kept, so that the next command compiles them anew."""
    loaded = sys.modules.get("overbank._jit")
    refused = "" if loaded is None else loaded.not_kept()
    if refused:
        say(
            f"The compiled formulas cannot be kept in {refused}. Every command compiles them anew, about half a "
            "minute, until OVERBANK_CACHE names a folder that can be written to.",
            err=True,
        )


def _check_cores() -> None:
    asked = os.environ.get("OVERBANK_THREADS", "")
    if asked and not (asked.isdecimal() and int(asked) > 0):
        raise DomainError(
            f"OVERBANK_THREADS: expected a whole number of cores; got {asked!r}. Correct it, or unset it for all cores"
        )


def _carry_out() -> int:
    """The command that was typed; its exit status."""
    try:
        return int(app(standalone_mode=False) or 0)
    except MISUSED as error:
        context = getattr(error, "ctx", None)
        usage = "" if context is None else f"{context.get_usage()}\n"
        say(f"{usage}{getattr(error, 'message', error)}".rstrip(), err=True)
        return 2


def main() -> None:
    """Entry point: our own errors become one clear message and exit status 2, a signal one line and 128 and its number.

    Ctrl-C is signal 2, so 130.
    """
    open_outputs()
    try:
        with Interrupt():
            _check_cores()
            status = _carry_out()
            _tell_of_cache()
    except OverbankError as error:
        say(str(error), err=True)
        status = 2
    except MemoryError:
        say("The memory of this machine, or what this process may use of it, is used up. Take fewer samples", err=True)
        status = 2
    except OSError as error:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())  # nothing more is written to it at the end
        say(f"{error.filename or 'The output'} cannot be written or read; got {error.strerror or error}", err=True)
        status = 2
    except StoppedError as stop:
        with suppress(OSError):  # the terminal may have gone
            say(STOPPED, err=True)
        status = 128 + stop.sign
    sys.exit(status)


if __name__ == "__main__":
    main()
