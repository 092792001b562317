"""A tiny first file system for the guest's kernel, in the format "newc" of cpio(5)."""

from __future__ import annotations

import stat
from pathlib import Path
from typing import Final

from tests.guest.kernel import Kernel, module_bytes

INIT: Final = """#!/busybox sh
export PATH=/
for module in $(busybox cat /order); do busybox insmod /modules/$module || echo "no module $module"; done
for folder in proc sys dev host upper root; do busybox mkdir -p /$folder; done
busybox mount -t devtmpfs none /dev
busybox mount -t 9p -o trans=virtio,version=9p2000.L,msize=512000,cache=loose,ro host /host
busybox mount -t tmpfs -o size=600m none /upper
busybox mkdir /upper/new /upper/work
busybox mount -t overlay -o lowerdir=/host,upperdir=/upper/new,workdir=/upper/work none /root
busybox mount -t proc none /root/proc
busybox mount -t sysfs none /root/sys
busybox mount -t devtmpfs none /root/dev
busybox mkdir -p /root/dev/shm
busybox mount -t tmpfs none /root/dev/shm
busybox mount -t tmpfs none /root/tmp
busybox mount -t tmpfs none /root/run
exec busybox switch_root /root AGENT
"""
"""The host's own files, seen but never changed: what the guest writes stays in its memory."""


def initial_files(kernel: Kernel, modules: tuple[str, ...], agent: str) -> bytes:
    """Archive with busybox, the modules in their order, and the first program, which hands over to `agent`."""
    paths = kernel.with_needs(modules)
    files = {"init": INIT.replace("AGENT", agent).encode(), "busybox": Path("/bin/busybox").read_bytes()}
    files["order"] = "\n".join(path.name for path in paths).encode()
    files |= {f"modules/{path.name}": module_bytes(path) for path in paths}
    parts = [_entry(1, "modules", stat.S_IFDIR | 0o755, b"")]
    parts += [_entry(number, name, stat.S_IFREG | 0o755, data) for number, (name, data) in enumerate(files.items(), 10)]
    parts.append(_entry(0, "TRAILER!!!", 0, b""))
    return b"".join(parts)


def _entry(number: int, name: str, mode: int, data: bytes) -> bytes:
    fields = (number, mode, 0, 0, 1, 0, len(data), 0, 0, 0, 0, len(name) + 1, 0)
    head = b"070701" + "".join(f"{value:08x}" for value in fields).encode() + name.encode() + b"\0"
    return _padded(head) + _padded(data)


def _padded(data: bytes) -> bytes:
    return data + bytes(-len(data) % 4)
