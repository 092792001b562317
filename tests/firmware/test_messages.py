"""Messages: every line fits the strip with its widest values, and no code that the program uses is missing."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware import errors
from firmware.messages import BY_CODE, MESSAGES, Message, line_of, sentence_of, shortened
from firmware.music.keys import TONICS
from firmware.music.modes import MODES
from firmware.screens.fonts import SMALL
from firmware.screens.raster import Canvas
from firmware.screens.strip import MOST_LINES, ROOM, draw_strip, lines_of
from firmware.settings import SETTINGS

ROOT = Path(__file__).parents[2]
CODES = sorted(BY_CODE)
USES = (
    r'Noticed\(\s*[\w.]+,\s*"([a-z-]+)"',
    r'Fault\(\s*[\w.()]+,\s*"([a-z-]+)"',
    r'message(?:: str)? = "([a-z-]+)"',
    r'\bmessage="([a-z-]+)"',
    r'why="(stick-[a-z-]+)"',
)


def fits(line: str) -> bool:
    """Whether a line can be shown whole."""
    lines = lines_of(line)
    return len(lines) <= MOST_LINES and all(SMALL.width(part) <= ROOM for part in lines)


@pytest.mark.parametrize("message", MESSAGES, ids=lambda message: message.code)
def test_the_line_fits_with_its_widest_values(message: Message) -> None:
    line = line_of(message.code, dict(message.widest))
    assert "{" not in line
    assert fits(line), line
    assert fits(message.bare or message.line)
    assert {character for character in line if character != " "} <= set(SMALL.glyphs)


@pytest.mark.parametrize("message", MESSAGES, ids=lambda message: message.code)
def test_the_table_is_whole(message: Message) -> None:
    assert set(message.gaps) == {name for name, _ in message.widest}
    assert bool(message.gaps) == bool(message.bare)
    assert message.sentence.endswith(".")
    assert "{" not in message.sentence + message.bare


def test_codes_are_unique() -> None:
    assert len(BY_CODE) == len(MESSAGES)


def test_every_code_that_the_program_uses_is_there() -> None:
    used = {}
    for folder in ("firmware", "hardware"):
        for path in sorted((ROOT / folder).rglob("*.py")):
            text = path.read_text(encoding="utf-8")
            for pattern in USES:
                used |= dict.fromkeys(re.findall(pattern, text), path.name)
    assert {"error", "device", "plan-end", "take-started"} <= set(used), "the patterns find nothing any more"
    assert {code: name for code, name in used.items() if code not in BY_CODE} == {}


def test_every_error_names_a_line() -> None:
    classes = [thing for thing in vars(errors).values() if isinstance(thing, type)]
    named = {cls.message for cls in classes if issubclass(cls, errors.KeelnoteError)}
    assert named <= set(BY_CODE)
    assert len(named) >= 6


def test_every_key_that_can_be_caught_is_shown_whole() -> None:
    for tonic in TONICS:
        for mode in MODES:
            line = line_of("caught", {"tonic": tonic.text, "mode": mode.title})
            assert line == f"Caught {tonic.text} {mode.title}"
            assert fits(line)


def test_every_setting_can_be_named_in_an_error() -> None:
    for setting in SETTINGS:
        for value in setting.choices or (f"{setting.low:g}", f"{setting.high:g}"):
            for code in ("error", "unknown-name", "out-of-range"):
                assert fits(line_of(code, {"thing": setting.name, "value": str(value)})), (code, setting.name, value)


def test_gaps_are_filled() -> None:
    assert line_of("take-started", {"number": "12"}) == "Take 12 runs"
    assert line_of("plan-step", {"title": "Chorale\nin E♭"}) == "Chorale in E♭"
    assert line_of("stick-full", {"number": "12"}) == "Stick is full"


def test_a_line_without_its_values_reads_well() -> None:
    assert line_of("take-started") == "Take runs"
    assert line_of("take-started", {"number": ""}) == "Take runs"
    assert line_of("caught", {"tonic": "B♭"}) == "Caught the tonic"
    assert line_of("error") == "Failed: see report.txt"


def test_an_unknown_code_is_an_error_and_named_in_the_report() -> None:
    assert line_of("never-heard-of") == line_of("error")
    assert "never-heard-of" in sentence_of("never-heard-of")


def test_details_follow_the_sentence() -> None:
    assert sentence_of("stick-in") == BY_CODE["stick-in"].sentence
    assert sentence_of("device", "No card.").endswith("refuses. No card.")


def test_long_values_are_cut() -> None:
    assert shortened("Chorale", "1234567") == "Chorale"
    assert shortened("Chorales", "1234567") == "Choral…"


@given(st.sampled_from(CODES), st.text(max_size=80), st.text(max_size=80))
def test_no_value_breaks_the_strip(code: str, first: str, second: str) -> None:
    gaps = dict.fromkeys(("thing", "title", "number", "tonic", "tempo"), first)
    line = line_of(code, {**gaps, "value": second, "mode": second})
    assert "\n" not in line
    draw_strip(Canvas(), line)
