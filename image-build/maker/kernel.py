"""The kernel with the modules that the box needs, unpacked for the loader of the initial RAM disk and for systemd."""

from __future__ import annotations

import lzma
import re
import shutil
from dataclasses import dataclass
from pathlib import Path

from maker.inputs import HERE, listed
from maker.module import PLACE, own_module
from maker.progress import BuildError, run

BOARDS = (
    "bcm2837-rpi-3-a-plus",
    "bcm2837-rpi-3-b-plus",
    "bcm2837-rpi-3-b",
    "bcm2837-rpi-zero-2-w",
    "bcm2711-rpi-4-b",
)
"""Device trees, by their names in Debian's kernel package; the firmware of the board asks for them by these names."""


@dataclass(frozen=True, slots=True)
class Kernel:
    """What was taken out of the kernel's and the firmware's packages."""

    version: str
    image: Path
    trees: tuple[Path, ...]
    firmware: Path
    modules: Path
    """A tree with `lib/modules/VERSION` in it: our modules, unpacked, with the tables that modprobe reads."""

    boot_modules: tuple[str, ...]
    """Names of those that the initial RAM disk loads."""

    def needs(self, names: tuple[str, ...]) -> tuple[Path, ...]:
        """Files of some modules and of what they depend on, relative to the folder of the version."""
        table = _dependencies(self.modules / "lib/modules" / self.version / "modules.dep")
        found: dict[str, None] = {}
        for name in names:
            own = next((path for path in table if _plain(path) == name.replace("-", "_")), None)
            for path in (*table[own], own) if own else ():
                found[path] = None
        return tuple(Path(path) for path in found)


def unpacked_kernel(debs: Path, work: Path, archive: Path) -> Kernel:
    """Take the kernel and the board's firmware out of their packages, with the modules of modules.txt alone.

    Parameters
    ----------
    debs : Path
        The folder with the packages.
    work : Path
        Where they are unpacked.
    archive : Path
        Debian's part of the root file system.
    """
    for deb in sorted(debs.glob("*.deb")):
        run(["dpkg-deb", "-x", deb, work / "packages"])
    image = next((work / "packages/boot").glob("vmlinuz-*"))
    version = image.name.removeprefix("vmlinuz-")
    wanted = [line.split() for line in listed(HERE / "modules.txt")]
    names = tuple(words[-1] for words in wanted)
    source = work / "packages/usr/lib/modules" / version
    target = work / "modules/lib/modules" / version
    own = own_module(work / "packages", version, archive)
    _take(source, target, tuple(name for name in names if name != own.stem))
    (target / PLACE).mkdir()
    shutil.copy(own, target / PLACE / own.name)
    for table in ("modules.builtin", "modules.builtin.modinfo", "modules.order"):
        shutil.copy2(source / table, target / table)
    run(["depmod", "-b", work / "modules", version])
    trees = tuple(work / f"packages/usr/lib/linux-image-{version}/broadcom/{name}.dtb" for name in BOARDS)
    return Kernel(
        version,
        image,
        trees,
        work / "packages/usr/lib/raspi-firmware",
        work / "modules",
        tuple(words[-1] for words in wanted if words[0] == "boot"),
    )


def _take(source: Path, target: Path, names: tuple[str, ...]) -> None:
    """Copy modules and all that they depend on, unpacked: squashfs packs better, and loading is faster."""
    files = {_plain(path.name): path for path in source.rglob("*.ko*")}
    builtin = {_plain(line) for line in (source / "modules.builtin").read_text(encoding="ascii").split()}
    left = [name.replace("-", "_") for name in names]
    taken: set[str] = set()
    while left:
        name = left.pop()
        if name in taken or name in builtin:
            continue
        if name not in files:
            raise BuildError(f"modules.txt wants {name}, which this kernel ({source.name}) has not")
        taken.add(name)
        path = files[name]
        data = lzma.decompress(path.read_bytes()) if path.suffix == ".xz" else path.read_bytes()
        place = target / path.relative_to(source).with_name(path.name.removesuffix(".xz"))
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_bytes(data)
        left += [need for need in _depends(data) if need in files]


def _depends(module: bytes) -> list[str]:
    # The section .modinfo holds "depends=a,b" and "softdep=pre: c", each ended by a zero.
    found = re.search(rb"\0depends=([\w,-]*)\0", module)
    hard = found[1].decode().split(",") if found and found[1] else []
    soft = [name.decode() for match in re.finditer(rb"softdep=pre: ([\w -]+)\0", module) for name in match[1].split()]
    return [name.replace("-", "_") for name in (*hard, *soft)]


def _plain(name: str) -> str:
    return Path(name).name.split(".ko")[0].replace("-", "_")


def _dependencies(table: Path) -> dict[str, tuple[str, ...]]:
    rows = (line.split(":", 1) for line in table.read_text(encoding="ascii").splitlines())
    return {path: tuple(reversed(needs.split())) for path, needs in rows}
