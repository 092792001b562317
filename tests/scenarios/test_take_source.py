"""The whole box: a take with the box's own sound beside the microphone, whose stick is pulled and comes back."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import soundfile

from firmware.events import KeyDown, KeyUp, PanelKey
from firmware.parts.part import Start
from firmware.settings import DEFAULTS
from firmware.units import BLOCK, RATE
from hardware.desk import offline_box
from hardware.loop import OfflineLoop
from hardware.simulated.screen import SimulatedScreen
from hardware.simulated.stick import SimulatedStick

SECONDS = 16


def tap(loop: OfflineLoop, key: PanelKey) -> None:
    loop.post(KeyDown(loop.now, key))
    loop.post(KeyUp(loop.now, key))


def test_both_channels_are_what_was_heard_and_what_was_played_to_the_sample(tmp_path: Path) -> None:
    values = DEFAULTS.put("take_source", "microphone and box").put("preroll", 2)
    stick = SimulatedStick(tmp_path / "KEELNOTE")
    loop = offline_box(stick, SimulatedScreen(), Start(values=values, stick=True))
    noise = np.random.default_rng(8).integers(-(2**18), 2**18, 5 * RATE)
    mic = (np.resize(noise, SECONDS * RATE) / 2**23).astype(np.float32)
    own = np.zeros_like(mic)
    mic[6 * RATE : 6 * RATE + 9000] = 1.0
    for at in range(0, len(mic) - BLOCK, BLOCK):
        second = at / RATE
        if at // BLOCK == 20:
            tap(loop, PanelKey.DRONE)
        if at // BLOCK == 400:
            tap(loop, PanelKey.TAKE)
        if 9 <= second < 12 and stick.present:
            stick.pull_out(told=False)
        if second >= 12 and not stick.present:
            stick.put_back()
        own[at : at + BLOCK] = loop.block(mic[at : at + BLOCK])
    end = loop.now
    loop.finish()
    folder = tmp_path / "KEELNOTE/rehearsals/0001"
    names = sorted(one.name for one in folder.glob("*.flac"))
    assert names == ["take-01-2.flac", "take-01.flac"]
    parts = [soundfile.read(folder / name, dtype="float32")[0] for name in reversed(names)]
    both = np.concatenate(parts)
    first = end - len(both)
    assert abs(first - (400 * BLOCK - 2 * RATE)) <= BLOCK
    top = np.float32(1 - 2**-23)
    assert np.array_equal(both[:, 0], np.minimum(mic[first:end], top))
    assert np.max(np.abs(both[:, 1] - own[first:end])) <= 2**-23, "24 bits of what the box played"
    assert np.max(np.abs(own)) > 0.01
    log = [json.loads(line) for line in (folder / "log.jsonl").read_text(encoding="utf-8").splitlines()]
    told = [line.get("message") for line in log]
    for message in ("stick-out", "take-spooled", "take-joined", "clipping"):
        assert message in told, message
    assert "Clipping" in (folder / "take-01.vtt").read_text(encoding="utf-8")
    assert np.array_equal(stick.read_take("rehearsals/0001/take-01.flac", 0, 10**9), both[:, 0])
