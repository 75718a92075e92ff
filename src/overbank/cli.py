"""The commands: new, check, run, compare. Heavy imports wait inside them, so that --help is quick."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from overbank.errors import FolderError, OverbankError

app = typer.Typer(
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    help="How high the water stands upstream of a structure when nothing is known exactly, "
    "and how much debris blockage to allow.",
)

if TYPE_CHECKING:
    from overbank.study.load import Study

STOPPED = "Stopped; earlier results are untouched."

StudyPath = Annotated[Path, typer.Argument(help="A study file, or the folder that holds study.toml.")]


@app.command()
def new(
    folder: Annotated[Path, typer.Argument(help="Folder to make; it must not hold a study yet.")],
) -> None:
    """Write a commented starter study (invented) to begin from."""
    from importlib.resources import files

    target = folder / "study.toml"
    text = files("overbank.study").joinpath("starter", "study.toml").read_text(encoding="utf-8")
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with target.open("x", encoding="utf-8") as file:
            file.write(text)
    except FileExistsError:
        raise FolderError(
            f"{target}: there is a study here already; it is left as it is. Name another folder"
        ) from None
    except OSError as error:
        raise FolderError(f"{target}: expected to write the starter study; got {error.strerror}") from error
    typer.echo(f"Wrote {target}. Next: overbank check {folder}")


@app.command()
def check(
    study: StudyPath,
    as_json: Annotated[bool, typer.Option("--json", help="Print the levels as JSON and nothing else.")] = False,
    picture: Annotated[
        Path | None, typer.Option(help="Also draw the long section into this PNG file.", show_default=False)
    ] = None,
) -> None:
    """Read a study, say what is wrong with it, and run it once with every uncertain number at its median."""
    from overbank.deterministic import deterministic_run
    from overbank.study.load import read_study

    read = read_study(study)
    _announce_compiling()
    result = deterministic_run(read)
    if as_json:
        typer.echo(json.dumps(result.as_json(), indent=2))
    else:
        from overbank.terminal import show_check

        show_check(result)
    if picture is not None:
        from overbank.report.pictures import save_long_section

        save_long_section(result, picture)
        typer.echo(f"Long section: {picture}", err=as_json)


@app.command()
def run(
    study: StudyPath,
    out: Annotated[
        Path | None,
        typer.Option(help="Folder for the results; 'results' beside the study file if left out.", show_default=False),
    ] = None,
) -> None:
    """Run a study in full and write the report, the tables, the samples and the figures."""
    from overbank.study.load import read_study

    read = read_study(study)
    folder = out if out is not None else read.folder / "results"
    try:
        _run_into(folder, read)
    except KeyboardInterrupt:
        typer.echo(STOPPED, err=True)
        raise typer.Exit(130) from None
    typer.echo(f"Report: {folder / 'report.html'}")


@app.command()
def compare(
    study: StudyPath,
    as_json: Annotated[bool, typer.Option("--json", help="Print the table as JSON and nothing else.")] = False,
) -> None:
    """Set the alternatives of a study beside the site as it stands, on the same random numbers."""
    from overbank.run import compare_arrangements
    from overbank.study.load import read_study
    from overbank.terminal import Progress, show_comparison

    read = read_study(study)
    _announce_compiling()
    with Progress() as progress:
        comparison = compare_arrangements(read, progress.stage)
    if as_json:
        from overbank.store import arrangement_table

        typer.echo(arrangement_table(comparison).to_json(orient="records", indent=2))
    else:
        show_comparison(read.title, comparison)


def _run_into(folder: Path, study: Study) -> None:
    """Everything of a run; the folder changes only when all of it is there."""
    _announce_compiling()
    from overbank.folders import fresh_folder
    from overbank.results import write_all
    from overbank.run import run as run_study
    from overbank.terminal import Progress, show_answer

    with fresh_folder(folder) as staging, Progress() as progress:
        outcome = run_study(study, progress.stage)
        write_all(outcome, staging, progress.stage)
    show_answer(outcome)


def _announce_compiling() -> None:
    from overbank._jit import is_compiled

    if not is_compiled():
        typer.echo("First run on this machine: compiling the hydraulic formulas, about 20 seconds.", err=True)


def main() -> None:
    """Entry point: our own errors become one clear message and exit status 2."""
    try:
        app()
    except OverbankError as error:
        typer.echo(str(error), err=True)
        sys.exit(2)
    except KeyboardInterrupt:
        typer.echo(STOPPED, err=True)
        sys.exit(130)


if __name__ == "__main__":
    main()
