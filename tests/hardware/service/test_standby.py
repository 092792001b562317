"""One process stands by and another is the box: crashes, orderly ends and signals, with real processes."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator

import pytest

from hardware.service.standby import MOST_QUICK_ENDS

BOX = """
import os, sys, time
from hardware.service.notify import Notifier
from hardware.service.standby import stand_by
code = stand_by(Notifier(), loading=lambda: None)
if code is not None:
    sys.exit(code)
print("box", os.getpid(), os.environ.get("WATCHDOG_PID"), flush=True)
{doing}
"""
WAITING = "time.sleep(60)"
ORDERLY = (
    "import signal\nsignal.signal(signal.SIGTERM, lambda *_: sys.exit(0))\nprint('set', flush=True)\ntime.sleep(60)"
)

LOADING = """
import os, sys
files = set(os.listdir("/proc/self/fd"))
from hardware.service.standby import load
load()
print(len(os.listdir("/proc/self/task")), sorted(set(os.listdir("/proc/self/fd")) - files), "evdev" in sys.modules)
"""


@pytest.fixture
def started() -> Iterator[list[subprocess.Popen[str]]]:
    """Processes that are ended at last."""
    made: list[subprocess.Popen[str]] = []
    yield made
    for one in made:
        one.kill()
        one.communicate(timeout=10)


def start(started: list[subprocess.Popen[str]], doing: str) -> subprocess.Popen[str]:
    """Start a process that stands by for boxes that do something."""
    command = [sys.executable, "-c", BOX.format(doing=doing)]
    # Not in Python's development mode, which says more about a crash than the box does.
    env = {key: value for key, value in os.environ.items() if key != "PYTHONDEVMODE"} | {"WATCHDOG_PID": "1"}
    one = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, env=env)
    started.append(one)
    return one


def line(one: subprocess.Popen[str]) -> str:
    """What it says next."""
    assert one.stdout is not None
    return one.stdout.readline().strip()


def box(one: subprocess.Popen[str]) -> int:
    """The process that is the box; the watchdog's time is meant for it."""
    word, pid, watched = line(one).split()
    assert (word, watched) == ("box", pid)
    assert int(pid) != one.pid
    return int(pid)


def gone(pid: int) -> bool:
    """Whether a process has ended."""
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return True
    return False


def test_a_box_that_is_killed_is_followed_by_another(started: list[subprocess.Popen[str]]) -> None:
    one = start(started, WAITING)
    for number in (signal.SIGKILL, signal.SIGSEGV, signal.SIGABRT):
        os.kill(box(one), number)
        assert line(one) == f"The box ended by itself ({number.name}); it goes on."
    last = box(one)
    assert one.poll() is None
    one.kill()
    one.wait(10)
    deadline = time.monotonic() + 10
    while not gone(last):
        assert time.monotonic() < deadline, "the box outlives the one that stood by"
        time.sleep(0.01)


def test_an_orderly_end_ends_both(started: list[subprocess.Popen[str]]) -> None:
    one = start(started, "")
    box(one)
    assert one.wait(10) == 0


def test_who_is_told_to_end_passes_it_on_and_waits(started: list[subprocess.Popen[str]]) -> None:
    one = start(started, ORDERLY)
    box(one)
    assert line(one) == "set"
    one.send_signal(signal.SIGTERM)
    assert one.wait(10) == 0


def test_a_box_that_ends_at_once_again_and_again_is_given_back(started: list[subprocess.Popen[str]]) -> None:
    one = start(started, "sys.exit(3)")
    assert one.wait(30) == 3
    assert one.stdout is not None
    assert one.stdout.read().count("ended by itself (exit code 3)") == MOST_QUICK_ENDS


def test_what_is_loaded_begins_no_thread_and_opens_nothing() -> None:
    env = os.environ | {"OPENBLAS_NUM_THREADS": "1"}
    said = subprocess.run([sys.executable, "-c", LOADING], check=True, capture_output=True, text=True, env=env).stdout
    assert said.strip() == "1 [] True"
