"""Sound that no slowness of this machine can spoil: the emulated board counts its time in its own instructions.

With `-icount` a second of the board is a fixed number of instructions (QEMU documentation, "TCG Instruction Counting"),
and QEMU's sound devices go by that clock too. So the board is as fast as it always is, however busy this machine; only
the wait for it differs. Microphone and loudspeaker are files, which are read and written as the board's own clock asks:
ALSA's "file" plugin over its "null" plugin (alsa-lib, "PCM plugins"), neither of which has a clock of its own.
"""

from __future__ import annotations

import os
import threading
import time
from base64 import b64decode
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt

from emulated.board import SCREEN, Board
from emulated.sticks import read

EXACT: Final = ("-smp", "1", "-icount", "shift=0,sleep=on", "-trace", "hda_audio_overrun")
"""One instruction a nanosecond: a quarter of what the slowest board has, four processors at 1 GHz. A second processor
would not help: QEMU lets them take turns, of up to a tenth of a second. While the board has nothing to do its time goes
on by this machine's clock, and wakes up late by as much as this machine is busy: `stay_awake` is against that. With
"sleep=off" it would go straight on to the next timer, so that the watchdog bites while the board waits for its card."""

RATE: Final = 48_000
FRAME: Final = 4
"""Bytes of a sample: two channels of 16 bits."""

TICK: Final = 10_000
"""Microseconds from one look of QEMU at its sound devices to the next. A buffer of just as much sound on either side
makes each look move that much and no more: that is what paces files."""


@dataclass(frozen=True, slots=True)
class Duplex:
    """A sound card whose microphone and loudspeaker are files; 16 bits, two channels.

    Parameters
    ----------
    folder : Path
        Where its files are.
    """

    folder: Path

    @property
    def heard(self) -> Path:
        """What the microphone gives, from the moment at which the box first listens."""
        return self.folder / "microphone.raw"

    @property
    def played(self) -> Path:
        """What came out of the loudspeaker."""
        return self.folder / "loudspeaker.raw"

    def devices(self) -> tuple[str, ...]:
        """Give the arguments for QEMU."""
        way = "{0}.dev={1},{0}.buffer-length={2},{0}.frequency=48000,{0}.channels=2,{0}.format=s16,{0}.try-poll=off"
        card = f"alsa,id=card,timer-period={TICK},{way.format('in', 'heard', TICK)},{way.format('out', 'played', TICK)}"
        return ("-audiodev", card, "-device", "intel-hda", "-device", "hda-duplex,audiodev=card,mixer=off")

    def environment(self) -> dict[str, str]:
        """Write what ALSA must know of the two files, and say to QEMU where that is."""
        place = self.folder / "alsa.conf"
        plugin = 'pcm.{} {{ type file slave.pcm {{ type null }} file "{}" {} format raw }}\n'
        place.write_text(
            plugin.format("heard", "/dev/null", f'infile "{self.heard}"') + plugin.format("played", self.played, "")
        )
        return {"ALSA_CONFIG_PATH": str(place)}


def microphone_signal(seconds: float) -> npt.NDArray[np.int16]:
    """Give a tone of 997 Hz at -20 dB of full scale under a code by which every sample is known, shape (n,)."""
    count = round(seconds * RATE)
    code = np.random.default_rng(997).integers(-64, 65, count)
    tone = 3277 * np.sin(2 * np.pi * 997 / RATE * np.arange(count))
    signal: npt.NDArray[np.int16] = (np.rint(tone) + code).astype(np.int16)
    return signal


def write_stereo(path: Path, signal: npt.NDArray[np.int16]) -> None:
    """Write a signal onto both channels of a file without a header."""
    np.column_stack((signal, signal)).astype("<i2").tofile(path)


def heard_so_far(board: Board, card: Duplex) -> int:
    """Say how many samples of the microphone's file the board has taken in: the place at which QEMU reads."""
    for link in Path(f"/proc/{board.process_number}/fd").iterdir():
        if os.path.realpath(link) == str(card.heard.resolve()):
            text = (link.parents[1] / "fdinfo" / link.name).read_text(encoding="ascii")
            return int(text.split()[1]) // FRAME
    return 0


class Pace:
    """Keeps how far the microphone had come when a log of writes was how long; ends with the board.

    Parameters
    ----------
    board : Board
        Its power is on.
    card : Duplex
        Its sound card.
    logs : Path
        Files that only grow.
    """

    def __init__(self, board: Board, card: Duplex, *logs: Path) -> None:
        self._board, self._card, self._logs = board, card, logs
        self._rows: list[tuple[int, tuple[int, ...]]] = []
        threading.Thread(target=self._run, daemon=True).start()

    def heard_at(self, log: Path, size: int) -> int:
        """Say how many samples had been heard when that log was last seen shorter than `size` bytes."""
        place = self._logs.index(log)
        return max((heard for heard, sizes in self._rows if sizes[place] < size), default=0)

    def _run(self) -> None:
        # What was heard is read after the lengths: a cut is never taken for earlier than it was.
        while self._board.running():
            with suppress(OSError):  # a file that is just being opened or closed
                sizes = tuple(log.stat().st_size if log.exists() else 0 for log in self._logs)
                self._rows.append((heard_so_far(self._board, self._card), sizes))
            time.sleep(0.02)


def tap(board: Board, code: str) -> None:
    """Press and release a key at once: how long that takes on the board's own clock is up to its USB."""
    board.control.strike(code, down=True)
    board.control.strike(code, down=False)


def stay_awake(board: Board) -> None:
    """Let the board count on for ever when it has nothing else to do, behind everything else: so it is never late.

    Else QEMU's sound card is: 20 ms too late, and it throws its whole buffer away, 2048 samples (hw/audio/hda-codec.c,
    `hda_audio_output_cb`), of which the board learns nothing. The console log names each time: `hda_audio_overrun`.
    """
    count = "import os; os.sched_setscheduler(0, os.SCHED_IDLE, os.sched_param(0))\nwhile True: pass"
    board.shell(f"python3 -c '{count}' >/dev/null 2>&1 </dev/null &", 300)


def let_pass(board: Board, seconds: float) -> list[bytes]:
    """Let time pass on the board's own clock; each picture that its screen showed meanwhile, 1024 bytes, and kept."""
    # To the hundredth of a second of its own clock; a look at the screen takes it a tenth.
    text = (
        "now() { read -r up rest </proc/uptime; echo ${up%.*}${up#*.}; }; "
        f"end=$(($(now) + {round(100 * seconds)})); old=; while [ $(now) -lt $end ]; do sleep 0.3; "
        f'new=$(base64 -w0 {SCREEN}); [ "$new" = "$old" ] || echo "$new"; old=$new; done'
    )
    lines = board.shell(text, seconds=120 + 60 * seconds).splitlines()
    pictures = [b64decode(line)[-1024:] for line in lines]
    place = board.folder / "pictures"
    place.mkdir(exist_ok=True)
    for number, picture in enumerate(pictures, len(list(place.iterdir()))):
        # A portable bitmap (netpbm, "PBM", raw), as the box itself writes it.
        (place / f"{number:03d}.pbm").write_bytes(b"P4\n128 64\n" + picture)
    return pictures


def shown(pictures: list[bytes], message: str) -> bool:
    """Say whether one of the pictures had this line in its message strip, pixel by pixel."""
    # The letters are the box's own, so its own drawing is what its screen is compared with.
    from firmware.screens.raster import Canvas  # noqa: PLC0415 - only checks that read the screen need it
    from firmware.screens.strip import draw_strip  # noqa: PLC0415 - the same

    canvas = Canvas()
    draw_strip(canvas, message)
    strip = canvas.done().bits[-16 * 10 :]
    return any(picture[-len(strip) :] == strip for picture in pictures)


def wait_for_stick(board: Board, stick: Path, seconds: float = 300.0) -> None:
    """Wait until the box runs on what it found on its stick: then it says on it which sound card it has."""
    deadline = time.monotonic() + seconds
    while b"Sound: " not in (read(stick, "KEELNOTE/report.txt") or b""):
        assert time.monotonic() < deadline, f"the box has not taken its stick up in {seconds} s\n{board.log()[-3000:]}"
        time.sleep(1.0)
