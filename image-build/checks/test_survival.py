"""A box that crashes, hangs or dies: it plays again by itself, and the drone is as it was."""

from __future__ import annotations

import os
import re
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from emulated.board import Board
from emulated.exact import EXACT, FRAME, RATE, Duplex, let_pass, tap
from emulated.tones import Signal, Tone, cents, strongest

PATIENCE = 900.0
"""Seconds of this machine, however slow, in which a start is over."""

BACK_SECONDS = 3.0
"""From a crash to sound, on the board's own clock: a thousand million instructions a second."""

HANG_SECONDS = 30.0 + 2.0 + 15.0
"""The watchdog's time as these tests have it (5 s in the image), what systemd gives a hung process to end, and a start
from nothing."""

RESET_SECONDS = 30.0
"""From the moment at which nothing runs any more to the reset."""

SAME_CENTS = 5.0
"""Over a second and a half of six partials the reading is this rough; the next tonic is twenty times as far."""

STATUS = "/proc/asound/card0/pcm0p/sub0/status"

# Ends or stops a process, and says when sound stopped and began again; loaded before, for loading takes time.
WATCH = f"""
import os, sys, time
def plays():
    try:
        return "RUNNING" in open("{STATUS}").read()
    except OSError:
        return False
pid, number = int(sys.argv[1]), int(sys.argv[2])
began = time.monotonic()
os.kill(pid, number)
times = []
for wanted in (False, True):
    while plays() != wanted:
        time.sleep(0.01)
    times.append(time.monotonic() - began)
print(*times)
"""

# Nothing else gets a processor any more: the box is as good as dead. The kernel leaves a twentieth to all others even
# then (its "fair server" since version 6.12, and its limit for real-time threads, sched(7)): both are put out. What
# takes the processor tells of each second of the board's clock; QEMU's sound card halts as soon as nobody answers it.
# It mostly counts: that is many times as fast in emulation as asking the kernel for the time.
DEAD = "keelnote check: nothing else runs"
HANG = (
    "mkdir -p /run/debug; mount -t debugfs none /run/debug; "
    "for share in /run/debug/sched/fair_server/cpu*/runtime; do echo 0 >$share; done; "
    "echo -1 >/proc/sys/kernel/sched_rt_runtime_us; "
    f"dead() {{ while read -r up rest </proc/uptime; do [ ${{up%.*}} = \"$last\" ] || echo '<2>{DEAD}' >/dev/kmsg; "
    "last=${up%.*}; i=0; while [ $i -lt 10000 ]; do i=$((i+1)); done; done; }; "
    "for n in 1 2 3 4; do (sleep 1; chrt -f -p 99 $(exec sh -c 'echo $PPID') && dead) >/dev/null 2>&1 & done"
)


@pytest.fixture
def playing(card: Path, folder: Path) -> Iterator[tuple[Board, Duplex]]:
    """A board whose time is counted in instructions, with a sound card, a number pad and a watchdog; it is ready."""
    sound = Duplex(folder)
    # A quiet room; as long as any of these checks, and no byte of it takes a place on the disk.
    sound.heard.touch()
    os.truncate(sound.heard, 3600 * RATE * FRAME)
    devices = (*EXACT, *sound.devices(), "-device", "usb-kbd,bus=usb.0", "-device", "i6300esb")
    board = Board(card, folder, devices, environment=sound.environment())
    board.power_on()
    board.wait_ready(PATIENCE)
    board.wait_until("it plays", lambda: plays(board), PATIENCE, every=3)
    yield board, sound
    board.cut_power()
    if not os.environ.get("KEELNOTE_KEEP_CARDS"):
        card.unlink(missing_ok=True)


def plays(board: Board) -> bool:
    return board.run("/bin/grep", "-q", "RUNNING", STATUS, seconds=300)[0] == 0


def last_sound(sound: Duplex, seconds: float = 1.5) -> Signal:
    """The end of what came out of the loudspeaker, one channel."""
    count = round(seconds * RATE)
    size = sound.played.stat().st_size // FRAME * FRAME
    samples = np.fromfile(sound.played, dtype="<i2", offset=max(0, size - count * FRAME), count=2 * count)
    return samples[::2].astype(np.float64) / 32768


def of_unit(board: Board, name: str) -> str:
    """Give a property of the unit, however long that takes."""
    return board.shell(f"systemctl show -P {name} keelnote.service", seconds=300).strip()


def box_of(board: Board) -> int:
    """Give the process that is the box; its parent stands by."""
    return int(board.shell(f"cat /proc/{of_unit(board, 'MainPID')}/task/*/children", seconds=300).split()[0])


def struck(board: Board, signal: int) -> tuple[float, float]:
    """Send the box a signal; seconds until it was silent, and until it played again."""
    said = board.run("/usr/bin/python3", "-c", WATCH, str(box_of(board)), str(signal), seconds=PATIENCE)[1]
    silent, again = map(float, said.split())
    return silent, again


def same_drone(before: list[Tone], sound: Duplex) -> bool:
    after = strongest(last_sound(sound), 2 * len(before))
    return all(min(abs(cents(tone.hertz, one.hertz)) for one in after) < SAME_CENTS for tone in before)


def note(folder: Path, name: str, seconds: float) -> None:
    with (folder / "seconds.txt").open("a", encoding="utf-8") as file:
        file.write(f"{name}: {seconds:.2f} s\n")


def test_crash_and_hang_are_survived(playing: tuple[Board, Duplex], folder: Path) -> None:
    board, sound = playing
    tap(board, "kp_7")
    let_pass(board, 4)
    drone = strongest(last_sound(sound), 3)
    the_drone_goes_on_after_a_crash(board, sound, drone, folder)
    the_drone_goes_on_after_a_hang(board, sound, drone, folder)


def test_dead_kernel_and_panic_lead_to_a_new_start(board: Board, folder: Path) -> None:
    *plain, _, watchdog = board.devices
    assert watchdog == "i6300esb"
    # A busy machine must not look like a dead box: this board counts its time in instructions.
    board.devices = (*EXACT, "-device", "i6300esb")
    board.power_on()
    board.wait_ready(PATIENCE)
    a_dead_box_is_reset(board, folder)
    # This one does not: a kernel that has panicked waits, and not even 10 s of that were over within 3 minutes there.
    # It has no watchdog: that might come first.
    board.devices = tuple(plain)
    board.power_on()
    assert board.slot == 2
    board.wait_ready(PATIENCE)
    board.wait_until("it plays", lambda: plays(board), PATIENCE, every=3)
    a_panic_leads_to_a_new_start(board, folder)


def the_drone_goes_on_after_a_crash(board: Board, sound: Duplex, drone: list[Tone], folder: Path) -> None:
    silent, again = struck(board, 9)
    note(folder, "crash: silent after", silent)
    note(folder, "crash: plays again after", again)
    let_pass(board, 3)
    assert same_drone(drone, sound), "the drone is not as it was"
    board.screen("after-the-crash")
    assert of_unit(board, "NRestarts") == "0", "the process that stands by did not go on"
    assert again <= BACK_SECONDS


def the_drone_goes_on_after_a_hang(board: Board, sound: Duplex, drone: list[Tone], folder: Path) -> None:
    silent, again = struck(board, 19)
    note(folder, "hang: silent after", silent)
    note(folder, "hang: plays again after", again)
    assert of_unit(board, "NRestarts") == "1", "it was not the watchdog that started it anew"
    assert again <= HANG_SECONDS
    let_pass(board, 3)
    assert same_drone(drone, sound), "the drone is not as it was"


def a_dead_box_is_reset(board: Board, folder: Path) -> None:
    board.shell(HANG, seconds=300)
    board.wait_for_end(PATIENCE)
    times = [float(told) for told in re.findall(rf"\[ *([\d.]+)\][^\[]*{DEAD}", board.log())]
    # It told no more in the second in which it was reset.
    seconds = times[-1] - times[0] + 1
    note(folder, "dead: reset after at most", seconds)
    events = [event["event"] for event in board.control.events]
    assert "WATCHDOG" in events, events
    assert seconds <= RESET_SECONDS
    assert not re.search(r"Kernel panic", board.log())


def a_panic_leads_to_a_new_start(board: Board, folder: Path) -> None:
    board.run("/bin/sh", "-c", "(sleep 1; echo c >/proc/sysrq-trigger) >/dev/null 2>&1 &", seconds=300)
    began = time.monotonic()
    board.wait_for_end(PATIENCE)
    seconds = time.monotonic() - began
    note(folder, "panic: reset after", seconds)
    assert "Kernel panic" in board.log()
    # The time above is this machine's, which may be busy; the kernel's own wait is what it says, and it did restart.
    told = re.search(r"Rebooting in (\d+) seconds", board.log())
    assert told
    assert int(told[1]) <= RESET_SECONDS
