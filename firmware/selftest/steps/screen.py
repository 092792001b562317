"""The screen: who answers on its bus and how fast, and what the builder sees."""

from __future__ import annotations

from typing import Final

from firmware.selftest.ask import Ask, Do
from firmware.selftest.bench import Bench
from firmware.selftest.finding import Finding, found
from firmware.selftest.signals import BusScanned
from firmware.selftest.step import Done, Step, answer_of, of, question, unanswered

NAME: Final = "screen"

SEEN: Final = ("arrow up, rim whole", "arrow down", "shifted, or snow", "all dark")
LIT: Final = ("every dot is lit", "lines or dots are dark")

SCREENS: Final = (0x3C, 0x3D)
"""Addresses of OLED modules: their strap sets the lowest bit (SSD1306 and SH1106 data sheets, from memory)."""

OTHER_CHIP: Final = {"ssd1306": "sh1106", "sh1106": "ssd1306"}

TOO_MANY: Final = 32
"""So many never answer; a bus whose data line is held low looks as if all did."""

SLOW_SECONDS: Final = 0.05
"""A picture has 1034 bytes: 24 ms at 400 kHz, 93 ms at 100 kHz."""

FRAME_BITS: Final = 9 * 1034


def scan_of(done: Done) -> BusScanned | None:
    """What the scan of the bus said, None if there was none."""
    return next((event for one in of(done, Do.SCAN) for event in one.events if isinstance(event, BusScanned)), None)


def _answers(bench: Bench, done: Done) -> bool:
    """Whether it makes sense to ask what is seen."""
    if bench.screen is None:
        return True
    scan = scan_of(done)
    return scan is not None and bench.screen in scan.addresses and len(scan.addresses) <= TOO_MANY


def _next(bench: Bench, done: Done) -> Ask | None:
    if not of(done, Do.SCAN):
        return Ask(NAME, Do.SCAN)
    if not _answers(bench, done):
        return None
    if not of(done, Do.LOOK):
        return question(bench, done, NAME, Do.LOOK, "The screen shows", SEEN)
    if answer_of(done, Do.LOOK) in {1, 2} and not of(done, Do.LOOK_ALL_LIT):
        return question(bench, done, NAME, Do.LOOK_ALL_LIT, "Now it is lit", LIT)
    return None


def _judge(bench: Bench, done: Done) -> tuple[Finding, ...]:
    scan = scan_of(done)
    findings: list[Finding] = []
    if scan is not None and bench.screen is not None:
        findings += _bus(bench, scan, bench.screen)
    seen = answer_of(done, Do.LOOK)
    by_answer = {
        2: found("screen-upside-down"),
        3: found("screen-chip", other=OTHER_CHIP[bench.chip]),
        4: found("screen-dark"),
    }
    if seen in by_answer:
        findings.append(by_answer[seen])
    if answer_of(done, Do.LOOK_ALL_LIT) == 2:
        findings.append(found("screen-dots"))
    return (*findings, *unanswered(done, Do.LOOK, "screen"))


def _bus(bench: Bench, scan: BusScanned, expected: int) -> list[Finding]:
    if scan.error:
        return [found("bus-off", error=scan.error)]
    if len(scan.addresses) > TOO_MANY:
        return [found("bus-shorted")]
    if expected not in scan.addresses:
        others = [address for address in SCREENS if address in scan.addresses]
        if others:
            return [found("screen-address", address=_hex(others[0]), expected=_hex(expected))]
        return [found("screen-silent") if scan.addresses or bench.clock is None else found("bus-silent")]
    if scan.frame_seconds is not None and scan.frame_seconds > SLOW_SECONDS:
        khz = round(FRAME_BITS / scan.frame_seconds / 1000)
        return [found("bus-slow", khz=khz, seconds=f"{scan.frame_seconds:.2f}")]
    return []


def _hex(address: int) -> str:
    return f"0x{address:02X}"


STEP: Final = Step(NAME, "Screen", _next, _judge)
