"""A take outlives its stick: pulled, full, locked, swapped or cut off, its parts in a row are what was heard."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from firmware.units import RATE
from hardware.drivers.take_spool import LEFT_FREE, Spool
from hardware.simulated.stick import SimulatedStick
from tests.hardware.drivers.take_bench import FOLDER, TAKE, Bench, sound


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
