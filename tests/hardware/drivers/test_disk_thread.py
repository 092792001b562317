"""Everything reaches the stick in order, or somebody hears of it."""

from __future__ import annotations

import threading
import time
from pathlib import Path

import numpy as np
import pytest

from firmware.commands import AppendLine, CloseTake, Command, KeepSettings, Listen, OpenTake, WriteText
from firmware.events import Event, Fault
from firmware.messages import sentence_of
from firmware.take_events import StickChanged, TakeSaved
from firmware.takes.recorder import Chunk, Recorder
from firmware.units import RATE
from hardware.drivers.disk_thread import DiskThread
from hardware.drivers.flac_file import FlacTake
from hardware.simulated.stick import SimulatedStick


def sound(first: int, end: int) -> np.ndarray:
    """Values that say where they belong and that 24 bits hold."""
    return (np.arange(first, end) % 65_536 / 2**16).astype(np.float32)


class Bench:
    """A disk on a simulated stick, with a clock that stands until it is moved."""

    def __init__(self, root: Path, room: int = 30 * RATE) -> None:
        self.stick = SimulatedStick(root / "KEELNOTE")
        self.events: list[Event] = []
        self.now = 0
        self.disk = DiskThread(self.stick, self.events.append, lambda: self.now, room=room)

    def faults(self) -> list[str]:
        return [event.message for event in self.events if isinstance(event, Fault)]

    def saved(self) -> list[tuple[int, int]]:
        return [(event.number, event.samples) for event in self.events if isinstance(event, TakeSaved)]

    def pass_second(self) -> None:
        self.now += RATE
        self.disk.pump()

    def chunk(self, number: int, first: int, end: int, *, last: bool = False) -> bool:
        return self.disk.submit(Chunk(number, first, sound(first, end), last))


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return Bench(tmp_path)


def test_a_take_goes_from_the_microphone_to_the_stick_sample_for_sample(bench: Bench) -> None:
    recorder = Recorder(2 * RATE)
    for at in range(0, 6 * RATE, 480):
        if at == 3 * RATE:
            bench.disk.submit(OpenTake(1, "a/take-01.flac", RATE))
            recorder.start(1, RATE)
        if at == 5 * RATE:
            bench.disk.submit(CloseTake(1, 5 * RATE))
            recorder.stop(5 * RATE)
        for chunk in recorder.process(sound(at, at + 480)):
            bench.disk.submit(chunk)
        bench.now = at + 480
        bench.disk.pump()
    assert bench.saved() == [(1, 4 * RATE)]
    assert np.array_equal(bench.stick.read_take("a/take-01.flac", 0, 10**9), sound(RATE, 5 * RATE))
    assert bench.faults() == []
    assert bench.disk.idle


def test_texts_lines_and_settings_keep_their_order(bench: Bench) -> None:
    bench.disk.submit(WriteText("x", "1"))
    bench.disk.submit(AppendLine("x", "2"))
    bench.disk.submit(KeepSettings("a4 = 440\n"))
    bench.disk.submit(KeepSettings("a4 = 442\n"))
    bench.disk.submit(KeepSettings("a4 = 442\n"))
    bench.disk.pump()
    assert bench.stick.read_text("x") == "12\n"
    assert bench.stick.read_text("settings.toml") == "a4 = 442\n"
    assert bench.stick.read_text("settings.toml.old") == "a4 = 440\n"


def test_sound_is_made_safe_before_a_text_that_may_take_long(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """The stick is pulled while it saves the settings: it keeps what was synced until then."""
    bench.disk.submit(OpenTake(1, "take.flac", 0))
    bench.chunk(1, 0, RATE // 2)
    bench.disk.pump()
    bench.now = RATE // 2
    monkeypatch.setattr(bench.stick, "write_text", lambda *_: bench.stick.pull_out())
    bench.disk.submit(KeepSettings("a4 = 442\n"))
    bench.disk.pump()
    bench.stick.put_back()
    assert bench.stick.mend() == ("take.flac",)
    assert len(bench.stick.read_take("take.flac", 0, RATE)) >= RATE // 2 - 4096


def test_trouble_of_the_stick_is_told_once_and_written_down(bench: Bench) -> None:
    bench.stick.put_in_second()
    for second in range(3):
        bench.stick.fill_up((9 - second) * 10**8)
        bench.now = (second + 1) * RATE
        bench.disk.pump()
    assert [event.why for event in bench.events if isinstance(event, StickChanged)] == ["stick-two", "", ""]
    report = bench.stick.read_text("report.txt") or ""
    assert report.count("two USB sticks") == 1


def test_takes_of_a_stick_that_comes_later_are_mended(bench: Bench) -> None:
    bench.disk.pump()
    bench.stick.pull_out()
    bench.now = RATE
    bench.disk.pump()
    bench.stick.root.mkdir(exist_ok=True)
    other = FlacTake(bench.stick.root / "take-07.flac", "take-07.flac")
    other.write(np.zeros(RATE, dtype=np.float32))
    cut = (bench.stick.root / "take-07.flac").read_bytes()
    other.close()
    (bench.stick.root / "take-07.flac").write_bytes(cut)
    bench.stick.put_back()
    bench.now = 2 * RATE
    bench.disk.pump()
    assert [event.detail for event in bench.events if getattr(event, "message", "") == "take-mended"] == [
        "take-07.flac"
    ]
    assert "take-07.flac" in (bench.stick.read_text("report.txt") or "")


def test_open_takes_are_synced_every_second(bench: Bench) -> None:
    """Pulled out, the stick keeps what was synced; so the second is shown by what is left."""
    bench.disk.submit(OpenTake(1, "take.flac", 0))
    for second in range(5):
        bench.chunk(1, second * RATE, (second + 1) * RATE)
        bench.pass_second()
    bench.chunk(1, 5 * RATE, 5 * RATE + 20_000)
    bench.disk.pump()
    bench.stick.pull_out()
    bench.stick.put_back()
    kept = len(bench.stick.read_take("take.flac", 0, 10**9))
    assert 5 * RATE - 4096 <= kept <= 5 * RATE


def test_a_stick_that_is_pulled_out_is_told_once_and_texts_wait_for_it(bench: Bench) -> None:
    bench.disk.pump()
    bench.stick.pull_out()
    for number in range(3):
        bench.disk.submit(AppendLine("log", str(number)))
        bench.pass_second()
    assert bench.faults() == ["stick-out"]
    assert not bench.disk.idle
    bench.stick.put_back()
    bench.disk.submit(AppendLine("log", "3"))
    bench.pass_second()
    bench.disk.pump()
    assert bench.stick.read_text("log") == "0\n1\n2\n3\n"
    assert bench.disk.idle
    assert [event.present for event in bench.events if isinstance(event, StickChanged)] == [True, False, True]
    bench.stick.pull_out()
    bench.disk.submit(AppendLine("log", "4"))
    bench.pass_second()
    assert bench.faults() == ["stick-out", "stick-out"], "a second time is news again"


def test_a_full_stick_saves_what_there_was_room_for_and_the_box_keeps_the_rest(bench: Bench) -> None:
    bench.disk.submit(OpenTake(1, "take-01.flac", 0))
    bench.chunk(1, 0, RATE)
    bench.disk.pump()
    bench.stick.fill_up()
    bench.chunk(1, RATE, 2 * RATE)
    bench.chunk(1, 2 * RATE, 3 * RATE, last=True)
    bench.disk.pump()
    assert bench.faults() == ["stick-full", "take-spooled"]
    assert bench.saved() == []
    bench.disk.submit(WriteText("x", "y"))
    for _ in range(3):
        bench.pass_second()
    assert bench.faults() == ["stick-full", "take-spooled"], "the same trouble is told once"
    bench.disk.submit(OpenTake(2, "take-02.flac", 0))
    bench.disk.pump()
    assert bench.faults()[2:] == ["stick-full", "take-spooled"], "but whoever asks for a take is told why it waits"
    bench.chunk(2, 0, 10, last=True)
    bench.stick.fill_up(100_000_000)
    bench.pass_second()
    bench.disk.pump()
    assert bench.saved() == [(1, 3 * RATE), (2, 10)]
    assert np.array_equal(bench.stick.read_take("take-01.flac", 0, 10**9), sound(0, 3 * RATE))


def test_a_file_that_is_there_already_is_told_and_not_replaced(bench: Bench) -> None:
    bench.stick.write_text("take.flac", "precious")
    bench.disk.submit(OpenTake(1, "take.flac", 0))
    bench.chunk(1, 0, 10, last=True)
    bench.disk.submit(WriteText("../x", "y"))
    bench.disk.submit(Listen(on=True))
    bench.disk.pump()
    assert bench.faults() == ["bad-file", "error", "bad-file"]
    assert bench.stick.read_text("take.flac") == "precious"
    assert np.array_equal(bench.stick.read_take("take-2.flac", 0, 99), sound(0, 10)), "the take has the next free name"


def test_a_bad_path_among_texts_that_wait_does_not_hold_up_the_others(bench: Bench) -> None:
    bench.stick.pull_out()
    bench.disk.submit(WriteText("a", "1"))
    bench.disk.submit(WriteText("../x", "y"))
    bench.disk.submit(WriteText("b", "2"))
    bench.disk.pump()
    bench.stick.put_back()
    bench.pass_second()
    bench.disk.pump()
    assert bench.faults() == ["stick-out", "bad-file"]
    assert (bench.stick.read_text("a"), bench.stick.read_text("b")) == ("1", "2")


def test_sound_that_finds_no_room_becomes_silence_of_the_same_length_and_is_told(tmp_path: Path) -> None:
    bench = Bench(tmp_path, room=1000)
    bench.disk.submit(OpenTake(1, "take.flac", 0))
    assert bench.chunk(1, 0, 600)
    assert not bench.chunk(1, 600, 1200)
    assert bench.disk.waiting == 600
    bench.disk.pump()
    assert bench.chunk(1, 1200, 1700)
    assert not bench.chunk(1, 1700, 2300, last=True)
    bench.disk.pump()
    assert bench.disk.dropped == 1200
    assert bench.faults() == ["take-lost", "take-lost"]
    assert bench.saved() == [(1, 2300)]
    kept = bench.stick.read_take("take.flac", 0, 10**9)
    assert np.array_equal(kept[:600], sound(0, 600))
    assert np.array_equal(kept[1200:1700], sound(1200, 1700))
    assert not kept[600:1200].any()
    assert not kept[1700:].any()


def test_too_many_commands_are_counted_and_told(bench: Bench) -> None:
    kept = [bench.disk.submit(AppendLine("log", "x")) for _ in range(2100)]
    assert kept.count(True) == 2000
    bench.disk.pump()
    assert bench.disk.dropped_commands == 100
    assert "100 lines were lost" in next(event.detail for event in bench.events if isinstance(event, Fault))


def test_too_many_texts_without_a_stick_are_counted_too(bench: Bench) -> None:
    bench.stick.pull_out()
    for _ in range(3):
        for _ in range(1000):
            bench.disk.submit(AppendLine("log", "x"))
        bench.disk.pump()
    told = len(bench.faults())
    assert bench.disk.dropped_commands == 1000 + told, "the report's own lines count too"


def test_a_take_whose_beginning_is_gone_says_so(bench: Bench) -> None:
    bench.disk.submit(OpenTake(1, "take.flac", 0))
    bench.chunk(1, 4800, 9600, last=True)
    bench.chunk(7, 0, 10)
    bench.disk.pump()
    assert bench.faults() == ["take-late"]
    assert bench.saved() == [(1, 4800)]


def test_a_slow_stick_is_told_once_until_it_has_caught_up(bench: Bench) -> None:
    bench.disk.submit(OpenTake(1, "take.flac", 0))
    for _ in range(2):
        bench.chunk(1, 0, 3 * RATE)
        bench.disk.pump()
        bench.disk.pump()
    assert bench.faults() == ["stick-slow", "stick-slow"]


def test_room_is_told_when_it_changes(bench: Bench) -> None:
    bench.disk.pump()
    bench.pass_second()
    bench.stick.fill_up(50_000_000)
    bench.pass_second()
    room = [event.free_bytes for event in bench.events if isinstance(event, StickChanged)]
    assert len(room) == 2
    assert room[1] == 50_000_000


def test_what_is_told_stands_in_the_report_too(bench: Bench) -> None:
    bench.disk.submit(OpenTake(1, "take-01.flac", 0))
    bench.chunk(1, 0, RATE)
    bench.disk.pump()
    bench.stick.pull_out()
    bench.pass_second()
    bench.stick.put_back()
    bench.chunk(1, RATE, 2 * RATE, last=True)
    bench.pass_second()
    bench.disk.pump()
    report = (bench.stick.read_text("report.txt") or "").splitlines()
    faults = [event for event in bench.events if isinstance(event, Fault)]
    assert [fault.message for fault in faults] == ["stick-out", "take-spooled", "take-joined"]
    assert report == [sentence_of(fault.message, fault.detail) for fault in faults]


# --- on its own thread ------------------------------------------------------------------------------------------


def test_the_thread_writes_all_and_ends(bench: Bench) -> None:
    bench.disk.start()
    bench.disk.start()
    bench.disk.submit(OpenTake(1, "take.flac", 0))
    for at in range(0, RATE, 512):
        bench.chunk(1, at, at + 512)
    assert bench.disk.stop()
    assert bench.disk.stop()
    length = -(-RATE // 512) * 512
    assert bench.saved() == [(1, length)], "an open take is finished at the end"
    assert np.array_equal(bench.stick.read_take("take.flac", 0, 10**9), sound(0, length))
    bench.disk.submit(WriteText("sheet.html", "late"))
    assert bench.stick.read_text("sheet.html") == "late", "what comes after the end is still written"
    assert not any(thread.name == "keelnote-disk" for thread in threading.enumerate())


def test_a_stalled_stick_never_holds_up_the_caller(bench: Bench) -> None:
    bench.disk.start()
    bench.disk.submit(OpenTake(1, "take.flac", 0))
    bench.stick.stall()
    longest = 0.0
    piece = sound(0, RATE // 10)
    for number in range(350):
        begun = time.perf_counter()
        bench.disk.submit(Chunk(1, number * len(piece), piece))
        longest = max(longest, time.perf_counter() - begun)
    assert not bench.disk.stop(timeout=0.05)
    bench.stick.go_on()
    assert bench.disk.stop()
    assert longest < 0.2
    assert 4 * RATE <= bench.disk.dropped <= 6 * RATE
    assert "take-lost" in bench.faults()
    (saved,) = bench.saved()
    assert 29 * RATE <= saved[1] <= 31 * RATE


def test_a_stick_that_stalls_for_a_second_in_real_time_loses_no_sample(bench: Bench) -> None:
    """The same for five seconds without threads: tests/scenarios/test_take_faults.py."""
    bench.disk.start()
    bench.disk.submit(OpenTake(1, "take-01.flac", 0))
    bench.stick.stall(1.0)
    for at in range(0, 10 * RATE, 4800):
        bench.chunk(1, at, at + 4800, last=at + 4800 == 10 * RATE)
    assert bench.disk.stop()
    assert bench.disk.dropped == 0
    assert bench.saved() == [(1, 10 * RATE)]
    assert np.array_equal(bench.stick.read_take("take-01.flac", 0, 10**9), sound(0, 10 * RATE))


def test_an_error_that_nobody_thought_of_does_not_end_the_thread(bench: Bench) -> None:
    class Odd(Command):
        """A command that breaks the disk's table."""

    def break_down(_job: Command) -> None:
        raise RuntimeError("unforeseen")

    bench.disk._table[Odd] = break_down
    bench.disk.start()
    bench.disk.submit(Odd())
    deadline = time.monotonic() + 5
    while "stick-error" not in bench.faults() and time.monotonic() < deadline:
        time.sleep(0.005)
    bench.disk.submit(WriteText("x", "after"))
    assert bench.disk.stop()
    assert bench.stick.read_text("x") == "after"
