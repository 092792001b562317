"""What `hear --notes` and `align --timing` make of a take is what the box wrote while it was played."""

from __future__ import annotations

import csv
import shutil
from pathlib import Path

import numpy as np
import pytest
import soundfile

from firmware.events import Adjusted, KeyDown, KeyUp, PanelKey
from firmware.parts.part import Start
from firmware.units import BLOCK, RATE, Samples
from hardware.desk import main, offline_box
from hardware.drivers.stick import FolderStick
from hardware.simulated.screen import SimulatedScreen

WAY = 2 * BLOCK
FIRST = 100 * BLOCK
"""Sample on which the take begins, before the players do."""

PULSE = 1100 * BLOCK
"""Sample after the first of the take on which the pulse starts: 11.73 s."""

BEAT = 60 / 96
NOTES = (
    (4.0, 233.08 * 5 / 4, 12.0),
    (7.0, 233.08, -6.0),
    (PULSE / RATE + 4 * BEAT + 0.015, 233.08 * 3 / 2, 3.0),
    (PULSE / RATE + 8 * BEAT - 0.020, 233.08 * 5 / 4, -15.0),
    (PULSE / RATE + 12 * BEAT + 0.030, 233.08, 5.0),
)
"""Second, Hz and cents of what the player holds for two seconds: two notes under the drone, three to the pulse."""

CENTS, SECONDS, MS = 0.5, 0.1, 2.0
"""How far a figure made anew may be from the box's own: readings fall on another grid of 40 ms."""


def player(seconds: float) -> Samples:
    """Long notes, each with a stroke at its beginning that the pulse can be held against."""
    sound = np.random.default_rng(99).standard_normal(round(seconds * RATE)) * 10 ** (-75 / 20)
    for number, (at, hz, cents) in enumerate(NOTES):
        t = np.arange(2 * RATE) / RATE
        pitch = hz * 2 ** ((cents + 2.0 * np.sin(2 * np.pi * 4.7 * t)) / 1200)  # as alive as a good player
        phase = 2 * np.pi * np.cumsum(pitch) / RATE
        note = 0.06 * sum(np.sin(k * phase) / k for k in range(1, 7))
        first = round(at * RATE)
        sound[first : first + len(t)] += np.asarray(note) * np.minimum(1.0, 50 * t) * np.minimum(1.0, 20 * (2 - t))
        stroke = np.random.default_rng(number).standard_normal(1500) * np.exp(-np.arange(1500) / 300) * 0.2
        sound[first : first + 1500] += stroke
    return sound.astype(np.float32)


@pytest.fixture(scope="module")
def rehearsal(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A rehearsal in which the drone sounds, then the pulse; its folder, with what the box played in speaker.wav."""
    root = tmp_path_factory.mktemp("stick")
    values = (
        Start()
        .values.put("take_source", "microphone and box")
        .put("preroll", 0)
        .put("shape", "triad")
        .put("tempo", 96.0)
        .put("heard_bars", 1)
        .put("silent_bars", 3)
    )
    loop = offline_box(FolderStick(root / "KEELNOTE"), SimulatedScreen(), Start(values=values, stick=True))
    keys = {
        FIRST: PanelKey.TAKE,
        FIRST + BLOCK: PanelKey.EAR,
        FIRST + 20 * BLOCK: PanelKey.DRONE,
        FIRST + 1000 * BLOCK: PanelKey.DRONE,
        FIRST + PULSE: PanelKey.PULSE,
        FIRST + 2060 * BLOCK: PanelKey.PULSE,
        FIRST + 2200 * BLOCK: PanelKey.TAKE,
    }
    playing, spoken = player(24.0), [np.zeros(BLOCK, np.float32)] * (WAY // BLOCK)
    for at in range(0, FIRST + 2250 * BLOCK, BLOCK):
        if at in keys:
            loop.post(KeyDown(at, keys[at]))
            loop.post(KeyUp(at, keys[at]))
        if at == FIRST + 600 * BLOCK:
            loop.post(Adjusted(at, "reading", 1))
        mic = np.zeros(BLOCK, np.float32)
        here = playing[max(at - FIRST, 0) : max(at - FIRST + BLOCK, 0)]
        mic[: len(here)] = here
        spoken.append(loop.block(mic + np.float32(0.1) * spoken[at // BLOCK]))
    loop.finish()
    soundfile.write(root / "speaker.wav", np.concatenate(spoken[WAY // BLOCK :]), RATE, "PCM_24")
    return root


def folder(root: Path) -> Path:
    return root / "KEELNOTE/rehearsals/0001"


def rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def same_notes(made: list[dict[str, str]], wrote: list[dict[str, str]]) -> None:
    assert len(made) == len(wrote)
    for one, other in zip(made, wrote, strict=True):
        assert one.keys() == other.keys()
        for name in ("key", "section", "degree", "written", "concert"):
            assert one[name] == other[name]
        for name, off in (("start_s", SECONDS), ("end_s", SECONDS), ("median_cents", CENTS), ("spread_cents", CENTS)):
            assert float(one[name]) == pytest.approx(float(other[name]), abs=off), name
        for name, off in (("beats", 0.1), ("settled_after_s", 0.15), ("late_ms", MS)):
            assert bool(one[name]) == bool(other[name]), name
            assert float(one[name] or 0) == pytest.approx(float(other[name] or 0), abs=off), name


def test_the_box_wrote_what_was_played(rehearsal: Path) -> None:
    wrote = rows(folder(rehearsal) / "notes.csv")
    assert [row["degree"] for row in wrote] == ["3", "1", "5", "3", "1"]
    assert [float(row["median_cents"]) for row in wrote] == pytest.approx([c for _, _, c in NOTES], abs=1.0)
    assert any(row["late_ms"] for row in wrote)
    assert len({row["section"] for row in wrote}) == 2


def test_notes_made_anew_from_a_take_with_own_sound_are_those_of_the_box(rehearsal: Path, tmp_path: Path) -> None:
    assert main(["hear", str(folder(rehearsal) / "take-01.flac"), "--notes", str(tmp_path / "notes.csv")]) == 0
    same_notes(rows(tmp_path / "notes.csv"), rows(folder(rehearsal) / "notes.csv"))


@pytest.mark.long
def test_so_are_they_from_the_microphone_alone_and_a_recording_of_the_box(rehearsal: Path, tmp_path: Path) -> None:
    take, _ = soundfile.read(folder(rehearsal) / "take-01.flac")
    soundfile.write(tmp_path / "take-01.flac", take[:, 0], RATE, "PCM_24")
    shutil.copy(folder(rehearsal) / "log.jsonl", tmp_path)
    out = tmp_path / "notes.csv"
    own = str(rehearsal / "speaker.wav")
    assert main(["hear", str(tmp_path / "take-01.flac"), "--own", own, "--notes", str(out)]) == 0
    same_notes(rows(out), rows(folder(rehearsal) / "notes.csv"))


def test_timing_made_anew_is_that_of_the_box(rehearsal: Path, tmp_path: Path) -> None:
    out = tmp_path / "timing.csv"
    assert main(["align", str(folder(rehearsal) / "take-01.flac"), "--timing", str(out)]) == 0
    made, wrote = rows(out), rows(folder(rehearsal) / "timing.csv")
    assert wrote
    assert [(row["bar"], row["beat"]) for row in made] == [(row["bar"], row["beat"]) for row in wrote]
    assert [float(row["late_ms"]) for row in made] == pytest.approx([float(row["late_ms"]) for row in wrote], abs=MS)


def test_without_a_log_the_arguments_say_key_and_pulse(
    rehearsal: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sound = player(24.0)
    soundfile.write(tmp_path / "clarinets.wav", sound, RATE, "PCM_24")
    file, notes, timing = str(tmp_path / "clarinets.wav"), tmp_path / "notes.csv", tmp_path / "timing.csv"
    assert main(["hear", file, "--tonic", "Bb", "--notes", str(notes)]) == 0
    assert [(row["degree"], row["beats"]) for row in rows(notes)] == [
        ("3", ""),
        ("1", ""),
        ("5", ""),
        ("3", ""),
        ("1", ""),
    ]
    assert main(["align", file, "--tempo", "96", "--start", str(PULSE / RATE), "--timing", str(timing)]) == 0
    assert [(row["bar"], row["beat"]) for row in rows(timing)] == [("2", "1"), ("3", "1"), ("4", "1")]
    assert [float(row["late_ms"]) for row in rows(timing)] == pytest.approx([15.0, -20.0, 30.0], abs=2.0)
    assert "5 lines" in capsys.readouterr().out
    assert rehearsal.exists()


def test_what_cannot_be_made_anew_says_so(rehearsal: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    shutil.copy(folder(rehearsal) / "log.jsonl", tmp_path)
    soundfile.write(tmp_path / "other.flac", np.zeros(RATE), RATE, "PCM_24")
    assert main(["hear", str(tmp_path / "other.flac"), "--notes", str(tmp_path / "n.csv")]) == 2
    assert "take-01.flac" in capsys.readouterr().err
    soundfile.write(tmp_path / "take-01.flac", np.zeros(RATE), RATE, "PCM_24")
    assert main(["hear", str(tmp_path / "take-01.flac"), "--notes", str(tmp_path / "none" / "n.csv")]) == 2
    assert main(["align", str(tmp_path / "take-01.flac"), "--timing", str(tmp_path / "t.csv")]) == 0
    assert (tmp_path / "t.csv").read_text(encoding="utf-8") == "bar,beat,late_ms\n"
    assert "with --own" in capsys.readouterr().err
    assert main(["align", str(tmp_path / "take-01.flac")]) == 2
