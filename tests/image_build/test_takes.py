"""What the full-system test compares takes with: a signal of which every sample is known."""

from __future__ import annotations

import numpy as np

from emulated.exact import microphone_signal
from emulated.takes import Piece, pieces

SIGNAL = microphone_signal(4.0)
WHOLE = SIGNAL.astype(np.int32) << 8


def test_a_part_of_the_signal_is_one_piece() -> None:
    assert pieces(WHOLE[1000:90_000], SIGNAL) == [Piece(0, 1000, 89_000)]


def test_a_missing_block_a_doubled_one_and_one_changed_sample_are_seen() -> None:
    assert len(pieces(np.delete(WHOLE, slice(50_000, 50_480)), SIGNAL)) == 2
    assert len(pieces(np.insert(WHOLE, 50_000, WHOLE[49_520:50_000]), SIGNAL)) == 2
    changed = WHOLE.copy()
    changed[70_000] += 1
    assert len(pieces(changed, SIGNAL)) == 2


def test_silence_is_not_the_signal() -> None:
    assert pieces(np.zeros(48_000, dtype=np.int32), SIGNAL) == []
