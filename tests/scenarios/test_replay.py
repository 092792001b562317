"""Replay on the whole box, with real FLAC files: at once, in loops, slower, and heard by the ear."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from firmware.events import Adjusted, KeyDown, KeyUp, PanelKey
from firmware.parts.part import Start
from firmware.screens.view import View
from firmware.sheet.log_lines import read_log
from firmware.units import BLOCK, RATE, Samples, db_of
from hardware.desk import offline_box
from hardware.drivers.stick import FolderStick
from hardware.loop import OfflineLoop
from hardware.simulated.screen import SimulatedScreen

CARD_SECONDS = 0.043
"""What a sound card adds at most with two buffers of 1024 samples; the box's own default is two of 512."""

WAY = 2 * BLOCK
"""Samples from the loudspeaker to the microphone."""

TAP_SECONDS = 0.06
"""How long a finger stays on a key; the tap is known when it leaves."""


class Podium:
    """A box whose microphone is played to; with `echo` it hears the loudspeaker too, 12 dB down and `WAY` later."""

    def __init__(self, folder: Path, *, echo: bool = False, **values: str | float) -> None:
        start = Start(stick=True)
        for name, value in {"preroll": 0, **values}.items():
            start = Start(values=start.values.put(name, value), stick=True)
        self.loop: OfflineLoop = offline_box(FolderStick(folder / "KEELNOTE"), SimulatedScreen(), start)
        self.views: list[tuple[int, View]] = []
        self.echo = echo
        self.spoken = [np.zeros(BLOCK, np.float32)] * (WAY // BLOCK)

    def tap(self, key: PanelKey) -> None:
        self.loop.post(KeyDown(self.loop.now, key))
        self.loop.post(KeyUp(self.loop.now, key))

    def turn(self, field: str, steps: int) -> None:
        self.loop.post(Adjusted(self.loop.now, field, steps))

    def hear(self, mic: Samples) -> Samples:
        out = []
        for at in range(0, len(mic), BLOCK):
            block = mic[at : at + BLOCK]
            if self.echo:
                block = block + np.float32(0.25) * self.spoken.pop(0)[: len(block)]
            out.append(self.loop.block(block))
            self.spoken.append(np.resize(out[-1], BLOCK))
            self.views.append((self.loop.now, self.loop.box.view(self.loop.now)))
        return np.concatenate(out)

    def silence(self, seconds: float) -> Samples:
        return self.hear(np.zeros(round(seconds * RATE), np.float32))

    def record(self, mic: Samples) -> None:
        self.tap(PanelKey.TAKE)
        self.hear(mic)
        self.tap(PanelKey.TAKE)
        self.silence(0.3)


def noise(seconds: float, level_db: float = -30.0, seed: int = 1) -> Samples:
    sound = np.random.default_rng(seed).standard_normal(round(seconds * RATE)) * 10 ** (level_db / 20)
    return sound.astype(np.float32)


def player(seconds: float, hz: float) -> Samples:
    t = np.arange(round(seconds * RATE)) / RATE
    partials = sum(np.sin(2 * np.pi * hz * k * t) / k for k in range(1, 7))
    return (0.08 * np.asarray(partials) * np.minimum(1.0, 20 * t)).astype(np.float32)


@pytest.mark.parametrize("speed", [0, -10])
def test_replay_sounds_within_150_ms_of_the_press(tmp_path: Path, speed: int) -> None:
    podium = Podium(tmp_path)
    podium.record(noise(4.0))
    podium.turn("replay_speed", speed)
    podium.silence(0.5)
    podium.loop.post(KeyDown(podium.loop.now, PanelKey.REPLAY))
    pressed = podium.loop.now
    podium.silence(TAP_SECONDS)
    podium.loop.post(KeyUp(podium.loop.now, PanelKey.REPLAY))
    sound = podium.silence(0.5)
    heard = podium.loop.now - len(sound) + int(np.argmax(np.abs(sound) > 1e-3))
    assert (heard - pressed) / RATE + CARD_SECONDS <= 0.150
    assert (heard - pressed) / RATE <= TAP_SECONDS + 0.03


def test_takes_sound_equally_loud_and_unchanged_but_for_that(tmp_path: Path) -> None:
    levels = []
    for number, level in enumerate((-45.0, -20.0)):
        podium = Podium(tmp_path / str(number))
        (tmp_path / str(number)).mkdir()
        podium.record(noise(5.0, level))
        podium.tap(PanelKey.REPLAY)
        sound = podium.silence(4.0)
        levels.append(db_of(float(np.sqrt(np.mean(sound[RATE // 2 :] ** 2)))))
    assert levels[0] == pytest.approx(levels[1], abs=0.1)


def test_a_loop_between_markers_repeats_to_the_sample(tmp_path: Path) -> None:
    podium = Podium(tmp_path)
    podium.tap(PanelKey.TAKE)
    for piece in range(3):
        podium.hear(noise(1.5, seed=piece))
        podium.loop.post(KeyDown(podium.loop.now, PanelKey.TAKE))
        podium.silence(0.6)
        podium.loop.post(KeyUp(podium.loop.now, PanelKey.TAKE))
    podium.tap(PanelKey.TAKE)
    podium.silence(0.3)
    podium.turn("loop_from", 2)
    podium.tap(PanelKey.REPLAY)
    sound = podium.silence(9.0).astype(np.float64)
    points = [view.loop for _, view in podium.views][-1]
    assert points == ("1", "2")
    take = podium.loop.box.state_of("replay").saved[0]
    length = take.points[2] - take.points[1]
    second, third = sound[RATE + length : RATE + 2 * length], sound[RATE + 2 * length : RATE + 3 * length]
    assert np.abs(second - third).max() <= 1e-4
    assert np.abs(second).max() > 0.1
    places = [view.replay_seconds for _, view in podium.views[-300:]]
    assert min(places) >= take.points[1] / RATE
    assert max(places) < take.points[2] / RATE


def test_turning_while_replay_is_held_lets_places_be_heard(tmp_path: Path) -> None:
    podium = Podium(tmp_path)
    podium.record(noise(9.0))
    podium.turn("replay_place", 2)
    sound = podium.silence(1.0)
    loud = np.flatnonzero(np.abs(sound) > 1e-3)
    assert 0.25 * RATE <= loud[-1] - loud[0] <= 0.35 * RATE
    assert podium.views[-1][1].replaying == 0
    podium.tap(PanelKey.REPLAY)
    podium.silence(0.5)
    assert podium.views[-1][1].replay_seconds == pytest.approx(4.5, abs=0.1)


@pytest.mark.parametrize("speed", [0, -10])
def test_the_ear_reads_the_replay_in_cents_while_the_drone_sounds(tmp_path: Path, speed: int) -> None:
    third = 116.541 * 2 * 5 / 4  # D4 over B♭2 at A4 = 440, just (Helmholtz, tr. Ellis, app. XX: 5/4)
    podium = Podium(tmp_path, ear_hears="replay")
    podium.record(player(4.0, third * 2 ** (9 / 1200)))
    podium.tap(PanelKey.EAR)
    podium.tap(PanelKey.DRONE)
    podium.turn("replay_speed", speed)
    podium.tap(PanelKey.REPLAY)
    podium.silence(3.0)
    read = [view.heard for _, view in podium.views[-150:]]
    assert all(heard is not None and heard.degree == "3" for heard in read)
    assert np.abs([heard.off - 9.0 for heard in read if heard is not None]).max() <= 1.0
    podium.tap(PanelKey.REPLAY)
    podium.silence(1.0)
    assert podium.views[-1][1].heard is None
    podium.loop.finish()
    notes = tmp_path / "KEELNOTE/rehearsals/0001/notes.csv"
    assert not notes.exists()


def test_a_replay_shows_how_the_players_lay_in_each_bar(tmp_path: Path) -> None:
    podium = Podium(tmp_path, echo=True, tempo=120.0)
    podium.tap(PanelKey.TAKE)
    podium.tap(PanelKey.PULSE)
    podium.silence(2 * BLOCK / RATE)
    begun = podium.loop.box.state_of("replay timing").run.start
    mic = np.zeros(1000 * BLOCK, np.float32)
    for beat in range(16):
        late = (0.020, 0.035, -0.020, 0.010)[beat // 4]
        at = round(begun + (0.5 * beat + late) * RATE) + WAY - podium.loop.now
        stroke = np.random.default_rng(beat).standard_normal(2000) * np.exp(-np.arange(2000) / 300) * 0.3
        if at >= 0:
            mic[at : at + 2000] += stroke.astype(np.float32)
    podium.hear(mic)
    podium.tap(PanelKey.PULSE)
    podium.tap(PanelKey.TAKE)
    podium.silence(2.0)
    podium.tap(PanelKey.REPLAY)
    podium.silence(8.5)
    shown = {view.replay_bar: view.replay_late_ms for _, view in podium.views if view.replaying}
    podium.loop.finish()
    log = (tmp_path / "KEELNOTE/rehearsals/0001/log.jsonl").read_text(encoding="utf-8")
    told = {line["bar"]: line["median_ms"] for line in read_log(log) if line["what"] == "bar"}
    assert {bar: late for bar, late in shown.items() if bar is not None} == told
    assert [shown[bar] for bar in (2, 3)] == pytest.approx([35.0, -20.0], abs=3.0)


def test_music_after_a_rest_gets_a_marker_in_the_take(tmp_path: Path) -> None:
    podium = Podium(tmp_path)
    floor = noise(60.0, -70.0, 9)
    podium.hear(floor[: 3 * RATE])
    take = np.concatenate([noise(4.0), np.zeros(6 * RATE, np.float32), noise(3.0)]) + floor[: 13 * RATE]
    podium.record(take)
    podium.loop.finish()
    chapters = (tmp_path / "KEELNOTE/rehearsals/0001/take-01.vtt").read_text(encoding="utf-8")
    assert "After 6 s of rest" in chapters
    start = next(line for line in chapters.splitlines() if "-->" in line).split(" ")[0]
    assert float(start.split(":")[-1]) == pytest.approx(10.0, abs=0.11)
