"""The first pin library that works is taken; when none does, the error says why not for each."""

from __future__ import annotations

import importlib.util
import os
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest
from gpiozero import LED
from gpiozero.pins.mock import MockFactory

from firmware.errors import DeviceError
from hardware.drivers.pin_factory import CHOICES, SharedPins, lgpio, library_of, pin_factory


def broken() -> MockFactory:
    message = "not on this machine"
    raise RuntimeError(message)


def test_the_first_that_works_is_taken() -> None:
    first, second = MockFactory(), MockFactory()
    assert pin_factory((("one", lambda: first), ("two", lambda: second))) is first
    assert pin_factory((("one", broken), ("two", lambda: second))) is second


class Deaf(MockFactory):
    """A library that can be made and reads pins, but hears of no edge."""

    def pin(self, name: int, pin_class: object = None, **more: object) -> object:
        pin = super().pin(name, pin_class, **more)
        pin._enable_event_detect = broken
        return pin


def test_a_library_that_hears_of_no_edge_is_passed_over() -> None:
    deaf, good = Deaf(), MockFactory()
    assert pin_factory((("one", lambda: deaf), ("two", lambda: good)), probe=5) is good
    with pytest.raises(DeviceError, match="one: not on this machine"):
        pin_factory((("one", lambda: deaf),))


def test_the_pin_on_which_edges_were_tried_is_free_afterwards() -> None:
    factory = MockFactory()
    assert pin_factory((("one", lambda: factory),), probe=5) is factory
    with LED(5, pin_factory=factory):
        pass


def test_rpi_gpio_is_tried_before_lgpio() -> None:
    assert [name for name, _ in CHOICES] == ["RPi.GPIO", "lgpio"]


def test_when_none_works_each_reason_is_told() -> None:
    with pytest.raises(DeviceError, match=r"one: not on this machine; two: not on this machine"):
        pin_factory((("one", broken), ("two", broken)))


@pytest.mark.skipif(Path("/dev/gpiochip0").exists(), reason="this machine has pins")
def test_a_computer_without_pins_is_told_so() -> None:
    with pytest.raises(DeviceError, match=r"RPi\.GPIO: .*lgpio: "):
        pin_factory()


def unimportable(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delitem(sys.modules, "gpiozero.pins.lgpio", raising=False)
    monkeypatch.setitem(sys.modules, "lgpio", None)


@pytest.mark.parametrize("own", ["", "/run/keelnote"])
def test_lgpio_may_write_its_fifo_only_outside_the_working_directory(own: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("LG_WD", "")  # so that monkeypatch puts back what was there
    monkeypatch.delenv("LG_WD")
    monkeypatch.setenv("RUNTIME_DIRECTORY", own)
    unimportable(monkeypatch)
    with pytest.raises(ImportError):
        lgpio()
    assert os.environ["LG_WD"] == (own or tempfile.gettempdir())


@pytest.mark.skipif(importlib.util.find_spec("lgpio") is None, reason="lgpio has no wheel here")
def test_the_real_lgpio_writes_its_fifo_where_it_was_told(tmp_path: Path) -> None:
    here, run = tmp_path / "here", tmp_path / "run"
    here.mkdir()
    run.mkdir()
    say = "from hardware.drivers.pin_factory import lgpio\ntry:\n lgpio()\nexcept Exception as error:\n print(error)"
    environment = {**os.environ, "RUNTIME_DIRECTORY": str(run), "PYTHONPATH": str(Path(__file__).parents[3])}
    environment.pop("LG_WD", None)
    subprocess.run([sys.executable, "-c", say], cwd=here, env=environment, check=True, timeout=60)
    assert list(here.iterdir()) == []
    assert [one.name for one in run.iterdir()]


def test_all_share_one_library_until_the_last_lets_go() -> None:
    made: list[Closing] = []

    def make() -> Closing:
        made.append(Closing())
        return made[-1]

    pins = SharedPins(make)
    with pins.borrowed() as first:
        with pins.borrowed() as second:
            assert first is second
        assert not first.closed
    assert first.closed
    with pins.borrowed() as third:
        assert third is not first
    assert pins.library == "mock pins"
    assert len(made) == 2


class Closing(MockFactory):
    closed = False

    def close(self) -> None:
        self.closed = True
        super().close()


Closing.__module__ = MockFactory.__module__


def test_a_machine_without_pins_lends_none_and_is_asked_again() -> None:
    answers = iter([None, MockFactory()])

    def make() -> MockFactory:
        factory = next(answers)
        if factory is None:
            raise DeviceError("pins", "of this machine", "a Raspberry Pi is needed")
        return factory

    pins = SharedPins(make)
    with pytest.raises(DeviceError), pins.borrowed():
        pass
    with pins.borrowed() as factory:
        assert library_of(factory) == "mock pins"
