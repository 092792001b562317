"""The files that the system does things for the box with fit each other and what the drivers ask."""

from __future__ import annotations

import configparser
import os
import re
import shutil
import subprocess
from pathlib import Path

import pytest

from hardware.device import MOUNT
from hardware.drivers import requests

SERVICE = Path(__file__).parents[2] / "hardware" / "service"
SCRIPT = SERVICE / "keelnote-stick"


def unit(name: str) -> configparser.ConfigParser:
    parser = configparser.ConfigParser(strict=False, interpolation=None)
    parser.optionxform = str  # type: ignore[assignment, method-assign]  # the documented way to keep capitals
    parser.read(SERVICE / name)
    return parser


@pytest.mark.parametrize("wish", [requests.RELEASE, requests.POWER_OFF])
def test_every_wish_is_watched_for_and_done_and_removed(wish: str) -> None:
    watched = unit(f"keelnote-{wish}.path")["Path"]["PathExists"]
    assert watched == str(requests.FOLDER / wish)
    done = (SERVICE / f"keelnote-{wish}.service").read_text(encoding="utf-8")
    by_script = f"keelnote-stick {wish.split('-', maxsplit=1)[0]}" in done
    assert f"rm -f {watched}" in done or (by_script and f'"$requests/{wish}"' in SCRIPT.read_text(encoding="utf-8"))


def test_the_rule_starts_the_unit_which_runs_the_script() -> None:
    rule = (SERVICE / "90-keelnote-stick.rules").read_text(encoding="utf-8")
    assert re.search(r'ENV\{SYSTEMD_WANTS\}\+="keelnote-stick@%k\.service"', rule)
    service = unit("keelnote-stick@.service")
    assert service["Service"]["ExecStart"].endswith("/keelnote-stick mount /dev/%I")
    assert service["Service"]["ExecStop"].endswith("/keelnote-stick gone")
    assert service["Unit"]["BindsTo"] == "dev-%i.device"


def test_the_script_mounts_where_the_box_looks_and_lets_nothing_run_from_there() -> None:
    text = SCRIPT.read_text(encoding="utf-8")
    assert f":-{MOUNT}}}" in text
    assert f":-{requests.FOLDER}}}" in text
    for option in ("nosuid", "nodev", "noexec"):
        assert option in text
    assert os.access(SCRIPT, os.X_OK)


def test_every_file_is_in_the_list() -> None:
    listed = (SERVICE / "README.md").read_text(encoding="utf-8")
    for path in SERVICE.iterdir():
        if path.is_file() and path.suffix not in {".md", ".py"}:
            assert path.name in listed or path.stem in listed


def test_the_script_refuses_what_it_does_not_know_and_does_nothing_where_nothing_is_mounted(tmp_path: Path) -> None:
    environment = {**os.environ, "KEELNOTE_PLACE": str(tmp_path / "stick"), "KEELNOTE_REQUESTS": str(tmp_path)}

    def run(*words: str) -> int:
        return subprocess.run(["sh", SCRIPT, *words], env=environment, check=False, capture_output=True).returncode

    assert run() == 2
    assert run("eject") == 2
    assert run("gone") == 0
    (tmp_path / "release-stick").touch()
    assert run("release") == 0
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(shutil.which("shellcheck") is None, reason="shellcheck is not installed")
def test_shellcheck_finds_nothing() -> None:
    done = subprocess.run(["shellcheck", SCRIPT], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout
