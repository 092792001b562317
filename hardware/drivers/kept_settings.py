"""The settings file and the one before it: what a power cut or a bad stick spoils leaves the other."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

from firmware.errors import KeelnoteError
from firmware.ports import Stick
from firmware.settings import DEFAULTS

SETTINGS: Final = "settings.toml"
SETTINGS_BEFORE: Final = "settings.toml.old"

DAMAGE: Final = ("\0", "\ufffd")
"""What clusters that were never written, or bytes of something else, look like in a text."""

ENTRY: Final = re.compile(rf"^\s*({'|'.join(map(re.escape, DEFAULTS.entries))})\s*=", re.MULTILINE)


@dataclass(frozen=True, slots=True)
class Kept:
    """The settings that are used, None if there are none; `why` says what is wrong with the newest ones."""

    text: str | None
    source: str = SETTINGS
    why: str = ""


def is_whole(text: str | None) -> bool:
    """Whether a settings file can be used: it is a text and sets something. Single bad entries do no harm."""
    return text is not None and not any(mark in text for mark in DAMAGE) and ENTRY.search(text) is not None


def kept_settings(stick: Stick) -> Kept:
    """The settings as they were last saved, or those before when the last ones are lost or damaged."""
    newest, why = _read(stick, SETTINGS)
    if is_whole(newest):
        return Kept(newest)
    before, _ = _read(stick, SETTINGS_BEFORE)
    if is_whole(before):
        reason = why or ("it is not there" if newest is None else "it is damaged")
        return Kept(before, SETTINGS_BEFORE, f"{SETTINGS}: {reason}; {SETTINGS_BEFORE} is used")
    return Kept(newest, why=why)


def keep_settings(stick: Stick, text: str) -> None:
    """Save the settings; those that were saved last become the ones before, unless they are damaged.

    Raises
    ------
    DeviceError
        If the stick takes no file.
    """
    last, _ = _read(stick, SETTINGS)
    if last == text:
        return
    if last is not None and is_whole(last):
        stick.write_text(SETTINGS_BEFORE, last)
    stick.write_text(SETTINGS, text)


def _read(stick: Stick, path: str) -> tuple[str | None, str]:
    try:
        return stick.read_text(path), ""
    except KeelnoteError as error:
        return None, error.text
