"""Takes hold exactly the microphone's samples from their first to their end."""

import tracemalloc
from dataclasses import dataclass, field

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from firmware.takes.recorder import (
    BURST,
    LONGEST_PREROLL,
    START_GRACE,
    STOP_LAG,
    Chunk,
    Recorder,
)
from firmware.units import RATE


def mic(first: int, end: int):
    """Every sample says its own number; float32 counts exactly to 2**24, which is 349 s."""
    return np.arange(first, end, dtype=np.float32)


@dataclass
class Bench:
    """A recorder, the sound that it heard, and the takes as they came out."""

    recorder: Recorder = field(default_factory=Recorder)
    chunks: list[Chunk] = field(default_factory=list)

    def hear(self, count: int) -> None:
        now = self.recorder.now
        self.chunks.extend(self.recorder.process(mic(now, now + count)))

    def take(self, number: int) -> tuple[int, int, bool]:
        """First sample, end, and whether it ended; asserts that nothing in between is lost, doubled or changed."""
        mine = [chunk for chunk in self.chunks if chunk.number == number]
        at = mine[0].first
        for chunk in mine:
            assert chunk.first == at
            assert np.array_equal(chunk.samples, mic(chunk.first, chunk.end))
            at = chunk.end
        assert not any(chunk.last for chunk in mine[:-1])
        return mine[0].first, at, mine[-1].last


def test_a_take_begins_before_the_key_was_pressed():
    bench = Bench()
    bench.hear(10 * RATE)
    bench.recorder.start(1, bench.recorder.now - 8 * RATE)
    for _ in range(100):
        bench.hear(512)
    bench.recorder.stop(bench.recorder.now)
    while bench.recorder.running or not bench.chunks:
        bench.hear(512)
    assert bench.take(1) == (2 * RATE, 10 * RATE + 51200, True)


def test_a_long_preroll_comes_in_pieces():
    bench = Bench(Recorder(LONGEST_PREROLL))
    bench.hear(31 * RATE)
    bench.recorder.start(1, RATE)
    bench.hear(512)
    assert [len(chunk.samples) for chunk in bench.chunks] == [BURST]


def test_two_takes_may_change_within_one_block_and_overlap_by_the_preroll():
    bench = Bench()
    bench.hear(9 * RATE)
    bench.recorder.start(1, RATE)
    bench.hear(RATE)
    bench.recorder.stop(10 * RATE)
    bench.recorder.start(2, 2 * RATE)
    bench.recorder.stop(10 * RATE + 7)
    bench.hear(RATE)
    bench.chunks.extend(bench.recorder.flush())
    assert bench.take(1) == (RATE, 10 * RATE, True)
    assert bench.take(2) == (2 * RATE, 10 * RATE + 7, True)


def test_what_is_older_than_the_preroll_is_not_kept_and_the_chunk_says_so():
    bench = Bench(Recorder(2 * RATE))
    bench.hear(20 * RATE)
    bench.recorder.start(1, 0)
    bench.chunks.extend(bench.recorder.flush())
    assert bench.take(1) == (18 * RATE - START_GRACE, 20 * RATE, True)


def test_before_the_first_sample_there_is_nothing():
    bench = Bench()
    bench.hear(100)
    bench.recorder.start(1, -8 * RATE)
    bench.chunks.extend(bench.recorder.flush())
    assert bench.take(1) == (0, 100, True)


def test_the_preroll_can_be_changed_while_running_and_what_was_let_go_stays_gone():
    recorder = Recorder(8 * RATE)
    recorder.process(mic(0, 20 * RATE))
    assert recorder.oldest == 12 * RATE - START_GRACE
    recorder.preroll = 0
    assert recorder.oldest == 20 * RATE - START_GRACE
    recorder.preroll = 30 * RATE
    assert recorder.oldest == 20 * RATE - START_GRACE
    recorder.process(mic(20 * RATE, 60 * RATE))
    assert recorder.oldest == 30 * RATE - START_GRACE


def test_the_preroll_stays_between_nothing_and_thirty_seconds():
    assert Recorder(-1).preroll == 0
    assert Recorder(99 * RATE).preroll == 30 * RATE


def test_a_start_ends_a_take_that_nobody_stopped():
    bench = Bench(Recorder(0))
    bench.hear(RATE)
    bench.recorder.start(1, RATE)
    bench.hear(RATE)
    bench.recorder.start(2, 2 * RATE)
    bench.hear(RATE)
    bench.recorder.stop(3 * RATE)
    bench.hear(0)
    assert bench.take(1) == (RATE, 2 * RATE, True)
    assert bench.take(2) == (2 * RATE, 3 * RATE, True)


def test_a_stop_without_a_take_does_nothing():
    recorder = Recorder()
    recorder.stop(10)
    assert recorder.process(mic(0, 1000)) == ()
    assert recorder.flush() == ()


def test_a_take_that_ends_before_it_begins_is_empty_and_ends():
    bench = Bench(Recorder(0))
    bench.hear(RATE)
    bench.recorder.start(1, RATE + 500)
    bench.recorder.stop(RATE)
    bench.hear(100)
    assert bench.take(1) == (RATE + 500, RATE + 500, True)
    bench.recorder.start(2, 3 * RATE)
    bench.chunks.extend(bench.recorder.flush())
    assert bench.take(2) == (3 * RATE, 3 * RATE, True)


def test_an_empty_block_hands_on_all_that_is_due():
    bench = Bench(Recorder(LONGEST_PREROLL))
    bench.hear(30 * RATE)
    bench.recorder.start(1, 0)
    bench.recorder.stop(30 * RATE)
    bench.hear(0)
    assert bench.take(1) == (0, 30 * RATE, True)


def test_a_running_take_comes_out_a_tenth_of_a_second_late():
    bench = Bench(Recorder(0))
    bench.recorder.start(1, 0)
    for _ in range(100):
        bench.hear(512)
    assert bench.take(1) == (0, 51200 - STOP_LAG, False)


def test_the_memory_for_the_longest_preroll_is_under_twelve_megabytes():
    tracemalloc.start()
    try:
        recorder = Recorder(LONGEST_PREROLL)
        recorder.process(mic(0, 4096))
        used, _ = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert used < 12_000_000


SIZES = st.one_of(st.integers(0, 2000), st.integers(0, 60_000), st.just(512))
SHIFTS = st.one_of(st.integers(-STOP_LAG, STOP_LAG), st.integers(-10 * RATE, 2 * RATE))


@settings(max_examples=150, deadline=None)
@given(
    preroll=st.integers(0, LONGEST_PREROLL),
    warm=st.sampled_from((0, 700, 9 * RATE, 40 * RATE)),
    steps=st.lists(
        st.tuples(SIZES, st.lists(st.tuples(st.sampled_from(("start", "stop")), SHIFTS), max_size=3)), max_size=25
    ),
)
def test_no_sample_is_lost_or_doubled(preroll: int, warm: int, steps: list[tuple[int, list[tuple[str, int]]]]):
    """Any blocks; any starts and stops, past or future, several in a block."""
    bench = Bench(Recorder(preroll))
    bench.hear(warm)
    recorder = bench.recorder
    firsts: dict[int, int] = {}
    ends: dict[int, tuple[int, int]] = {}
    running = 0
    for size, notes in steps:
        for what, shift in notes:
            at = recorder.now + shift
            if running and running not in ends:
                # By a stop it ends where that says, by another start it ends now.
                ends[running] = (recorder.now if what == "start" else at, recorder.now)
            if what == "start":
                running = len(firsts) + 1
                firsts[running] = max(at, recorder.oldest)
                recorder.start(running, at)
            else:
                recorder.stop(at)
        bench.hear(size)
    known = dict(ends)
    bench.chunks.extend(recorder.flush())
    for number, wanted in firsts.items():
        first, end, ended = bench.take(number)
        assert ended
        assert first == wanted
        if number not in known:
            assert end == max(recorder.now, first)
        elif known[number][0] >= known[number][1] - STOP_LAG:
            assert end == max(min(known[number][0], max(recorder.now, first)), first)
        else:
            # An end further back than the lag: what was handed on by then stays in, nothing beyond it.
            asked, now = known[number]
            assert max(asked, first) <= end <= max(now - STOP_LAG, first)
    assert {chunk.number for chunk in bench.chunks} == set(firsts)


def test_the_boxs_own_sound_is_beside_the_microphone_from_the_preroll_on():
    recorder = Recorder()
    chunks: list[Chunk] = []
    for at in range(0, 6 * RATE, 512):
        if at == 4 * RATE // 512 * 512:
            recorder.start(1, 2 * RATE, 2)
        if at == 5 * RATE // 512 * 512:
            recorder.stop(5 * RATE)
            recorder.start(2, 5 * RATE)
        chunks += recorder.process(mic(at, at + 512), -mic(at, at + 512))
    first = np.concatenate([chunk.samples for chunk in chunks if chunk.number == 1])
    assert np.array_equal(first, np.column_stack((mic(2 * RATE, 5 * RATE), -mic(2 * RATE, 5 * RATE))))
    second = np.concatenate([chunk.samples for chunk in chunks if chunk.number == 2])
    assert np.array_equal(second, mic(5 * RATE, 5 * RATE + len(second)))


def test_a_take_of_two_channels_that_ends_before_it_begins_has_two_empty_ones():
    recorder = Recorder()
    recorder.start(1, 5 * RATE, 2)
    recorder.stop(1)
    chunks = recorder.process(mic(0, 512)) + recorder.flush()
    assert [chunk.samples.shape for chunk in chunks] == [(0, 2)]
    assert chunks[-1].last


def test_without_own_sound_the_second_channel_is_silent():
    recorder = Recorder()
    recorder.start(1, 0, 2)
    recorder.process(mic(0, 512))
    (chunk,) = recorder.flush()
    assert np.array_equal(chunk.samples[:, 0], mic(0, 512))
    assert not chunk.samples[:, 1].any()
