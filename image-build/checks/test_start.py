"""The image starts on the emulated board by itself, shows its screen, and is alone."""

from __future__ import annotations

import re
from pathlib import Path

from emulated.board import Board


def test_it_starts_shows_its_screen_and_is_alone(board: Board) -> None:
    board.power_on()
    board.wait_ready()
    board.wait_until("the service is ready", lambda: board.service("ActiveState") == "active", 60)
    assert any(board.screen("ready")), "the screen is dark"
    the_root_is_not_writable(board)
    nothing_listens(board)
    nobody_can_log_in(board)
    the_data_partition_is_in_use(board)
    the_service_is_confined(board)
    keep_figures(board)


def the_root_is_not_writable(board: Board) -> None:
    for place in ("/", "/usr", "/usr/bin", "/boot", "/root", "/home", "/opt"):
        code, _ = board.run("/usr/bin/touch", f"{place}/probe")
        assert code != 0, f"{place} can be written"
    code, _ = board.run("/bin/sh", "-c", "mount -o remount,rw / && touch /usr/probe")
    assert code != 0
    assert "ro," in board.shell("grep ' / ' /proc/self/mounts")
    assert " /etc overlay" in board.shell("cat /proc/self/mounts")


def nothing_listens(board: Board) -> None:
    # /proc/net: state 0A is LISTEN of TCP; UDP and raw sockets have no such state, so there may be none at all.
    for table in ("tcp", "tcp6", "udp", "udp6", "raw", "raw6", "udplite"):
        lines = board.shell(f"cat /proc/net/{table} 2>/dev/null || true").splitlines()[1:]
        assert lines == [], f"{table}: {lines}"
    assert board.shell("ls /sys/class/net").split() == ["lo"]
    assert "up" not in board.shell("cat /sys/class/net/lo/operstate").split()
    modules = board.shell("find /usr/lib/modules -name '*.ko' | sed 's/.*kernel//'")
    assert not re.search(r"drivers/net/|bluetooth|wireless|/mac80211", modules)


def nobody_can_log_in(board: Board) -> None:
    shadow = board.shell("cat /etc/shadow")
    assert all(line.split(":")[1][:1] in {"*", "!"} for line in shadow.splitlines()), "a user has a password"
    programs = board.shell("ps -eo comm 2>/dev/null || cat /proc/[0-9]*/comm")
    assert not re.search(r"getty|login|sshd|cron|dbus", programs), programs
    code, _ = board.run("/bin/sh", "-c", "ls /usr/sbin/sshd /usr/sbin/cron /usr/bin/apt 2>/dev/null | grep .")
    assert code != 0


def the_data_partition_is_in_use(board: Board) -> None:
    assert board.shell("cat /run/keelnote-boot/data").strip() == "ok"
    mount = board.shell("grep ' /var/lib/keelnote ' /proc/self/mounts")
    assert " ext4 rw,nosuid,nodev,noexec,noatime" in mount
    size = int(board.shell("df --output=size -k /var/lib/keelnote | tail -1"))
    assert size > 1_000_000, "the data partition did not grow to the card's end"
    assert board.shell("cat /etc/machine-id") == board.shell("cat /var/lib/keelnote/machine-id")


def the_service_is_confined(board: Board) -> None:
    said = board.shell("systemd-analyze security --no-pager keelnote.service", seconds=120)
    (board.folder / "security.txt").write_text(said, encoding="utf-8")
    score = float(re.search(r"Overall exposure level for keelnote.service: ([\d.]+)", said)[1])
    assert score <= 2.0, said
    pid = board.service("MainPID")
    assert board.shell(f"stat -c %U /proc/{pid}").strip() == "keelnote"


def keep_figures(board: Board) -> None:
    blame = board.shell("systemd-analyze time; systemd-analyze blame; systemd-analyze critical-chain keelnote.service")
    Path(board.folder / "systemd-analyze.txt").write_text(blame, encoding="utf-8")
    memory = board.shell("cat /proc/meminfo")
    Path(board.folder / "memory.txt").write_text(memory, encoding="utf-8")
