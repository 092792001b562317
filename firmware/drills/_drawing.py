"""Chance from a seed: the same seed gives the same numbers on every machine."""

from __future__ import annotations

import hashlib
from typing import Final

_BITS: Final = 53


def drawn(seed: int, count: int) -> tuple[float, ...]:
    """Numbers evenly spread from 0 to below 1, shape (count,)."""
    return tuple(_number(f"{seed} {place}") for place in range(count))


def _number(text: str) -> float:
    digest = hashlib.blake2b(text.encode(), digest_size=8).digest()
    return (int.from_bytes(digest, "big") >> (64 - _BITS)) / 2.0**_BITS


def away(chance: float, least: float, most: float) -> float:
    """A distance from `least` to `most` on either side of 0, by one number of chance; to a tenth."""
    side, within = (1.0, 2.0 * chance) if chance < 0.5 else (-1.0, 2.0 * chance - 1.0)
    return side * round(least + within * (most - least), 1)
