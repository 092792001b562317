"""What every stick keeps: a folder as the real driver writes it, and the simulated stick."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from firmware.errors import BadFileError, DeviceError
from firmware.ports import Stick
from hardware.drivers.stick import FolderStick
from hardware.simulated.stick import SimulatedStick

TAKE = "rehearsals/0001 2026-11-25/take-01.flac"


def steps_of_24_bits(count: int, seed: int = 1) -> np.ndarray:
    """Random values that 24 bits hold, loudest ones included."""
    values = np.random.default_rng(seed).integers(1 - 2**23, 2**23, count)
    values[:2] = (1 - 2**23, 2**23 - 1)
    return (values / 2**23).astype(np.float32)


def folder_stick(place: Path) -> FolderStick:
    (place / "stick").mkdir()
    return FolderStick(place / "stick" / "KEELNOTE")


def simulated_stick(place: Path) -> SimulatedStick:
    return SimulatedStick(place / "stick" / "KEELNOTE")


@pytest.fixture(params=[folder_stick, simulated_stick], ids=["folder", "simulated"])
def stick(request: pytest.FixtureRequest, tmp_path: Path) -> Stick:
    return request.param(tmp_path)


def test_a_stick_that_is_in_is_present_and_has_room(stick: Stick) -> None:
    assert stick.present
    assert stick.free_bytes() > 0


def test_a_take_comes_back_sample_for_sample(stick: Stick) -> None:
    sound = steps_of_24_bits(50_000)
    take = stick.open_take(TAKE)
    for at in range(0, len(sound), 512):
        take.write(sound[at : at + 512])
    take.sync()
    assert take.close() == 50_000
    assert take.close() == 50_000
    assert np.array_equal(stick.read_take(TAKE, 0, 10**9), sound)


def test_a_part_of_a_take_can_be_read_from_any_sample(stick: Stick) -> None:
    sound = steps_of_24_bits(20_000)
    take = stick.open_take("take.flac")
    take.write(sound)
    take.close()
    assert np.array_equal(stick.read_take("take.flac", 12_345, 100), sound[12_345:12_445])
    assert np.array_equal(stick.read_take("take.flac", 19_990, 100), sound[19_990:])
    assert len(stick.read_take("take.flac", 20_000, 100)) == 0
    assert len(stick.read_take("take.flac", 99_999, 100)) == 0
    assert len(stick.read_take("take.flac", 5, 0)) == 0
    assert stick.read_take("take.flac", 0, 7).dtype == np.float32
    with pytest.raises(BadFileError):
        stick.read_take("take.flac", -1, 10)


def test_too_loud_and_no_number_are_clipped_and_zero(stick: Stick) -> None:
    top = np.float32(1 - 2**-23)
    take = stick.open_take("take.flac")
    take.write(np.array([2.0, -2.0, 1.0, -1.0, np.inf, -np.inf, np.nan, 0.25], dtype=np.float32))
    take.close()
    assert stick.read_take("take.flac", 0, 99).tolist() == [top, -top, top, -top, top, -top, 0.0, 0.25]


def test_a_take_without_a_sample_is_a_file_that_opens(stick: Stick) -> None:
    take = stick.open_take("take.flac")
    assert take.close() == 1
    assert stick.read_take("take.flac", 0, 99).tolist() == [0.0]


def test_a_take_is_never_replaced(stick: Stick) -> None:
    take = stick.open_take("take.flac")
    take.write(steps_of_24_bits(10))
    take.close()
    with pytest.raises(BadFileError, match="never replaced"):
        stick.open_take("take.flac")
    assert len(stick.read_take("take.flac", 0, 99)) == 10


def test_a_closed_take_refuses_more(stick: Stick) -> None:
    take = stick.open_take("take.flac")
    take.write(steps_of_24_bits(10))
    take.close()
    with pytest.raises(DeviceError):
        take.write(steps_of_24_bits(10))
    with pytest.raises(DeviceError):
        take.sync()


def test_what_is_no_take_is_said_to_be_none(stick: Stick) -> None:
    stick.write_text("take.flac", "not a sound")
    with pytest.raises(BadFileError, match="take"):
        stick.read_take("take.flac", 0, 10)
    with pytest.raises(DeviceError, match="no such take"):
        stick.read_take("other.flac", 0, 10)


def test_a_text_is_replaced_whole(stick: Stick) -> None:
    assert stick.read_text("settings.toml") is None
    stick.write_text("settings.toml", "a4 = 440\n")
    stick.write_text("settings.toml", "♭")
    assert stick.read_text("settings.toml") == "♭"
    assert stick.names("") == ("settings.toml",)


def test_bytes_are_read_up_to_a_bound(stick: Stick) -> None:
    assert stick.read_bytes("grooves/own.toml", 10) is None
    stick.write_text("grooves/own.toml", "title♭")
    assert stick.read_bytes("grooves/own.toml", 100) == "title♭".encode()
    assert stick.read_bytes("grooves/own.toml", 4) == b"titl"
    assert stick.read_bytes("grooves", 4) is None


def test_a_text_that_a_power_cut_left_half_written_is_no_hindrance(stick: Stick) -> None:
    stick.write_text("settings.toml.new", "half")
    stick.write_text("settings.toml", "whole")
    assert stick.read_text("settings.toml") == "whole"
    assert stick.names("") == ("settings.toml",)


def test_lines_are_added_one_by_one(stick: Stick) -> None:
    stick.append_line("a/b/log.jsonl", '{"t": 0}')
    stick.append_line("a/b/log.jsonl", "two\nlines\u2028in one")
    assert stick.read_text("a/b/log.jsonl") == '{"t": 0}\ntwo lines in one\n'


def test_names_are_sorted_and_those_of_no_folder_are_none(stick: Stick) -> None:
    for name in ("plans/b.toml", "plans/a.mid", "plans/c/d.toml"):
        stick.write_text(name, "")
    assert stick.names("plans") == ("a.mid", "b.toml", "c")
    assert stick.names("") == ("plans",)
    assert stick.names("grooves") == ()
    assert stick.names("plans/b.toml") == ()


def test_a_removed_file_is_gone_and_a_folder_stays(stick: Stick) -> None:
    stick.write_text("a/b.vtt", "x")
    assert stick.remove("a/b.vtt")
    assert not stick.remove("a/b.vtt")
    assert stick.read_text("a/b.vtt") is None
    with pytest.raises(DeviceError):
        stick.remove("a")
    assert stick.names("") == ("a",)


def test_a_good_stick_is_in_no_trouble(stick: Stick) -> None:
    stick.write_text("report.txt", "")
    assert stick.trouble() == ""
    assert stick.odd() == ()


OUTSIDE = (
    "../x",
    "a/../../x",
    "/etc/x",
    "",
    ".",
    "..",
    "a//b",
    "a/",
    "a\\b",
    "C:x",
    "a\0b",
    "a\nb",
    "x.",
    "x ",
    "a*",
    "\ud800",
)


@pytest.mark.parametrize("path", OUTSIDE)
def test_a_path_never_leaves_the_folder(stick: Stick, path: str) -> None:
    for use in (
        stick.open_take,
        stick.read_text,
        lambda p: stick.write_text(p, "x"),
        lambda p: stick.append_line(p, "x"),
        lambda p: stick.read_take(p, 0, 1),
        lambda p: stick.read_bytes(p, 1),
        stick.remove,
    ):
        with pytest.raises(BadFileError):
            use(path)


def test_a_link_is_not_followed(stick: Stick, tmp_path: Path) -> None:
    (tmp_path / "secret").write_text("secret")
    stick.write_text("x", "")
    root = tmp_path / "stick" / "KEELNOTE"
    try:
        (root / "file").symlink_to(tmp_path / "secret")
    except PermissionError:
        pytest.skip("this file system, FAT say, knows no links")
    (root / "folder").symlink_to(tmp_path)
    for path in ("file", "folder/secret", "folder/new"):
        with pytest.raises(BadFileError, match="link"):
            stick.write_text(path, "x")
        with pytest.raises(BadFileError, match="link"):
            stick.read_text(path)
        with pytest.raises(BadFileError, match="link"):
            stick.open_take(path)
        with pytest.raises(BadFileError, match="link"):
            stick.remove(path)
    assert (tmp_path / "secret").read_text() == "secret"
    assert not (tmp_path / "new").exists()


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.text(max_size=12))
def test_any_path_is_written_inside_or_refused(stick: Stick, path: str) -> None:
    try:
        stick.write_text(path, "here")
    except (BadFileError, DeviceError):
        return
    assert stick.read_text(path) == "here"
    first = path.split("/", maxsplit=1)[0]
    assert first.casefold() in {name.casefold() for name in stick.names("")}, "FAT takes capitals for small letters"


@settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.binary(max_size=200), st.integers(0, 10**12))
def test_any_bytes_are_read_or_refused(stick: Stick, tmp_path: Path, data: bytes, first: int) -> None:
    stick.write_text("some/take.flac", "")
    (tmp_path / "stick" / "KEELNOTE" / "some" / "take.flac").write_bytes(b"fLaC" + data)
    try:
        samples = stick.read_take("some/take.flac", first, 100)
    except BadFileError:
        return
    assert len(samples) <= 100


def pull_out(stick: Stick, tmp_path: Path) -> None:
    if isinstance(stick, SimulatedStick):
        stick.pull_out()
    else:
        (tmp_path / "stick").rename(tmp_path / "drawer")


def put_back(stick: Stick, tmp_path: Path) -> None:
    if isinstance(stick, SimulatedStick):
        stick.put_back()
    else:
        (tmp_path / "drawer").rename(tmp_path / "stick")


def test_a_stick_that_is_out_refuses_in_words(stick: Stick, tmp_path: Path) -> None:
    stick.write_text("x", "kept")
    pull_out(stick, tmp_path)
    assert not stick.present
    assert stick.trouble() == "stick-out"
    assert stick.free_bytes() == 0
    assert stick.names("") == ()
    for use in (
        lambda: stick.open_take("t.flac"),
        lambda: stick.write_text("x", "new"),
        lambda: stick.append_line("x", "new"),
        lambda: stick.read_text("x"),
        lambda: stick.read_bytes("x", 1),
        lambda: stick.read_take("t.flac", 0, 1),
        lambda: stick.remove("x"),
    ):
        with pytest.raises(DeviceError, match="no stick") as refused:
            use()
        assert refused.value.message == "stick-out"
    put_back(stick, tmp_path)
    assert stick.read_text("x") == "kept"


def test_a_stick_that_was_let_go_is_out_and_says_that_it_may_be_pulled(stick: Stick) -> None:
    stick.write_text("settings.toml", "a4 = 442")
    stick.release()
    assert not stick.present
    assert [stick.trouble() for _ in range(6)] == ["stick-released"] * 6
    with pytest.raises(DeviceError):
        stick.write_text("settings.toml", "a4 = 443")
    with pytest.raises(DeviceError):
        stick.release()


def test_a_stick_on_which_a_take_is_written_is_not_let_go(stick: Stick) -> None:
    take = stick.open_take("take.flac")
    with pytest.raises(DeviceError, match="still uses it"):
        stick.release()
    take.write(np.zeros(100, dtype=np.float32))
    take.close()
    stick.release()
    assert not stick.present
