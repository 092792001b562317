"""The chord check part: shows the chord that is held, keeps it for a while after, then forgets it."""

from __future__ import annotations

from firmware.events import Event, Tick, Wish, Wished
from firmware.heard_events import ChordDegree, ChordHeld, ChordRead
from firmware.parts.chord_check import CHORD_CHECK, LINGERS, ChordCheckState
from firmware.parts.part import Start, address_of
from firmware.screens.view import ChordLine

ROOT = ChordDegree("1", "B♭", -3.0, "loud", accepted=True, why="", seconds=1.4)
THIRD = ChordDegree("3", "D", None, "", accepted=False, why="can't be heard apart", seconds=0.0)
READ = ChordRead(100, 0, "B♭ major", "1", 1.4, (ROOT, THIRD))
LINES = (ChordLine("1", -3.0, 3), ChordLine("3", None, 0, "can't be heard apart"))


def run(*events: Event) -> ChordCheckState:
    state: ChordCheckState = CHORD_CHECK.start(Start())
    for event in events:
        state, follow = CHORD_CHECK.handlers[address_of(event)](state, event)
        assert follow == ()
    return state


def test_a_chord_is_shown_while_it_is_held() -> None:
    assert CHORD_CHECK.show(run(), 0) == {"checked": "", "checked_degrees": ()}
    assert CHORD_CHECK.show(run(READ, Tick(10**9)), 0) == {"checked": "B♭ major", "checked_degrees": LINES}


def test_it_lingers_when_it_has_ended() -> None:
    ended = ChordRead(200, 200, "", "", 0.0, ())
    held = ChordHeld(200, 0, "B♭ major", "1", 1.4, (ROOT, THIRD))
    for events in ((READ, ended), (READ, held, ended), (held,)):
        assert run(*events, Tick(199 + LINGERS)).chord == "B♭ major"
        assert run(*events, Tick(200 + LINGERS)) == ChordCheckState()
    assert run(READ, Wished(300, Wish.EAR_NEXT)) == ChordCheckState()
