"""The ear part: names, trail, held notes, catching the tonic, and the reading line."""

from __future__ import annotations

import pytest

from firmware.commands import Attend, Listen
from firmware.events import Adjusted, Event, HarmonyChanged, PlanStepped, PowerDown, Tick, Wish, Wished
from firmware.heard_events import Answering, AnswerSwitched, Heard, NoteHeld
from firmware.music.harmony import Harmony, tones_of
from firmware.music.keys import key_of
from firmware.music.notes import parse_note
from firmware.parts.ear import EAR, FORGET, MODES, TRAIL_SECONDS, EarState
from firmware.parts.part import Start, address_of
from firmware.passage import Passage
from firmware.settings import DEFAULTS, setting_named
from firmware.take_events import ReplayStarted, ReplayStopped
from firmware.units import RATE, ratio_of

HARMONY = Harmony(key_of("Bb", "major"), shape="triad")
EAR_READINGS = setting_named("reading").choices
HOP = 1920
JUST_THIRD = 2 * 116.540940 * 5 / 4
"""D4 in B♭ major, in Hz."""


def run(*events: Event, state: EarState | None = None) -> tuple[EarState, list[object]]:
    state = state or EAR.start(Start())
    follow: list[object] = []
    for event in events:
        state, more = EAR.handlers[address_of(event)](state, event)
        follow += more
    return state, follow


def listening(*, sounding: bool = True, reading: str = "concert") -> EarState:
    start = Start(values=DEFAULTS.put("reading", reading))
    news = HarmonyChanged(0, HARMONY, tones_of(HARMONY), sounding)
    state, follow = run(news, Wished(0, Wish.EAR_NEXT), state=EAR.start(start))
    assert follow == [Listen(on=True)]
    return state


def chords_wanted() -> EarState:
    return run(Wished(9, Wish.EAR_NEXT), Wished(9, Wish.EAR_NEXT), state=listening())[0]


def readings(hz: float, count: int, first: int = 0, confidence: float = 0.9) -> list[Heard]:
    return [Heard(first + n * HOP, hz, confidence, -20.0) for n in range(count)]


def test_it_hears_only_when_it_is_on() -> None:
    state, follow = run(HarmonyChanged(0, HARMONY, (), sounding=False), Heard(5, 440.0, 1.0, -20.0))
    assert (state.heard, follow) == (None, [])
    assert EAR.show(state, 0)["ear"] == "off"
    assert run(Heard(5, 440.0, 1.0, -20.0))[0].heard is None


def test_its_key_goes_through_what_it_does() -> None:
    state = listening()
    shown = []
    asked: list[object] = []
    for _ in range(len(MODES)):
        state, follow = run(Wished(9, Wish.EAR_NEXT), state=state)
        shown.append(EAR.show(state, 9)["ear"])
        asked += follow
    assert shown == ["answer", "chord check", "off", "watch"]
    assert asked == [
        AnswerSwitched(9, on=True),
        Attend(HARMONY, told=True),
        AnswerSwitched(9, on=False),
        Listen(on=False),
        Attend(None),
        Listen(on=True),
    ]


def test_it_shows_what_is_answered_as_the_section_reads_it() -> None:
    state, _ = run(Wished(9, Wish.EAR_NEXT), state=listening(reading="clarinet"))
    state, _ = run(Answering(10, "3", parse_note("D4")), state=state)
    assert EAR.show(state, 11)["answering"] == "E4"
    assert "answering" not in EAR.show(run(Answering(12), state=state)[0], 13)


def test_chords_are_read_by_the_harmony_of_the_moment() -> None:
    state = chords_wanted()
    silent = HarmonyChanged(10, HARMONY, tones_of(HARMONY), sounding=False)
    state, follow = run(silent, state=state)
    assert follow == [Attend(HARMONY, told=False)]
    assert run(silent, state=state)[1] == []
    other = Harmony(key_of("F", "major"), shape="octaves")
    assert run(HarmonyChanged(11, other, tones_of(other), sounding=True), state=state)[1] == [Attend(other, told=False)]


def test_while_chords_are_read_single_notes_are_not() -> None:
    state = chords_wanted()
    state, follow = run(*readings(JUST_THIRD, 30), Heard(9, None, 0.0, -20.0, "noise"), state=state)
    assert follow == []
    assert EAR.show(state, RATE)["silence"] == ""
    assert "heard" not in EAR.show(state, RATE)
    state, _ = run(Heard(10, None, 0.0, -20.0, "own sound"), state=state)
    assert EAR.show(state, RATE)["silence"] == "own sound"


def test_a_sharp_third_is_named_and_beats() -> None:
    state, _ = run(Heard(RATE, JUST_THIRD * ratio_of(12.0), 0.9, -20.0), state=listening())
    heard = EAR.show(state, RATE)["heard"]
    assert (heard.note, heard.written, heard.degree) == ("D4", "D4", "3")
    assert heard.off == pytest.approx(12.0, abs=0.01)
    assert heard.beats == pytest.approx(JUST_THIRD * (ratio_of(12.0) - 1), abs=0.01)
    assert heard.cents == pytest.approx(386.31 + 12.0, abs=0.02)  # 5/4: Ellis in Helmholtz, app. XX
    (point,) = EAR.show(state, 2 * RATE)["trail"]
    assert point.age == 1.0


def test_without_a_sounding_rung_there_are_no_beats() -> None:
    state, _ = run(Heard(RATE, JUST_THIRD, 0.9, -20.0), state=listening(sounding=False))
    assert EAR.show(state, RATE)["heard"].beats is None


def test_written_pitch_of_a_section() -> None:
    clarinet = next(name for name in EAR_READINGS if "clarinet" in name)
    state, _ = run(Heard(RATE, JUST_THIRD, 0.9, -20.0), state=listening(reading=clarinet))
    assert EAR.show(state, RATE)["heard"].written == "E4"  # a B♭ clarinet reads a tone higher: common practice
    assert EAR.show(state, RATE)["badge"]


def test_a_held_note_is_reported_when_it_ends() -> None:
    state, follow = run(*readings(JUST_THIRD * ratio_of(4.0), 30), state=listening())
    assert follow == []
    _, follow = run(Heard(30 * HOP + RATE, None, 0.0, -90.0, "silence"), state=state)
    (note,) = follow
    assert isinstance(note, NoteHeld)
    assert (note.degree, note.concert) == ("3", "D4")
    assert note.median_cents == pytest.approx(4.0, abs=0.01)
    assert run(PowerDown(31 * HOP), state=state)[1] == [note]
    assert run(Wished(31 * HOP, Wish.EAR_NEXT), state=state)[1] == [note, AnswerSwitched(31 * HOP, on=True)]
    other = HarmonyChanged(31 * HOP, Harmony(key_of("F", "major")), (), sounding=False)
    assert run(other, state=state)[1] == [note]


def test_silence_is_named_and_the_note_forgotten() -> None:
    state, _ = run(Heard(0, JUST_THIRD, 0.9, -20.0), Heard(HOP, None, 0.0, -20.0, "own sound"), state=listening())
    shown = EAR.show(state, HOP)
    assert shown["silence"] == "own sound"
    assert "heard" in shown
    state, _ = run(Tick(FORGET + 1), state=state)
    assert "heard" not in EAR.show(state, FORGET + 1)


def test_the_trail_is_bounded() -> None:
    state, _ = run(*readings(JUST_THIRD, 200), state=listening())
    state, _ = run(Tick(200 * HOP), state=state)
    assert all(at >= 200 * HOP - TRAIL_SECONDS * RATE for at, _ in state.trail)


def test_the_reading_ends_with_the_plan_step() -> None:
    state = listening(reading=EAR_READINGS[1])
    assert EAR.show(state, 0)["badge"] != ""
    state, _ = run(PlanStepped(1, 2, "Tutti", (("reading", "concert"),)), state=state)
    assert EAR.show(state, 1)["badge"] == ""


def test_turning_the_tolerance_keeps_what_is_heard() -> None:
    state, _ = run(Heard(0, JUST_THIRD, 0.9, -20.0), state=listening())
    state, _ = run(Adjusted(1, "tolerance", 3), state=state)
    assert state.values.number("tolerance") == 8
    assert state.heard is not None
    state, _ = run(Adjusted(2, "reading", 1), state=state)
    assert state.heard is None


def test_notes_of_a_replay_are_shown_but_not_told_again() -> None:
    before = listening()
    state, follow = run(*readings(JUST_THIRD, 20), ReplayStarted(20 * HOP, 1, 0, Passage(), heard=True), state=before)
    assert [type(one) for one in follow] == [NoteHeld]  # what the player held until then
    state, follow = run(*readings(JUST_THIRD, 20, 21 * HOP), Heard(41 * HOP, None, 0.0, -20.0, "silence"), state=state)
    assert state.heard is not None
    assert follow == []
    state, follow = run(*readings(JUST_THIRD, 20, 42 * HOP), ReplayStopped(62 * HOP), state=state)
    assert (state.replay, state.heard, state.trail, follow) == (False, None, (), [])
    assert run(ReplayStopped(62 * HOP), state=before) == (before, [])
    _, follow = run(*readings(JUST_THIRD, 20, 63 * HOP), PowerDown(90 * HOP), state=state)
    assert [type(one) for one in follow] == [NoteHeld]
