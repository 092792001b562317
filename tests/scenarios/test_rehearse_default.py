"""The shipped rehearsal from end to end: what the band does is in the sound, in the files and on the screen."""

import csv
import io
import json
import os
import re
import shutil
import subprocess
import sys
from dataclasses import dataclass
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from PIL import Image

from hardware.desk import main
from hardware.simulated.script import load_script

RATE = 48_000


@dataclass(frozen=True)
class Outcome:
    """All that one run wrote."""

    out: Path
    log: list[dict[str, Any]]
    notes: list[dict[str, str]]
    speaker: np.ndarray
    mic: np.ndarray

    @property
    def folder(self) -> Path:
        return self.out / "KEELNOTE" / "rehearsals" / "0001"

    def logged(self, what: str, **values: object) -> list[dict[str, Any]]:
        lines = [line for line in self.log if line["what"] == what]
        return [line for line in lines if all(line[name] == value for name, value in values.items())]

    def noted(self, start: float, end: float) -> dict[str, str]:
        """Give the longest note that began between two times."""
        found = [note for note in self.notes if start <= float(note["start_s"]) < end]
        assert found, f"no note was heard from {start} s to {end} s"
        return max(found, key=lambda note: float(note["end_s"]) - float(note["start_s"]))


@pytest.fixture(scope="module")
def outcome(tmp_path_factory: pytest.TempPathFactory) -> Outcome:
    """Run the default script once for all tests here."""
    out = tmp_path_factory.mktemp("rehearsal") / "out"
    # In a process of its own, as a person runs it; Python's development mode would only make it slow.
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONDEVMODE"}
    command = [sys.executable, "-W", "error", "-m", "hardware.desk", "rehearse", "--out", str(out), "--quiet"]
    subprocess.run(command, check=True, env=environment, timeout=110)
    folder = out / "KEELNOTE" / "rehearsals" / "0001"
    log = [json.loads(line) for line in (folder / "log.jsonl").read_text(encoding="utf-8").splitlines()]
    with (folder / "notes.csv").open(encoding="utf-8", newline="") as file:
        notes = list(csv.DictReader(file))
    speaker, _ = soundfile.read(out / "speaker.wav", dtype="float32")
    mic, _ = soundfile.read(out / "mic.wav", dtype="float32")
    return Outcome(out, log, notes, speaker, mic)


def line_hz(sound: np.ndarray, near: float, start: float, seconds: float) -> float:
    """Frequency of the strongest line within 20 cents of one, by a padded FFT and a parabola on the log spectrum."""
    part = sound[round(start * RATE) : round((start + seconds) * RATE)].astype(float)
    size = 1 << 21
    spectrum = np.log(np.abs(np.fft.rfft(part * np.blackman(len(part)), size)) + 1e-30)
    low, high = (round(near * 2 ** (cents / 1200) * size / RATE) for cents in (-20, 20))
    top = low + int(spectrum[low : high + 1].argmax())
    before, here, after = spectrum[top - 1 : top + 2]
    return (top + 0.5 * (before - after) / (before - 2 * here + after)) * RATE / size


def cents(hz: float, against: float) -> float:
    return 1200 * np.log2(hz / against)


B_FLAT_3 = 440 * 2 ** (-11 / 12)
"""Equal temperament from A4 = 440 Hz (ISO 16), on which our just drone has its tonic."""


def test_two_turns_of_the_knob_are_two_steps_on_the_circle_of_fifths(outcome: Outcome):
    assert [line["value"] for line in outcome.logged("setting", name="tonic")] == ["F", "Bb", "Eb", "F"]


def test_the_drone_holds_a_just_chord(outcome: Outcome):
    # Common practice: a just major third lies 13.7 cents under the equal one, a just fifth 2.0 over.
    for semitones, off in ((0, 0.0), (4, -13.686), (7, 1.955)):
        near = B_FLAT_3 * 2 ** (semitones / 12)
        found = line_hz(outcome.speaker, near, 4.0, 4.0)
        assert cents(found, near) == pytest.approx(off, abs=0.02)


def test_compare_is_equal_temperament_while_it_is_down(outcome: Outcome):
    third = B_FLAT_3 * 2 ** (4 / 12)
    assert cents(line_hz(outcome.speaker, third, 17.5, 2.2), third) == pytest.approx(0.0, abs=0.02)
    assert cents(line_hz(outcome.speaker, third, 20.5, 4.0), third) == pytest.approx(-13.686, abs=0.02)


def test_the_pedal_moves_the_drone(outcome: Outcome):
    (step,) = outcome.logged("plan", index=1)
    e_flat = 440 * 2 ** (-18 / 12)
    assert step["t"] == pytest.approx(36.0, abs=0.02)
    assert cents(line_hz(outcome.speaker, e_flat, 36.5, 4.0), e_flat) == pytest.approx(0.0, abs=0.02)


def test_the_box_stays_under_its_ceiling(outcome: Outcome):
    assert np.abs(outcome.speaker).max() <= 10 ** (-1 / 20)
    assert np.abs(outcome.speaker).max() > 0.05


def test_the_clarinets_sharp_third_is_heard_to_settle(outcome: Outcome):
    note = outcome.noted(7.9, 10.0)
    assert (note["key"], note["degree"], note["concert"]) == ("Bb major", "3", "D4")
    # It stays 16 cents sharp for 2.5 s and is within 5 cents some 3.5/3 * ln(15.5/4.5) = 1.44 s later.
    assert float(note["settled_after_s"]) == pytest.approx(2.5 + 1.44, abs=0.25)


def test_the_trombones_flat_root_is_heard(outcome: Outcome):
    note = outcome.noted(38.9, 40.0)
    assert (note["key"], note["degree"], note["concert"]) == ("Eb major", "1", "Eb3")
    assert float(note["median_cents"]) < -2


def test_the_clarinets_read_their_own_notes(outcome: Outcome):
    assert [line["value"] for line in outcome.logged("setting", name="reading")] == ["clarinet", "concert"]
    note = outcome.noted(49.9, 53.0)
    # A clarinet in B♭ reads a tone higher than it sounds (common practice).
    assert (note["degree"], note["concert"], note["written"]) == ("5", "Bb4", "C5")
    assert float(note["median_cents"]) == pytest.approx(-2.3, abs=1.5)
    assert {note["written"] == note["concert"] for note in outcome.notes if float(note["start_s"]) > 60} == {True}


def test_a_flute_with_vibrato_is_read_at_its_middle(outcome: Outcome):
    note = outcome.noted(60.9, 63.0)
    assert (note["key"], note["degree"], note["concert"]) == ("F major", "3", "A5")
    assert float(note["median_cents"]) == pytest.approx(3.0, abs=3.0)
    assert float(note["spread_cents"]) > 4


def test_the_take_is_the_microphone_from_before_its_key(outcome: Outcome):
    (started,) = outcome.logged("take-started")
    (stopped,) = outcome.logged("take-stopped")
    (saved,) = outcome.logged("take-saved")
    assert started["t"] - started["first_s"] == pytest.approx(8.0, abs=0.002)
    assert stopped["seconds"] == pytest.approx(42 + 8, abs=0.05)
    take, rate = soundfile.read(outcome.folder / "take-01.flac", dtype="int32")
    assert rate == RATE
    mic, _ = soundfile.read(outcome.out / "mic.wav", dtype="int32")
    assert saved["seconds"] == pytest.approx(len(take) / RATE, abs=0.001)
    first = where_in(mic, take, round(started["first_s"] * RATE))
    assert np.abs(take - mic[first : first + len(take)]).max() <= 256  # one step of 24 bits


def where_in(whole: np.ndarray, part: np.ndarray, about: int) -> int:
    """Find the sample of `whole` at which `part` begins; the log gives it to the millisecond."""
    places = range(about - 60, about + 61)
    return min(places, key=lambda place: int(np.abs(whole[place : place + 4800] - part[:4800]).max()))


def test_the_marker_is_where_the_key_was_held(outcome: Outcome):
    text = (outcome.folder / "take-01.vtt").read_text(encoding="utf-8")
    assert text.startswith("WEBVTT\n")
    (started,) = outcome.logged("take-started")
    titles = dict(re.findall(r"00:(\d\d:\d\d\.\d{3}) --> .*\n(.+)", text)[::-1])
    where = {title: int(time[:2]) * 60 + float(time[3:]) for time, title in titles.items()}
    first = started["first_s"]
    # Held from 31.0 s on, and a key counts as held after half a second.
    assert where["Marker 2"] == pytest.approx(31.5 - first, abs=0.05)
    assert where["After 7 s of rest"] < where["Marker 2"]  # the box's own marker is the first
    assert where["Bar 17, E flat"] == pytest.approx(36.0 - first, abs=0.05)


def test_replay_begins_within_150_ms_of_the_key(outcome: Outcome):
    take, _ = soundfile.read(outcome.folder / "take-01.flac", dtype="float32", frames=RATE)
    begin = round(71.9 * RATE)
    heard = outcome.speaker[begin : begin + 3 * RATE].astype(float)
    match = np.fft.irfft(np.fft.rfft(heard, 1 << 18) * np.conj(np.fft.rfft(take.astype(float), 1 << 18)))
    delay = (begin + int(match.argmax())) / RATE - 72.0
    # The key is down for 80 ms, and it is its release that makes a tap.
    assert 0.08 <= delay <= 0.08 + 0.15


def test_the_left_pedal_leaves_silence(outcome: Outcome):
    assert np.abs(outcome.speaker[round(69.3 * RATE) : round(71.9 * RATE)]).max() < 1e-4


def test_the_click_keeps_its_new_tempo(outcome: Outcome):
    part = np.abs(outcome.speaker[88 * RATE :])
    loud = np.flatnonzero(part > 0.2 * part.max())
    starts = loud[np.flatnonzero(np.diff(loud, prepend=-RATE) > RATE // 10)]
    assert np.diff(starts) == pytest.approx(60 / 84 * RATE, abs=40)


class Outline(HTMLParser):
    """Collects the texts of a page and what it would load."""

    def __init__(self) -> None:
        super().__init__()
        self.words: list[str] = []
        self.loads: list[str] = []
        self.open: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.open.append(tag)
        self.loads += [value or "" for name, value in attrs if name in ("src", "srcset")]

    def handle_data(self, data: str) -> None:
        self.words.append(data)


def test_the_sheet_tells_the_evening_and_loads_nothing(outcome: Outcome):
    page = Outline()
    page.feed((outcome.folder / "sheet.html").read_text(encoding="utf-8"))
    words = " ".join(page.words)
    for wanted in ("Saltmarsh Lane Band", "B♭ major", "E♭ major", "F major", "Marker 2"):
        assert wanted in words
    assert [each for each in page.loads if not each.startswith(("data:", "take-"))] == []


def test_the_sheet_can_be_written_again_the_same(outcome: Outcome, tmp_path: Path):
    again = tmp_path / "0001"
    shutil.copytree(outcome.folder, again)
    assert main(["sheet", str(again)]) == 0
    assert (again / "sheet.html").read_bytes() == (outcome.folder / "sheet.html").read_bytes()


def test_the_contact_sheet_shows_every_shot(outcome: Outcome):
    with Image.open(io.BytesIO((outcome.out / "screens.png").read_bytes())) as page:
        page.load()
        shots = len(load_script().shots)
        assert page.width > 3 * 384
        assert page.height > -(-shots // 3) * 192


def test_nothing_went_wrong(outcome: Outcome):
    assert outcome.logged("fault") == []
    assert not (outcome.out / "KEELNOTE" / "report.txt").exists()
