"""The box's own unit under a real systemd: ready, sealed off, in real time, and back after a crash and after a hang."""

from __future__ import annotations

import json
import shutil
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from firmware.settings import DEFAULTS, write_settings
from tests.guest.kernel import Kernel
from tests.guest.machine import Guest
from tests.guest.sound_box import HZ, TONE
from tests.guest.test_sound import OFF_HZ, PATIENCE, QUIETEST_DB, heard

SYSTEMD = Path("/lib/systemd/systemd")
INSIDE = 'nsenter -t "$(pgrep -o -x systemd)" -p -m'
"""In the namespace of systemd, whose process numbers differ."""

RESTART_SECONDS = 3.0

pytestmark = pytest.mark.skipif(
    not SYSTEMD.exists() or shutil.which("nsenter") is None, reason="systemd is not installed"
)


@pytest.fixture(scope="module")
def machine(kernel: Kernel) -> Iterator[Guest]:
    """A guest with a sound card, in which systemd runs the box."""
    with Guest(kernel, ("snd_aloop",)) as running:
        systemd = running.start("sh", "tests/guest/service.sh", sys.executable)
        try:
            wait_until_active(running, 0)
        except AssertionError as error:
            raise AssertionError("\n".join(running.drain(systemd)[-60:])) from error
        yield running


def unit(guest: Guest, *names: str) -> dict[str, str]:
    """Properties of the unit."""
    shown = guest.run("sh", "-c", f"{INSIDE} systemctl show keelnote.service -p {','.join(names)} 2>&1 || true")
    return dict(line.split("=", 1) for line in shown.splitlines() if "=" in line)


def wait_until_active(guest: Guest, restarts: int) -> None:
    """Wait until the box is ready after so many restarts."""
    deadline = time.monotonic() + PATIENCE
    seen: dict[str, str] = {}
    while (seen.get("ActiveState"), seen.get("NRestarts")) != ("active", str(restarts)):
        assert time.monotonic() < deadline, seen
        time.sleep(1.0)
        seen = unit(guest, "ActiveState", "NRestarts", "Result")


def send(guest: Guest, signal: str) -> None:
    """Send a signal to the box."""
    pid = unit(guest, "MainPID")["MainPID"]
    guest.run("sh", "-c", f"{INSIDE} kill -{signal} {pid}")


@pytest.mark.timeout(900)
def test_it_is_ready_under_the_unit_with_sound_in_real_time(machine: Guest) -> None:
    deadline = time.monotonic() + PATIENCE
    while "Sound: Loopback" not in unit(machine, "StatusText")["StatusText"]:
        assert time.monotonic() < deadline
        time.sleep(1.0)
    threads = machine.run("sh", "-c", "ps -eLo cls,rtprio,user,args | grep 'hardware.desk bo[x]'")
    assert [line.split()[:3] for line in threads.splitlines() if line.startswith(" FF")] == [["FF", "45", "keelnote"]]
    assert "NoNewPrivs:\t1" in machine.run("sh", "-c", "cat /proc/$(pgrep -o -u keelnote)/status")


@pytest.mark.timeout(900)
def test_after_a_crash_it_is_started_within_three_seconds_and_the_drone_goes_on(machine: Guest) -> None:
    values = DEFAULTS
    for name, value in TONE:
        values = values.put(name, value)
    state = json.dumps({"tries": 0, "sounding": True, "settings": write_settings(values)})
    before = machine.run("sh", "-c", "cat > /run/keelnote/state.json <<'E'\n" + state + "\nE\nid -u keelnote")
    assert before.strip().isdigit()
    send(machine, "KILL")
    wait_until_active(machine, 1)
    times = unit(machine, "InactiveEnterTimestampMonotonic", "ExecMainStartTimestampMonotonic")
    seconds = (int(times["ExecMainStartTimestampMonotonic"]) - int(times["InactiveEnterTimestampMonotonic"])) / 1e6
    assert 0 <= seconds < RESTART_SECONDS
    level, hz = heard(machine)
    assert level > QUIETEST_DB
    assert abs(hz - HZ) < OFF_HZ


@pytest.mark.timeout(900)
def test_a_box_that_hangs_is_ended_by_the_watchdog_and_started_again(machine: Guest) -> None:
    send(machine, "STOP")
    wait_until_active(machine, 2)
