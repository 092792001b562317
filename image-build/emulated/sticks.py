"""USB sticks as files of this machine: FAT32, filled and read by mtools."""

from __future__ import annotations

import os
import subprocess
from pathlib import Path


def make_stick(path: Path, files: dict[str, bytes | Path] | None = None, megabytes: int = 600) -> Path:
    """A stick with some files on it, in their folders."""
    with path.open("wb") as file:
        file.truncate(megabytes << 20)
    subprocess.run(["/usr/sbin/mkfs.vfat", "-F", "32", "-n", "KEELNOTE", path], check=True, capture_output=True)
    for name, content in (files or {}).items():
        put(path, name, content)
    return path


def put(stick: Path, name: str, content: bytes | Path) -> None:
    """Write a file onto a stick, with the folders it is in."""
    for folder in list(Path(name).parents)[-2::-1]:
        subprocess.run(["mmd", "-D", "s", "-i", stick, f"::{folder}"], capture_output=True, check=False)
    source = ["-"] if isinstance(content, bytes) else [str(content)]
    data = content if isinstance(content, bytes) else None
    subprocess.run(["mcopy", "-o", "-i", stick, *source, f"::{name}"], input=data, check=True, env=_env())


def read(stick: Path, name: str) -> bytes | None:
    """Give a file of a stick; None if it is not there."""
    done = subprocess.run(["mtype", "-i", stick, f"::{name}"], capture_output=True, check=False, env=_env())
    return done.stdout if done.returncode == 0 else None


def copied(stick: Path, folder: Path) -> list[Path]:
    """Copy all files of a stick out, and give them."""
    folder.mkdir(parents=True, exist_ok=True)
    subprocess.run(
        ["mcopy", "-s", "-n", "-Q", "-i", stick, "::/*", folder], check=True, capture_output=True, env=_env()
    )
    return sorted(path for path in folder.rglob("*") if path.is_file())


def _env() -> dict[str, str]:
    return os.environ | {"MTOOLS_SKIP_CHECK": "1"}
