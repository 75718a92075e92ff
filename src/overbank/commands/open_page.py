"""The command `overbank open`: a study on a page of this machine's browser, its numbers moved by hand."""

from __future__ import annotations

import signal
import time
from pathlib import Path
from typing import Annotated

import typer

from overbank.commands.interrupt import Interrupt, StoppedError
from overbank.commands.speaking import visible

PAUSE = 0.5
"""So long the command sleeps at a time [s]: a sleep without an end hears no Ctrl-C on Windows."""


def open_page(
    study: Annotated[Path, typer.Argument(help="A study file, or the folder that holds study.toml.")],
    port: Annotated[int, typer.Option(help="Port of this machine; 0 for any that is free.", min=0, max=65535)] = 0,
) -> None:
    """Serve a study as a live page, to this machine only: move flow, blockage, tailwater and bank, and see the water.

    The model answers each move. Nothing is written but a copy of the study, where the page has asked and you agree.
    """
    from overbank.live.server import refuse_if_missing, served
    from overbank.study.load import read_study

    refuse_if_missing()
    read = read_study(study)
    from overbank._jit import is_compiled
    from overbank.live.answers import Live
    from overbank.live.told import arrangements, site

    if not is_compiled():
        _say("First run on this machine: compiling the hydraulic formulas, about half a minute.")
    with Interrupt(innermost=True):
        live = Live(read)
        site(live, {})  # whatever must be compiled is, before the first move
        arrangements(live, {})
    try:
        with served(live, port) as address, Interrupt():
            _say(f"Open this address in a browser of this machine: {address}")
            _say("Whoever has it can use the page. Ctrl-C closes it.")
            while True:
                time.sleep(PAUSE)
    except StoppedError as stop:
        if stop.sign != signal.SIGINT:
            raise
    _say("Closed.")


def _say(words: str) -> None:
    typer.echo(visible(words))
