"""Where a passage has come to."""

from __future__ import annotations

from firmware.passage import Passage, take_path


def test_a_passage_goes_on_from_its_first_sample_at_its_speed() -> None:
    assert Passage(100).place(50) == 150
    assert Passage(100, 0.5).place(50) == 125
    assert not Passage(100).looped


def test_a_loop_comes_back() -> None:
    loop = Passage(15, 1.0, 10, 20)
    assert [loop.place(played) for played in (0, 4, 5, 14, 15)] == [15, 19, 10, 19, 10]
    assert Passage(15, 0.5, 10, 20).place(10) == 10
    assert loop.looped


def test_takes_have_numbers_of_two_figures() -> None:
    assert take_path("rehearsals/0001", 3) == "rehearsals/0001/take-03.flac"
