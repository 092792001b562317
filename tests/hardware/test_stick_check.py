"""Whatever is damaged on a stick is named, and every other file is still used."""

from __future__ import annotations

import contextlib
import os
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from firmware.errors import KeelnoteError
from firmware.settings import DEFAULTS, write_settings
from firmware.sheet.notes_csv import header
from firmware.takes.markers import vtt_text
from hardware.drivers.flac_file import FlacTake
from hardware.drivers.stick import FolderStick
from hardware.stick_check import Finding, check_stick, place_of
from hardware.switch_on import switch_on

FOLDER = "rehearsals/0003 2026-11-25"
PLAN = 'title = "Wednesday"\n[[step]]\ntitle = "Long tones"\ntonic = "F"\n'
GROOVE = 'meter = "2/4"\nsteps = 1\n[[line]]\nsound = "bass"\npattern = "Xx"\n'
LOG = '{"t": 0.0, "what": "rehearsal", "number": 3}\n{"t": 4.5, "what": "take-started", "number": 1, "first_s": 1.0}\n'
SOUND = (np.random.default_rng(8).integers(-(2**20), 2**20, 30_000) / 2**23).astype(np.float32)


def fill(root: Path) -> FolderStick:
    stick = FolderStick(root / "KEELNOTE")
    texts = {
        "settings.toml": write_settings(DEFAULTS.put("a4", 442.0)),
        "plans/a.toml": PLAN,
        "grooves/own.toml": GROOVE,
        f"{FOLDER}/log.jsonl": LOG,
        f"{FOLDER}/notes.csv": header() + "\n",
        f"{FOLDER}/take-01.vtt": vtt_text([(0.2, "Letter A")], 0.625),
    }
    for path, text in texts.items():
        stick.write_text(path, text)
    take = stick.open_take(f"{FOLDER}/take-01.flac")
    take.write(SOUND)
    take.close()
    return stick


def found(stick: FolderStick) -> dict[str, Finding]:
    return {finding.path: finding for finding in check_stick(stick)}


def test_on_a_whole_stick_nothing_is_damaged(tmp_path: Path) -> None:
    findings = found(fill(tmp_path))
    assert len(findings) == 7
    assert {path: one.damage for path, one in findings.items() if one.damage} == {}
    assert findings[f"{FOLDER}/take-01.flac"].seconds == len(SOUND) / 48_000


DAMAGE = {
    "settings.toml": (b"a4 = 9000.0\n", "a4"),
    "plans/a.toml": (b'[[step]]\ntonic = "H#"\n', "tonic"),
    "grooves/own.toml": (b"meter = 3\n", "meter"),
    f"{FOLDER}/log.jsonl": (LOG.encode() + b'{"t": 9', "1 line can't be read"),
    f"{FOLDER}/notes.csv": (b"\xff\xfe\0\0,,,\n", "no text"),
    f"{FOLDER}/take-01.vtt": (b"WEBVTT\n\n00:01 --> what\nA\n", "can't be read"),
    f"{FOLDER}/take-01.flac": (b"fLaC" + bytes(500), "decoded"),
}


@pytest.mark.parametrize("path", DAMAGE)
def test_what_is_damaged_is_named_and_the_others_are_whole(tmp_path: Path, path: str) -> None:
    stick = fill(tmp_path)
    data, part = DAMAGE[path]
    (stick.root / path).write_bytes(data)
    findings = found(stick)
    assert [one for one, finding in findings.items() if finding.damage] == [path]
    assert part in " ".join(findings[path].damage)


def test_a_take_that_was_cut_off_is_mended_and_one_that_is_broken_inside_is_told_from_where(tmp_path: Path) -> None:
    stick = fill(tmp_path)
    place = stick.root / FOLDER / "take-02.flac"
    take = FlacTake(place, place.name)
    take.write(np.tile(SOUND, 4))
    data = place.read_bytes()
    take.close()
    whole = place.read_bytes()
    place.write_bytes(data)
    assert found(stick)[f"{FOLDER}/take-02.flac"].mended
    assert soundfile.info(place).frames == 29 * 4096
    place.write_bytes(whole[: len(whole) // 2] + bytes(9000) + whole[len(whole) // 2 + 9000 :])
    broken = found(stick)[f"{FOLDER}/take-02.flac"]
    assert not broken.mended
    assert broken.damage, "half a megabyte of silence in the middle passed as sound"


def test_links_and_other_peoples_files_are_left_alone(tmp_path: Path) -> None:
    stick = fill(tmp_path)
    (tmp_path / "log.jsonl").write_text("not json")
    (stick.root / "rehearsals" / "0004").symlink_to(tmp_path)
    (stick.root / "rehearsals" / "log.jsonl").symlink_to(tmp_path / "log.jsonl")
    (stick.root / "holiday.jpg").write_bytes(b"\xff\xd8")
    os.mkfifo(stick.root / "pipe.flac")
    assert len(found(stick)) == 7
    assert place_of(tmp_path) == stick.root
    assert place_of(stick.root) == stick.root


@settings(
    max_examples=15,
    deadline=None,
    phases=(Phase.explicit, Phase.generate),
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(st.data())
def test_any_damage_anywhere_is_taken_and_the_box_starts(tmp_path_factory, data: st.DataObject) -> None:
    """Bytes changed, cut off or replaced in up to three files: nothing raises, and the files beside are still used."""
    stick = fill(tmp_path_factory.mktemp("stick"))
    hit = data.draw(st.sets(st.sampled_from(sorted(DAMAGE)), min_size=1, max_size=3))
    for path in sorted(hit):
        place = stick.root / path
        held = bytearray(place.read_bytes())
        for _ in range(data.draw(st.integers(0, 5))):
            held[data.draw(st.integers(0, len(held) - 1))] = data.draw(st.integers(0, 255))
        place.write_bytes(bytes(held[: data.draw(st.integers(0, len(held)))]) + data.draw(st.binary(max_size=80)))
    start = switch_on(stick)
    for path, finding in found(stick).items():
        assert path in hit or not finding.damage
        assert all(isinstance(line, str) and line for line in finding.damage)
    if "settings.toml" not in hit:
        assert start.start.values.number("a4") == 442.0
    if "plans/a.toml" not in hit:
        assert len(start.start.plan.steps) == 1
    if "grooves/own.toml" not in hit:
        assert [groove.name for groove in start.start.rhythms.grooves] == ["own"]
    if not any(path.endswith(".flac") for path in hit):
        assert np.array_equal(stick.read_take(f"{FOLDER}/take-01.flac", 0, 10**9), SOUND)
    else:
        with contextlib.suppress(KeelnoteError):
            stick.read_take(f"{FOLDER}/take-01.flac", 0, 10**9)
