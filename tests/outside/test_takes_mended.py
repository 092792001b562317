"""Takes that were cut off anywhere and mended open with the right duration in programs that are not ours.

Sources: FFmpeg, SoX and libsndfile (FLAC as RFC 9639 has it), and Chromium, all from Debian; `flac --test` is Xiph's.
"""

from __future__ import annotations

import json
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile
from playwright.sync_api import Page, sync_playwright

from firmware.units import RATE
from hardware.desk import main
from hardware.drivers.flac_file import FlacTake

SECONDS = 9
CUTS = ("mid-frame", "in zeros", "at a frame", "short last frame", "finished, end lost", "two channels")


def take(place: Path, channels: int = 1) -> tuple[bytes, bytes]:
    """Bytes of a take while it is being written, and when it is finished."""
    sound = np.random.default_rng(4).uniform(-0.3, 0.3, SECONDS * RATE + 1234).astype(np.float32)
    file = FlacTake(place, place.name, channels=channels)
    file.write(sound if channels == 1 else np.repeat(sound[:, None], 2, axis=1))
    running = place.read_bytes()
    file.close()
    return running, place.read_bytes()


def cut_take(place: Path, kind: str) -> None:
    running, whole = take(place, 2 if kind == "two channels" else 1)
    endless = bytearray(whole)
    endless[21:26] = bytes([whole[21] & 0xF0, 0, 0, 0, 0])
    place.write_bytes(
        {
            "mid-frame": running[:-3000],
            "in zeros": running[:-3000] + bytes(70_000),
            "at a frame": running,
            "short last frame": bytes(endless),
            "finished, end lost": whole[: len(whole) // 2],
            "two channels": running[:-5000],
        }[kind]
    )


@pytest.fixture(scope="module", params=CUTS)
def mended(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("stick")
    place = folder / "take-01.flac"
    cut_take(place, request.param)
    assert main(["mend", str(folder)]) == 0
    return place


@pytest.fixture(scope="module")
def page() -> Iterator[Page]:
    program = shutil.which("chromium")
    if program is None:
        pytest.skip("chromium is not installed; Debian's package of that name has it")
    with sync_playwright() as driver:
        chromium = driver.chromium.launch(executable_path=program, args=["--disable-gpu"])
        yield chromium.new_page()
        chromium.close()


def output(*command: str | Path) -> str:
    if shutil.which(str(command[0])) is None:
        pytest.skip(f"{command[0]} is not installed; Debian's package of that name has it")
    done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=60)
    assert done.returncode == 0, done.stderr
    assert "error" not in done.stderr.lower()
    return done.stdout + done.stderr


def test_its_duration_is_what_can_be_decoded_of_it_everywhere(mended: Path) -> None:
    seconds = soundfile.info(mended).frames / RATE
    assert SECONDS / 2 - 1 < seconds <= SECONDS + 1
    assert len(soundfile.read(mended)[0]) == round(seconds * RATE)
    told = json.loads(output("ffprobe", "-v", "error", "-of", "json", "-show_format", mended))
    assert float(told["format"]["duration"]) == pytest.approx(seconds, abs=1e-5)
    raw = subprocess.run(
        ["ffmpeg", "-v", "error", "-i", mended, "-f", "s16le", "-ac", "1", "-"],
        capture_output=True,
        check=True,
        timeout=60,
    )
    assert raw.stderr == b""
    assert len(raw.stdout) // 2 == round(seconds * RATE)
    assert float(output("soxi", "-D", mended)) == pytest.approx(seconds, abs=1e-5)
    assert f"{round(seconds * RATE)}" in output("sox", mended, "-n", "stat", "-v") + output("soxi", "-s", mended)


def test_the_reference_decoder_finds_no_fault(mended: Path) -> None:
    assert "ok" in output("flac", "--test", mended)


@pytest.mark.long
def test_chromium_shows_the_same_duration_and_plays_to_the_end(mended: Path, page: Page) -> None:
    seconds = soundfile.info(mended).frames / RATE
    mended.with_name("page.html").write_text('<!doctype html><audio id="take" src="take-01.flac" muted></audio>')
    page.goto(mended.with_name("page.html").as_uri())
    page.wait_for_function("() => document.getElementById('take').readyState >= 1", timeout=20_000)
    assert page.evaluate("() => document.getElementById('take').duration") == pytest.approx(seconds, abs=0.001)
    page.evaluate(
        "at => { const a = document.getElementById('take'); a.currentTime = at; return a.play(); }", seconds - 0.5
    )
    page.wait_for_function("() => document.getElementById('take').ended", timeout=20_000)
