"""`keelnote selftest` on simulated boxes, and where there is no box."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from hardware.board.table import own_text
from hardware.commands.selftest import FAULTY
from hardware.desk import BAD_INPUT, main
from hardware.simulated.board_faults import FAULTS

SHORT = ["--simulated", "--skip", "sound", "--skip", "stick"]


def test_a_good_box_is_gone_through_and_named_nothing(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["selftest", "--simulated"]) == 0
    out = capsys.readouterr().out
    assert "[2/11] Press Drone, hold for a second." in out
    assert "      1  arrow up, rim whole\n" in out
    assert "      Press Drone so often." in out
    assert "Nothing is wrong." in out
    assert "delay 55.0 ms" in out


def test_faults_are_told_with_what_to_do(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["selftest", *SHORT, "--fault", "keys-swapped", "--fault", "knob-backwards"]) == FAULTY
    out = capsys.readouterr().out
    assert "2 things are wrong:" in out
    assert "Pulse and Ear are swapped. Exchange their wires at places 33 and 32 of the header." in out
    assert "The knob turns backwards. Exchange the wires of A and B at places 11 and 13" in out
    assert "Left out: Stick, Sound." in out


def test_a_fault_of_the_clock_chip_brings_a_clock_chip_with_it(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["selftest", *SHORT, "--fault", "clock-stands"]) == FAULTY
    assert "The clock chip has stopped" in capsys.readouterr().out


def test_json_is_one_object(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["selftest", *SHORT, "--json", "--fault", "no-pull-up", "--variant", "B"]) == FAULTY
    (finding,) = json.loads(capsys.readouterr().out)["findings"]
    assert finding["code"] == "no-pull-up"
    assert finding["line"] == "No pull-up on left pedal tip"
    assert finding["values"]["part"] == "R2"


def test_the_faults_are_listed(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["selftest", "--faults"]) == 0
    assert [line.split()[0] for line in capsys.readouterr().out.splitlines()] == [fault.name for fault in FAULTS]


def test_a_board_of_ones_own_is_tested(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    own = tmp_path / "my.toml"
    own.write_text(own_text().replace("fitted = false", "fitted = true"), encoding="utf-8")
    assert main(["selftest", *SHORT, "--board", str(own), "--fault", "clock-stands"]) == FAULTY
    assert "The clock chip has stopped" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--simulated", "--skip", "soun"], "Did you mean 'sound'?"),
        (["--simulated", "--fault", "led-revers"], "Did you mean 'led-reversed'?"),
        (["--fault", "led-reversed"], "Add --simulated."),
        (["--board", "gone.toml"], "gone.toml"),
    ],
)
def test_what_cannot_be_is_refused(words: list[str], told: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["selftest", *words]) == BAD_INPUT
    assert told in capsys.readouterr().err


def test_a_computer_without_pins_says_so(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("hardware.drivers.pin_factory.CHOICES", ())
    assert main(["selftest"]) == BAD_INPUT
    assert "Raspberry Pi" in capsys.readouterr().err
