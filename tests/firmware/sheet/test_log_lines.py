"""log.jsonl: one JSON object a line."""

import json

from hypothesis import given, settings
from hypothesis import strategies as st

from firmware.events import Fault, HarmonyChanged, PlanStepped, Tick, Wish, Wished
from firmware.heard_events import ChordDegree, ChordHeld, Heard, KeyCaught
from firmware.music.harmony import Harmony, tones_of
from firmware.music.keys import key_of
from firmware.sheet.log_lines import event_line, log_line, read_log
from firmware.take_events import TakeSaved, TakeStarted, TakeStopped


def test_a_line_is_one_object_with_t_and_what():
    assert log_line(1.23456, "note", degree="♭7", cents=float("nan"), n=2) == (
        '{"t": 1.235, "what": "note", "degree": "♭7", "cents": null, "n": 2}'
    )


def test_events_that_come_many_times_a_second_are_not_logged():
    assert event_line(Tick(1)) is None
    assert event_line(Heard(1, 440.0, 1.0, -20.0)) is None


def test_events_bring_all_their_values():
    assert json.loads(event_line(Fault(24_000, "stick-out", "why"))) == {
        "t": 0.5,
        "what": "fault",
        "message": "stick-out",
        "detail": "why",
    }
    assert json.loads(event_line(TakeSaved(0, 1, 72_000)))["seconds"] == 1.5
    started = json.loads(event_line(TakeStarted(48_000, 1, 24_000)))
    assert started == {"t": 1.0, "what": "take-started", "number": 1, "first_s": 0.5}
    stopped = json.loads(event_line(TakeStopped(48_000, 3, 12.5, ((1.0, "A"),))))
    assert (stopped["number"], stopped["markers"]) == (3, [[1.0, "A"]])
    assert json.loads(event_line(Wished(0, Wish.EAR_NEXT)))["wish"] == "ear-next"
    stepped = json.loads(event_line(PlanStepped(0, 1, "Chorale", (("tonic", "Eb"),))))
    assert stepped["values"] == [["tonic", "Eb"]]


def test_a_harmony_is_told_in_a_musicians_words():
    harmony = Harmony(key=key_of("Bb", "major"), shape="triad")
    record = json.loads(event_line(HarmonyChanged(48_000, harmony, tones_of(harmony), sounding=True)))
    assert record["key"] == "B♭ major"
    assert record["tones"][:3] == ["B♭2", "D3", "F3"]
    assert record["sounding"] is True


def test_a_half_written_line_and_a_foreign_one_are_passed_over():
    text = log_line(0.0, "a") + '\n{"t": 1\n[]\n{"x": 1}\n' + log_line(2.0, "b") + "\n"
    assert [record and record["what"] for record in read_log(text)] == ["a", None, None, None, "b"]


VALUES = st.one_of(st.none(), st.booleans(), st.integers(), st.text(), st.floats(), st.tuples(st.text(), st.floats()))


@settings(max_examples=80, deadline=None)
@given(st.floats(0, 1e5), st.dictionaries(st.from_regex(r"[a-su-z]{1,6}", fullmatch=True), VALUES, max_size=4))
def test_whatever_is_logged_is_one_line_of_strict_json(t: float, values: dict[str, object]):
    values.pop("what", None)
    line = log_line(t, "any", **values)
    assert "\n" not in line

    def refuse(word: str) -> None:
        raise ValueError(word)

    assert set(json.loads(line, parse_constant=refuse)) == {"t", "what", *values}


def test_unknown_things_are_told_as_text():
    assert json.loads(log_line(0.0, "odd", thing=2 + 1j))["thing"] == "(2+1j)"


def test_a_chord_brings_its_degrees():
    third = ChordDegree("3", "D", -11.54321, "soft", accepted=True, why="", seconds=1.4)
    line = json.loads(event_line(ChordHeld(96_000, 24_000, "B♭ major", "1", 1.4, (third,))))
    assert line == {
        "t": 2.0,
        "what": "chord",
        "start_s": 0.5,
        "chord": "B♭ major",
        "degree": "1",
        "seconds": 1.4,
        "degrees": [
            {
                "degree": "3",
                "note": "D",
                "cents": -11.5432,
                "level": "soft",
                "accepted": True,
                "why": "",
                "seconds": 1.4,
            }
        ],
    }


def test_what_was_caught_brings_confidence_and_second_guess():
    caught = KeyCaught(48_000, key_of("Eb", "major"), 0.91, key_of("C", "minor"))
    line = json.loads(event_line(caught))
    assert line == {"t": 1.0, "what": "caught", "key": "E♭ major", "confidence": 0.91, "second": "C minor"}
    assert json.loads(event_line(KeyCaught(0, key_of("Eb", "major"))))["second"] is None
