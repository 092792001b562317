"""Replay: what is fed is heard, once, in order; what is missing is silence, and counted."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firmware.sound.replay import EDGE_SECONDS, STOP_SECONDS, STORE_SECONDS, Replay, Store
from firmware.units import Samples

RATE = 48_000
EDGE = round(EDGE_SECONDS * RATE)
STOP = round(STOP_SECONDS * RATE)
SIZE = round(STORE_SECONDS * RATE)


def take(count: int, seed: int = 1) -> Samples:
    return np.random.default_rng(seed).uniform(-0.9, 0.9, count).astype(np.float32)


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 300), st.integers(0, 300)), max_size=30))
def test_the_store_loses_and_doubles_nothing(steps: list[tuple[int, int]]):
    store, source = Store(1, 256), take(20_000)
    put, out = 0, []
    for more, want in steps:
        room = store.room()
        accepted = store.put(source[put : put + more], last=False)
        assert accepted == min(more, room)
        put += accepted
        out.append(store.take(want))
    out.append(store.take(256))
    assert np.array_equal(np.concatenate(out), source[:put])


def test_samples_that_are_no_numbers_or_far_too_large_are_tamed():
    store = Store(1, 16)
    store.put(np.array([math.nan, math.inf, -math.inf, 1e30, 0.5], np.float32), last=True)
    assert store.take(16).tolist() == [0.0, 1.0, -1.0, 4.0, 0.5]


def test_a_take_is_heard_whole_then_done():
    replay, source = Replay(RATE), take(5000)
    assert replay.feed(7, source, last=True) == 5000
    assert replay.feed(7, source, last=True) == 0
    heard = np.concatenate([replay.sound(7, 1.0, at, 512) for at in range(0, 6144, 512)])
    assert np.array_equal(heard[EDGE:5000], source[EDGE:])
    assert np.abs(heard[:5]).max() < 0.01
    assert replay.done(7)
    assert not replay.done(8)
    assert replay.missing == 0
    assert not heard[5000 + EDGE :].any()


def test_the_end_is_rounded_not_cut():
    replay = Replay(RATE)
    replay.feed(1, np.full(1000, 0.5, np.float32), last=True)
    heard = np.concatenate([replay.sound(1, 1.0, at, 100) for at in range(0, 2000, 100)])
    assert np.abs(np.diff(heard)).max() < 0.5 * 2 / EDGE


def test_a_feed_that_comes_late_is_silence_and_counted_and_has_no_steps():
    replay = Replay(RATE)
    assert replay.sound(1, 1.0, 0, 512) is None
    replay.feed(1, np.full(700, 0.5, np.float32), last=False)
    parts = [replay.sound(1, 1.0, 0, 512), replay.sound(1, 1.0, 512, 512)]
    assert replay.missing == 324
    replay.feed(1, np.full(600, 0.5, np.float32), last=True)
    parts += [replay.sound(1, 1.0, 1024, 512), replay.sound(1, 1.0, 1536, 512)]
    heard = np.concatenate(parts)
    assert np.abs(np.diff(heard)).max() < 0.5 * 2 / EDGE
    assert not heard[700 + EDGE : 1024].any()
    assert replay.missing == 324


def test_nothing_is_heard_before_it_is_wanted_or_with_another_token():
    replay = Replay(RATE)
    replay.feed(3, take(2000), last=False)
    assert replay.sound(None, 1.0, 0, 512) is None
    assert replay.sound(4, 1.0, 512, 512) is None
    assert replay.sound(3, 1.0, 1024, 512) is not None


def test_stopping_fades_out():
    replay = Replay(RATE)
    replay.feed(1, np.full(20_000, 0.5, np.float32), last=False)
    replay.sound(1, 1.0, 0, 2048)
    heard = replay.sound(None, 1.0, 2048, 2048)
    assert heard[0] == pytest.approx(0.5)
    assert heard[STOP // 2] == pytest.approx(0.25, abs=0.01)
    assert not heard[STOP:].any()
    assert np.abs(np.diff(heard)).max() < 0.5 * 2 / STOP
    assert replay.sound(None, 1.0, 4096, 512) is None


def test_a_new_take_comes_in_while_the_old_one_fades():
    replay = Replay(RATE)
    replay.feed(1, np.full(20_000, 0.5, np.float32), last=False)
    replay.sound(1, 1.0, 0, 2048)
    replay.feed(2, np.full(20_000, -0.25, np.float32), last=False)
    heard = replay.sound(2, 1.0, 2048, 2048)
    assert heard[0] == pytest.approx(0.5, abs=0.01)
    assert heard[STOP:] == pytest.approx(np.full(2048 - STOP, -0.25))
    assert np.abs(np.diff(heard)).max() < 0.5 * 2 / STOP + 0.25 * 2 / EDGE
    assert replay.missing == 0


def test_takes_that_follow_each_other_too_fast_do_not_pile_up():
    replay = Replay(RATE)
    for token in range(40):
        replay.feed(token, np.full(4000, 0.1, np.float32), last=False)
        replay.sound(token, 1.0, token * 32, 32)
    assert len(replay._leaving) <= 6


def test_room_is_what_the_replay_that_sounds_has_left():
    replay = Replay(RATE)
    assert replay.room(1) == SIZE
    assert replay.feed(1, take(SIZE + 5), last=False) == SIZE
    assert replay.room(1) == 0
    assert replay.room(2) == SIZE, "a new replay is never kept waiting by an old one"
    assert replay.room(None) == SIZE
    replay.sound(1, 1.0, 0, 512)
    assert replay.room(1) == 512


def test_level_follows_the_snapshot():
    replay = Replay(RATE)
    replay.feed(1, np.full(20_000, 0.5, np.float32), last=False)
    replay.sound(1, 1.0, 0, 2048)
    assert replay.sound(1, 0.5, 2048, 2048)[-1] == pytest.approx(0.25)


def test_a_take_without_samples_ends_at_once():
    replay = Replay(RATE)
    replay.feed(1, np.zeros(0, np.float32), last=True)
    replay.sound(1, 1.0, 0, 512)
    assert replay.done(1)
    assert replay.missing == 0
