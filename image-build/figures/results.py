"""Keeps figures with their date and the machine that they were measured on."""

from __future__ import annotations

import json
import os
import platform
import subprocess
import time
from collections.abc import Mapping
from pathlib import Path
from shutil import which
from typing import Any

Figures = Mapping[str, Any]


def machine() -> str:
    """Where it was measured."""
    shown = ["qemu-system-aarch64", "--version"]
    version = subprocess.run(shown, capture_output=True, text=True, check=True).stdout if which(shown[0]) else "no QEMU"
    emulator = version.splitlines()[0].split("(")[0].strip()
    return f"{emulator} on {platform.machine()}, {os.cpu_count()} cores"


def keep(folder: Path, name: str, figures: Figures) -> Figures:
    """Write figures into a file of a folder, `name`.json; they are given back with date and machine."""
    whole = {"date": time.strftime("%Y-%m-%d"), "machine": machine(), **_rounded(figures)}
    (folder / f"{name}.json").write_text(json.dumps(whole, indent=2) + "\n", encoding="utf-8")
    return whole


def _rounded(value: Any) -> Any:  # noqa: ANN401 - whatever JSON can hold
    if isinstance(value, Mapping):
        return {key: _rounded(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [_rounded(inner) for inner in value]
    return round(value, 3) if isinstance(value, float) else value
