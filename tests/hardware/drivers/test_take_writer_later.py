"""What one run leaves behind the next one joins: to the right take, on the right stick, and once."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest

from firmware.commands import AppendLine, DeleteTakes, WriteText
from firmware.units import RATE
from tests.hardware.drivers.take_bench import FOLDER, TAKE, Bench, sound


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return Bench(tmp_path)


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


def test_what_waits_is_deleted_with_its_take(bench: Bench) -> None:
    bench.start()
    bench.hear(3.0)
    bench.stick.pull_out()
    bench.hear(3.0, last=True)
    bench.disk.submit(DeleteTakes(FOLDER, 2))
    bench.wait(1)
    assert bench.on_card() == ["000001.au"]
    bench.disk.stop()
    again = Bench(bench.root)
    again.stick.pull_out()
    again.wait(1)
    again.disk.submit(DeleteTakes())
    again.wait(1)
    assert again.on_card() == []
    again.stick.put_back()
    again.wait(2)
    assert again.told().count("take-joined") == 0
