"""notes.csv and timing.csv of a take anew, from its sound and the log that lies beside it."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from itertools import chain, repeat
from pathlib import Path
from typing import Final

import numpy as np

from firmware.errors import BadFileError
from firmware.events import Event, HarmonyChanged
from firmware.heard_again import heard_again
from firmware.music.harmony import Harmony, tones_of
from firmware.sheet.log_lines import read_log
from firmware.sheet.notes_csv import header
from firmware.sheet.redo import judged_events, take_starts
from firmware.sheet.timing_csv import timing_header
from firmware.units import BLOCK, RATE, Samples, samples_of
from hardware.drivers.sound_file import SoundFile

LOG: Final = "log.jsonl"
LARGEST_LOG: Final = 64_000_000
TAIL_SECONDS: Final = 2
"""Silence after the end, so that the last onsets and bars become certain."""
NOTES: Final = "notes.csv"
TIMING_FILE: Final = "timing.csv"
HEADS: Final = {NOTES: header, TIMING_FILE: timing_header}


@dataclass(frozen=True, slots=True)
class Source:
    """What is heard: the microphone, what the box played beside it, and what happened meanwhile.

    `begun` is the sample of the rehearsal with which the file begins, and `own_at` the sample of `own` there.
    """

    file: Path
    own: Path | None
    begun: int
    own_at: int
    events: tuple[Event, ...]
    beside: bool
    """Whether the second channel of the file is what the box played."""


def source_of(file: Path, own: str | None, own_at: float | None, given: tuple[Event, ...]) -> Source:
    """Find out all about a take.

    Parameters
    ----------
    file : Path
        The take. With a log beside it, key, reading and pulse are those of that time.
    own : str or None
        A recording of what the box played; a take of two channels has it in the second.
    own_at : float or None
        Second of `own` with which the take begins; None means that of the log, so that `own` is a whole rehearsal.
    given : tuple of Event
        What holds from the beginning where there is no log.
    """
    records = _records(file.parent / LOG)
    begun = take_starts(records).get(file.name)
    if records and begun is None:
        known = ", ".join(take_starts(records)) or "none"
        raise BadFileError("take", str(file), f"a take of which {LOG} beside it tells (it tells of: {known})")
    with SoundFile(file) as sound:
        beside = begun is not None and own is None and sound.channels == 2
    first = samples_of(begun or 0.0)
    events = judged_events(records) if records else given
    start = first if own_at is None else samples_of(own_at)
    return Source(file, None if own is None else Path(own), first, start, events, beside)


def write_anew(source: Source, name: str, out: Path) -> int:
    """Write `name` (notes.csv or timing.csv) of a take to a file, and say how many lines stand in it."""
    told = heard_again(_blocks(source), source.events, source.begun)
    lines = [line for file, line in told if file == name]
    head = HEADS[name]()
    body = lines[1:] if lines else []
    try:
        out.write_text("\n".join([head, *body]) + "\n", encoding="utf-8")
    except OSError as error:
        raise BadFileError("output", str(out), "a file that can be written", str(error.strerror)) from error
    print(f"{out}: {len(body)} lines")
    if any(isinstance(event, HarmonyChanged) and event.sounding for event in source.events) and not (
        source.own or source.beside
    ):
        print(
            f"{source.file}: the drone sounded and is not beside the microphone; with --own it would be taken out",
            file=sys.stderr,
        )
    return len(body)


def _records(log: Path) -> tuple[dict[str, object] | None, ...]:
    try:
        if not log.is_file() or log.stat().st_size > LARGEST_LOG:
            return ()
        return tuple(read_log(log.read_text(encoding="utf-8", errors="replace")))
    except OSError:
        return ()


def _blocks(source: Source) -> Iterator[tuple[Samples, Samples]]:
    """Microphone and own sound of the same samples, and some silence at the end."""
    silence = np.zeros(BLOCK, np.float32)
    with ExitStack() as stack:
        mic = stack.enter_context(SoundFile(source.file, channel=0 if source.beside else None))
        played: Iterator[Samples] = iter(())
        if source.beside:
            played = stack.enter_context(SoundFile(source.file, channel=1)).blocks(BLOCK)
        elif source.own is not None:
            played = _from(stack.enter_context(SoundFile(source.own)), source.own_at)
        for block, beside in zip(mic.blocks(BLOCK), chain(played, repeat(silence)), strict=False):
            own = np.zeros(len(block), np.float32)
            own[: len(beside)] = beside[: len(block)]
            yield block, own
    for _ in range(TAIL_SECONDS * RATE // BLOCK):
        yield silence, silence


def _from(sound: SoundFile, first: int) -> Iterator[Samples]:
    """Blocks of a recording from a sample on."""
    waiting = np.zeros(0, np.float32)
    skip = first
    for block in sound.blocks(BLOCK):
        if skip >= len(block):
            skip -= len(block)
            continue
        waiting = np.concatenate([waiting, block[skip:]])
        skip = 0
        while len(waiting) >= BLOCK:
            yield waiting[:BLOCK]
            waiting = waiting[BLOCK:]
    if len(waiting):
        yield waiting


def harmony_event(harmony: Harmony) -> HarmonyChanged:
    """A key that holds from the beginning, with a drone that is silent."""
    return HarmonyChanged(0, harmony, tones_of(harmony), sounding=False)
