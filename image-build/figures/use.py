"""What the box needs while it plays: memory, processor, and what it writes on its card, all seen from outside."""

from __future__ import annotations

import re
import time
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from emulated.board import READY, Board
from emulated.write_log import DISCARD, Write, writes_of
from maker import layout

PLAYS: Final = ("kp_7", "kp_9", "kp_4", "kp_5")
"""Keys of the number pad: drone, pulse, ear, take (hardware/drivers/input_table.py)."""

TAKE: Final = PLAYS[-1]
NEXT_STEP: Final = "kp_decimal"

GROUP: Final = "/sys/fs/cgroup/system.slice/keelnote.service"

PATIENCE: Final = 900.0
"""Seconds; other things may run on this machine."""


@dataclass(frozen=True, slots=True)
class Memory:
    """In megabytes (10**6 bytes): of the whole board as the kernel counts it, and of the service.

    Parameters
    ----------
    used : float
        MemTotal less MemAvailable. What looks into the box for the measurement is in it, some 10 MB.
    service_peak : float
        The most that the service's control group ever had, caches of its files and its mappings among it.
    """

    used: float
    service_peak: float


@dataclass(frozen=True, slots=True)
class Work:
    """What a stretch of time took.

    Parameters
    ----------
    seconds : float
        By the guest's clock.
    mega_instructions : float
        Millions of instructions a second, both processors together; 0 when QEMU does not count them.
    board, service : float
        Seconds of one processor's time for each second: of the whole board, and of the service.
    """

    seconds: float
    mega_instructions: float
    board: float
    service: float


def start_with_stick(board: Board, stick: Path) -> None:
    """Switch on with the stick in, and wait until the box has it and has come to rest."""
    board.power_on()
    board.control.plug(stick)
    board.wait_ready(PATIENCE)
    # The box begins anew when its stick comes, so that settings and plans of the stick count.
    board.wait_until("the box has its stick", lambda: board.log().count(READY) > 1, PATIENCE)
    board.wait_until("the rest has started", lambda: board.service("ActiveState", "keelnote.target") == "active", 600)


def play(board: Board) -> None:
    """Have everything run at once: drone, click, ear, a take."""
    for key in PLAYS:
        board.control.tap(key, hold=0.3)
        time.sleep(3)


def memory(board: Board) -> Memory:
    """Give what is in use at this moment."""
    lines = board.shell(f"cat /proc/meminfo {GROUP}/memory.peak", PATIENCE)
    total, free = (int(re.search(rf"{name}:\s+(\d+) kB", lines)[1]) for name in ("MemTotal", "MemAvailable"))  # type: ignore[index]  # always there
    return Memory((total - free) * 1024 / 1e6, int(lines.splitlines()[-1]) / 1e6)


def work(board: Board, seconds: float, *, counted: bool) -> Work:
    """Watch for at least as many seconds of the guest's clock."""
    first = _reading(board, counted=counted)
    last = first
    while last[0] - first[0] < seconds:
        time.sleep(min(60.0, max(1.0, seconds - last[0] + first[0])))
        last = _reading(board, counted=counted)
    took, instructions, busy, service = (after - before for before, after in zip(first, last, strict=True))
    return Work(took, instructions / took / 1e6, busy / took, service / took)


def _reading(board: Board, *, counted: bool) -> tuple[float, float, float, float]:
    said = board.shell(f"cat /proc/uptime /proc/stat {GROUP}/cpu.stat", PATIENCE)
    done = float(board.control.ask("query-replay")["icount"]) if counted else 0.0
    # proc(5): user, nice, system, idle, iowait, irq, softirq, in hundredths of a second.
    ticks = [int(word) for word in re.search(r"^cpu (.*)$", said, re.MULTILINE)[1].split()]  # type: ignore[index]  # always there
    busy = sum(ticks[:3]) + sum(ticks[5:7])
    used = int(re.search(r"^usage_usec (\d+)$", said, re.MULTILINE)[1])  # type: ignore[index]  # always there
    return float(said.split()[0]), done, busy / 100, used / 1e6


def written(log: Path, after: int = 0) -> dict[str, int]:
    """Bytes that were written on each partition, by its name in maker/layout.py, from one entry of the log on."""
    return by_partition(writes_of(log)[after:])


def by_partition(writes: Iterable[Write]) -> dict[str, int]:
    """Sum up; the two slots apart. What lies before the first partition counts as `table`."""
    found: Counter[str] = Counter(dict.fromkeys(("table", *map(_name, layout.PARTITIONS)), 0))
    for write in writes:
        if not write.flags & DISCARD:
            inside = [part for part in layout.PARTITIONS if part.start <= write.sector]
            found[_name(inside[-1]) if inside else "table"] += write.sectors * layout.SECTOR
    return dict(found)


def _name(part: layout.Partition) -> str:
    return {2: "slot A", 3: "slot B"}.get(part.number, part.name)
