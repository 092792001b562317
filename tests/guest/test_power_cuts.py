"""The power is cut on a real FAT32 stick: nothing that was safe is lost, and the next start mends the rest.

A SIGKILL of QEMU keeps what the guest's kernel had written to the stick and loses all that it still held in memory.
Which of two writes reaches a real stick first is up to the stick; no simulation here tells that.
"""

from __future__ import annotations

import contextlib
import json
import os
import random
from concurrent.futures import ThreadPoolExecutor
from dataclasses import asdict, dataclass
from hashlib import sha256
from pathlib import Path

import numpy as np
import pytest

from firmware.settings import DEFAULTS, read_settings
from hardware.drivers.flac_file import read_flac
from hardware.drivers.flac_mend import cut_off
from hardware.drivers.kept_settings import kept_settings
from hardware.drivers.stick import FolderStick
from tests.guest.box import REPLAYED_SECONDS, SAVED_EVERY, sequence
from tests.guest.fat import checked, copied, make_stick
from tests.guest.kernel import Kernel
from tests.guest.machine import Guest, Job
from tests.guest.sticks import hear, last_heard, mount, plug_in, start_box

RATE = 48_000
MOST_MISSING = 1.2
"""Seconds."""

MODES = ("record", "settings", "replay")
CUTS = 12
CHAINS = 2
"""Sticks that are cut again and again, side by side: this machine has so many cores."""

LOST_DATA = ("Orphan", "Unreadable", "Bad short file name", "Contains a free cluster", "share clusters", "duplicate")
"""Words of fsck.vfat for damage that costs contents; a dirty bit or a chain that is longer than its file does not."""


@dataclass(frozen=True, slots=True)
class Cut:
    """What one power cut left behind."""

    mode: str
    mended_before: bool
    heard_seconds: float
    missing_seconds: float
    a4: float
    """The pitch standard in the settings that are used afterwards; each save gives another one."""
    settings: str
    fsck: tuple[str, ...]
    left: str
    lost: tuple[str, ...]


def digests(root: Path) -> dict[str, str]:
    """Check sums of all takes."""
    return {one.relative_to(root).as_posix(): sha256(one.read_bytes()).hexdigest() for one in root.rglob("*.flac")}


def cut(guest: Guest, image: Path, mode: str, seconds: float, scratch: Path, before: dict[str, str]) -> Cut:
    """Run a box for so many seconds of its own sound, cut the power, and look at what is on the stick."""
    mount(guest, plug_in(guest, image, "stick"), "/stick")
    box, folder = start_box(guest, "/stick", mode)
    guest.wait_for(box, "replayed" if mode == "replay" else "heard", 240)
    hear(guest, box, round(seconds * RATE))
    guest.cut_power()
    heard = last_heard(guest.drain(box))
    root = copied(image, scratch / "copy") / "KEELNOTE"
    after = digests(root)
    lost = tuple(path for path, digest in before.items() if after.get(path) != digest)
    stick = FolderStick(root)
    stick.mend()
    kept = read_flac(root / folder / "take-01.flac", folder, 0, 10**9)
    first = int(np.nonzero(sequence(0, 65_521) == kept[0])[0][0]) if len(kept) else 0
    assert np.array_equal(kept, sequence(first, len(kept))), "the sound is not what was heard"
    end = first + len(kept)
    # What is replayed was finished long before, and must be there to its last sample.
    missing = (REPLAYED_SECONDS if mode == "replay" else heard / RATE) - end / RATE
    settings = kept_settings(stick)
    values, problems = read_settings(settings.text or "", settings.source)
    assert problems == ()
    told = checked(image, scratch / "checked.img")
    a4 = values.number("a4")
    mended = was_mended(box)
    return Cut(mode, mended, heard / RATE, round(missing, 3), a4, settings.source, told.found, told.left, lost)


def was_mended(box: Job) -> bool:
    """Whether the start found a take to mend."""
    return any("mended" in line for line in box.lines if line.startswith("found"))


def chain(kernel: Kernel, number: int, scratch: Path) -> list[Cut]:
    """Cuts on one stick, one after the other."""
    scratch.mkdir()
    with contextlib.closing(Guest(kernel, processors=1)) as guest:
        return cut_again_and_again(guest, number, scratch)


def cut_again_and_again(guest: Guest, number: int, scratch: Path) -> list[Cut]:
    """Cut the power of a box again and again; each start must mend what the last cut left."""
    image = make_stick(scratch / "stick.img")
    chance = random.Random(number)  # noqa: S311 - any moment will do
    cuts: list[Cut] = []
    before: dict[str, str] = {}
    for turn in range(CUTS // CHAINS):
        guest.power_on()
        cuts.append(cut(guest, image, MODES[turn % len(MODES)], chance.uniform(2.5, 7.0), scratch, before))
        # The next start mends this cut's take, so only what was whole already must stay as it is.
        root = scratch / "copy" / "KEELNOTE"
        before = digests(root)
    guest.power_on()
    mount(guest, plug_in(guest, image, "stick"), "/stick")
    box, _ = start_box(guest, "/stick")
    saves = [one for one in cuts if one.mode == "settings" and one.heard_seconds * RATE > 2 * SAVED_EVERY]
    assert all(one.a4 != DEFAULTS.number("a4") for one in saves), "settings that were saved long before are lost"
    starts = [*(one.mended_before for one in cuts[1:]), was_mended(box)]
    assert starts == [one.mode != "replay" for one in cuts], "a start did not mend what the cut before it left"
    guest.cut_power()
    whole = [not cut_off(path) for path in sorted(copied(image, scratch / "copy").rglob("*.flac"))]
    assert all(whole[: len(cuts)])
    return cuts


def summed_up(cuts: list[Cut]) -> dict[str, object]:
    """The figures of all cuts, as tests/speed/results keeps them."""
    return {
        "cuts": len(cuts),
        "takes_lost": sum(len(one.lost) for one in cuts),
        "missing_s_worst": max(one.missing_seconds for one in cuts),
        "file_systems_not_accepted": sum(bool(one.left) for one in cuts),
        "each": [asdict(one) for one in cuts],
    }


@pytest.mark.timeout(1500)
def test_twelve_power_cuts_lose_no_take_and_1_2_seconds_at_most(
    kernel: Kernel, tmp_path: Path, record_property
) -> None:
    """While recording, saving settings and replaying; the limits are those that the README promises."""
    with ThreadPoolExecutor(CHAINS) as pool:
        done = pool.map(lambda number: chain(kernel, number, tmp_path / str(number)), range(1, CHAINS + 1))
        cuts = [one for each in done for one in each]
    figures = summed_up(cuts)
    record_property("figures", figures)
    if "KEELNOTE_GUEST_REPORT" in os.environ:
        Path(os.environ["KEELNOTE_GUEST_REPORT"]).write_text(json.dumps(figures, indent=2) + "\n")
    assert len(cuts) == CUTS
    assert [one.lost for one in cuts if one.lost] == []
    assert [one.missing_seconds for one in cuts if one.missing_seconds > MOST_MISSING] == []
    assert [one.left for one in cuts if one.left] == [], "fsck.vfat can't accept the stick after its own repair"
    assert [line for one in cuts for line in one.fsck if any(word in line for word in LOST_DATA)] == []
