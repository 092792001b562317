"""The room check: learns the way from own sound to the microphone from a test signal that is played twice."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from firmware.errors import BadFileError
from firmware.hearing.exposure import FLOOR_DB, level_of
from firmware.hearing.filters import Signal, numbers
from firmware.hearing.hum import find_hum
from firmware.hearing.level import FULL_SCALE
from firmware.hearing.room import Room
from firmware.hearing.room_clock import GREATEST_PPM, on_other_clock, shift_between
from firmware.hearing.room_tail import CENTRES_HZ, clean_octave
from firmware.hearing.weighting import a_weighting
from firmware.units import Samples, db_of

BAND_HZ: Final = (18.0, 19_000.0)
"""Where the test signal has its whole strength; outside nothing can be learned."""

TAIL_SECONDS: Final = 1.2
LEAD_SECONDS: Final = 0.12
"""What is kept of the answer after own sound and, for rings of the lowest octave, before it."""

SILENCE: Final = 1e-3
"""Own sound under this share of its peak has not begun."""

LEAST_FLOOR_SECONDS: Final = 0.2
MOST_FLOOR_SECONDS: Final = 1.0

CLEAR: Final = 6.0
"""The greatest sample of the answer must be so many times the noise in it."""

DISTORTION_SECONDS: Final = (-0.4, -0.12)
"""Where, against the direct sound, the answers of the second to the fifth harmonic lie."""


class RoomCheckError(BadFileError):
    """A recording from which nothing about the room can be learned."""

    message = "room-check-failed"


@dataclass(frozen=True, slots=True)
class _Test:
    """The test signal in own sound: where it begins and its period, in samples."""

    start: int
    period: int


def find_test(own: Signal, rate: int) -> _Test:
    """Find a signal of pink or white spectrum that is played twice in a row.

    Raises
    ------
    RoomCheckError
        If there is none.
    """
    peak = float(np.abs(own).max(initial=0.0))
    loud = np.flatnonzero(np.abs(own) > SILENCE * peak)
    allowed = "it must hold the test signal, which is one sweep played twice"
    if peak == 0.0 or loud[-1] - loud[0] < rate:
        raise RoomCheckError("own sound", "nothing or too little", allowed)
    start = int(loud[0])
    period = _period(own[start : loud[-1] + 1], rate)
    first, second = own[start : start + period], own[start + period : start + 2 * period]
    same = min(len(first), len(second))
    differ = float(np.sum((first[:same] - second[:same]) ** 2))
    # A steady drone repeats itself too, but it does not hold all octaves.
    power = np.abs(np.fft.rfft(first)) ** 2
    hz = np.fft.rfftfreq(len(first), 1.0 / rate)
    shares = [power[(hz >= c / math.sqrt(2)) & (hz < c * math.sqrt(2))].sum() for c in CENTRES_HZ[1:-1]]
    if differ > 1e-3 * float(np.sum(first**2)) or min(shares) < 0.01 * power.sum():
        raise RoomCheckError("own sound", "no sweep played twice", allowed)
    return _Test(start, period)


def _period(sound: Signal, rate: int) -> int:
    size = 2 ** math.ceil(math.log2(2 * len(sound)))
    around = np.fft.irfft(np.abs(np.fft.rfft(sound, size)) ** 2, size)
    least = rate // 2
    most = min(len(sound), 4 * rate)
    return least + int(np.argmax(around[least:most]))


def learn_room(mic: Samples, own: Samples, rate: int) -> Room:
    """Learn the way from own sound to the microphone.

    Parameters
    ----------
    mic : array of shape (n,)
        Microphone; at least a second of it should follow the test signal, and some silence should precede it.
    own : array of shape (m,)
        What the box played, on its clock, with the test signal of `firmware.sound.sweep` in it.
    rate : int
        Samples per second.

    Returns
    -------
    Room

    Raises
    ------
    RoomCheckError
        If own sound holds no test signal, or it can't be heard at the microphone.

    Notes
    -----
    The spectrum of the microphone is divided by that of one sweep; own sound is known exactly, so this is the least
    squares solution. Two copies of the impulse response appear, one period apart. By how much they are shifted against
    a whole period is the offset of the clocks, whatever the room is like; half their difference is a sample of the
    noise in their mean, which is then cleaned octave by octave (`firmware.hearing.room_tail`).
    """
    played = np.asarray(own, dtype=np.float64)
    heard = numbers(mic)
    test = find_test(played, rate)
    sweep = played[test.start : test.start + test.period]
    taken = heard[test.start : test.start + 2 * test.period + round((TAIL_SECONDS + LEAD_SECONDS) * rate)]
    if len(taken) < 2 * test.period:
        raise RoomCheckError("microphone", f"{len(heard) / rate:.1f} s", "it must be as long as the test signal")
    answers = _Answers(sweep, taken, rate)
    _must_be_heard(answers)
    ppm, sd = answers.clock()
    if abs(ppm) > max(0.1, 3 * sd):
        taken = on_other_clock(taken, ppm)
        answers = _Answers(sweep, taken, rate)
        more, sd = answers.clock()
        ppm += more
    arrival = answers.arrival()
    octaves = [clean_octave(answers.mean, answers.noise, k, arrival, rate) for k in range(len(CENTRES_HZ))]
    impulse = np.sum([octave.kept for octave in octaves], axis=0)
    floor = heard[max(0, test.start - round(MOST_FLOOR_SECONDS * rate)) : test.start]
    floor_db, floor_a_db = _floor(floor, rate)
    hum = find_hum(floor, rate) if len(floor) >= MOST_FLOOR_SECONDS * rate else None
    decays = [octave.rt60 for octave in octaves[3:7] if octave.rt60 is not None]
    return Room(
        rate=rate,
        impulse=_fixed(impulse),
        lead=answers.lead,
        since=test.start,
        error_hz=_fixed(np.array(CENTRES_HZ)),
        error_density=_fixed(np.array([octave.error for octave in octaves])),
        delay=_peak_place(answers.mean, arrival) - answers.lead,
        level_db=_pink_gain(impulse, rate),
        rt60=float(np.median(decays)) if decays else None,
        floor_db=floor_db,
        floor_a_db=floor_a_db,
        hum_hz=hum.mains_hz if hum else 0.0,
        hum_db=hum.level_db if hum else FLOOR_DB,
        clock_ppm=ppm,
        clock_sd_ppm=sd,
        distortion_db=answers.distortion(arrival),
        clipped=bool(np.abs(heard).max(initial=0.0) >= FULL_SCALE),
    )


class _Answers:
    """Both impulse responses of a recording, from `lead` samples before own sound on."""

    def __init__(self, sweep: Signal, taken: Signal, rate: int) -> None:
        self.rate = rate
        self.period = len(sweep)
        self.lead = round(LEAD_SECONDS * rate)
        size = 2 ** math.ceil(math.log2(len(taken) + len(sweep)))
        hz: Signal = np.fft.rfftfreq(size, 1.0 / rate).astype(np.float64)
        spectrum = np.fft.rfft(sweep, size)
        spectrum[np.abs(spectrum) < 1e-9] = 1e-9
        self._all = np.fft.irfft(np.fft.rfft(taken, size) / spectrum * _band(hz, rate), size)
        self.first = self._cut(0)
        self.second = self._cut(self.period)
        self.mean = (self.first + self.second) / 2
        self.noise = (self.first - self.second) / 2

    def _cut(self, start: int) -> Signal:
        begin = start - self.lead
        return np.roll(self._all, -begin)[: self.lead + round(TAIL_SECONDS * self.rate)]

    def clock(self) -> tuple[float, float]:
        """Offset of the clocks and its standard error, in parts in a million."""
        shift, error = shift_between(self.first, self.second, GREATEST_PPM * 1e-6 * self.period)
        return shift / self.period * 1e6, error / self.period * 1e6

    def arrival(self) -> int:
        """Where the direct sound is in `mean`: the first sample of at least half the greatest size."""
        size = np.abs(self.mean)
        return int(np.argmax(size >= 0.5 * size.max()))

    def distortion(self, arrival: int) -> float:
        """Energy of the harmonics' answers against the linear one, in dB; what noise hides counts as noise."""
        begin, end = (arrival - self.lead + round(s * self.rate) for s in DISTORTION_SECONDS)
        early = self._all[np.arange(begin, end)]
        noise = 2 * float(np.mean(self.noise**2))
        energy = max(float(np.mean(early**2)) - noise, 0.0) * len(early)
        least = noise * math.sqrt(2 * len(early))
        return 10.0 * math.log10(max(energy, least, 1e-30) / float(np.sum(self.mean**2)))


def _must_be_heard(answers: _Answers) -> None:
    noise = float(np.sqrt(np.mean(answers.noise**2)))
    peak = float(np.abs(answers.mean).max())
    # With clocks apart the copies differ by more than noise, but each still has its peak.
    if peak == 0.0 or peak < CLEAR * min(noise, float(np.median(np.abs(answers.first)) * 1.5)):
        raise RoomCheckError(
            "microphone", "test signal not heard", "the test signal must stand out of the noise", "Turn the PA up."
        )


def _band(hz: Signal, rate: int) -> Signal:
    """1 where the test signal is strong, with soft ends."""
    low, high = BAND_HZ[0], min(BAND_HZ[1], 0.4 * rate)
    up = np.clip((hz - 0.7 * low) / (0.3 * low), 0.0, 1.0)
    down = np.clip((1.05 * high - hz) / (0.05 * high), 0.0, 1.0)
    return np.asarray((0.5 - 0.5 * np.cos(np.pi * up)) * (0.5 - 0.5 * np.cos(np.pi * down)))


def _fixed(values: Signal) -> Signal:
    fixed = np.ascontiguousarray(values, dtype=np.float64)
    fixed.flags.writeable = False
    return fixed


def _floor(silence: Signal, rate: int) -> tuple[float, float]:
    """RMS of the microphone in silence, plain and A-weighted, in dB re full scale."""
    if len(silence) < LEAST_FLOOR_SECONDS * rate:
        return FLOOR_DB, FLOOR_DB
    weighted = a_weighting(rate).process(silence)[round(0.05 * rate) :]
    return max(FLOOR_DB, db_of(float(np.std(silence)))), level_of(float(np.mean(weighted**2)))


def _peak_place(answer: Signal, arrival: int) -> float:
    """Place of the direct sound to a fraction of a sample, by a parabola through its peak."""
    size = np.abs(answer)
    top = arrival
    while top + 1 < len(size) - 1 and size[top + 1] > size[top]:
        top += 1
    if not 0 < top < len(size) - 1:
        return float(top)
    before, here, after = size[top - 1], size[top], size[top + 1]
    bend = before - 2 * here + after
    return top + (0.5 * float((before - after) / bend) if bend < 0 else 0.0)


def _pink_gain(impulse: Signal, rate: int) -> float:
    """Gain for pink sound from 50 to 5000 Hz: mean squared response over equal ratios of frequency."""
    size = 2 ** math.ceil(math.log2(len(impulse)))
    power = np.abs(np.fft.rfft(impulse, size)) ** 2
    hz = np.fft.rfftfreq(size, 1.0 / rate)
    inside = (hz >= 50.0) & (hz <= 5000.0)
    weight = 1.0 / hz[inside]
    return level_of(float(np.sum(power[inside] * weight) / np.sum(weight)))
