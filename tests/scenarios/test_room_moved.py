"""Somebody moves the microphone after the room check: the ear reads rightly or says that it can't."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from firmware.hearing.ear import Ear
from tests.speed import own, own_scenes

SHARE = 0.3
ALL_BUT = 0.8


@pytest.mark.parametrize(
    "seed", [0, 2, 7, *(pytest.param(seed, marks=pytest.mark.long) for seed in (1, 3, 4, 5, 6, 8, 9, 10, 11))]
)
def test_a_player_an_octave_over_the_root_is_not_read_as_the_root(seed: int) -> None:
    tally = own.Tally()
    place_and_case = own.KINDS["room moved, 30 % of the tail"](*(seed % 3, True))
    own.listen(tally, *place_and_case, own.offsets(12)[seed], seed)
    assert tally.asked > 15
    assert np.abs(tally.off).max(initial=0.0) < 2.0


@pytest.mark.parametrize(
    ("what", "share", "seed"),
    [
        ("replay", SHARE, 3),
        ("chords", SHARE, 3),
        # The room that was learned has a fade where this replay has a note.
        ("replay", ALL_BUT, 1),
        *(pytest.param("replay", share, seed, marks=pytest.mark.long) for share in (ALL_BUT, 1.0) for seed in range(5)),
    ],
)
def test_a_replay_and_chords_that_change_fast_are_no_players(what: str, share: float, seed: int) -> None:
    place, generator = own_scenes.tail_place(0.8, seed), np.random.default_rng(seed)
    if what == "replay":
        sound = np.concatenate([np.zeros(48_000), own_scenes.a_take(8.0, generator)]).astype(np.float32)
    else:
        roots = 116.54 * 2 ** (generator.integers(-5, 7, 8) / 12)
        sound = own_scenes.played(*((own_scenes.drone(root, 1.5 * root, 2 * root), 1.0) for root in roots))
    moved = replace(place, box=own_scenes.moved_on(place, own_scenes.tail_place(0.8, seed + 50), share))
    mic = moved.mic(sound, np.zeros(len(sound)), seed)[0]
    ear = Ear()
    ear.learn(replace(own_scenes.room_of(place, seed), since=0))
    readings = [one for _, (heard, played) in own_scenes.blocks_of(mic, sound) for one in ear.process(heard, played)]
    assert [one for one in readings if one.hz is not None] == []
    assert sum(one.why == "own sound" for one in readings) > 50
