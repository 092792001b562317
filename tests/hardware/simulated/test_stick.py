"""The simulated stick does to a take what a real one in trouble does."""

from __future__ import annotations

import threading
from pathlib import Path

import numpy as np
import pytest

from firmware.errors import DeviceError
from hardware.simulated.stick import SimulatedStick


@pytest.fixture
def stick(tmp_path: Path) -> SimulatedStick:
    return SimulatedStick(tmp_path / "a" / "b" / "KEELNOTE")


def ramp(count: int) -> np.ndarray:
    return (np.arange(count) % 8000 / 2**14).astype(np.float32)


def test_pulled_out_it_keeps_what_was_synced(stick: SimulatedStick) -> None:
    take = stick.open_take("take.flac")
    take.write(ramp(50_000))
    take.sync()
    take.write(ramp(50_000))
    stick.pull_out()
    for use in (lambda: take.write(ramp(1)), take.sync, take.close):
        with pytest.raises(DeviceError, match="no stick"):
            use()
    stick.put_back()
    assert stick.mend() == ("take.flac",)
    kept = stick.read_take("take.flac", 0, 10**9)
    assert 50_000 - 4096 <= len(kept) <= 50_000
    assert np.array_equal(kept, ramp(50_000)[: len(kept)])


def test_pulled_out_a_finished_take_is_whole(stick: SimulatedStick) -> None:
    take = stick.open_take("take.flac")
    take.write(ramp(100))
    take.close()
    stick.pull_out()
    assert stick.mend() == ()
    stick.put_back()
    assert len(stick.read_take("take.flac", 0, 1000)) == 100


def test_room_shrinks_by_what_is_written_whatever_it_compresses_to(stick: SimulatedStick) -> None:
    before = stick.free_bytes()
    take = stick.open_take("take.flac")
    take.write(ramp(1000))
    stick.write_text("x", "abcd")
    stick.append_line("y", "♭")
    assert before - stick.free_bytes() == 3000 + 4 + 4
    take.close()


def test_filled_up_it_refuses_and_what_was_written_can_be_finished(stick: SimulatedStick) -> None:
    take = stick.open_take("take.flac")
    take.write(ramp(1000))
    stick.fill_up(10)
    with pytest.raises(DeviceError) as refused:
        take.write(ramp(4))
    assert refused.value.message == "stick-full"
    assert take.close() == 1000
    stick.fill_up()
    with pytest.raises(DeviceError):
        stick.open_take("more.flac")


def test_locked_it_can_be_read_but_not_written(stick: SimulatedStick) -> None:
    stick.write_text("x", "kept")
    stick.make_read_only()
    with pytest.raises(DeviceError) as refused:
        stick.write_text("x", "new")
    assert refused.value.message == "stick-read-only"
    assert stick.read_text("x") == "kept"
    assert stick.mend() == ()
    stick.make_read_only(locked=False)
    stick.write_text("x", "new")


def test_stalled_it_makes_a_writer_wait(stick: SimulatedStick) -> None:
    stick.stall()
    writer = threading.Thread(target=stick.write_text, args=("x", "late"))
    writer.start()
    writer.join(0.05)
    assert writer.is_alive()
    stick.go_on()
    writer.join(5)
    assert stick.read_text("x") == "late"


def test_unknown_second_and_locked_sticks_have_their_lines(stick: SimulatedStick) -> None:
    assert stick.trouble() == ""
    stick.put_in_second()
    assert stick.trouble() == "stick-two"
    stick.put_in_second(second=False)
    stick.make_read_only()
    assert stick.trouble() == "stick-read-only"
    stick.put_in_unknown()
    assert not stick.present
    assert stick.trouble() == "stick-unknown"
    stick.put_back()
    stick.make_read_only(locked=False)
    assert stick.trouble() == ""
    (stick.root / "rehearsals").parent.mkdir()
    (stick.root / "rehearsals").write_text("not a folder")
    assert (stick.odd(), stick.trouble()) == (("rehearsals",), "stick-odd")
