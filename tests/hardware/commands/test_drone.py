"""`keelnote drone`: what it prints, what it writes, and what it refuses."""

from __future__ import annotations

import json
import re
from argparse import ArgumentParser
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from firmware.errors import BadFileError, DeviceError, KeelnoteError, OutOfRangeError, UnknownNameError
from firmware.music.keys import key_of, semitones_of
from hardware.commands import drone

Call = Callable[..., str]


@pytest.fixture
def call(capsys: pytest.CaptureFixture[str]) -> Call:
    """Run the command with some words and return what it printed."""

    def go(*words: str) -> str:
        parser = ArgumentParser()
        drone.add_arguments(parser)
        assert drone.run(parser.parse_args(words)) == 0
        return capsys.readouterr().out

    return go


def tones(printed: str) -> list[dict[str, float | str]]:
    return json.loads(printed)["tones"]


def test_json_is_one_object_with_exactly_these_fields(call: Call):
    printed = call("--tonic", "Bb", "--shape", "triad", "--json")
    assert printed.count("\n") == 1
    assert list(json.loads(printed)) == ["tones"]
    rows = tones(printed)
    assert [list(row) for row in rows] == [["degree", "note", "hz", "cents_from_equal", "level_db"]] * 6
    assert [(row["degree"], row["note"]) for row in rows[:3]] == [("1", "B♭2"), ("3", "D3"), ("5", "F3")]
    assert rows[0]["hz"] == pytest.approx(116.5409, abs=1e-4)
    assert rows[1]["cents_from_equal"] == pytest.approx(-13.686, abs=1e-3)


def test_notes_and_degrees_are_read_and_printed_as_the_room_says_them(call: Call):
    """H is B natural: its equal frequency is 123.471 Hz at A4 = 440 Hz (ISO 16)."""
    table = call("--tonic", "H", "--mode", "minor", "--shape", "triad", "--octaves", "1", "--names", "german",
                 "--degrees", "movable-do").splitlines()  # fmt: skip
    assert [line.split()[:2] for line in table[1:]] == [["do", "H2"], ["me", "D3"], ["sol", "Fis3"]]
    assert float(table[1].split()[2]) == pytest.approx(123.471, abs=1e-3)
    free = call("--tonic", "Sib", "--names", "fixed-do", "--free", "do,te", "--degrees", "movable-do").splitlines()
    assert [line.split()[1] for line in free[1:3]] == ["Si♭2", "La♭3"]
    with pytest.raises(UnknownNameError, match="Es, E"):
        call("--tonic", "Bb", "--names", "german")
    assert tones(call("--tonic", "B", "--names", "german", "--json"))[0]["note"] == "B♭2"


def test_a_tuning_of_ones_own_is_read_from_a_file(call: Call, tmp_path: Path):
    """A third of 5/4 is 13.686 cents below the equal one (Helmholtz tr. Ellis, app. XX); two cents less are 15.686."""
    file = tmp_path / "pipes.toml"
    file.write_text('[intervals]\n4 = "5/4 - 2 cents"\n')
    rows = tones(call("--tonic", "Bb", "--shape", "triad", "--octaves", "1", "--tuning", str(file), "--json"))
    assert [row["cents_from_equal"] for row in rows] == pytest.approx([0.0, -15.686, 0.0], abs=1e-3)


def test_a_tuning_that_can_not_be_used_is_refused_with_its_line(tmp_path: Path):
    parser = ArgumentParser()
    drone.add_arguments(parser)
    file = tmp_path / "pipes.toml"
    for text, words in ((b'[intervals]\n4 = "five"', "line 2: intervals.4"), (b"title = '\xff'", "encoding")):
        file.write_bytes(text)
        with pytest.raises(BadFileError, match=words):
            drone.run(parser.parse_args(["--tuning", str(file)]))
    file.write_bytes(bytes(drone.MOST_BYTES + 1))
    with pytest.raises(BadFileError, match="at most"):
        drone.run(parser.parse_args(["--tuning", str(file)]))
    with pytest.raises(BadFileError, match="can be read"):
        drone.run(parser.parse_args(["--tuning", str(tmp_path / "gone.toml")]))


@pytest.mark.parametrize(("given", "note"), [("Bb", "B♭2"), ("B♭", "B♭2"), ("F#", "F♯2"), ("F♯", "F♯2")])
def test_names_are_taken_both_ways(call: Call, given: str, note: str):
    assert tones(call("--tonic", given, "--json"))[0]["note"] == note


def test_without_json_it_prints_a_table(call: Call):
    lines = call("--tonic", "F", "--shape", "fifth", "--octaves", "1").splitlines()
    assert lines[0].split()[0] == "degree"
    assert lines[1].split()[:2] == ["1", "F2"]
    assert lines[2].split()[:2] == ["5", "C3"]


def test_a_chord_stands_on_any_degree(call: Call):
    rows = tones(call("--tonic", "C", "--shape", "triad", "--degree", "5", "--octaves", "1", "--json"))
    assert [row["note"] for row in rows] == ["G2", "B2", "D3"]


def test_free_takes_degrees_as_musicians_say_them(call: Call):
    rows = tones(call("--tonic", "C", "--free", "1, 5 b7,9", "--octaves", "1", "--json"))
    assert [row["note"] for row in rows] == ["C2", "G2", "B♭2", "D3"]


@pytest.mark.parametrize(
    ("degree", "semitones"), [("1", 0), ("b3", 3), ("♭3", 3), ("#4", 6), ("♯4", 6), ("7", 11), ("8", 12), ("14", 23)]
)
def test_degrees_in_major(degree: str, semitones: int):
    assert semitones_of(key_of("C", "major"), degree) == semitones


def test_degrees_count_in_the_mode():
    assert semitones_of(key_of("C", "minor"), "3") == 3
    assert semitones_of(key_of("C", "minor"), "♯7") == 11


@pytest.mark.parametrize("degree", ["", "0", "15", "x", "b1b", "3b", "#3", "-1", "1.5", "٣"])
def test_a_degree_that_is_not_there_is_named(degree: str):
    with pytest.raises(UnknownNameError, match="degree"):
        semitones_of(key_of("C", "major"), degree)


@pytest.mark.parametrize("name", ["drone.wav", "drone.flac", "DRONE.WAV"])
def test_writes_24_bits_of_the_length_asked_for(call: Call, tmp_path: Path, name: str):
    path = tmp_path / name
    printed = call("--seconds", "1.25", "--out", str(path))
    info = soundfile.info(path)
    assert (info.samplerate, info.channels, info.subtype, info.frames) == (48_000, 1, "PCM_24", 60_000)
    assert str(path) in printed


def test_begins_and_ends_in_silence_without_being_cut(call: Call, tmp_path: Path):
    call("--seconds", "1", "--out", str(tmp_path / "a.wav"))
    samples, _ = soundfile.read(tmp_path / "a.wav")
    assert np.abs(samples[:200]).max() < 1e-4
    assert np.abs(samples[-20:]).max() < 1e-4
    assert np.abs(samples[40_000:44_000]).max() > 0.1


def test_two_runs_are_byte_identical(call: Call, tmp_path: Path):
    for name in ("a.wav", "b.wav"):
        call("--seconds", "0.5", "--shape", "seventh", "--out", str(tmp_path / name))
    assert (tmp_path / "a.wav").read_bytes() == (tmp_path / "b.wav").read_bytes()


def test_level_is_heard(call: Call, tmp_path: Path):
    loudness = []
    for level in ("-18", "-24"):
        call("--seconds", "1", "--shape", "unison", "--level", level, "--out", str(tmp_path / "a.wav"))
        loudness.append(20 * np.log10(np.std(soundfile.read(tmp_path / "a.wav")[0])))
    assert loudness[0] - loudness[1] == pytest.approx(6.0, abs=0.01)


@pytest.mark.parametrize("words", [["--seconds", "0.1"], ["--level", "24", "--seconds", "1"]])
def test_the_shortest_and_the_loudest_are_written(call: Call, tmp_path: Path, words: list[str]):
    call(*words, "--out", str(tmp_path / "a.wav"))
    assert 0 < np.abs(soundfile.read(tmp_path / "a.wav")[0]).max() <= 10 ** (-1 / 20)


@pytest.mark.parametrize(
    ("words", "kind", "text"),
    [
        (["--tonic", "H"], UnknownNameError, "'H'"),
        (["--mode", "majr"], UnknownNameError, "Did you mean 'major'"),
        (["--tuning", "juts"], UnknownNameError, "Did you mean 'just'"),
        (["--timbre", "red"], UnknownNameError, "Did you mean 'reed'"),
        (["--shape", "triangle"], UnknownNameError, "'triangle'"),
        (["--degree", "♯2"], UnknownNameError, "degree"),
        (["--a4", "300"], OutOfRangeError, "380 to 480"),
        (["--a4", "nan"], OutOfRangeError, "380 to 480"),
        (["--octave", "9"], OutOfRangeError, "octave"),
        (["--octaves", "0"], OutOfRangeError, "octaves"),
        (["--seconds", "0"], OutOfRangeError, "--seconds"),
        (["--seconds", "inf"], OutOfRangeError, "--seconds"),
        (["--level", "30"], OutOfRangeError, "--level"),
        (["--level", "nan"], OutOfRangeError, "--level"),
    ],
)
def test_what_it_refuses_it_names_and_nothing_is_written(
    call: Call, tmp_path: Path, words: list[str], kind: type[KeelnoteError], text: str
):
    path = tmp_path / "none.wav"
    with pytest.raises(kind, match=text):
        call(*words, "--out", str(path))
    assert not path.exists()


def test_a_name_of_no_known_format_is_refused(call: Call, tmp_path: Path):
    with pytest.raises(BadFileError, match=r"\.wav or \.flac"):
        call("--out", str(tmp_path / "drone.mp3"))


@pytest.mark.parametrize("name", ["missing/drone.wav", "folder.wav"])
def test_a_file_that_cannot_be_written_is_named(call: Call, tmp_path: Path, name: str):
    (tmp_path / "folder.wav").mkdir()
    with pytest.raises(DeviceError, match=r"drone\.wav|folder\.wav"):
        call("--seconds", "0.1", "--out", str(tmp_path / name))


WORDS = st.one_of(st.sampled_from(["Bb", "F♯", "minor", "just", "triad", "reed", "1", "b3", "9"]), st.text(max_size=6))


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.dictionaries(
        st.sampled_from(["tonic", "mode", "shape", "tuning", "timbre", "degree", "free"]), WORDS, max_size=3
    ),
    st.dictionaries(st.sampled_from(["a4", "level", "seconds"]), st.floats(), max_size=1),
    st.dictionaries(st.sampled_from(["octave", "octaves"]), st.integers(), max_size=1),
)
def test_any_words_give_tones_or_an_error_that_names_them(
    call: Call, words: dict[str, str], floats: dict[str, float], whole: dict[str, int]
):
    given_words = [f"--{name}={value}" for name, value in [*words.items(), *floats.items(), *whole.items()]]
    try:
        rows = tones(call(*given_words, "--json"))
    except KeelnoteError as error:
        refused = error.value
        known = [*words.values(), *floats.values(), *whole.values()]
        parts = re.split(r"[,\s]+", words.get("free", ""))
        # By their text: not a number is not equal to itself.
        assert str(refused) in {str(value) for value in [*known, *parts]}
    else:
        assert all(8.0 < float(row["hz"]) < 20_000.0 for row in rows)
