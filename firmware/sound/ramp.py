"""Gains that move without a kink: from where they are, at the speed they have, to a target in a given time."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from firmware.sound.phasors import product

Floats = NDArray[np.float64]


def plan(value: Floats, slope: Floats, bend: Floats, target: Floats) -> Floats:
    """Polynomial of fifth order from a state at time 0 to rest at a target at time 1.

    From rest this is 10t^3 - 15t^4 + 6t^5 of the way: a raised cosine in shape, but its curvature begins and ends at
    zero too, so it splashes less. From a state in motion it goes on with that motion, which keeps a gain free of kinks
    when targets change in every block. (Flash and Hogan 1985, "The coordination of arm movements", J. Neurosci. 5(7),
    derive it as the smoothest motion between two states.)

    Parameters
    ----------
    value, slope, bend : arrays of shape (n,)
        State at time 0; slope and bend are the first and second derivative by the normalised time.
    target : array of shape (n,)
        Where to come to rest.

    Returns
    -------
    array of shape (6, n)
        Coefficients, lowest order first.
    """
    way = target - value
    return np.stack(
        [
            value,
            slope,
            0.5 * bend,
            10.0 * way - 6.0 * slope - 1.5 * bend,
            -15.0 * way + 8.0 * slope + 1.5 * bend,
            6.0 * way - 3.0 * slope - 0.5 * bend,
        ]
    )


def polynomial(curve: NDArray[np.floating], time: Floats) -> Floats:
    """Value of a polynomial of fifth order (lowest order first, along the first axis) at some times."""
    result = curve[5] * time
    for order in (4, 3, 2, 1):
        result += curve[order]
        result *= time
    return np.asarray(result + curve[0])


def _times(position: int, count: int, start: int, length: int) -> Floats:
    """Normalised times of `count` samples from `position` on: 1 from the end of the ramp on."""
    return np.asarray(np.minimum(np.arange(position - start, position - start + count) / length, 1.0))


class Ramps:
    """Many gains, each at rest or under way to its target.

    Parameters
    ----------
    values : array of shape (n,)
        Gains at rest to begin with.
    """

    def __init__(self, values: Floats) -> None:
        self.target = np.array(values, dtype=np.float64)
        count = len(self.target)
        zeros = np.zeros(count)
        self._curve = plan(self.target, zeros, zeros, self.target)
        self._start = np.zeros(count, dtype=np.int64)
        self._length = np.ones(count, dtype=np.int64)
        self._end = np.full(count, -1, dtype=np.int64)

    def moving(self, position: int) -> NDArray[np.bool_]:
        """Which gains are still under way at a sample, shape (n,)."""
        return self._end > position

    def aim(self, target: Floats, position: int, length: int) -> None:
        """From `position` on, bring every gain to its new target within `length` samples (0: at once).

        Gains whose target stays the same go on as they are.
        """
        changed = target != self.target
        if not changed.any():
            return
        value, slope, bend = self._state(position)
        new = plan(value, slope * length, bend * length**2, target)
        self._curve = np.where(changed, new, self._curve)
        self._start = np.where(changed, position, self._start)
        self._length = np.where(changed, max(length, 1), self._length)
        self._end = np.where(changed, position + length, self._end)
        self.target = np.array(target, dtype=np.float64)

    def mixed(self, sounds: NDArray[np.float32], which: NDArray[np.intp], position: int) -> NDArray[np.float32]:
        """Sum of sounds, each times its gain.

        Gains that were aimed together share their time, so that their polynomials are summed before they are evaluated.

        Parameters
        ----------
        sounds : array of shape (len(which), n), float32
            Samples from `position` on.
        which : array of int
            Number of the gain of each sound.
        position : int
            Sample at which they begin.

        Returns
        -------
        array of shape (n,), float32
        """
        total = np.zeros(sounds.shape[1])
        begun = self._start[which] * 2**24 + self._length[which]  # one number for both; no ramp is 2^24 samples long
        for key in np.unique(begun):
            group = np.flatnonzero(begun == key)
            curve = product(self._curve[:, which[group]].astype(np.float32), sounds[group])
            first = which[group[0]]
            total += polynomial(curve, _times(position, sounds.shape[1], self._start[first], self._length[first]))
        return total.astype(np.float32)

    def curve(self, position: int, count: int) -> Floats:
        """The first gain at `count` samples from `position` on."""
        return polynomial(self._curve[:, 0], _times(position, count, self._start[0], self._length[0]))

    def keep(self, which: NDArray[np.intp]) -> None:
        """Forget all gains but these."""
        self.target = self.target[which]
        self._curve = self._curve[:, which]
        self._start, self._length, self._end = self._start[which], self._length[which], self._end[which]

    def extend(self, values: Floats) -> None:
        """Add gains at rest."""
        other = Ramps(values)
        self.target = np.concatenate([self.target, other.target])
        self._curve = np.concatenate([self._curve, other._curve], axis=1)
        self._start = np.concatenate([self._start, other._start])
        self._length = np.concatenate([self._length, other._length])
        self._end = np.concatenate([self._end, other._end])

    def _state(self, position: int) -> tuple[Floats, Floats, Floats]:
        """Value, slope per sample and bend per sample squared, each of shape (n,)."""
        moving = self.moving(position)
        time = np.where(moving, (position - self._start) / self._length, 1.0)
        c = self._curve
        value = polynomial(c, time)
        slope = c[1] + time * (2 * c[2] + time * (3 * c[3] + time * (4 * c[4] + time * 5 * c[5])))
        bend = 2 * c[2] + time * (6 * c[3] + time * (12 * c[4] + time * 20 * c[5]))
        length = self._length
        return (
            np.where(moving, value, self.target),
            np.where(moving, slope / length, 0.0),
            np.where(moving, bend / length**2, 0.0),
        )


class Fader:
    """One gain; cheap while it rests."""

    def __init__(self, value: float = 0.0) -> None:
        self._ramps = Ramps(np.array([value]))
        self._target = value
        self._end = -1

    @property
    def target(self) -> float:
        """Where it is or will come to rest."""
        return self._target

    def moving(self, position: int) -> bool:
        """Whether it is still under way at a sample."""
        return self._end > position

    def shut(self, position: int) -> bool:
        """Whether it rests at zero."""
        return self._target == 0.0 and not self.moving(position)

    def aim(self, target: float, position: int, length: int) -> None:
        """From `position` on, come to `target` within `length` samples; an equal target changes nothing."""
        if target != self._target:
            self._ramps.aim(np.array([target]), position, length)
            self._target = target
            self._end = position + length

    def apply(self, samples: NDArray[np.float32], position: int) -> None:
        """Multiply samples, the first of which is at `position`, in place."""
        if self.moving(position):
            samples *= self._ramps.curve(position, len(samples)).astype(np.float32)
        elif self._target != 1.0:
            samples *= np.float32(self._target)
