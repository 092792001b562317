"""USB lets storage, audio, MIDI and keyboards in and nothing else; a keyboard reaches the panel and nothing else."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import pytest

from emulated.board import Board
from emulated.sticks import make_stick

STRANGERS = {
    "mouse": {"driver": "usb-mouse"},
    "tablet": {"driver": "usb-tablet"},  # says that it is a keyboard without a boot protocol, as far as its class goes
    "net": {"driver": "usb-net", "netdev": "wire"},
    "serial": {"driver": "usb-serial", "chardev": "line"},
    "reader": {"driver": "usb-ccid"},
}

LIST = (
    "cd /sys/bus/usb/devices; for place in *:*; do "
    'driver=$(readlink "$place/driver" || true); '
    'echo "$place $(cat "$place/bInterfaceClass" "$place/bInterfaceSubClass" "$place/bInterfaceProtocol" | tr -d "\\n")'
    ' $(cat "$place/authorized") ${driver##*/}"; done'
)

DANGEROUS = (
    ("alt", "f2"),
    ("ctrl", "alt", "f3"),
    ("alt", "left"),
    ("alt", "sysrq", "h"),
    ("alt", "sysrq", "b"),
    ("alt", "sysrq", "k"),
    *[("ctrl", "alt", "delete")] * 8,
)
"""Change of console, Magic SysRq, restart: the kernel's own map and systemd's "seven times within 2 s"."""


@dataclass(frozen=True, slots=True)
class Interface:
    """One interface of a USB device, as the guest's kernel has it."""

    place: str
    kind: str
    let_in: bool
    driver: str


def interfaces(board: Board) -> dict[str, Interface]:
    found = {}
    for line in board.shell(LIST).splitlines():
        place, kind, authorized, *driver = line.split()
        found[place] = Interface(place, kind, authorized == "1", *(driver or [""]))
    return found


@pytest.mark.timeout(1200)
def test_only_storage_sound_and_keyboards_are_let_in(quiet: Board, folder: Path) -> None:
    board = quiet
    board.power_on()
    board.wait_ready(400)
    board.control.ask("netdev_add", type="user", id="wire")
    board.control.ask("chardev-add", id="line", backend={"type": "null", "data": {}})
    board.control.plug(make_stick(folder / "stick.img", megabytes=64))
    board.wait_until("the stick is in use", lambda: " /media/keelnote " in board.shell("cat /proc/mounts"), 120)
    known = interfaces(board)
    assert {(one.kind, one.let_in, one.driver) for one in known.values() if one.kind[:2] != "09"} == {
        ("030101", True, "usbhid"),
        ("080650", True, "usb-storage"),
    }
    for name, words in STRANGERS.items():
        board.control.ask("device_add", bus="usb.0", id=name, **words)
        # The newcomers: those that the kernel has found, when udev has dealt with all of them.
        board.wait_until(f"{name} is found", lambda: interfaces(board).keys() - known.keys(), 60)
        board.shell("udevadm settle")
        strange = {place: one for place, one in interfaces(board).items() if place not in known}
        (folder / f"{name}.txt").write_text("\n".join(map(str, strange.values())), encoding="utf-8")
        assert [one for one in strange.values() if one.let_in or one.driver] == [], name
        board.control.ask("device_del", id=name)
        board.wait_until(f"{name} is gone", lambda strange=strange: not interfaces(board).keys() & strange, 60)
    assert board.shell("ls /sys/class/net").split() == ["lo"]
    a_keyboard_reaches_the_panel_alone(board)
    board.shell("systemctl stop keelnote.service", seconds=120)
    a_keyboard_reaches_the_panel_alone(board)


def a_keyboard_reaches_the_panel_alone(board: Board) -> None:
    """While the box holds it, and while it does not."""
    before = board.shell("cat /proc/sys/kernel/random/boot_id /sys/class/tty/tty0/active")
    for keys in DANGEROUS:
        board.control.tap(*keys, hold=0.05)
    assert board.shell("cat /proc/sys/kernel/random/boot_id /sys/class/tty/tty0/active") == before
    assert board.shell("cat /proc/sys/kernel/sysrq").strip() == "0"
    # The kernel says so on every console that it is asked, whether it does as it is told or not.
    assert "sysrq:" not in board.log()
    assert "ctrl-alt-del" not in board.log().lower()
    assert board.running()
