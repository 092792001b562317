"""The unit of the box: what the box and its other units rely on stands in it, and systemd itself finds it tight."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import pytest

from hardware.device import CARD, MOUNT
from hardware.drivers.requests import FOLDER
from hardware.drivers.sound_card import PRIORITY

UNIT = Path(__file__).parents[3] / "hardware/service/keelnote.service"
MOST_EXPOSED = 2.0
"""Of 10, as `systemd-analyze security` counts (systemd-analyze(1))."""

EXPLAINED = {
    "SystemCallFilter": "real-time scheduling",
    "RootDirectory": "No RootDirectory",
    "SupplementaryGroups": "devices of these groups",
    "PrivateDevices": "No PrivateDevices",
    "RestrictAddressFamilies": "a local socket",
    "RestrictRealtime": "No RestrictRealtime",
    "ProcSubset": "No ProcSubset",
    "MemoryDenyWriteExecute": "No MemoryDenyWriteExecute",
    "PrivateUsers": "No PrivateUsers",
    "DeviceAllow": "these classes of devices",
    "PrivateMounts": "nothing that is mounted here is seen outside",
}
"""What systemd still counts against it, and words of the comment in the unit that says why."""

TOOL = shutil.which("systemd-analyze")
with_systemd = pytest.mark.skipif(TOOL is None, reason="systemd is not installed")


def values(text: str) -> dict[str, list[str]]:
    """Every option with its values, in order."""
    found: dict[str, list[str]] = {}
    for line in text.splitlines():
        if "=" in line and not line.startswith("#"):
            name, value = line.split("=", 1)
            found.setdefault(name, []).append(value)
    return found


def unit() -> dict[str, list[str]]:
    return values(UNIT.read_text(encoding="utf-8"))


def test_what_the_box_relies_on_stands_in_it() -> None:
    found = unit()
    assert found["Type"] == ["notify"]
    assert found["Restart"] == ["always"]
    assert found["ExecStart"][0].endswith("keelnote box")
    assert found["User"] == ["keelnote"]
    assert FOLDER.is_relative_to(f"/run/{found['RuntimeDirectory'][0]}")
    assert found["RuntimeDirectoryPreserve"] == ["restart"], "the state of the drone outlives a crash"
    assert str(CARD) == f"/var/lib/{found['StateDirectory'][0]}"
    assert MOUNT.parent == Path(found["ReadWritePaths"][0].removeprefix("-"))
    assert int(found["LimitRTPRIO"][0]) >= PRIORITY


def test_a_crash_is_over_within_three_seconds_and_a_hang_soon_after() -> None:
    found = unit()
    assert found["RestartSec"] == ["100ms"]
    assert found["WatchdogSec"] == ["5s"]
    assert found["StartLimitIntervalSec"] == ["0"]


@with_systemd
def test_systemd_understands_every_line() -> None:
    done = subprocess.run(["systemd-analyze", "verify", UNIT], check=False, capture_output=True, text=True, timeout=60)
    ours = [line for line in done.stderr.splitlines() if UNIT.name in line and "is not executable" not in line]
    assert [line for line in ours if "Unknown" in line or "Failed to parse" in line or "ignoring" in line] == []


def exposure(text: str, folder: Path) -> tuple[float, list[str]]:
    """The score of a unit, and the options that count against it."""
    path = folder / UNIT.name
    path.write_text(text, encoding="utf-8")
    command = ["systemd-analyze", "security", "--offline=yes", "--no-pager", str(path)]
    done = subprocess.run(command, check=False, capture_output=True, text=True, timeout=60)
    score = re.search(r"exposure level for .*?: ([\d.]+)", done.stdout)
    if score is None:
        pytest.skip(f"this systemd reads no unit off line: {done.stderr[:200]}")
    return float(score[1]), re.findall(r"✗ (\w+)=", done.stdout)


@with_systemd
def test_its_exposure_is_small_and_each_exception_is_explained(tmp_path: Path) -> None:
    text = UNIT.read_text(encoding="utf-8")
    score, against = exposure(text, tmp_path)
    assert score <= MOST_EXPOSED
    comments = " ".join(line.lstrip("# ") for line in text.splitlines() if line.startswith("#"))
    assert [name for name in against if EXPLAINED.get(name, "not in the table") not in comments] == []


@with_systemd
def test_the_score_sees_a_unit_that_was_opened(tmp_path: Path) -> None:
    closed = UNIT.read_text(encoding="utf-8")
    opened = re.sub(r"(?m)^(Protect|Private|Restrict|SystemCall|CapabilityB|NoNew|User|Group).*\n", "", closed)
    assert exposure(opened, tmp_path)[0] > MOST_EXPOSED
