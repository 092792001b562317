"""`keelnote pulse`: what it prints, what it writes, and what it refuses."""

from __future__ import annotations

import json
import math
from argparse import ArgumentParser
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import soundfile

from firmware.errors import BadFileError, DeviceError, KeelnoteError, OutOfRangeError, UnknownNameError
from hardware.commands import pulse

RATE = 48_000
Call = Callable[..., str]


@pytest.fixture
def call(capsys: pytest.CaptureFixture[str]) -> Call:
    """Run the command with some words and return what it printed."""

    def go(*words: str) -> str:
        parser = ArgumentParser()
        pulse.add_arguments(parser)
        assert pulse.run(parser.parse_args(words)) == 0
        return capsys.readouterr().out

    return go


def beats(printed: str) -> list[dict[str, float]]:
    return json.loads(printed)["beats"]


def onsets(path: Path) -> list[int]:
    """First sample of each stroke of a file of plain clicks."""
    sound, rate = soundfile.read(path, dtype="float32")
    assert rate == RATE
    loud = np.flatnonzero(np.abs(sound) > 1e-4)
    return [int(at) for at in loud[np.diff(loud, prepend=-RATE) > 2500]]


def test_json_is_one_object_with_exactly_these_fields(call: Call) -> None:
    printed = call("--tempo", "92", "--meter", "2+2+3/8", "--bars", "8", "--json")
    assert printed.count("\n") == 1
    assert list(json.loads(printed)) == ["beats"]
    rows = beats(printed)
    assert [list(row) for row in rows] == [["time", "bar", "beat", "weight"]] * 56
    assert [row["time"] for row in rows] == pytest.approx([60 / 92 * number for number in range(56)])
    assert [row["weight"] for row in rows[:7]] == [1.0, 0.5, 0.75, 0.5, 0.75, 0.5, 0.5]
    assert (rows[-1]["bar"], rows[-1]["beat"]) == (8, 7)


def test_the_sound_begins_with_the_first_beat_and_every_beat_is_on_its_sample(call: Call, tmp_path: Path) -> None:
    out = tmp_path / "click.wav"
    words = ("--ramp", "60->120 over 16 beats", "--bars", "6", "--out", str(out), "--json")
    times = [row["time"] for row in beats(call(*words))]
    assert onsets(out) == [round(time * RATE) for time in times]
    assert times[16] == pytest.approx(16 * math.log(2), abs=1 / RATE)
    assert soundfile.info(out).frames == round((times[-1] + 0.5 + 0.3) * RATE)
    assert soundfile.info(out).subtype == "PCM_24"


def test_silent_bars_are_listed_and_not_heard(call: Call, tmp_path: Path) -> None:
    out = tmp_path / "click.flac"
    rows = beats(call("--tempo", "240", "--bars", "4", "--silent", "1+2", "--out", str(out), "--json"))
    assert [row["weight"] > 0 for row in rows] == [True] * 4 + [False] * 8 + [True] * 4
    assert onsets(out) == [round(row["time"] * RATE) for row in rows if row["weight"]]


def test_count_in_pickup_and_lists_of_bars(call: Call) -> None:
    rows = beats(call("--meter", "3/4 2/4", "--count-in", "1", "--pickup", "1", "--bars", "2", "--json"))
    assert [(row["bar"], row["beat"]) for row in rows] == [
        (bar, beat) for bar in (-1, 0, 1) for beat in (1, 2, 3)
    ] + [(2, 1), (2, 2)]  # fmt: skip
    assert rows[0]["time"] == 0.0


def test_the_unit_of_the_tempo_can_be_chosen(call: Call) -> None:
    rows = beats(call("--meter", "2+2+3/8", "--unit", "1/4", "--tempo", "60", "--bars", "1", "--json"))
    assert rows[2]["time"] == 1.0


def test_without_json_it_prints_a_table(call: Call, tmp_path: Path) -> None:
    lines = call("--bars", "1", "--ramp", "60->80 over 4 beats", "--out", str(tmp_path / "x.wav")).splitlines()
    assert lines[0].split() == ["time", "bar", "beat", "weight", "tempo"]
    assert lines[2].split()[2:] == ["1", "2", "0.50", "65.00"]
    assert "written to" in lines[-1]


def test_a_groove_is_written(call: Call, tmp_path: Path) -> None:
    out = tmp_path / "waltz.wav"
    rows = beats(call("--groove", "waltz", "--bars", "2", "--out", str(out), "--json"))
    assert len(rows) == 6
    sound, _ = soundfile.read(out)
    assert 0.1 < np.abs(sound).max() < 10 ** (-1 / 20)


def test_a_groove_of_ones_own_is_read_from_a_file(call: Call, tmp_path: Path) -> None:
    own = tmp_path / "own.toml"
    own.write_text('meter = "2/4"\nsteps = 1\n[[line]]\nsound = "bass"\npattern = "Xx"\n', encoding="utf-8")
    assert len(beats(call("--groove", str(own), "--bars", "3", "--json"))) == 6
    own.write_text('[[line]]\nsound = "bass"\npattern = "Xz.."\n', encoding="utf-8")
    with pytest.raises(BadFileError, match="line 1"):
        call("--groove", str(own))
    own.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(BadFileError):
        call("--groove", str(own))


def test_a_groove_in_another_meter_plays_what_fits(call: Call) -> None:
    assert len(beats(call("--groove", "samba", "--meter", "2+2+3/8", "--bars", "2", "--json"))) == 14


def midi_bytes(*events: bytes) -> bytes:
    body = b"".join(events) + b"\0\xff\x2f\0"
    return b"MThd\0\0\0\6\0\0\0\1\1\xe0MTrk" + len(body).to_bytes(4, "big") + body


MIDI = midi_bytes(
    b"\0\xff\x58\x04\x03\x02\x18\x08", b"\0\xff\x51\x03\x07\xa1\x20",
    b"\0\x99\x24\x7f", b"\x8b\x20\x26\x7f", b"\x8b\x20\x26\x7f"
)  # fmt: skip
"""Three quarters at 120, a bass drum at 0, snares 1440 and 2880 ticks later."""


def test_a_midi_file_brings_bars_tempo_and_percussion(call: Call, tmp_path: Path) -> None:
    path, out = tmp_path / "ferry.mid", tmp_path / "ferry.wav"
    path.write_bytes(MIDI)
    rows = beats(call("--midi", str(path), "--out", str(out), "--json"))
    assert [row["time"] for row in rows] == pytest.approx([0.5 * beat for beat in range(6)])
    assert onsets(out)[0] == 0
    assert len(beats(call("--midi", str(path), "--bars", "1", "--json"))) == 3
    assert len(beats(call("--groove", str(path), "--bars", "4", "--json"))) == 12


def test_a_midi_file_leaves_no_room_for_a_tempo_of_ones_own(call: Call, tmp_path: Path) -> None:
    path = tmp_path / "ferry.mid"
    path.write_bytes(MIDI)
    for words in (
        ("--tempo", "60"),
        ("--meter", "4/4"),
        ("--ramp", "2 bars"),
        ("--groove", "waltz"),
        ("--unit", "1/8"),
    ):
        with pytest.raises(OutOfRangeError, match="beside --midi"):
            call("--midi", str(path), *words)


@pytest.mark.parametrize(
    ("words", "error", "match"),
    [
        (("--tempo", "19.9"), OutOfRangeError, "20 to 300"),
        (("--tempo", "nan"), OutOfRangeError, "20 to 300"),
        (("--meter", "4/5"), OutOfRangeError, "meter"),
        (("--groove", "waltzz"), UnknownNameError, "'waltz'"),
        (("--kit", "gong"), UnknownNameError, "click"),
        (("--ramp", "faster"), OutOfRangeError, "60->120"),
        (("--silent", "2"), OutOfRangeError, r"2\+2"),
        (("--silent", "0+2"), OutOfRangeError, r"2\+2"),
        (("--bars", "0"), OutOfRangeError, "1 to 10000"),
        (("--bars", "10000", "--tempo", "20"), OutOfRangeError, "7200"),
        (("--count-in", "17"), OutOfRangeError, "16"),
        (("--pickup", "4"), OutOfRangeError, "less than a bar"),
        (("--subdivision", "7"), OutOfRangeError, "1 to 6"),
        (("--swing", "3.5"), OutOfRangeError, "1 to 3"),
        (("--unit", "quarter"), OutOfRangeError, "note value"),
        (("--unit", "9/1"), OutOfRangeError, "1/32"),
        (("--level", "3"), OutOfRangeError, "-60 to 0"),
        (("--midi", "no such file.mid"), BadFileError, "read"),
        (("--out", "click.mp3"), BadFileError, ".wav"),
        (("--out", "no such folder/click.wav"), DeviceError, "written"),
    ],
)
def test_what_it_refuses_says_why(call: Call, words: tuple[str, ...], error: type[KeelnoteError], match: str) -> None:
    with pytest.raises(error, match=match):
        call("--bars", "1", *words)
