"""Our chapters read by a parser written from the WebVTT specification, not from our writer.

Source: W3C Candidate Recommendation "WebVTT: The Web Video Text Tracks Format", section 4 (syntax: file body, cue
block, timings, cue text) and 6 (parsing); HTML for the three character references that we write. FFmpeg reads them too.
"""

import html
import re
import shutil
import subprocess
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firmware.takes.markers import vtt_text

# "WebVTT timestamp": optional hours of two or more digits, two-digit minutes and seconds of 0 to 59, three of fraction.
TIMESTAMP = re.compile(r"(?:(\d{2,}):)?([0-5]\d):([0-5]\d)\.(\d{3})")


def seconds(text: str) -> float:
    match = TIMESTAMP.fullmatch(text)
    assert match, text
    hours, minutes, whole, thousandths = match.groups(default="0")
    return int(hours) * 3600 + int(minutes) * 60 + int(whole) + int(thousandths) / 1000


def parse(text: str) -> list[tuple[float, float, str]]:
    """Cues of a file; asserts whatever the syntax demands of an author."""
    assert "\0" not in text
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    signature, _, body = text.partition("\n")
    assert signature == "WEBVTT"
    cues: list[tuple[float, float, str]] = []
    for block in re.split(r"\n{2,}", body.strip("\n")):
        if not block:
            continue
        lines = block.split("\n")
        if "-->" not in lines[0]:
            lines.pop(0)  # the cue identifier
        start, arrow, end = lines.pop(0).split()
        assert arrow == "-->"
        assert seconds(end) > seconds(start), "the end must be greater than the start"
        assert not cues or seconds(start) >= cues[-1][0], "starts must not go back"
        assert len(lines) == 1, "chapter titles hold no line break"
        title = lines[0]
        assert "-->" not in title
        assert "<" not in title
        assert re.fullmatch(r"(?:[^&]|&(?:amp|lt|gt);)+", title), "an ampersand begins a character reference"
        cues.append((seconds(start), seconds(end), html.unescape(title)))
    return cues


MARKERS = st.lists(
    st.tuples(
        st.floats(-10, 20_000), st.one_of(st.text(max_size=20), st.sampled_from(("a --> b", "<v Ann>", "&amp;")))
    ),
    max_size=8,
)


@settings(max_examples=150, deadline=None)
@given(MARKERS, st.floats(0, 20_000))
def test_any_title_at_any_time_comes_back(markers: list[tuple[float, str]], length: float):
    cues = parse(vtt_text(markers, length))
    assert len(cues) == len(markers)
    top = max(0.0, length - 0.001)
    wanted = sorted((min(max(at, 0.0), top), title) for at, title in markers)
    for number, ((start, _, title), (at, given_title)) in enumerate(zip(cues, wanted, strict=True), start=1):
        assert abs(start - at) <= 0.0006
        clean = " ".join(given_title.replace("\0", "\ufffd").encode("utf-8", "replace").decode().split())
        assert title == (clean or f"Marker {number}")


def test_more_than_an_hour():
    assert parse(vtt_text([(3725.5, "coda")], 4000.0)) == [(3725.5, 4000.0, "coda")]


def test_ffmpeg_reads_the_same_chapters(tmp_path: Path) -> None:
    """FFmpeg's own WebVTT reader, written out as SubRip: number, times with a comma, text."""
    if shutil.which("ffmpeg") is None:
        pytest.skip("ffmpeg is not installed; Debian's package of that name has it")
    (tmp_path / "take.vtt").write_text(
        vtt_text([(1.25, "Letter A & B"), (3725.5, "B♭, 2 < 3")], 4000.0), encoding="utf-8"
    )
    command = ["ffmpeg", "-v", "error", "-i", tmp_path / "take.vtt", "-f", "srt", "-"]
    told = subprocess.run(command, capture_output=True, check=True, timeout=60).stdout.decode("utf-8")
    assert told.replace("\r\n", "\n").strip().split("\n\n") == [
        "1\n00:00:01,250 --> 01:02:05,500\nLetter A & B",
        "2\n01:02:05,500 --> 01:06:40,000\nB♭, 2 < 3",
    ]
