"""The command itself: what it prints, how it ends, and what it says where it cannot begin."""

from __future__ import annotations

import json
import re
import signal
import socket
import subprocess
import sys
import urllib.error
import urllib.request
from pathlib import Path

import pytest

from overbank.live.server import served
from small import edited, written
from test_cli import Overbank, overbank  # noqa: F401  (a fixture)

FEW = ("samples = 4096", "samples = 256")


def test_it_answers_until_it_is_closed_and_leaves_nothing_behind(tmp_path: Path) -> None:
    file = written(tmp_path, edited(FEW))
    command = [sys.executable, "-m", "overbank.commands.cli", "open", str(file)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        found = None
        while found is None:
            line = process.stdout.readline()
            assert line, process.communicate()[1]
            found = re.search(r"http://127\.0\.0\.1:\d+/\S{32}/", line)
        body = json.dumps({"held": {"flow.design_m3_s": 7.0}}).encode()
        question = urllib.request.Request(f"{found[0]}answer", body, {"Content-Type": "application/json"})
        with urllib.request.urlopen(question, timeout=30) as answer:
            assert json.load(answer)["level"] > 31.0
        with pytest.raises(urllib.error.HTTPError) as refused:
            urllib.request.urlopen(found[0][:-2], timeout=30)
        assert refused.value.code == 403
        refused.value.close()
        process.send_signal(signal.SIGINT)
        told, complained = process.communicate(timeout=30)
    assert process.returncode == 0
    assert told.endswith("Closed.\n")
    assert complained == ""
    assert [path.name for path in tmp_path.iterdir()] == ["study.toml"]


def test_a_study_with_faults_is_told_as_a_check_tells_it(overbank: Overbank, tmp_path: Path) -> None:  # noqa: F811
    file = written(tmp_path, edited(("span_m = 2.4", "span_m = -2.4")))
    opened, checked = overbank("open", file), overbank("check", file)
    assert opened == checked
    assert opened.status == 2
    assert "span_m" in opened.err


def test_a_port_that_is_taken_is_said(overbank: Overbank, tmp_path: Path) -> None:  # noqa: F811
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        said = overbank("open", written(tmp_path, edited(FEW)), "--port", str(port))
    assert said.status == 2
    assert f"--port: expected a port that this program may have; got {port}" in said.err


@pytest.mark.parametrize("package", ["waitress", "tomlkit"])
def test_a_missing_package_is_said(
    overbank: Overbank,  # noqa: F811
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
    package: str,
) -> None:
    monkeypatch.setitem(sys.modules, package, None)
    said = overbank("open", written(tmp_path))
    assert said.status == 2
    assert "pip install 'overbank[live]'" in said.err


def test_only_this_machine_is_listened_to(tmp_path: Path) -> None:
    """The socket is bound to the loopback address: any other address of the machine is refused by the system."""
    from overbank.live.answers import Live
    from small import study

    with served(Live(study(tmp_path, FEW)), 0) as address:
        port = int(address.split(":")[2].split("/")[0])
        listening = Path("/proc/net/tcp").read_text(encoding="ascii")  # tests run on Linux
        own = [line.split()[1] for line in listening.splitlines()[1:] if line.split()[3] == "0A"]
        assert f"0100007F:{port:04X}" in own
        assert f"00000000:{port:04X}" not in own
    with pytest.raises(OSError, match="refused"), socket.create_connection(("127.0.0.1", port), timeout=5):
        pass
