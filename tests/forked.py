"""The command, forked where all is loaded: text that a script of a trial begins with."""

from __future__ import annotations

BEGIN = """
import os, sys
from overbank.commands.cli import main

def begin(*words):
    child = os.fork()
    if child == 0:
        sys.argv = ["overbank", *words]
        quiet = os.open(os.devnull, os.O_WRONLY)
        os.dup2(quiet, 1)
        os.dup2(quiet, 2)
        try:
            main()
        except SystemExit as end:
            os._exit(int(end.code or 0))
        os._exit(0)
    return child
"""
"""`begin(*words)` gives the process that carries the command out, with nothing said."""
