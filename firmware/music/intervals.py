"""Intervals as exact products of prime numbers with fractional exponents."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from fractions import Fraction

from firmware.errors import OutOfRangeError
from firmware.units import CENTS_PER_OCTAVE

LARGEST_TERM = 10**9
"""Terms of a ratio stop here: above it factors take long, and no interval of music needs them."""

_FORMS = "a ratio such as 5/4, or cents such as 386.31 cents"
# Digits are bounded because "1e99999999" as a fraction would take the machine down.
_NUMBER = re.compile(r"[-+]?[0-9]{1,12}(?:/[0-9]{1,12}|\.[0-9]{1,12})?")


@dataclass(frozen=True, slots=True)
class Interval:
    """A frequency ratio, exact: primes in rising order, each with the exponent it is raised to (never zero).

    A just fifth is ((2, -1), (3, 1)), an equal semitone ((2, 1/12),).
    """

    powers: tuple[tuple[int, Fraction], ...] = ()

    @classmethod
    def of(cls, value: Fraction | int | str) -> Interval:
        """Make an interval from a ratio, or from text: "5/4", "2", "386.31 cents"."""
        if isinstance(value, str):
            return _parsed(value)
        ratio = Fraction(value)
        if ratio <= 0 or max(ratio.numerator, ratio.denominator) > LARGEST_TERM:
            allowed = f"a ratio above zero with terms up to {LARGEST_TERM}"
            raise OutOfRangeError("interval", str(value), allowed)
        return cls(_factors(ratio.numerator)) / cls(_factors(ratio.denominator))

    @classmethod
    def of_cents(cls, cents: Fraction | int | str) -> Interval:
        """Make an interval from an exact number of cents (text is read as a decimal or a fraction)."""
        exact = _number(cents) if isinstance(cents, str) else Fraction(cents)
        return OCTAVE ** (exact / CENTS_PER_OCTAVE)

    def __mul__(self, other: Interval) -> Interval:
        """Stack another interval on this one."""
        if not self.powers or not other.powers:
            return self if self.powers else other
        exponents = dict(self.powers)
        for prime, exponent in other.powers:
            exponents[prime] = exponents.get(prime, Fraction(0)) + exponent
        return Interval(tuple(sorted((prime, power) for prime, power in exponents.items() if power)))

    def __truediv__(self, other: Interval) -> Interval:
        """Take another interval off this one."""
        return self * other**-1

    def __pow__(self, times: Fraction | int) -> Interval:
        """Stack this interval on itself, also a fraction of a time."""
        factor = Fraction(times)
        return Interval(tuple((prime, power * factor) for prime, power in self.powers) if factor else ())

    @property
    def fraction(self) -> Fraction | None:
        """The ratio as an exact fraction; None when it is irrational."""
        if any(power.denominator != 1 for _, power in self.powers):
            return None
        # Not math.prod: its result is typed as an int or a float.
        result = Fraction(1)
        for prime, power in self.powers:
            result *= Fraction(prime) ** power.numerator
        return result

    @property
    def ratio(self) -> float:
        """The ratio as a float, right to a few units in the last place.

        Whole octaves only change the exponent of the float, so that tones octaves apart are exactly octaves apart.
        """
        exact = self.fraction
        if exact is not None:
            return float(exact)
        powers = dict(self.powers)
        octaves = math.floor(powers.get(2, 0))
        powers[2] = powers.get(2, Fraction(0)) - octaves
        return math.ldexp(math.prod(math.pow(prime, power) for prime, power in sorted(powers.items())), octaves)

    @property
    def cents(self) -> float:
        """Size in cents, negative when it goes down."""
        return math.fsum(CENTS_PER_OCTAVE * float(power) * math.log2(prime) for prime, power in self.powers)

    @property
    def text(self) -> str:
        """Words that `Interval.of` reads back: a ratio, else cents for a part of an octave, else cents rounded."""
        exact = self.fraction
        if exact is not None:
            return str(exact)
        if all(prime == 2 for prime, _ in self.powers):
            return f"{self.powers[0][1] * CENTS_PER_OCTAVE} cents"
        return f"{self.cents:.6f} cents"

    def folded(self) -> Interval:
        """Return this interval moved by octaves until it is at least a unison and less than an octave."""
        exact = self.fraction
        if exact is None:
            return self / OCTAVE ** math.floor(self.cents / CENTS_PER_OCTAVE)
        octaves = math.floor(math.log2(exact))
        # log2 of a fraction next to a power of two may round across it.
        octaves += (exact >= Fraction(2) ** (octaves + 1)) - (exact < Fraction(2) ** octaves)
        return self / OCTAVE**octaves


UNISON = Interval()
OCTAVE = Interval(((2, Fraction(1)),))
SEMITONE = OCTAVE ** Fraction(1, 12)
"""The equal semitone, the twelfth root of two."""


def _factors(number: int) -> tuple[tuple[int, Fraction], ...]:
    found: list[tuple[int, Fraction]] = []
    prime = 2
    while prime * prime <= number:
        times = 0
        while number % prime == 0:
            number //= prime
            times += 1
        if times:
            found.append((prime, Fraction(times)))
        prime += 1
    if number > 1:
        found.append((number, Fraction(1)))
    return tuple(found)


def _parsed(text: str) -> Interval:
    words = text.strip()
    if words.endswith("cents"):
        return Interval.of_cents(words.removesuffix("cents"))
    return Interval.of(_number(words))


def _number(text: str) -> Fraction:
    words = text.strip()
    if not _NUMBER.fullmatch(words) or words.split("/")[-1].strip("0") == "" != words.strip("0"):
        raise OutOfRangeError("interval", text, _FORMS)
    return Fraction(words)
