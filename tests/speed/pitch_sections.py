"""Sections for the pitch figures: several players of one instrument on one note, each a little off with a vibrato."""

from __future__ import annotations

from typing import Any

import numpy as np
from scipy.signal import fftconvolve

from firmware.units import RATE
from tests.speed.pitch_ours import stream
from tests.speed.pitch_signals import LEVEL, pink

NOTES = (116.54, 311.13, 830.61)
SPREADS = (2.0, 5.0, 10.0, 20.0)
PLAYERS = (2, 4, 8)
SECONDS = 2.6
RT60 = 0.8


def players(hz: float, cents: np.ndarray, vibrato: float, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """Sound of the players, and the pitch of each at each sample in cents from `hz`.

    Their spectra are of one kind and scattered by 4 dB a partial, their levels by 2 dB; each has a vibrato of a third
    to the whole of `vibrato` cents at 4.5 to 6.5 Hz.
    """
    time = np.arange(int(SECONDS * RATE)) / RATE
    partials = np.arange(1, min(24, int(20_000 / hz)) + 1)
    law = partials ** -rng.uniform(0.7, 1.5)
    sound, tracks = np.zeros(len(time)), []
    for offset in cents:
        swing = vibrato * rng.uniform(1 / 3, 1)
        track = offset + swing * np.sin(2 * np.pi * rng.uniform(4.5, 6.5) * time + rng.uniform(0, 2 * np.pi))
        phase = 2 * np.pi * hz / RATE * np.cumsum(2 ** (track / 1200))
        levels = law * np.exp(rng.normal(0, 0.46, len(partials)))
        turns = rng.uniform(0, 2 * np.pi, len(partials))
        alone = sum(a * np.cos(k * phase + turn) for k, a, turn in zip(partials, levels, turns, strict=True))
        sound += alone / np.std(alone) * 10 ** (rng.normal(0, 2) / 20)
        tracks.append(track)
    return LEVEL * sound / sound.std(), np.array(tracks)


def in_room(sound: np.ndarray, rng: np.random.Generator, rt60: float) -> np.ndarray:
    """Half of the sound's energy straight, half through an exponentially falling room."""
    time = np.arange(int(1.2 * rt60 * RATE)) / RATE
    response = rng.standard_normal(len(time)) * 10 ** (-3 * time / rt60)
    response /= np.sqrt((response**2).sum())
    response[0] += 1.0
    return np.asarray(fftconvolve(sound, response)[: len(sound)] / np.sqrt(2))


def heard(sound: np.ndarray, hz: float, snr: float, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray, float]:
    """Cents and spreads of the readings told as a section in the last second, and the share of readings that are."""
    noisy = sound + LEVEL * 10 ** (-snr / 20) * pink(len(sound), rng)
    told = [one for at, one in stream(noisy) if at > (SECONDS - 1.0) * RATE and one.hz is not None]
    several = [one for one in told if one.spread is not None]
    cents = np.array([1200 * np.log2((one.hz or hz) / hz) for one in several])
    return cents, np.array([one.spread for one in several], dtype=float), len(several) / max(len(told), 1)


def sections(snr: float = 30.0) -> dict[str, dict[str, Any]]:
    """Per spread: how often a section is told as one, and how far its centre and spread are from the players'."""
    table = {}
    for spread in SPREADS:
        rng = np.random.default_rng(int(spread))
        centres, ratios, told = [], [], []
        for hz in NOTES:
            for count in PLAYERS:
                cents = rng.standard_normal(count)
                cents = (cents - cents.mean()) / cents.std() * spread
                sound, tracks = players(hz, cents, 8.0, rng)
                off, wide, share = heard(sound, hz, snr, rng)
                told.append(share)
                if len(off):
                    centres.append(abs(float(np.median(off)) - tracks.mean()))
                    ratios.append(float(np.median(wide)) / tracks.std())
        table[f"players {spread:g} cents apart"] = {
            "told_percent": round(100 * float(np.mean(told)), 1),
            "centre_median_cents": round(float(np.median(centres)), 2),
            "centre_p95_cents": round(float(np.quantile(centres, 0.95)), 2),
            "spread_to_true": [round(float(value), 2) for value in np.quantile(ratios, (0.05, 0.5, 0.95))],
        }
    return table


def one_player(snr: float = 30.0) -> dict[str, dict[str, float]]:
    """How often one player, steady or with vibrato, dry or in a room, is taken for a section: percent of readings."""
    table = {}
    for name, vibrato, rt60 in (
        ("steady", 0.0, 0.0),
        ("vibrato 20 cents", 20.0, 0.0),
        ("vibrato 35 cents", 35.0, 0.0),
        ("steady in a room", 0.0, RT60),
        ("vibrato 20 cents in a room", 20.0, RT60),
    ):
        rng = np.random.default_rng(7)
        told = []
        for hz in NOTES:
            for _ in range(2):
                sound, _ = players(hz, np.zeros(1), vibrato, rng)
                sound = in_room(sound, rng, rt60) if rt60 else sound
                told.append(heard(sound, hz, snr, rng)[2])
        table[f"one player, {name}"] = {"told_as_section_percent": round(100 * float(np.mean(told)), 1)}
    return table
