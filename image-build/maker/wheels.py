"""The project's own wheel and the few packages from PyPI, each known by its hash, put into the root file system."""

from __future__ import annotations

import os
import shutil
import sys
import zipfile
from pathlib import Path

from maker.inputs import EPOCH, HERE, PROJECT, cache_folder, hash_of
from maker.progress import BuildError, run

PLACE = "usr/lib/python3/dist-packages"
"""Where Debian's Python looks; the box has no other Python."""

BOX_PYTHON = ("--python-version", "3.13", "--implementation", "cp", "--platform", "manylinux_2_28_aarch64")


def pinned(name: str, *options: str, tools: Path | None = None) -> tuple[Path, ...]:
    """Give the files that a list of requirements names, checked against their hashes, from PyPI or the cache.

    Of a source package pip asks what it is, which takes tools to build it; `tools` is a folder with them.
    """
    wanted = HERE / name
    folder = cache_folder() / f"pypi-{hash_of([wanted], *options)}"
    if not (folder / "complete").exists():
        shutil.rmtree(folder, ignore_errors=True)
        command = [sys.executable, "-m", "pip", "download", "--quiet", "--disable-pip-version-check", "--no-deps"]
        run([*command, "--require-hashes", *options, "--dest", folder, "--requirement", wanted], env=_with(tools))
        (folder / "complete").touch()
    return tuple(sorted(path for path in folder.iterdir() if path.suffix in {".whl", ".gz"}))


def pure_wheels() -> tuple[Path, ...]:
    """Give the wheels from PyPI."""
    return pinned("requirements.txt", "--only-binary=:all:", *BOX_PYTHON)


def build_tools() -> Path:
    """Give a folder with what builds packages, for Python to import from."""
    wheels = pinned("requirements-build.txt", "--only-binary=:all:")
    folder = wheels[0].parent / "unpacked"
    if not folder.exists():
        for wheel in wheels:
            with zipfile.ZipFile(wheel) as archive:
                archive.extractall(folder)
    return folder


def pins_source() -> Path:
    """Give the source package of lgpio."""
    options = ("--no-binary=:all:", "--no-build-isolation")
    return pinned("requirements-source.txt", *options, tools=build_tools())[0]


def own_wheel(work: Path) -> Path:
    """Build the project's wheel; the same sources give the same bytes."""
    work.mkdir(parents=True, exist_ok=True)
    env = _with(build_tools()) | {"SOURCE_DATE_EPOCH": str(EPOCH)}
    script = f"import hatchling.build; print(hatchling.build.build_wheel({str(work)!r}))"
    name = run([sys.executable, "-c", script], env=env, cwd=PROJECT).split()[-1]
    return work / name


def _with(tools: Path | None) -> dict[str, str]:
    return os.environ | ({"PYTHONPATH": str(tools), "PYTHONDONTWRITEBYTECODE": "1"} if tools else {})


def install(wheel: Path, root: Path) -> set[str]:
    """Unpack a pure wheel where the box's Python finds it (PyPA, "Binary distribution format"); what it is at the top.

    Raises
    ------
    BuildError
        If it holds more than Python packages.
    """
    with zipfile.ZipFile(wheel) as archive:
        names = [name for name in archive.namelist() if not name.endswith("/")]
        odd = [name for name in names if ".data/" in name or ".." in name or name.startswith("/")]
        if odd:
            raise BuildError(f"{wheel.name} is no plain wheel: {odd[0]}")
        for name in names:
            target = root / PLACE / name
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(archive.read(name))
            target.chmod(0o644)
        return {name.split("/", 1)[0] for name in names if not name.split("/", 1)[0].endswith(".dist-info")}
