"""What is installed from the wheel is all of both packages, data files too, and the command that starts it."""

from __future__ import annotations

import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel, built as pip would, without the network."""
    folder = tmp_path_factory.mktemp("wheel")
    command = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(folder)]
    subprocess.run(command, cwd=ROOT, check=True, capture_output=True)
    (made,) = folder.glob("keelnote-*.whl")
    return made


def shipped(folder: str) -> set[str]:
    """Files of a package that belong into the wheel: all but what Python leaves lying about."""
    files = (path for path in (ROOT / folder).rglob("*") if path.is_file())
    return {path.relative_to(ROOT).as_posix() for path in files if path.suffix != ".pyc"}


def test_every_file_of_both_packages_is_in_it(wheel: Path) -> None:
    held = set(zipfile.ZipFile(wheel).namelist())
    wanted = shipped("firmware") | shipped("hardware")
    assert "hardware/board/board.toml" in wanted
    assert wanted - held == set()


def test_nothing_else_is_in_it(wheel: Path) -> None:
    tops = {name.split("/")[0] for name in zipfile.ZipFile(wheel).namelist()}
    assert {top for top in tops if not top.endswith(".dist-info")} == {"firmware", "hardware"}


def test_it_brings_the_command_and_the_licence(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as opened:
        names = {name.split(".dist-info/", 1)[-1]: name for name in opened.namelist() if ".dist-info/" in name}
        assert "keelnote = hardware.desk:main" in opened.read(names["entry_points.txt"]).decode()
        assert "License-Expression: MIT" in opened.read(names["METADATA"]).decode()
        assert opened.read(names["licenses/LICENSE"]) == (ROOT / "LICENSE").read_bytes()
