"""Sound: a tone for the builder's ears, then the test sound from loudspeaker to microphone."""

from __future__ import annotations

from typing import Final

from firmware.hearing.level import FULL_SCALE
from firmware.hearing.room import Room
from firmware.selftest.ask import Ask, Do
from firmware.selftest.bench import Bench
from firmware.selftest.finding import Finding, found
from firmware.selftest.signals import SoundRecorded
from firmware.selftest.sound_figures import TONE_HZ, TONES_DB, Heard, hear_test
from firmware.selftest.step import Done, Step, answer_of, of, question, unanswered
from firmware.units import RATE

NAME: Final = "sound"

HEARD: Final = ("as loud as speech", "not heard at all")

LEVEL_DB: Final = 10.0
"""A microphone may be so much louder or softer than expected: rooms differ by as much."""

NOISE_DB: Final = -48.0
"""A-weighted, re full scale. Speech at a metre lies near -32 when the level is as expected."""

LONGEST_MS: Final = 150.0
"""From the box to its microphone: card, air, and a PA without effects take 40 to 90."""

CLOCKS_PPM: Final = 250.0
"""Two crystals differ by up to 200 (common practice); input and output of one card do not differ at all."""

RATES: Final = 0.01
"""A tone that comes back so far off comes from another rate."""

STANDARD_KHZ: Final = (8.0, 11.025, 16.0, 22.05, 32.0, 44.1, 88.2, 96.0)
"""Rates of sound cards beside ours."""

DISTORTION_DB: Final = -20.0
"""Energy of distortion against the sound: 10 per cent, which anybody hears."""

RIDES_DB: Final = 3.0
OFFSET: Final = 0.02

EXPLAINED: Final = frozenset({"noise", "mic-quiet", "mic-loud"})
"""What an automatic gain brings about by itself."""


def _next(bench: Bench, done: Done) -> Ask | None:
    if not of(done, Do.LISTEN):
        return question(bench, done, NAME, Do.LISTEN, "Turn the PA up. The tone is", HEARD)
    return None if of(done, Do.RECORD) else Ask(NAME, Do.RECORD, "Keep quiet for eight seconds", patience=30.0)


def _judge(bench: Bench, done: Done) -> tuple[Finding, ...]:
    recorded = [event for one in of(done, Do.RECORD) for event in one.events if isinstance(event, SoundRecorded)]
    if not recorded or recorded[-1].error:
        return (found("no-sound-card", error=recorded[-1].error if recorded else "it gave nothing in 30 s"),)
    last = recorded[-1]
    late = (found("sound-late", count=last.lost),) if last.lost else ()
    silent = answer_of(done, Do.LISTEN) == 2
    figures = hear_test(last.mic, last.own)
    findings = [*_silence(figures), *_answer(bench, figures, silent=silent)]
    if any(one.code == "mic-rides" for one in findings):
        findings = [one for one in findings if one.code not in EXPLAINED]
    return (*late, *findings, *unanswered(done, Do.LISTEN, "tone"))


def _silence(heard: Heard) -> list[Finding]:
    """What the stretch without own sound tells."""
    findings = []
    if abs(heard.offset) > OFFSET:
        findings.append(found("mic-offset", percent=round(100 * abs(heard.offset))))
    if heard.hum is not None:
        findings.append(found("hum", hz=round(heard.hum.mains_hz), db=round(heard.hum.level_db)))
    elif heard.floor_db > NOISE_DB:
        findings.append(found("noise", db=round(heard.floor_db)))
    return findings


def _answer(bench: Bench, heard: Heard, *, silent: bool) -> list[Finding]:
    """What came back of own sound."""
    ratio = heard.tone_hz / TONE_HZ
    if heard.peak == 0.0:
        return [*([found("output-silent")] if silent else []), found("mic-zero")]
    if heard.tone_hz and abs(ratio - 1.0) > RATES:
        true = RATE / 1000 / ratio
        return [found("rates", khz=f"{min(STANDARD_KHZ, key=lambda khz: abs(khz - true)):g}")]
    if heard.room is None:
        return [found("output-silent" if silent else "mic-deaf")]
    findings = _way(bench, heard.room)
    if heard.peak >= FULL_SCALE:
        findings = [found("mic-clips"), *(one for one in findings if one.code not in {"mic-loud", "distorts"})]
    elif heard.rise_db is not None and heard.rise_db < TONES_DB[1] - TONES_DB[0] - RIDES_DB:
        asked = round(TONES_DB[1] - TONES_DB[0])
        findings.append(found("mic-rides", asked=asked, found=round(heard.rise_db)))
    return findings


def _way(bench: Bench, room: Room) -> list[Finding]:
    findings = []
    off = room.level_db - bench.loop_db
    if abs(off) > LEVEL_DB:
        findings.append(found("mic-quiet" if off < 0 else "mic-loud", db=round(abs(off))))
    ms = 1000 * room.delay / room.rate
    if ms > LONGEST_MS:
        findings.append(found("delay", ms=round(ms)))
    if abs(room.clock_ppm) > max(CLOCKS_PPM, 4 * room.clock_sd_ppm):
        findings.append(found("clocks", ppm=round(room.clock_ppm)))
    if room.distortion_db > DISTORTION_DB:
        findings.append(found("distorts", db=round(room.distortion_db)))
    return findings


STEP: Final = Step(NAME, "Sound", _next, _judge)
