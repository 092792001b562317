"""Cards, boards and sounds for the checks; each keeps what it saw in a folder of its own."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

HERE = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(HERE))

from emulated.board import Board  # noqa: E402 - only now is its folder known
from emulated.exact import EXACT, Duplex, microphone_signal, write_stereo  # noqa: E402 - the same

IMAGE = Path(os.environ.get("KEELNOTE_IMAGE", HERE / "out"))


@pytest.fixture
def folder(request: pytest.FixtureRequest) -> Path:
    name = re.sub(r"\W+", "-", request.node.name).strip("-")
    place = IMAGE / "checks" / name
    shutil.rmtree(place, ignore_errors=True)
    place.mkdir(parents=True)
    return place


@pytest.fixture
def card(folder: Path) -> Path:
    """A card of 2 GiB with the image flashed onto it."""
    path = folder / "card.img"
    subprocess.run(["cp", "--sparse=always", IMAGE / "keelnote.img", path], check=True)
    with path.open("r+b") as file:
        file.truncate(2 * 2**30)
    return path


@pytest.fixture
def board(card: Path, folder: Path) -> Iterator[Board]:
    """A board with a sound card whose output is recorded, a number pad, a watchdog; its power is off."""
    sound = ("-audiodev", f"wav,id=sound,path={folder}/sound.wav,out.frequency=48000,out.channels=2")
    devices = (*sound, "-device", "intel-hda", "-device", "hda-output,audiodev=sound,mixer=off")
    one = Board(card, folder, (*devices, "-device", "usb-kbd,bus=usb.0", "-device", "i6300esb"))
    yield one
    one.cut_power()
    if not os.environ.get("KEELNOTE_KEEP_CARDS"):
        card.unlink(missing_ok=True)


@pytest.fixture
def quiet(card: Path, folder: Path) -> Iterator[Board]:
    """The same without a sound card, whose time would run ahead of a busy machine; its power is off."""
    # Nothing is timed on it: a stick has the box begin anew, which took a busy machine over half a minute.
    one = Board(card, folder, ("-device", "usb-kbd,bus=usb.0", "-device", "i6300esb"), watchdog=180)
    yield one
    one.cut_power()
    if not os.environ.get("KEELNOTE_KEEP_CARDS"):
        card.unlink(missing_ok=True)


@pytest.fixture
def duplex(folder: Path) -> Iterator[Duplex]:
    """A sound card whose microphone hears `microphone_signal` for five minutes."""
    one = Duplex(folder)
    write_stereo(one.heard, microphone_signal(300.0))
    yield one
    one.heard.unlink(missing_ok=True)


@pytest.fixture
def exact_board(card: Path, folder: Path, duplex: Duplex) -> Iterator[Board]:
    """A board with that sound card and a number pad, which is never late, however busy this machine is."""
    devices = (*EXACT, *duplex.devices(), "-device", "usb-kbd,bus=usb.0", "-device", "i6300esb")
    one = Board(card, folder, devices, environment=duplex.environment())
    yield one
    one.cut_power()
    if not os.environ.get("KEELNOTE_KEEP_CARDS"):
        card.unlink(missing_ok=True)
