"""Debian's kernel for the guest: downloaded as a package and unpacked beside it, never installed."""

from __future__ import annotations

import lzma
import re
import shutil
import subprocess
from dataclasses import dataclass
from pathlib import Path
from typing import Final

CACHE: Final = Path(__file__).parents[2] / ".venv" / "guest-kernel"
"""In the folder that is ours to fill and is made anew with everything else."""

META: Final = "linux-image-amd64"
"""The package that always depends on the newest kernel."""


@dataclass(frozen=True, slots=True)
class Kernel:
    """An unpacked kernel package."""

    image: Path
    modules: Path

    def with_needs(self, names: tuple[str, ...]) -> tuple[Path, ...]:
        """Files of some modules and of all that they depend on, in the order in which they can be loaded.

        A name that the kernel has built in has no file and is left out.
        """
        files = {_plain(path): path for path in self.modules.rglob("*.ko*")}
        ordered: dict[str, Path] = {}

        def visit(name: str) -> None:
            path = files.get(name.replace("-", "_"))
            if path is None or path in ordered.values():
                return
            for need in _needs(path):
                visit(need)
            ordered[name] = path

        for name in names:
            visit(name)
        return tuple(ordered.values())


def module_bytes(path: Path) -> bytes:
    """A module as the kernel takes it; Debian packs them from version 13 on."""
    data = path.read_bytes()
    return lzma.decompress(data) if path.suffix == ".xz" else data


def _plain(path: Path) -> str:
    return path.name.split(".ko")[0].replace("-", "_")


def _needs(path: Path) -> list[str]:
    # The section .modinfo holds "depends=a,b" and "softdep=pre: c", each ended by a zero.
    data = module_bytes(path)
    found = re.search(rb"\0depends=([\w,-]*)\0", data)
    hard = found[1].decode().split(",") if found and found[1] else []
    soft = [name.decode() for match in re.finditer(rb"softdep=pre: ([\w -]+)\0", data) for name in match[1].split()]
    return [*hard, *soft]


def fetch_kernel(cache: Path = CACHE) -> Kernel:
    """The newest kernel that the machine's own package sources offer, from the cache if it is there."""
    wanted = _newest()
    place = cache / wanted
    if not (place / "boot").is_dir():
        shutil.rmtree(cache, ignore_errors=True)
        cache.mkdir(parents=True)
        subprocess.run(["apt-get", "-qq", "download", wanted], cwd=cache, check=True, capture_output=True, timeout=300)
        package = next(cache.glob("*.deb"))
        subprocess.run(["dpkg-deb", "-x", package, cache / "part"], check=True, timeout=300)
        package.unlink()
        (cache / "part").rename(place)
    image = next((place / "boot").glob("vmlinuz-*"))
    return Kernel(image, next((place / "lib" / "modules").iterdir(), place) if (place / "lib").exists() else place)


def _newest() -> str:
    shown = subprocess.run(
        ["apt-cache", "depends", META], check=True, capture_output=True, text=True, timeout=60
    ).stdout
    return next(line.split()[-1] for line in shown.splitlines() if "Depends:" in line)
