"""A take outlives its stick: pulled, full, locked, swapped or cut off, its parts in a row are what was heard."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest

from firmware.commands import AppendLine, OpenTake, WriteText
from firmware.events import Event, Fault
from firmware.take_events import TakeSaved
from firmware.takes.recorder import Chunk
from firmware.units import RATE
from hardware.drivers.disk_thread import DiskThread
from hardware.drivers.take_spool import LEFT_FREE, Spool
from hardware.simulated.stick import SimulatedStick

FOLDER = "rehearsals/0001"
TAKE = f"{FOLDER}/take-01.flac"


def sound(first: int, end: int, channels: int = 1) -> np.ndarray:
    """Values that say where they belong and that 24 bits hold."""
    mono = (np.arange(first, end) % 8_388_593 / 2**23).astype(np.float32)
    return mono if channels == 1 else np.column_stack((mono, -mono))


class Bench:
    """A disk with a stick and a card, and a microphone that counts."""

    def __init__(self, root: Path, *, card: bool = True, limit: int = 2_000_000_000, stick: str = "stick") -> None:
        self.root = root
        self.stick = SimulatedStick(root / stick / "KEELNOTE")
        self.spool = Spool(root / "card", limit, free=lambda _: 10**10, fsync=lambda _: None) if card else None
        self.events: list[Event] = []
        self.now = 0
        self.heard = 0
        self.disk = DiskThread(self.stick, self.events.append, lambda: self.now, spool=self.spool)

    def start(self, channels: int = 1, part_samples: int = 0, number: int = 1) -> None:
        self.channels, self.number, self.first = channels, number, self.heard
        path = f"{FOLDER}/take-{number:02d}.flac"
        self.disk.submit(OpenTake(number, path, self.heard, channels, part_samples))

    def hear(self, seconds: float, *, last: bool = False) -> None:
        left = round(seconds * RATE)
        while left > 0:
            count = min(left, 4800)
            left -= count
            piece = sound(self.heard, self.heard + count, self.channels)
            self.disk.submit(Chunk(self.number, self.heard, piece, last and left == 0))
            self.heard += count
            self.now += count
            self.disk.pump()

    def wait(self, seconds: int) -> None:
        for _ in range(seconds):
            self.now += RATE
            self.disk.pump()

    def told(self) -> list[str]:
        return [event.message for event in self.events if isinstance(event, Fault)]

    def saved(self) -> list[TakeSaved]:
        return [event for event in self.events if isinstance(event, TakeSaved)]

    def kept(self, stick: SimulatedStick | None = None, path: str = TAKE) -> np.ndarray:
        return (stick or self.stick).read_take(path, 0, 10**9)

    def on_card(self) -> list[str]:
        return sorted(one.name for one in (self.root / "card").glob("*.au"))


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return Bench(tmp_path)


@pytest.mark.parametrize("channels", [1, 2])
def test_a_long_take_is_split_without_losing_or_doubling_a_sample(bench: Bench, channels: int) -> None:
    bench.start(channels, part_samples=50_000)
    bench.hear(5.5, last=True)
    (saved,) = bench.saved()
    assert saved.parts == (
        (TAKE, 50_000),
        *((f"{FOLDER}/take-01-{part}.flac", 50_000) for part in range(2, 6)),
        (f"{FOLDER}/take-01-6.flac", 14_000),
    )
    assert saved.samples == 264_000
    assert np.array_equal(bench.kept(), sound(0, 264_000))
    assert np.array_equal(bench.stick.read_take(TAKE, 99_990, 20), sound(99_990, 100_010)), "over an edge"


def test_a_take_that_ends_with_its_part_has_no_empty_file_behind(bench: Bench) -> None:
    bench.start(part_samples=RATE)
    bench.hear(2.0, last=True)
    assert [length for _, length in bench.saved()[0].parts] == [RATE, RATE]
    assert bench.stick.names(FOLDER) == ("take-01-2.flac", "take-01.flac")


@pytest.mark.parametrize("told", [True, False])
@pytest.mark.parametrize("channels", [1, 2])
@pytest.mark.parametrize("card", [True, False])
def test_a_stick_pulled_in_mid_take_gets_the_rest_when_it_is_back(
    tmp_path: Path, *, told: bool, channels: int, card: bool
) -> None:
    bench = Bench(tmp_path, card=card)
    bench.start(channels)
    bench.hear(5.3)
    bench.stick.pull_out(told=told)
    bench.hear(30.0)
    assert bench.told() == ["stick-out", "take-spooled"]
    assert bool(bench.on_card()) == card
    bench.stick.put_back()
    bench.hear(5.0)
    assert bench.told() == ["stick-out", "take-spooled", "take-joined"]
    assert bench.on_card() == []
    bench.hear(1.0, last=True)
    (saved,) = bench.saved()
    assert [name for name, _ in saved.parts] == [TAKE, f"{FOLDER}/take-01-2.flac"]
    assert saved.samples == bench.heard
    assert np.array_equal(bench.kept(), sound(0, bench.heard))


def test_a_take_that_ends_while_the_stick_is_out_is_saved_when_it_returns(bench: Bench) -> None:
    bench.start()
    bench.hear(3.0)
    bench.stick.pull_out()
    bench.hear(3.0, last=True)
    bench.wait(3)
    assert bench.saved() == []
    bench.stick.put_back()
    bench.wait(2)
    assert bench.saved()[0].samples == bench.heard
    assert bench.disk.idle
    assert np.array_equal(bench.kept(), sound(0, bench.heard))


def test_a_stick_pulled_again_and_again_loses_nothing(bench: Bench) -> None:
    bench.start(part_samples=3 * RATE)
    for seconds in (0.01, 0.3, 1.7, 2.9, 0.8, 4.2):
        bench.hear(seconds)
        bench.stick.pull_out(told=seconds > 1)
        bench.hear(seconds / 2)
        bench.stick.put_back()
        bench.hear(0.9)
    bench.hear(2.0, last=True)
    assert bench.saved()[0].samples == bench.heard
    assert np.array_equal(bench.kept(), sound(0, bench.heard))


def test_a_stick_that_never_returns_leaves_the_take_on_the_card_for_the_next_start(bench: Bench) -> None:
    bench.start()
    bench.hear(4.0)
    bench.stick.pull_out()
    bench.hear(6.0, last=True)
    assert bench.disk.stop()
    assert bench.told()[-1] == "take-kept"
    assert bench.on_card() == ["000001.au"]
    again = Bench(bench.root)
    again.wait(2)
    assert again.told() == ["take-kept", "take-joined"]
    assert again.saved() == [], "its number belongs to an earlier rehearsal"
    assert np.array_equal(again.kept(), sound(0, bench.heard))
    assert again.on_card() == []


@pytest.mark.parametrize("power", ["switched off", "cut"])
def test_lines_and_texts_of_that_time_come_with_the_take(bench: Bench, power: str) -> None:
    bench.start()
    bench.disk.submit(AppendLine(f"{FOLDER}/log.jsonl", "before"))
    bench.hear(4.0)
    bench.stick.pull_out()
    bench.hear(1.0)
    bench.disk.submit(AppendLine(f"{FOLDER}/log.jsonl", "while it was out"))
    bench.hear(3.0, last=True)
    bench.disk.submit(WriteText(f"{FOLDER}/sheet.html", "the sheet"))
    bench.disk.submit(WriteText("rehearsals/0009/sheet.html", "of another rehearsal"))
    bench.disk.pump()
    if power == "switched off":
        bench.disk.stop()
    again = Bench(bench.root)
    again.wait(3)
    assert again.stick.read_text(f"{FOLDER}/log.jsonl") == "before\nwhile it was out\n"
    assert again.stick.read_text(f"{FOLDER}/sheet.html") == "the sheet"
    assert again.stick.read_text("rehearsals/0009/sheet.html") is None
    assert "Take goes on" not in (again.stick.read_text("report.txt") or "")
    assert "joins the stick" in (again.stick.read_text("report.txt") or "")


def test_another_stick_with_a_take_of_the_same_name_is_left_alone(bench: Bench) -> None:
    bench.start()
    bench.hear(4.0)
    bench.stick.pull_out()
    bench.hear(6.0, last=True)
    bench.disk.stop()
    other = Bench(bench.root, stick="other")
    take = other.stick.open_take(TAKE)
    take.write(sound(7, 20 * RATE))
    take.close()
    other.wait(3)
    assert other.told() == ["take-kept"]
    assert np.array_equal(other.kept(), sound(7, 20 * RATE))
    assert other.on_card() == ["000001.au"]
    other.disk.stop()
    home = Bench(bench.root)
    home.wait(2)
    assert np.array_equal(home.kept(), sound(0, bench.heard))


def test_a_full_stick_changed_for_another_one_goes_on_there(bench: Bench) -> None:
    bench.start()
    bench.hear(4.0)
    bench.stick.fill_up()
    bench.hear(3.0)
    first = bench.root / "stick"
    bench.stick.pull_out()
    bench.wait(1)
    first.rename(bench.root / "full")
    first.mkdir()
    bench.stick.fill_up(1_000_000_000)
    bench.stick.put_back()
    bench.hear(3.0, last=True)
    second = bench.kept(path=f"{FOLDER}/take-01-2.flac")
    full = SimulatedStick(bench.root / "full" / "KEELNOTE")
    begun = full.read_take(TAKE, 0, 10**9)
    at = round(float(second[0]) * 2**23)
    assert at <= len(begun)
    assert np.array_equal(np.concatenate((begun[:at], second)), sound(0, bench.heard))
    assert bench.saved()[0].number == 1


def test_a_power_cut_while_a_take_is_joined_is_no_harm(bench: Bench) -> None:
    """What is on the disks is copied away in the middle of joining, and the next start begins from that."""
    bench.start()
    bench.hear(4.0)
    bench.stick.pull_out()
    bench.hear(60.0)
    bench.stick.put_back()
    bench.wait(2)
    assert bench.on_card() == ["000001.au"]
    after = bench.root / "after"
    shutil.copytree(bench.root / "stick", after / "stick")
    shutil.copytree(bench.root / "card", after / "card")
    assert (after / "stick" / "KEELNOTE" / FOLDER / "take-01-2.flac").exists()
    again = Bench(after)
    again.wait(10)
    assert again.told() == ["take-kept", "take-joined"]
    kept = again.kept()
    assert len(kept) >= bench.heard - RATE
    assert np.array_equal(kept, sound(0, len(kept)))
    assert again.on_card() == []


def test_a_power_cut_after_a_take_was_joined_adds_nothing_twice(bench: Bench) -> None:
    bench.start()
    bench.hear(4.0)
    bench.stick.pull_out()
    bench.hear(4.0, last=True)
    shutil.copytree(bench.root / "card", bench.root / "copy")
    bench.stick.put_back()
    bench.wait(3)
    assert bench.on_card() == []
    shutil.rmtree(bench.root / "card")
    (bench.root / "copy").rename(bench.root / "card")
    again = Bench(bench.root)
    again.wait(3)
    assert np.array_equal(again.kept(), sound(0, bench.heard))
    assert again.on_card() == []


def test_without_a_card_a_minute_is_kept_and_then_the_take_ends(tmp_path: Path) -> None:
    bench = Bench(tmp_path, card=False)
    bench.start()
    bench.hear(2.0)
    bench.stick.pull_out()
    bench.hear(90.0)
    assert bench.told() == ["stick-out", "take-spooled", "spool-full"]
    bench.stick.put_back()
    bench.hear(10.0, last=True)
    bench.wait(3)
    kept = bench.kept()
    assert 60 * RATE <= len(kept) <= 63 * RATE
    assert np.array_equal(kept, sound(0, len(kept)))
    assert bench.saved()[0].samples == len(kept)


def test_a_full_card_ends_the_take_with_all_that_there_was_room_for(tmp_path: Path) -> None:
    bench = Bench(tmp_path, limit=3_000_000)
    bench.start()
    bench.hear(2.0)
    bench.stick.pull_out()
    bench.hear(120.0, last=True)
    assert bench.told() == ["stick-out", "take-spooled", "spool-full"]
    bench.stick.put_back()
    bench.wait(10)
    kept = bench.kept()
    assert len(kept) >= 2 * RATE + 2_900_000 // 3 + 59 * RATE
    assert np.array_equal(kept, sound(0, len(kept)))


def test_without_stick_and_card_at_the_end_the_loss_is_told(tmp_path: Path) -> None:
    bench = Bench(tmp_path, card=False)
    bench.start()
    bench.hear(2.0)
    bench.stick.pull_out()
    bench.hear(10.0, last=True)
    bench.disk.stop()
    assert bench.told()[-1] == "take-lost"


def test_a_locked_stick_takes_the_rest_when_it_is_unlocked(bench: Bench) -> None:
    bench.start()
    bench.hear(2.0)
    bench.stick.make_read_only()
    bench.hear(5.0)
    assert bench.told() == ["stick-read-only", "take-spooled"]
    bench.stick.make_read_only(locked=False)
    bench.hear(3.0, last=True)
    bench.wait(1)
    assert np.array_equal(bench.kept(), sound(0, bench.heard))


def test_sound_that_the_stick_had_called_safe_and_lost_is_silence_and_told(bench: Bench) -> None:
    bench.start()
    bench.hear(9.0)
    bench.stick.pull_out()
    bench.hear(1.0)
    place = bench.root / "stick" / "KEELNOTE" / TAKE
    place.write_bytes(place.read_bytes()[: place.stat().st_size // 2])
    bench.stick.put_back()
    bench.hear(3.0, last=True)
    bench.wait(1)
    assert "take-lost" in bench.told()
    kept = bench.kept()
    assert len(kept) == bench.heard
    silent = np.flatnonzero(kept[1:] != sound(1, bench.heard)) + 1
    assert not kept[silent].any()
    assert np.array_equal(silent, np.arange(silent[0], silent[-1] + 1))


def test_a_take_that_never_reached_a_stick_goes_to_the_next_one_but_into_no_other_take(bench: Bench) -> None:
    bench.stick.fill_up()
    bench.start()
    bench.hear(2.0, last=True)
    bench.disk.stop()
    other = Bench(bench.root, stick="other")
    take = other.stick.open_take(TAKE)
    take.write(sound(7, 2 * RATE))
    take.close()
    other.wait(2)
    other.disk.stop()
    assert other.stick.names(FOLDER) == ("take-01.flac",)
    fresh = Bench(bench.root, stick="fresh")
    fresh.wait(2)
    assert np.array_equal(fresh.kept(), sound(0, bench.heard))
    assert fresh.on_card() == []


def test_many_takes_that_wait_in_memory_are_bounded(tmp_path: Path) -> None:
    bench = Bench(tmp_path, card=False)
    bench.stick.fill_up()
    for number in range(1, 8):
        bench.start(number=number)
        bench.hear(0.5, last=True)
    assert bench.told().count("spool-full") == 3
    bench.stick.fill_up(10**9)
    bench.wait(3)
    assert [saved.samples for saved in bench.saved()] == [24_000] * 4 + [1] * 3


def test_an_unwanted_old_file_without_sound_goes(bench: Bench) -> None:
    bench.start()
    bench.hear(1.0)
    bench.stick.pull_out()
    bench.hear(1.0)
    bench.disk.stop()
    place = bench.root / "card" / "000001.au"
    data = place.read_bytes()
    place.write_bytes(data[: int.from_bytes(data[4:8], "big") + 2])
    again = Bench(bench.root)
    again.wait(1)
    assert again.told() == []
    assert again.on_card() == []


def test_the_card_keeps_room_for_the_box_itself(tmp_path: Path) -> None:
    assert Spool(tmp_path, free=lambda _: LEFT_FREE).room() == 0


def test_a_take_returns_to_a_full_stick_only_when_there_is_room_for_all_of_it(bench: Bench) -> None:
    """Else each little room would become a little file."""
    bench.start()
    bench.hear(3.0)
    bench.stick.fill_up()
    bench.hear(1.0)
    for _ in range(5):
        bench.stick.fill_up(400_000)
        bench.hear(1.0)
    assert bench.stick.names(FOLDER) == ("take-01.flac",)
    bench.stick.fill_up(100_000_000)
    bench.hear(2.0, last=True)
    assert [length for _, length in bench.saved()[0].parts][1:] == [bench.heard - bench.saved()[0].parts[0][1]]
    assert np.array_equal(bench.kept(), sound(0, bench.heard))
