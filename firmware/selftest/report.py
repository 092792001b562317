"""What the self-test found and measured, as text for report.txt and a terminal."""

from __future__ import annotations

from collections.abc import Iterator

from firmware.selftest.ask import Do
from firmware.selftest.signals import BusScanned, KeyboardsFound, SoundRecorded, StickMeasured, SupplyRead
from firmware.selftest.sound_figures import hear_test
from firmware.selftest.step import Done
from firmware.selftest.steps import STEPS
from firmware.selftest.walk import Walk

Facts = tuple[tuple[str, str], ...]
"""What is said of the box itself: (name, value). Never a serial number or a network address."""


def report_lines(walk: Walk, facts: Facts = ()) -> tuple[str, ...]:
    """The whole report, line by line."""
    lines = ["Self-test", *(f"  {name}: {value}" for name, value in facts), "", *verdict_lines(walk), ""]
    measured = tuple(_measured(walk.done))
    return (*lines, *(("Measured", *(f"  {line}" for line in measured)) if measured else ()))


def verdict_lines(walk: Walk) -> tuple[str, ...]:
    """Each fault with what to do about it, or that there is none."""
    left_out = [step.title for step in STEPS if step.name not in walk.names]
    skipped = (f"Left out: {', '.join(left_out)}.",) if left_out else ()
    if not walk.findings:
        return (*skipped, "Nothing is wrong.")
    count = len(walk.findings)
    heading = "1 thing is wrong:" if count == 1 else f"{count} things are wrong:"
    return (*skipped, heading, *(f"  {number}. {one.sentence}" for number, one in enumerate(walk.findings, start=1)))


def _measured(done: Done) -> Iterator[str]:
    for event in (event for one in done for event in one.events):
        if isinstance(event, BusScanned) and event.frame_seconds is not None:
            yield f"picture on the screen: {1000 * event.frame_seconds:.0f} ms"
        elif isinstance(event, StickMeasured) and event.bytes_per_second:
            yield f"stick: {event.bytes_per_second / 1e6:.1f} MB/s, longest piece {event.longest_seconds:.2f} s"
        elif isinstance(event, SoundRecorded) and not event.error:
            yield from _sound(event)
        elif isinstance(event, SupplyRead) and event.celsius is not None:
            yield f"processor: {event.celsius:.0f} C"
        elif isinstance(event, KeyboardsFound):
            why = f" ({event.trouble})" if event.trouble else ""
            yield f"MIDI keyboards: {', '.join(event.names) or 'none'}{why}"


def _sound(event: SoundRecorded) -> Iterator[str]:
    heard = hear_test(event.mic, event.own)
    yield f"microphone in silence: {heard.floor_db:.0f} dB re full scale, A-weighted; peak {heard.peak:.3f}"
    room = heard.room
    if room is not None:
        yield f"level {room.level_db:.1f} dB, delay {1000 * room.delay / room.rate:.1f} ms"
        yield f"distortion {room.distortion_db:.0f} dB, clocks {room.clock_ppm:.1f} ppm apart"


def asked_of(done: Done) -> tuple[tuple[str, Do, str], ...]:
    """What was asked of the builder: step, what to do, and the text; what the hardware did alone is left out."""
    return tuple((one.ask.step, one.ask.do, one.ask.text) for one in done if one.ask.text)
