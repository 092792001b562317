"""Keyboards and the letting go of sticks on a real kernel: its evdev, its udev, and the box's own root helper."""

from __future__ import annotations

import re
import signal
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.guest.fat import copied, make_stick
from tests.guest.kernel import Kernel
from tests.guest.machine import FAT, ROOT, Guest, Job
from tests.guest.sticks import plug_in

INPUT = ("usbhid", "hid-generic", "evdev", "uinput")
"""Modules for USB keyboards, for reading them, and for those that a program makes."""

USB_PAD = "uses number pad: QEMU QEMU USB Keyboard"
"""Beside it the guest has a keyboard of the PC's own kind."""

SERVICE = ROOT / "hardware" / "service"
HELPER = f"KEELNOTE_PLACE=/stick KEELNOTE_REQUESTS=/run/requests sh {SERVICE / 'keelnote-stick'}"

SYSTEM = f"mkdir -p /run/requests; while sleep 0.1; do [ -e /run/requests/release-stick ] && {HELPER} release; done"
"""Does what the path unit does: runs the helper when the box asks."""


@pytest.fixture(scope="module")
def guest(kernel: Kernel) -> Iterator[Guest]:
    """A guest that knows keyboards, too."""
    with Guest(kernel, modules=(*FAT, *INPUT)) as running:
        yield running


def events_of(job: Job) -> list[str]:
    return [line.removeprefix("event ") for line in job.lines if line.startswith("event ")]


@pytest.mark.timeout(600)
def test_a_real_keyboard_is_a_number_pad_and_leaves_nothing_held_when_it_is_pulled_out(guest: Guest) -> None:
    panel = guest.start(sys.executable, "tests/guest/panel.py")
    guest.wait_for(panel, "looks", 120)
    guest.plug_in("usb-kbd", "pad")
    guest.wait_for(panel, USB_PAD, 60)
    for code in ("kp_7", "num_lock", "kp_add", "kp_enter", "kp_decimal", "pgdn", "a"):
        guest.strike(code, down=True)
        guest.strike(code, down=False)
    guest.wait_for(panel, "event PedalUp", 30)
    guest.strike("kp_8", down=True)
    guest.strike("kp_5", down=True)
    guest.wait_for(panel, "event KeyDown Take", 30)
    guest.pull_out("pad")
    guest.wait_for(panel, "event KeyUp Take", 30)
    guest.wait_for(panel, "event KeyUp Compare", 30)
    guest.plug_in("usb-kbd", "back")
    while sum(line == USB_PAD for line in panel.lines) < 2:
        guest.wait_next(panel, 60)
    guest.strike("kp_4", down=True)
    guest.strike("kp_4", down=False)
    guest.wait_for(panel, "event KeyUp Ear", 30)
    guest.send_signal(panel, signal.SIGTERM)
    assert guest.wait(panel, 60).code == 0
    told = events_of(panel)
    assert told[:9] == [
        *("KeyDown Drone", "KeyUp Drone", "KnobTurn 1", "KnobDown", "KnobUp"),
        *("PedalDown right", "PedalUp right") * 2,
    ]
    assert told[9:11] == ["KeyDown Compare", "KeyDown Take"]
    assert sorted(told[11:13]) == ["KeyUp Compare", "KeyUp Take"]
    assert told[13:] == ["KeyDown Ear", "KeyUp Ear"]
    guest.pull_out("back")


@pytest.mark.timeout(600)
def test_the_contract_of_panels_holds_on_the_kernels_own_input_devices(guest: Guest) -> None:
    out = guest.run(
        sys.executable,
        *("-m", "pytest", "-q", "-p", "no:cacheprovider", "-p", "no:xdist", "--basetemp=/run/tests"),
        *("--timeout=400", "tests/contract/test_panel.py", "-k", "kernel"),
        seconds=500,
        environment={"CI": "true"},
    )
    found = re.search(r"(\d+) passed", out)
    assert found, out[-2000:]
    assert int(found[1]) >= 20


@pytest.mark.timeout(600)
def test_a_stick_is_let_go_when_nothing_uses_it_and_may_then_be_pulled(guest: Guest, tmp_path: Path) -> None:
    image = make_stick(tmp_path / "stick.img", 64)
    device = plug_in(guest, image, "stick")
    guest.run("sh", "-c", f"{HELPER} mount {device}")
    options = guest.run("sh", "-c", "grep ' /stick ' /proc/self/mounts").split()[3].split(",")
    assert {"rw", "nodev", "nosuid", "noexec"} <= set(options)
    system = guest.start("sh", "-c", SYSTEM)
    out = guest.run("sh", "-c", f"{sys.executable} tests/guest/let_go.py /stick /run/requests </dev/null", seconds=120)
    assert out.splitlines() == [
        "at first True well",
        "with a file open stick-busy",
        "still True",
        "let go False" + 5 * " stick-released",
    ]
    assert guest.run("sh", "-c", "grep -c ' /stick ' /proc/self/mounts || true").strip() == "0"
    guest.yank("stick")
    guest.send_signal(system, signal.SIGKILL)
    assert (copied(image, tmp_path / "copy") / "KEELNOTE" / "settings.toml").read_text() == "a4 = 442\n"
    assert b"unmounted cleanly" not in image.read_bytes()[:512]


@pytest.mark.timeout(600)
def test_the_helper_makes_room_for_the_next_stick_and_leaves_a_second_one_alone(guest: Guest, tmp_path: Path) -> None:
    first = plug_in(guest, make_stick(tmp_path / "first.img", 64), "first")
    guest.run("sh", "-c", f"{HELPER} mount {first}")
    second = plug_in(guest, make_stick(tmp_path / "second.img", 64), "second")
    assert "in use" in guest.run("sh", "-c", f"{HELPER} mount {second}")
    guest.yank("first")
    guest.run("sh", "-c", f"{HELPER} mount {second}")
    assert second in guest.run("sh", "-c", "grep ' /stick ' /proc/self/mounts")
    guest.yank("second")
    guest.run("sh", "-c", f"{HELPER} gone")
    assert guest.run("sh", "-c", "grep -c ' /stick ' /proc/self/mounts || true").strip() == "0"


@pytest.mark.timeout(600)
def test_udev_itself_knows_a_stick_by_our_rule(guest: Guest, tmp_path: Path) -> None:
    rules = "mkdir -p /run/udev/rules.d; cp hardware/service/90-keelnote-stick.rules /run/udev/rules.d/"
    guest.run("sh", "-c", f"{rules}; /lib/systemd/systemd-udevd --daemon")
    fat = plug_in(guest, make_stick(tmp_path / "fat.img", 64), "fat")
    guest.run("udevadm", "settle", "--timeout=60", seconds=90)
    told = guest.run("udevadm", "info", "--query=property", fat)
    assert f"SYSTEMD_WANTS=keelnote-stick@{Path(fat).name}.service" in told.splitlines(), told
    other = tmp_path / "other.img"
    other.write_bytes(bytes(1 << 20))
    unknown = plug_in(guest, other, "other")
    guest.run("udevadm", "settle", "--timeout=60", seconds=90)
    assert "SYSTEMD_WANTS" not in guest.run("udevadm", "info", "--query=property", unknown)
    guest.run("udevadm", "control", "--exit")
