"""Runs the self-test on a box: hands the wishes of `firmware.selftest` to it, and its events back."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Protocol

from firmware.events import Event
from firmware.selftest.ask import Ask
from firmware.selftest.bench import Bench, Line
from firmware.selftest.walk import Walk, begin, handle
from hardware.board.header import HEADER
from hardware.board.parts import Board


class BoxUnderTest(Protocol):
    """A box that does what the self-test asks for."""

    def now(self) -> int:
        """Samples since some moment."""

    def begin(self, ask: Ask) -> None:
        """Begin to do, or show, what is asked; ends what was asked before."""

    def wait(self) -> Sequence[Event]:
        """Events since the last call, in order, after a short while at most; a Passed among them."""


def run_selftest(
    bench: Bench,
    box: BoxUnderTest,
    skip: frozenset[str] = frozenset(),
    tell: Callable[[Walk], object] = lambda _walk: None,
    ended: Callable[[], bool] = lambda: False,
) -> Walk:
    """Go through the self-test until it is over, or `ended` says so; `tell` is called for each new wish."""
    walk = begin(bench, skip, box.now())
    asked: Ask | None = None
    while not walk.over and not ended():
        if walk.ask is not None and walk.ask is not asked:
            asked = walk.ask
            tell(walk)
            box.begin(asked)
        for event in box.wait():
            walk = handle(walk, event)
    return walk


def bench_of(board: Board) -> Bench:
    """What the self-test must know of a board."""
    lines = {name: (pin, _settle(board, name)) for name, pin in board.contacts}
    pedals = {f"{pedal} pedal" for pedal, _ in board.pedals.pins}
    made = {name: Line(name, HEADER[pin], settle, name in pedals) for name, (pin, settle) in lines.items()}
    return Bench(
        keys=tuple(made[f"key {key}"] for key, _ in board.keys.pins),
        a=made["knob a"],
        b=made["knob b"],
        push=made["knob push"],
        pedals=tuple(made[f"{pedal} pedal"] for pedal, _ in board.pedals.pins),
        power=made["power key"],
        led_place=HEADER[board.led.pin],
        screen=board.screen.address if board.screen.interface == "i2c" else None,
        clock=board.clock.address if board.clock.fitted else None,
        chip=board.screen.chip,
        loop_db=board.loop_db,
    )


def _settle(board: Board, name: str) -> float:
    if name.startswith("key "):
        return board.keys.settle
    if name.endswith(" pedal"):
        return board.pedals.settle
    return board.power.settle if name == "power key" else board.knob.settle
