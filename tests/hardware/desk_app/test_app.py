"""The app in a terminal of textual's own making: keys reach the box, its picture and its state reach the screen."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from pathlib import Path

import numpy as np
import pytest
from textual.events import Key
from textual.pilot import Pilot
from textual.widgets import Static

from firmware.parts.part import Start
from hardware.desk import live_box
from hardware.desk_app.app import DeskApp, Help, Oled, status_lines
from hardware.desk_app.cells import braille, half_blocks
from hardware.desk_app.legend import legend
from hardware.drivers.stick import FolderStick
from hardware.simulated.panel import SimulatedPanel
from hardware.simulated.screen import SimulatedScreen
from hardware.simulated.sound_card import QuietCard, SimulatedSoundCard

SMALL, LARGE = (80, 24), (140, 45)
FACTS = "Stick: somewhere"
CHARACTERS = {"full_stop": ".", "right_square_bracket": "]", "question_mark": "?"}


class Bench:
    """An app on a live box."""

    def __init__(self, folder: Path, card: SimulatedSoundCard | QuietCard) -> None:
        self.card = card
        self.folder = folder
        self.screen = SimulatedScreen()
        panel = SimulatedPanel()
        self.loop = live_box(FolderStick(folder / "KEELNOTE"), self.screen, Start(stick=True), card)
        self.app = DeskApp(self.loop, panel, self.screen, FACTS)

    def run(self, script: Callable[[Pilot[None]], Awaitable[None]], size: tuple[int, int] = SMALL) -> None:
        async def live() -> None:
            async with self.app.run_test(size=size) as pilot:
                await script(pilot)

        asyncio.run(live())

    def strike(self, *keys: str) -> None:
        """Strike keys, as Pilot.press does, but without waiting for a box in real time to come to rest."""
        for key in keys:
            self.app.post_message(Key(key, key if len(key) == 1 else CHARACTERS.get(key)))

    def lines(self) -> list[str]:
        """What the terminal shows, line by line."""
        return ["".join(part.text for part in strip) for strip in self.app.screen._compositor.render_strips()]


@pytest.fixture
def bench(tmp_path: Path, card: SimulatedSoundCard) -> Bench:
    return Bench(tmp_path, card)


async def until(pilot: Pilot[None], reached: Callable[[], object]) -> None:
    for _ in range(400):
        if reached():
            return
        await pilot.pause(0.02)
    pytest.fail("never came")


def loudest(card: SimulatedSoundCard) -> float:
    return float(np.abs(card.last_output).max())


@pytest.mark.parametrize(("size", "draw"), [(SMALL, braille), (LARGE, half_blocks)])
def test_the_boxs_picture_is_on_the_terminal(bench: Bench, size: tuple[int, int], draw: Callable[..., tuple[str, ...]]):
    async def script(pilot: Pilot[None]) -> None:
        await until(pilot, lambda: bench.screen.shown)
        oled = bench.app.query_one(Oled)
        await until(pilot, lambda: oled.picture == bench.screen.last_frame)
        await pilot.pause()
        shown = bench.lines()
        for line in draw(oled.picture):
            assert any(line in row for row in shown)
        for line in legend():
            assert any(line in row for row in shown)
        assert any("Sound: simulated" in row for row in shown)
        assert any(FACTS in row for row in shown)

    bench.run(script, size)


def test_the_drone_key_is_heard(bench: Bench):
    async def script(pilot: Pilot[None]) -> None:
        await pilot.press("d")
        await until(pilot, lambda: loudest(bench.card) > 0.01)
        await pilot.press("d")
        await until(pilot, lambda: loudest(bench.card) == 0)

    bench.run(script)


def test_the_arrows_turn_the_knob_and_the_brackets_turn_the_page(bench: Bench):
    box = bench.loop._box

    async def script(pilot: Pilot[None]) -> None:
        bench.strike("right")
        await until(pilot, lambda: box.view(0).tonic != "B♭")
        bench.strike("right_square_bracket")
        await until(pilot, lambda: box.view(0).page == "chord")
        bench.strike("pageup")
        await until(pilot, lambda: box.view(0).page == "key")

    bench.run(script)


def test_capitals_hold_and_the_prefix_sets_amounts(bench: Bench):
    box = bench.loop._box

    async def script(pilot: Pilot[None]) -> None:
        before = box.view(0).values["tempo"]
        bench.strike("full_stop", "p", "right")
        await until(pilot, lambda: box.view(0).values["tempo"] > before)
        await until(pilot, lambda: any("Pulse is held" in row for row in bench.lines()))
        bench.strike("escape", "t")
        await until(pilot, lambda: box.view(0).taking)
        bench.strike("T")
        await until(pilot, lambda: box.view(0).markers == 1)

    bench.run(script)
    assert (bench.folder / "KEELNOTE/rehearsals/0001/take-01.flac").exists()


def test_the_question_mark_shows_what_every_key_does_and_the_next_key_only_closes_it(bench: Bench):
    async def script(pilot: Pilot[None]) -> None:
        bench.strike("question_mark")
        await until(pilot, lambda: isinstance(bench.app.screen, Help))
        await pilot.pause()
        assert any("Drone: drone on or off" in row for row in bench.lines())
        bench.strike("d")
        await until(pilot, lambda: not isinstance(bench.app.screen, Help))
        await pilot.pause(0.2)
        assert not bench.loop._box.view(0).drone_on

    bench.run(script, LARGE)


def test_a_window_that_is_too_small_says_so(bench: Bench):
    async def script(pilot: Pilot[None]) -> None:
        await pilot.pause()
        assert any("Make the window larger" in row for row in bench.lines())
        await pilot.resize_terminal(*SMALL)
        await until(pilot, lambda: not any("Make the window" in row for row in bench.lines()))

    bench.run(script, (60, 20))


def test_a_lost_card_is_said_plainly(bench: Bench):
    async def script(pilot: Pilot[None]) -> None:
        await until(pilot, lambda: bench.loop.card.sounding)
        bench.card.pull_out()
        status = bench.app.query_one("#status", Static)
        await until(
            pilot, lambda: any("No sound, the box runs on in silence: the card stopped" in row for row in bench.lines())
        )
        assert status.size.height == 2
        assert any("Plug the sound card in again" in row for row in bench.lines())

    bench.run(script)


def test_without_sound_it_says_so_and_keeps_time(tmp_path: Path):
    bench = Bench(tmp_path, QuietCard())

    async def script(pilot: Pilot[None]) -> None:
        await until(pilot, lambda: bench.loop.now() > 4800)
        await pilot.pause()
        assert any("No sound, as asked" in row for row in bench.lines())

    bench.run(script)


def test_what_went_wrong_is_counted_at_the_bottom(bench: Bench):
    assert "late" not in status_lines(bench.loop, FACTS, "")[0]
    bench.loop.faults = 2
    bench.card._lost = 3
    first, second = status_lines(bench.loop, FACTS, "a hand")
    assert "blocks late: 3   faults: 2" in first
    assert second == "a hand"
