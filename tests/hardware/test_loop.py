"""The loop without threads, on the whole box: repeatable to the bit, and a take that is the microphone."""

from __future__ import annotations

import hashlib
from pathlib import Path

import numpy as np
import soundfile

from firmware.events import KeyDown, KeyUp, PanelKey
from firmware.parts.part import Start
from firmware.units import BLOCK, RATE, Samples
from hardware.desk import offline_box
from hardware.drivers.stick import FolderStick
from hardware.loop import TICK, OfflineLoop
from hardware.simulated.screen import SimulatedScreen

QUIET = np.zeros(BLOCK, dtype=np.float32)


def tap(loop: OfflineLoop, key: PanelKey) -> None:
    loop.post(KeyDown(loop.now, key))
    loop.post(KeyUp(loop.now, key))


def noise(blocks: int) -> Samples:
    steps = np.random.default_rng(1).integers(-(2**22), 2**22, blocks * BLOCK)
    return (steps / 2.0**23).astype(np.float32)


def rehearse(root: Path, block: int = BLOCK) -> tuple[Samples, OfflineLoop]:
    root.mkdir(exist_ok=True)
    loop = offline_box(FolderStick(root / "KEELNOTE"), SimulatedScreen(), Start(stick=True))
    mic, spoken = noise(300), list[Samples]()
    presses = {BLOCK * 100: PanelKey.DRONE, BLOCK * 150: PanelKey.TAKE, BLOCK * 250: PanelKey.TAKE}
    for at in range(0, len(mic), block):
        for when, key in presses.items():
            if at <= when < at + block:
                tap(loop, key)
        spoken.append(loop.block(mic[at : at + block]))
    loop.finish()
    return np.concatenate(spoken), loop


def digest(root: Path) -> str:
    total = hashlib.sha256()
    for path in sorted(root.rglob("*")):
        if path.is_file():
            total.update(str(path.relative_to(root)).encode() + path.read_bytes())
    return total.hexdigest()


def test_a_take_is_the_microphone_and_begins_before_the_key(tmp_path: Path) -> None:
    _, loop = rehearse(tmp_path)
    take, rate = soundfile.read(tmp_path / "KEELNOTE/rehearsals/0001/take-01.flac", dtype="float32")
    assert rate == RATE
    np.testing.assert_array_equal(take, noise(300)[: BLOCK * 250])
    assert [line.number for line in loop.box.view(loop.now).takes] == [1]


def test_two_runs_are_the_same_to_the_bit(tmp_path: Path) -> None:
    first, _ = rehearse(tmp_path / "a")
    second, _ = rehearse(tmp_path / "b")
    np.testing.assert_array_equal(first, second)
    assert digest(tmp_path / "a") == digest(tmp_path / "b")


def test_the_drone_comes_within_a_block_of_the_press(tmp_path: Path) -> None:
    spoken, _ = rehearse(tmp_path)
    assert not spoken[: BLOCK * 100].any()
    assert spoken[BLOCK * 100 : BLOCK * 102].any()


def test_ticks_keep_time(tmp_path: Path) -> None:
    loop = offline_box(FolderStick(tmp_path / "KEELNOTE"), SimulatedScreen(), Start(stick=True))
    for _ in range(100):
        loop.block(QUIET)
    assert loop.now == 100 * BLOCK
    assert TICK * 20 == RATE


def test_a_hold_ripens_within_a_twentieth_of_a_second(tmp_path: Path) -> None:
    loop = offline_box(FolderStick(tmp_path / "KEELNOTE"), SimulatedScreen(), Start(stick=True))
    tap(loop, PanelKey.DRONE)
    loop.block(QUIET)
    assert loop.box.sound.drone.on
    loop.post(KeyDown(loop.now, PanelKey.DRONE))
    for _ in range((RATE // 2 + TICK) // BLOCK + 2):
        loop.block(QUIET)
    assert not loop.box.sound.drone.on
