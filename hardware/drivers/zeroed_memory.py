"""Lets C libraries find zeros in new memory: ALSA's plugins play theirs before the first block, whatever is in it."""

from __future__ import annotations

import ctypes
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

M_PERTURB: Final = -6
"""From glibc's malloc.h: new memory is filled with the complement of the value, freed memory with the value."""

ALL_ONES: Final = 0xFF
"""Its complement is zero."""


@contextmanager
def zeroed_memory() -> Iterator[bool]:
    """While it lasts, malloc gives zeros from 1 kB up; yields whether the C library can do that (glibc can).

    Without it, opening a card through a sound server played single samples at full scale for 53 ms: pieces of the heap.
    """
    try:
        mallopt = ctypes.CDLL(None).mallopt
    except (AttributeError, OSError, TypeError):  # another C library, which has no such switch
        yield False
        return
    mallopt(M_PERTURB, ALL_ONES)
    try:
        yield True
    finally:
        mallopt(M_PERTURB, 0)
