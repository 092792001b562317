"""The card is full, damaged, locked or worn out: the box plays and says so."""

from __future__ import annotations

import os
import subprocess
from base64 import b64decode
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pytest

from emulated import data_part
from emulated.board import READY, SCREEN, Board
from emulated.exact import EXACT, FRAME, RATE, Duplex, let_pass, shown, tap
from emulated.tones import cents, strongest
from firmware.messages import line_of
from firmware.screens.frame import Frame
from firmware.screens.raster import png_of
from firmware.settings import DEFAULTS, write_settings
from hardware.service.data_partition import NOTICES

IMAGE = Path(os.environ.get("KEELNOTE_IMAGE", Path(__file__).resolve().parents[1] / "out"))

PATIENCE = 1500.0
"""Seconds of this machine, however slow, in which a start is over."""

# ISO 16:1975: A4 is 440 Hz. Equal steps from there (common practice): F 2 is 28 semitones under it.
F_2 = 440.0 * 2 ** (-28 / 12)

# Each picture of the screen until the box has run for a while; from before the first one on.
PICTURES = (
    "n=0; old=; while [ $n -lt 100 ]; do sleep 0.1; [ -s {0} ] || continue; n=$((n+1)); "
    'new=$(base64 -w0 {0} 2>/dev/null); if [ "$new" != "$old" ]; then echo "$new"; old=$new; fi; done'
)

# No write reaches the card; QEMU's "blkdebug" answers each with "I/O error".
WORN = "blkdebug,inject-error.0.event=write_aio,inject-error.0.errno=5,inject-error.0.once=off"


@dataclass(frozen=True, slots=True)
class Case:
    """What is done to a card beforehand, and what the box finds."""

    name: str
    words: tuple[str, ...]
    spoil: Callable[[Path], None] = lambda _card: None
    options: str = ""
    worn: bool = False
    marks: tuple[pytest.MarkDecorator, ...] = field(default=())


def random_sectors(card: Path) -> None:
    """Two hundred sectors of noise, among them some of the first."""
    places = np.random.default_rng(80).integers(0, data_part.SIZE // 512, 200)
    data_part.spoil(card, (1024, 512), *((int(place) * 512, 512) for place in places))


NIGHTLY = (pytest.mark.nightly,)
CASES = (
    Case("full", ("full",), data_part.fill),
    Case("beginning-overwritten", ("mended", "remade"), lambda card: data_part.spoil(card, (0, 2**20))),
    Case("locked", ("memory",), options=",readonly=on"),
    Case("all-overwritten", ("remade",), lambda card: data_part.spoil(card, (0, data_part.SIZE)), marks=NIGHTLY),
    Case("random-sectors", ("mended", "remade"), random_sectors, marks=NIGHTLY),
    Case("worn-out", ("memory",), worn=True, marks=NIGHTLY),
)


@dataclass(slots=True)
class WornBoard(Board):
    """A board whose card takes no write."""

    def _card(self) -> tuple[str, ...]:
        return ("-drive", f"driver={WORN},image.filename={self.card},if=none,id=card")


@pytest.fixture
def small_card(folder: Path) -> Path:
    """A card that is as large as the image: its data partition does not grow."""
    path = folder / "card.img"
    subprocess.run(["cp", "--sparse=always", IMAGE / "keelnote.img", path], check=True)
    return path


def started(
    card: Path, folder: Path, kind: type[Board] = Board, options: str = ""
) -> tuple[Board, Duplex, list[bytes]]:
    """Start a board with that card; with all pictures of its screen until it has run for a while."""
    sound = Duplex(folder)
    # A quiet room; as long as any of these checks, and no byte of it takes a place on the disk.
    sound.heard.touch()
    os.truncate(sound.heard, 3600 * RATE * FRAME)
    devices = (*EXACT, *sound.devices(), "-device", "usb-kbd,bus=usb.0", "-device", "i6300esb")
    board = kind(card, folder, devices, environment=sound.environment(), card_options=options)
    board.power_on()
    lines = board.shell(PICTURES.format(SCREEN), seconds=PATIENCE).splitlines()
    board.wait_for_line(READY, PATIENCE)
    pictures = [b64decode(line)[-1024:] for line in lines]
    for number, picture in enumerate(pictures):
        (folder / f"start-{number:02d}.png").write_bytes(png_of(Frame(picture), 3))
    return board, sound, pictures


def loudness(sound: Duplex) -> float:
    return float(np.abs(end_of(sound)).max())


def end_of(sound: Duplex, seconds: float = 1.5) -> np.ndarray:
    """The end of what came out of the loudspeaker."""
    count = round(seconds * RATE)
    size = sound.played.stat().st_size // FRAME * FRAME
    samples = np.fromfile(sound.played, dtype="<i2", offset=max(0, size - count * FRAME), count=2 * count)
    return samples[::2].astype(np.float64) / 32768


def the_drone_sounds(board: Board, sound: Duplex) -> None:
    tap(board, "kp_7")
    let_pass(board, 4)
    assert loudness(sound) > 0.01, "the box does not play"


@pytest.mark.parametrize("case", [pytest.param(case, id=case.name, marks=case.marks) for case in CASES])
def test_it_plays_and_says_how_its_card_is(case: Case, small_card: Path, folder: Path) -> None:
    case.spoil(small_card)
    board, sound, pictures = started(small_card, folder, WornBoard if case.worn else Board, case.options)
    try:
        found = board.shell("cat /run/keelnote-boot/data", seconds=300).strip()
        (folder / "found.txt").write_text(f"{found}\n", encoding="utf-8")
        assert found in case.words
        board.screen(found)
        assert shown(pictures, line_of(NOTICES[found], {})), "the screen does not say so"
        the_drone_sounds(board, sound)
    finally:
        board.cut_power()
    if case.name == "full":
        assert len(data_part.read(small_card, "spool/waiting.au")) > 20_000_000, "the take that waits is gone"
    small_card.unlink()


@pytest.mark.nightly
def test_of_two_generations_of_settings_the_one_that_is_whole_is_taken(small_card: Path, folder: Path) -> None:
    older = write_settings(DEFAULTS.put("tonic", "F"))
    data_part.put(small_card, {"kept/settings.toml": bytes(4096), "kept/settings.toml.old": older.encode()})
    board, sound, pictures = started(small_card, folder)
    try:
        assert shown(pictures, line_of("settings-before", {})), "the screen does not say so"
        the_drone_sounds(board, sound)
    finally:
        board.cut_power()
    tones = strongest(end_of(sound), 3)
    assert all(abs(cents(tone.hertz, round(tone.hertz / F_2) * F_2)) < 1 for tone in tones), tones
    small_card.unlink()
