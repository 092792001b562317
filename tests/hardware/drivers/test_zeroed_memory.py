"""New memory of C libraries is zero while it matters."""

from __future__ import annotations

import ctypes

import pytest

from hardware.drivers.zeroed_memory import zeroed_memory

SIZES = tuple(range(2000, 60_000, 1000))  # glibc keeps smaller ones apart, and a card's buffer is over 8000 bytes


def dirty_blocks(libc: ctypes.CDLL) -> int:
    """Allocate blocks of many sizes from a heap full of old content; how many are not all zero."""
    libc.malloc.restype = ctypes.c_void_p
    libc.free.argtypes = [ctypes.c_void_p]
    dirty = 0
    old = [libc.malloc(size) for size in SIZES for _ in range(2)]
    for place, size in zip(old, (size for size in SIZES for _ in range(2)), strict=True):
        ctypes.memset(place, 0x7F, size)
    for place in old[::2]:
        libc.free(place)
    new = [libc.malloc(size) for size in SIZES]
    for place, size in zip(new, SIZES, strict=True):
        dirty += any(ctypes.string_at(place, size))
    for place in (*old[1::2], *new):
        libc.free(place)
    return dirty


def test_memory_is_zero_inside_and_only_there():
    libc = ctypes.CDLL(None)
    assert dirty_blocks(libc) > 0
    with zeroed_memory() as can:
        assert can
        assert dirty_blocks(libc) == 0
    assert dirty_blocks(libc) > 0


def test_another_c_library_changes_nothing(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(ctypes, "CDLL", lambda _: object())
    with zeroed_memory() as can:
        assert not can
