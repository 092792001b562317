"""The script of a rehearsal: who plays what, what the director's hands do, and when the screen is photographed."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, fields
from importlib import resources
from pathlib import Path
from types import MappingProxyType
from typing import Any, Final

from firmware.errors import BadEntryError, BadFileError
from firmware.music.languages.english import ENGLISH
from firmware.plan.checked_toml import Checked, check, decode
from firmware.plan.plan import Plan, plan_of
from firmware.settings import DEFAULTS, ENTRIES, Values
from hardware.plan_files import plan_of_file
from hardware.simulated.pupils import Pupils
from hardware.simulated.room import Room
from hardware.simulated.script_table import SCRIPT_TABLE
from hardware.simulated.timbres import PlayerTimbre, player_timbre

DEFAULT_SCRIPT: Final = "saltmarsh-lane"
Rows = tuple[Mapping[str, Any], ...]
"""Checked tables of one kind, such as all [[cue]]."""

PLAN_FILES: Final = "a plan in TOML, a score in MusicXML or a MIDI file"
KEYBOARD_ACTIONS: Final = ("note", "sustain", "keyboard")
ACTIONS: Final = (
    *("tap", "hold", "press", "release", "turn", "push", "push_turn", "pedal", "hold_turn"),
    *KEYBOARD_ACTIONS,
)
AUTOMATIC_SHOT_AFTER: Final = 1.0
"""Seconds after each cue when the screen is photographed if the script has no shots."""


class BadScriptError(BadFileError):
    """A script with problems; its text lists all of them, a line each."""

    def __init__(self, source: str, problems: tuple[BadEntryError, ...]) -> None:
        self.problems = problems
        super().__init__("script", source, f"{len(problems)} problems")

    @property
    def text(self) -> str:
        """One line for each problem."""
        return "\n".join(problem.text for problem in self.problems)


@dataclass(frozen=True, slots=True)
class Player:
    """A player, or a section of several who play the same part."""

    name: str
    timbre: PlayerTimbre
    level_db: float = -24.0
    count: int = 1
    spread: float = 4.0


@dataclass(frozen=True, slots=True)
class Cue:
    """One thing the director does: an action of `ACTIONS` with what it needs."""

    at: float
    action: str
    name: str = ""
    """Key or pedal; of the keyboard the note, or what is done to its pedal or plug."""
    steps: int = 0
    seconds: float = 1.0


@dataclass(frozen=True, slots=True)
class Play:
    """One note of a player, `degree` of the box's key or `note` by name, and how it is out of tune."""

    at: float
    player: Player
    seconds: float
    degree: str | None = None
    note: str | None = None
    octave: int = 4
    cents: float = 0.0
    settle_to: float = 0.0
    settle_s: float = 0.0
    settle_after: float = 0.0
    vibrato: float = 0.0
    vibrato_hz: float = 5.0
    level_db: float = -24.0


@dataclass(frozen=True, slots=True)
class Shot:
    """One photograph of the screen for the contact sheet."""

    at: float
    caption: str = ""


@dataclass(frozen=True, slots=True)
class Script:
    """A whole rehearsal; `settings` are those that the box starts with."""

    title: str
    seconds: float
    seed: int = 1
    settings: Values = DEFAULTS
    room: Room = field(default_factory=Room)
    plan: Plan = field(default_factory=Plan)
    players: tuple[Player, ...] = ()
    cues: tuple[Cue, ...] = ()
    plays: tuple[Play, ...] = ()
    shots: tuple[Shot, ...] = ()
    pupils: tuple[Pupils, ...] = ()
    remarks: tuple[str, ...] = ()
    """What of the score that the plan was made from could not be followed."""


def shipped_scripts() -> dict[str, Path]:
    """Scripts that come with Keelnote, by name."""
    folder = Path(str(resources.files("hardware.simulated"))) / "rehearsals"
    return {path.stem: path for path in sorted(folder.glob("*.toml"))}


def load_script(name: str | Path | None = None) -> Script:
    """Read a script from a file, or a shipped one by name; the default one without a name.

    Raises
    ------
    BadFileError
        If there is no such file or it can't be read.
    BadScriptError
        If anything in it is wrong; all problems are listed.
    """
    shipped = shipped_scripts()
    path = Path(name or DEFAULT_SCRIPT)
    path = shipped.get(str(path), path)
    text, problems = _read(path, "a script in TOML, or one of " + ", ".join(shipped))
    return parse_script(text, str(path), path.parent, problems)


def parse_script(text: str, source: str, folder: Path, problems: tuple[BadEntryError, ...] = ()) -> Script:
    """Make a script from TOML text; a `plan_file` is looked for in `folder`.

    Raises
    ------
    BadScriptError
        If anything in it is wrong; `problems` are those known before.
    """
    checked = check(text, source, SCRIPT_TABLE)
    maker = _Maker(source, checked)
    script = maker.script(folder) if checked.values["seconds"] is not None else None
    found = (*problems, *checked.problems, *maker.problems)
    if found or script is None:
        raise BadScriptError(source, tuple(sorted(found, key=lambda problem: problem.line)))
    return script


def _read(path: Path, allowed: str) -> tuple[str, tuple[BadEntryError, ...]]:
    return decode(_bytes(path, allowed), str(path))


def _bytes(path: Path, allowed: str) -> bytes:
    try:
        return path.read_bytes()
    except (OSError, ValueError) as error:  # ValueError: a zero byte in the name
        reason = getattr(error, "strerror", None) or str(error)
        raise BadFileError("script", str(path), allowed, f"It could not be read: {reason}.") from error


class _Maker:
    """Makes a script from checked values, and reports what only shows when entries are seen together."""

    def __init__(self, source: str, checked: Checked) -> None:
        self.source = source
        self.values = checked.values
        self.known = checked.problems
        self.problems: list[BadEntryError] = []
        self.remarks: tuple[str, ...] = ()

    def report(self, line: int, key: str, value: object, allowed: str, remedy: str = "") -> None:
        self.problems.append(BadEntryError(self.source, line, key, value, allowed, remedy))

    def spoiled(self, row: Mapping[str, Any], rows: Rows) -> bool:
        """Whether an entry of a row is wrong already: what then seems to be missing is not worth a second problem."""
        end = min((other["line"] for other in rows if other["line"] > row["line"]), default=math.inf)
        return any(row["line"] <= problem.line < end for problem in self.known)

    def script(self, folder: Path) -> Script:
        values = self.values
        players = self.players(values["player"])
        cues = tuple(self.cues(values["cue"]))
        return Script(
            title=values["title"],
            seconds=values["seconds"],
            seed=values["seed"],
            settings=_settings(values["settings"]),
            room=Room(**{each.name: values["room"][each.name] for each in fields(Room)}),
            plan=self.plan(folder),
            players=tuple(players.values()),
            cues=cues,
            plays=tuple(self.plays(values["play"], players)),
            shots=tuple(self.shots(values["shot"], cues)),
            pupils=tuple(self.pupils(values["class"])),
            remarks=self.remarks,
        )

    def players(self, rows: Rows) -> dict[str, Player]:
        players: dict[str, Player] = {}
        for row in rows:
            if row["name"] in players:
                self.report(row["line"], "player.name", row["name"], "each player has a name of its own")
            players.setdefault(row["name"], _player(row))
        return players

    def plan(self, folder: Path) -> Plan:
        name = self.values["plan_file"]
        if name is None:
            names = self.values["plan"]["names"]
            if names not in (None, ENGLISH.name):
                allowed = "a script names notes in English; a plan_file may have other names"
                self.report(self.values["plan"]["line"], "plan.names", names, allowed)
            return plan_of(self.values["plan"])
        try:
            said = str(self.values["settings"]["note_names"])
            plan, problems, self.remarks = plan_of_file(_bytes(folder / name, PLAN_FILES), name, names=said)
        except BadFileError as error:
            self.report(1, "plan_file", name, f"{PLAN_FILES} beside the script", error.text)
            return Plan()
        self.problems.extend(problems)
        return plan

    def in_time(self, row: Mapping[str, Any], key: str) -> bool:
        """Whether something happens before the rehearsal ends."""
        if row["at"] <= self.values["seconds"]:
            return True
        self.report(row["line"], f"{key}.at", row["at"], f"the rehearsal ends at {self.values['seconds']:g} s")
        return False

    def cues(self, rows: Rows) -> Iterable[Cue]:
        for row in sorted(rows, key=lambda row: float(row["at"])):
            chosen = [name for name in ACTIONS if _given(row, name)]
            if not chosen and self.spoiled(row, rows):
                continue
            if len(chosen) != 1:
                found = " and ".join(chosen) or "no action"
                self.report(row["line"], "cue", found, "exactly one of " + ", ".join(ACTIONS))
            elif self.in_time(row, "cue"):
                yield _cue(row, chosen[0])

    def plays(self, rows: Rows, players: Mapping[str, Player]) -> Iterable[Play]:
        for row in sorted(rows, key=lambda row: float(row["at"])):
            player = players.get(row["player"])
            if player is None:
                known = ", ".join(players) or "none, write a [[player]] table"
                self.report(row["line"], "play.player", row["player"], f"the players are {known}")
            elif row["degree"] is None and row["note"] is None and self.spoiled(row, rows):
                continue
            elif (row["degree"] is None) == (row["note"] is None):
                given = "both" if row["note"] else "neither"
                self.report(row["line"], "play.degree and play.note", given, "exactly one of the two")
            elif self.in_time(row, "play"):
                yield _play(row, player)

    def pupils(self, rows: Rows) -> Iterable[Pupils]:
        for row in sorted(rows, key=lambda row: float(row["at"])):
            if self.in_time(row, "class"):
                yield Pupils(**{each.name: row[each.name] for each in fields(Pupils)})

    def shots(self, rows: Rows, cues: tuple[Cue, ...]) -> Iterable[Shot]:
        if not rows:
            for cue in cues:
                at = min(cue.at + AUTOMATIC_SHOT_AFTER, self.values["seconds"])
                yield Shot(at, f"{cue.action} {cue.name or ''}".strip().replace("_", " "))
            return
        for row in sorted(rows, key=lambda row: float(row["at"])):
            if self.in_time(row, "shot"):
                yield Shot(row["at"], row["caption"])


def _settings(row: Mapping[str, Any]) -> Values:
    return Values(MappingProxyType({entry.key: row[entry.key] for entry in ENTRIES}))


def _player(row: Mapping[str, Any]) -> Player:
    return Player(row["name"], player_timbre(row["timbre"]), row["level_db"], row["count"], row["spread"])


def _given(row: Mapping[str, Any], action: str) -> bool:
    if action == "hold_turn":
        return row["hold_turn"]["key"] is not None or row["hold_turn"]["steps"] is not None
    return row[action] is not None and row[action] is not False


def _cue(row: Mapping[str, Any], action: str) -> Cue:
    value = row[action]
    if action == "hold_turn":
        return Cue(row["at"], action, value["key"] or "", value["steps"] or 0)
    if isinstance(value, str):
        return Cue(row["at"], action, value, seconds=row["seconds"])
    return Cue(row["at"], action, steps=0 if value is True else value)


def _play(row: Mapping[str, Any], player: Player) -> Play:
    same = ("at", "seconds", "degree", "note", "octave", "cents", "settle_s", "settle_after", "vibrato", "vibrato_hz")
    settle_to = row["cents"] if row["settle_to"] is None else row["settle_to"]
    level_db = player.level_db if row["level_db"] is None else row["level_db"]
    return Play(player=player, settle_to=settle_to, level_db=level_db, **{name: row[name] for name in same})
