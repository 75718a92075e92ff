"""What reaches a terminal: no escape sequence, no turned writing, in any encoding, and whoever stops listening."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from overbank.commands.speaking import visible
from small import DEPENDENCE, edited, written

NASTY = "\x1b]0;owned\x07\x1b[2J\u202eevil\u2066"
ASIS = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069]")
"""What may steer a terminal: control characters of ECMA-48 and the marks of Unicode's writing to and fro (UAX 9)."""


def said(*words: str, piped_into: str = "", **settings: str) -> tuple[int, str, bytes]:
    """Exit status, standard error and standard output of the command."""
    command = [sys.executable, "-m", "overbank.commands.cli", *words]
    environment = {**os.environ, **settings}
    if piped_into:
        shell = f'"$@" | {piped_into}; exit ${{PIPESTATUS[0]}}'
        command = ["bash", "-c", shell, "bash", *command]
    done = subprocess.run(command, capture_output=True, check=False, env=environment, timeout=120)
    return done.returncode, done.stderr.decode("utf-8", "replace"), done.stdout


def test_what_steers_a_terminal_is_written_out_and_all_else_stays() -> None:
    assert visible("a\tb\nc é \u2212 \u6cb3") == "a\tb\nc é \u2212 \u6cb3"
    assert visible("\x1b[2J\x9b1\u202e\r") == "\\x1b[2J\\x9b1\\u202e\\x0d"
    assert visible(os.fsdecode(b"\xff")) == "\\udcff"
    assert not any(ASIS.search(visible(chr(code))) for code in range(0x3000) if chr(code) not in "\t\n")


def test_a_title_does_not_steer_the_terminal(tmp_path: Path) -> None:
    title = "".join(f"\\u{ord(letter):04x}" for letter in NASTY)
    file = written(tmp_path, edited(("A small study (invented)", f"A {title} study"), (DEPENDENCE, "")))
    status, err, out = said("check", str(file))
    assert (status, err) == (0, "")
    assert "A \\x1b]0;owned\\x07\\x1b[2J\\u202eevil\\u2066 study" in out.decode("utf-8")
    assert not ASIS.search(out.decode("utf-8").replace("\n", ""))


def test_keys_values_names_and_words_of_the_command_do_not_either(tmp_path: Path) -> None:
    key = '"\\u001b[31m\\u202e" = "\\u001b[5m"\n'
    file = written(tmp_path / f"a{NASTY}", key + edited())
    for words in (("check", str(file)), ("check", f"{NASTY}.toml"), ("check", "one", f"two{NASTY}"), (f"--{NASTY}",)):
        status, err, out = said(*words)
        assert (status, out) == (2, b"")
        assert "\\x1b" in err
        assert not ASIS.search(err.replace("\n", "")), ascii(err)


@pytest.mark.parametrize("encoding", ["ascii", "cp1252", "iso8859-15", "utf-8"])
def test_every_encoding_of_an_output_serves(tmp_path: Path, encoding: str) -> None:
    file = written(tmp_path, edited(("A small study", "A small study, \u2212 \u6cb3 \u2265 ﬁ")))
    status, err, out = said("check", str(file), PYTHONIOENCODING=encoding)
    assert (status, err) == (0, "")
    text = out.decode(encoding)
    shown = "\u2212 \u6cb3 \u2265 ﬁ" if encoding == "utf-8" else "- ? >= fi"
    assert f"A small study, {shown} (invented)" in text
    assert "~ water" in text


@pytest.mark.parametrize(("study", "expected"), [("good", 0), ("bad", 2)])
def test_a_reader_that_leaves_early_changes_nothing(tmp_path: Path, study: str, expected: int) -> None:
    written(tmp_path / "good")
    written(tmp_path / "bad", edited(("span_m = 2.4", "spam_m = 2.4")))
    status, err, _ = said("check", str(tmp_path / study), piped_into="true")
    assert (status, "faults" in err or "fault" in err) == (expected, expected == 2)
    assert "Traceback" not in err
    assert "ignored" not in err
