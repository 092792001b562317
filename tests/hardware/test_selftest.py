"""The bench of a board: every contact with its place and its settling time."""

from __future__ import annotations

from dataclasses import replace

from firmware.selftest.ask import Ask
from hardware.board.header import HEADER
from hardware.board.table import own_board
from hardware.selftest import bench_of, run_selftest
from hardware.simulated.faulty_box import good_box
from hardware.simulated.selftest_bench import SimulatedBoxUnderTest

BOARD = own_board()


def test_the_bench_has_every_contact_of_the_board_at_its_place() -> None:
    bench = bench_of(BOARD)
    assert {line.name: line.place for line in bench.lines} == {name: HEADER[pin] for name, pin in BOARD.contacts}
    assert {line.name for line in bench.lines if line.outside} == {"left pedal", "right pedal"}
    assert [line.spoken for line in bench.keys] == ["Drone", "Compare", "Pulse", "Ear", "Take", "Replay"]
    assert (bench.a.spoken, bench.power.settle, bench.pedals[0].settle) == ("track A", 0.03, 0.01)
    assert bench.led_place == HEADER[BOARD.led.pin]
    assert bench.line("key Ear") is bench.keys[3]


def test_the_bench_follows_what_is_fitted() -> None:
    assert bench_of(BOARD).clock is None
    assert bench_of(replace(BOARD, clock=replace(BOARD.clock, fitted=True))).clock == 0x68
    assert bench_of(replace(BOARD, screen=replace(BOARD.screen, interface="spi"))).screen is None


def test_it_ends_when_it_is_told_to() -> None:
    bench = bench_of(BOARD)
    walk = run_selftest(bench, SimulatedBoxUnderTest(bench, good_box(bench)), ended=lambda: True)
    assert not walk.over


def test_each_wish_is_begun_once_and_told_before(record_property) -> None:
    bench = bench_of(BOARD)
    told: list[Ask | None] = []

    class Watched(SimulatedBoxUnderTest):
        def begin(self, ask: Ask) -> None:
            assert told[-1] is ask
            super().begin(ask)

    box = Watched(bench, good_box(bench))
    walk = run_selftest(bench, box, frozenset({"sound"}), lambda walk: told.append(walk.ask))
    assert [one.ask for one in walk.done] == told
    record_property("seconds", box.now() / 48_000)
