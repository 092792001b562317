"""Notes in what is left when the lines of an answer are out."""

from __future__ import annotations

import numpy as np
import pytest

from firmware.hearing.answer_lines import lines_of
from firmware.hearing.answer_partials import look
from firmware.hearing.answer_rest import LENGTH, Rest, believed, clear, read_rest, rest_of, same
from firmware.hearing.filters import Fir, whitener
from firmware.hearing.pitch import LENGTHS

RATE, TARGET = 12_000.0, 233.08
TIME = np.arange(2 * LENGTHS[-1]) / RATE


def tone(hz: float, level: float = 0.03, partials: int = 8) -> np.ndarray:
    """A player."""
    return np.asarray(
        sum(level / n**0.5 * np.cos(2 * np.pi * n * hz * TIME + n * n) for n in range(1, partials + 1)),
    )


def answer(level: float = 0.05) -> np.ndarray:
    """The answer to the target."""
    return np.asarray(sum(level * np.cos(2 * np.pi * hz * TIME) for hz in lines_of(TARGET, "same")))


def heard(sound: np.ndarray, lines: np.ndarray) -> Rest:
    sound = sound + 1e-4 * np.random.default_rng(1).standard_normal(len(sound))
    return rest_of(sound, Fir(whitener()).process(sound), lines, RATE)


@pytest.mark.parametrize("ratio", [9 / 8, 5 / 4, 2 ** (1 / 12)])
def test_another_note_is_read_through_a_louder_answer(ratio: float) -> None:
    rest = heard(answer() + tone(TARGET * ratio), lines_of(TARGET, "same"))
    assert rest.taken > 2 * rest.left
    pitch = read_rest(rest, 0.0, RATE, None)
    assert pitch is not None
    assert same(pitch.hz, TARGET * ratio)
    assert not same(pitch.hz, TARGET * ratio * 2 ** (1 / 12))


def test_an_answer_alone_leaves_nothing_to_read_nor_does_a_loud_drone_let_it() -> None:
    lines = lines_of(TARGET, "same")
    assert read_rest(heard(answer(), lines), 0.0, RATE, None) is None
    soft = heard(tone(TARGET * 9 / 8, 0.003), lines)
    assert read_rest(soft, 0.0, RATE, None) is not None
    assert read_rest(soft, 0.01, RATE, None) is None


def test_free_partials_are_believed_when_they_are_most_of_what_is_left() -> None:
    lines = lines_of(TARGET, "same")
    alone, beside = tone(TARGET), tone(TARGET) + tone(TARGET * 1.6, 0.09)
    for sound, right in ((alone, True), (beside, False)):
        looks = look(sound, TARGET, lines, np.zeros(0), RATE)
        assert looks is not None
        rest = heard(sound + answer(), lines)
        assert (believed(looks, rest) is not None) == right
        assert clear(looks, rest) or not right


def test_what_is_taken_out_and_what_is_left_are_all_there_was() -> None:
    sound = answer() + tone(TARGET * 1.3)
    rest = heard(sound, lines_of(TARGET, "same"))
    assert rest.left + rest.taken == pytest.approx(float(np.mean(sound[-LENGTH:] ** 2)), rel=0.01)
