"""Standard MIDI Files, byte by byte: what is read, what is refused, and why."""

from __future__ import annotations

import tracemalloc
from collections.abc import Callable

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from firmware.errors import BadFileError
from firmware.plan.midi_file import FASTEST, LAST_TICK, MOST_BYTES, MOST_EVENTS, MOST_STROKES, MidiFile, read_midi

Make = Callable[..., bytes]
FIXTURE = settings(deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
KICK = b"\x99\x24\x7f"


def tempo(microseconds: int) -> bytes:
    return b"\xff\x51\x03" + microseconds.to_bytes(3, "big")


def test_tempos_signatures_and_percussion_are_read(midi_of: Make) -> None:
    events = [
        (0, b"\xff\x03\x05Ferry"),
        (0, tempo(500_000)),
        (0, b"\xff\x58\x04\x06\x03\x24\x08"),
        (0, KICK),
        (240, b"\x26\x40"),  # running status
        (10, b"\x26\x00"),  # a note-on of velocity 0 is an end
        (230, b"\x90\x3c\x40"),  # another channel
        (480, tempo(600_000)),
    ]
    assert read_midi(midi_of(events), "x.mid") == MidiFile(
        division=480,
        tempos=((0, 500_000), (960, 600_000)),
        signatures=((0, 6, 8),),
        strokes=((0, 36, 127), (240, 38, 64)),
        end=960,
        title="Ferry",
    )


def test_tracks_of_format_1_are_laid_over_each_other(midi_of: Make) -> None:
    data = midi_of([(0, tempo(500_000)), (960, tempo(400_000))], [(480, KICK), (9600, b"\x89\x24\x00")])
    read = read_midi(data, "x.mid")
    assert read.tempos == ((0, 500_000), (960, 400_000))
    assert (read.strokes, read.end) == (((480, 36, 127),), 10_080)


def test_long_times_program_changes_and_exclusive_messages_are_passed_over(midi_of: Make) -> None:
    events = [
        (0, b"\xc9\x05"),
        (1, b"\x07"),
        (200_000, b"\xf0\x03\x7e\x00\xf7"),
        (0, b"\xe0\x00\x40"),
        (0, b"\xf7\x02\x01\x02"),
        (0, b"\xd3\x11"),
        (3, KICK),
    ]
    assert read_midi(midi_of(events), "x.mid").strokes == ((200_004, 36, 127),)


def test_running_status_survives_a_meta_event_but_not_an_exclusive_one(midi_of: Make) -> None:
    meta = [(0, KICK), (0, b"\xff\x01\x01x"), (5, b"\x24\x7f")]
    assert len(read_midi(midi_of(meta), "x.mid").strokes) == 2
    exclusive = [(0, KICK), (0, b"\xf0\x01\xf7"), (5, b"\x24\x7f")]
    with pytest.raises(BadFileError, match="without a status byte"):
        read_midi(midi_of(exclusive), "x.mid")


def test_chunks_of_other_kinds_and_longer_headers_are_passed_over(midi_of: Make) -> None:
    data = midi_of([(0, KICK)])
    longer = b"MThd\0\0\0\x08" + data[8:14] + b"??" + b"XFIH\0\0\0\x02ab" + data[14:]
    assert read_midi(longer, "x.mid").strokes == ((0, 36, 127),)


def test_a_track_without_its_end_is_read(midi_of: Make) -> None:
    data = midi_of([(0, KICK)])
    short = data[:14] + b"MTrk" + (4).to_bytes(4, "big") + data[22:26]
    assert read_midi(short, "x.mid").strokes == ((0, 36, 127),)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda data: data[:0], "MThd"),
        (lambda data: b"RIFF" + data, "MThd"),
        (lambda data: data[:8] + b"\0\2" + data[10:], "format 2"),
        (lambda data: data[:12] + b"\xe7\x28" + data[14:], "SMPTE"),
        (lambda data: data[:12] + b"\0\0" + data[14:], "0 ticks"),
        (lambda data: b"MThd\0\0\0\2" + data[8:], "header of 2"),
        (lambda data: data[:-3], "cut short"),
        (lambda data: data[:14], "cut short"),
        (lambda data: data[:22] + b"\x80\x80\x80\x80" + data[26:], "four bytes"),
        (lambda data: data[:23] + b"\x24" + data[24:], "without a status byte"),
        (lambda data: data[:23] + b"\xf1" + data[24:], "0xf1"),
        (lambda data: data[:24] + b"\x84" + data[25:], "breaks off"),
        (lambda data: data + b"\0" * MOST_BYTES, str(MOST_BYTES)),
    ],
)
def test_what_is_refused_says_why(midi_of: Make, change: Callable[[bytes], bytes], words: str) -> None:
    with pytest.raises(BadFileError, match=words) as caught:
        read_midi(change(midi_of([(0, KICK), (0, KICK)])), "ferry.mid")
    assert "ferry.mid" in caught.value.text


@pytest.mark.parametrize(
    ("event", "words"),
    [
        (tempo(FASTEST - 1), "30000"),
        (b"\xff\x51\x02\x10\x10", "three bytes"),
        (b"\xff\x58\x04\x00\x02\x18\x08", "1 to 64"),
        (b"\xff\x58\x04\x04\x07\x18\x08", "1 to 64"),
        (b"\xff\x01\x7fx", "within its track"),
    ],
)
def test_a_broken_event_is_refused(midi_of: Make, event: bytes, words: str) -> None:
    with pytest.raises(BadFileError, match=words):
        read_midi(midi_of([(0, event)]), "x.mid")


def test_too_much_is_refused_early(midi_of: Make) -> None:
    with pytest.raises(BadFileError, match=f"at most {MOST_EVENTS} events"):
        read_midi(midi_of([(0, b"\xd0\x01")] + [(0, b"\x01")] * MOST_EVENTS), "x.mid")
    with pytest.raises(BadFileError, match=f"at most {MOST_STROKES} percussion"):
        read_midi(midi_of([(0, KICK)] * (MOST_STROKES + 1)), "x.mid")
    with pytest.raises(BadFileError, match="changes"):
        read_midi(midi_of([(1, tempo(500_000))] * 20_001), "x.mid")
    with pytest.raises(BadFileError, match=str(LAST_TICK)):
        read_midi(midi_of([(0x0FFFFFFF, b"\xd0\x01")] * 9), "x.mid")


def test_the_largest_file_that_is_read_takes_less_than_100_mb(midi_of: Make) -> None:
    data = midi_of([(0, KICK)] + [(1, b"\x24\x7f")] * (MOST_STROKES - 1))
    tracemalloc.start()
    try:
        read = read_midi(data, "x.mid")
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert len(read.strokes) == MOST_STROKES
    assert peak < 100_000_000


head = st.builds(
    lambda kind, tracks, division: b"MThd\0\0\0\6" + kind + tracks + division,
    st.sampled_from([b"\0\0", b"\0\1"]),
    st.sampled_from([b"\0\1", b"\0\2"]),
    st.sampled_from([b"\1\xe0", b"\0\x60"]),
)
pieces = st.lists(
    st.sampled_from(
        [b"\0", b"\x81\x00", KICK, b"\xff\x51\x03\x07\xa1\x20", b"\xff\x58\x04\x03\x02\x18\x08", b"\xf0\x01"]
    )
    | st.binary(max_size=4),
    max_size=20,
).map(b"".join)
chunks = pieces.map(lambda body: b"MTrk" + len(body).to_bytes(4, "big") + body)


@settings(FIXTURE, max_examples=300)
@given(st.binary(max_size=60) | st.builds(lambda *parts: b"".join(parts), head, chunks, chunks | st.binary(max_size=9)))
def test_any_bytes_are_a_file_or_a_clear_error(data: bytes) -> None:
    try:
        read = read_midi(data, "x.mid")
    except BadFileError as error:
        assert error.text.startswith("x.mid")  # noqa: PT017 - either way is fine, and both are checked
        return
    assert read.division > 0
    assert list(read.strokes) == sorted(read.strokes, key=lambda stroke: stroke[0])
    assert all(tick <= read.end for tick, _, _ in read.strokes)


@settings(FIXTURE, max_examples=100)
@given(position=st.integers(0, 60), byte=st.integers(0, 255))
def test_one_wrong_byte_is_read_or_refused(midi_of: Make, position: int, byte: int) -> None:
    data = bytearray(midi_of([(0, tempo(500_000)), (3, KICK), (480, b"\x26\x40")]))
    data[position % len(data)] = byte
    try:
        read_midi(bytes(data), "x.mid")
    except BadFileError as error:
        assert len(error.text) < 300  # noqa: PT017 - either way is fine, and both are checked
