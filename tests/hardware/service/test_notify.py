"""The protocol of sd_notify(3), over a real socket, with and without a file, and beside systemd's own program."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from hardware.service.notify import Notifier, notifier_from


@pytest.fixture(params=["file", "abstract"])
def manager(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[tuple[str, socket.socket]]:
    """The socket of a service manager and its address as NOTIFY_SOCKET says it."""
    name = str(tmp_path / "notify") if request.param == "file" else f"@keelnote-test-{os.getpid()}"
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as bound:
        bound.bind("\0" + name[1:] if name.startswith("@") else name)
        bound.settimeout(10)
        yield name, bound


def test_each_line_is_one_datagram(manager: tuple[str, socket.socket]):
    address, bound = manager
    notifier = Notifier(address)
    notifier.ready()
    notifier.alive()
    notifier.status("Sound: one,\n 50 ms")
    notifier.stopping()
    said = [bound.recv(4096) for _ in range(4)]
    assert said == [b"READY=1", b"WATCHDOG=1", b"STATUS=Sound: one, 50 ms", b"STOPPING=1"]


@pytest.mark.skipif(shutil.which("systemd-notify") is None, reason="systemd is not installed")
def test_systemds_own_program_says_the_same(manager: tuple[str, socket.socket]):
    address, bound = manager
    Notifier(address).status("well")
    environment = os.environ | {"NOTIFY_SOCKET": address}
    subprocess.run(["systemd-notify", "--no-block", "--status=well"], env=environment, check=True, timeout=30)
    assert bound.recv(4096) in bound.recv(4096), "systemd 252 and later add a line of their own"


def test_without_a_manager_or_with_one_that_is_gone_nothing_happens(tmp_path: Path):
    for notifier in (Notifier(), Notifier(str(tmp_path / "gone")), Notifier("x" * 200)):
        notifier.ready()
        notifier.alive()


def test_a_manager_that_does_not_read_is_not_waited_for(manager: tuple[str, socket.socket]):
    address, _ = manager
    for _ in range(5000):
        Notifier(address).alive()


@pytest.mark.parametrize(
    ("environment", "seconds"),
    [
        ({}, 0.0),
        ({"WATCHDOG_USEC": "5000000"}, 5.0),
        ({"WATCHDOG_USEC": "5000000", "WATCHDOG_PID": str(os.getpid())}, 5.0),
        ({"WATCHDOG_USEC": "5000000", "WATCHDOG_PID": "1"}, 0.0),
        ({"WATCHDOG_USEC": "soon"}, 0.0),
    ],
)
def test_the_watchdogs_time_is_read_from_the_environment(environment: dict[str, str], seconds: float):
    assert notifier_from(environment).watchdog_seconds == seconds


def test_another_process_reads_it_as_we_do(manager: tuple[str, socket.socket]):
    address, bound = manager
    code = "from hardware.service.notify import notifier_from; notifier_from().ready()"
    root = str(Path(__file__).parents[3])
    environment = os.environ | {"NOTIFY_SOCKET": address, "PYTHONPATH": root}
    subprocess.run([sys.executable, "-c", code], env=environment, check=True, timeout=60)
    assert bound.recv(4096) == b"READY=1"
