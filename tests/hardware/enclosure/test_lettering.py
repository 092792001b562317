"""Engraved words: every letter has a form, stays in its line, and is centred."""

from __future__ import annotations

from itertools import chain

import pytest

from hardware.board.table import own_board
from hardware.enclosure.lettering import lines_of, width_of
from hardware.enclosure.panels import NAMES

WORDS = [*NAMES.values(), *(key for key, _ in own_board().keys.pins), "Keelnote", "Left", "9"]


@pytest.mark.parametrize("word", WORDS)
def test_a_word_is_centred_and_as_high_as_asked(word: str) -> None:
    points = list(chain(*lines_of(word, (50.0, 20.0), 4.0)))
    left, right = min(x for x, _ in points), max(x for x, _ in points)
    assert left >= 50.0 - width_of(word, 4.0) / 2 - 1e-9
    assert right <= 50.0 + width_of(word, 4.0) / 2 + 1e-9
    assert right - left > 0.55 * width_of(word, 4.0)
    assert max(y for _, y in points) <= 22.9
    assert min(y for _, y in points) >= 17.0 - 0.25 * 4.0 - 1e-9  # under the line hangs only the tail of a y


def test_twice_as_high_is_twice_as_wide() -> None:
    assert width_of("Drone", 8.0) == pytest.approx(2 * width_of("Drone", 4.0))


def test_a_letter_without_a_form_is_an_error() -> None:
    with pytest.raises(KeyError, match="Ж"):
        lines_of("Ж", (0.0, 0.0), 4.0)
