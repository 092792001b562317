"""The drone part: what each turn, press and plan step does to the tones."""

from __future__ import annotations

import pytest

from firmware.events import Adjusted, Event, HarmonyChanged, PlanStepped, SettingChanged, SwitchedOn, Wish, Wished
from firmware.heard_events import KeyCaught
from firmware.music.keys import key_of
from firmware.parts.drone import DRONE, DroneState
from firmware.parts.part import Start, address_of
from firmware.settings import DEFAULTS
from firmware.sound.snapshot import DroneSound


def run(*events: Event, state: DroneState | None = None) -> tuple[DroneState, list[object]]:
    state = state or DRONE.start(Start())
    follow: list[object] = []
    for event in events:
        state, more = DRONE.handlers[address_of(event)](state, event)
        follow += more
    return state, follow


def sound_of(state: DroneState) -> DroneSound:
    sound = DRONE.sound(state)["drone"]
    assert isinstance(sound, DroneSound)
    return sound


def test_it_is_silent_at_first_and_tells_its_harmony() -> None:
    state, (news,) = run(SwitchedOn(0))
    assert isinstance(news, HarmonyChanged)
    assert not news.sounding
    assert news.harmony.key == key_of("Bb", "major")
    assert not sound_of(state).on
    assert sound_of(state).tones[0].hz == pytest.approx(116.5409, abs=1e-4)  # B♭2 at A4 = 440 (equal temperament)


def test_on_off_and_the_slow_fade() -> None:
    state, (news,) = run(Wished(5, Wish.DRONE_TOGGLE))
    assert isinstance(news, HarmonyChanged)
    assert news.sounding
    assert (sound_of(state).on, sound_of(state).fade_seconds) == (True, 0.08)
    state, _ = run(Wished(6, Wish.DRONE_FADE), state=state)
    assert (sound_of(state).on, sound_of(state).fade_seconds) == (False, 3.0)
    state, _ = run(Wished(7, Wish.DRONE_TOGGLE), state=state)
    assert (sound_of(state).on, sound_of(state).fade_seconds) == (True, 0.08)


def test_the_knob_goes_round_the_circle_of_fifths() -> None:
    state, follow = run(Adjusted(1, "tonic", 1))
    assert state.values.text("tonic") == "F"
    assert follow[0] == SettingChanged(1, "tonic", "F")
    assert isinstance(follow[1], HarmonyChanged)
    state, _ = run(Adjusted(2, "tonic", 12), state=state)
    assert state.values.text("tonic") == "F"
    state, _ = run(SettingChanged(3, "knob_order", "semitones"), Adjusted(4, "tonic", 1), state=state)
    assert state.values.text("tonic") in {"F#", "Gb"}


def test_other_settings_do_not_touch_it() -> None:
    assert run(SettingChanged(0, "tempo", 99.0)) == (DRONE.start(Start()), [])


def test_a_mode_may_respell_the_tonic() -> None:
    start = Start(values=DEFAULTS.put("tonic", "Db"))
    names = []
    state = DRONE.start(start)
    for _ in range(10):
        state, _ = run(Adjusted(0, "mode", 1), state=state)
        names.append((state.values.text("tonic"), state.values.text("mode")))
    assert ("C#", "minor") in names
    assert all(abs(key_of(tonic, mode).signature) <= 7 for tonic, mode in names)


def test_compare_sounds_the_other_tuning_while_it_is_down() -> None:
    state, _ = run(Adjusted(0, "shape", 2), Wished(0, Wish.DRONE_TOGGLE))
    assert state.values.text("shape") == "triad"
    just = sound_of(state).tones
    state, (news,) = run(Wished(1, Wish.COMPARE_START), state=state)
    equal = sound_of(state).tones
    assert isinstance(news, HarmonyChanged)
    assert news.harmony.tuning == "just"
    # Common practice: the just major third is 13.7 cents under equal; the tonic is the same tone and carries on.
    assert news.tones[1].cents_from_equal == pytest.approx(0.0, abs=1e-9)
    assert equal[0].hz == just[0].hz
    assert equal[1].hz / just[1].hz == pytest.approx(2 ** (13.686 / 1200), rel=1e-6)
    assert DRONE.show(state, 0)["comparing"]
    state, _ = run(Wished(2, Wish.COMPARE_END), state=state)
    assert sound_of(state).tones == just
    assert DRONE.show(state, 0)["comparing"] == ""


def test_compare_of_the_chosen_tuning_sounds_just() -> None:
    start = Start(values=DEFAULTS.put("tuning", "equal").put("shape", "triad"))
    _, (news,) = run(Wished(1, Wish.COMPARE_START), state=DRONE.start(start))
    assert isinstance(news, HarmonyChanged)
    assert news.tones[1].cents_from_equal == pytest.approx(-13.686, abs=0.001)


def test_every_field_of_the_drone_turns_while_it_sounds() -> None:
    for name in DRONE.fields:
        start = Start(values=DEFAULTS.put("shape", "seventh"))
        state, _ = run(Wished(0, Wish.DRONE_TOGGLE), state=DRONE.start(start))
        before = sound_of(state)
        state, follow = run(Adjusted(1, name, 1), state=state)
        assert follow, name
        assert (sound_of(state) != before) == (name not in {"compare_with", "temperature"}), name


def test_a_plan_step_and_a_caught_key_are_heard() -> None:
    state, follow = run(PlanStepped(3, 1, "Chorale", (("tonic", "Eb"), ("shape", "fifth"), ("tempo", 80.0))))
    assert [event for event in follow if isinstance(event, SettingChanged)] == [
        SettingChanged(3, "tonic", "Eb"),
        SettingChanged(3, "shape", "fifth"),
    ]
    state, follow = run(KeyCaught(4, key_of("D", "dorian")), state=state)
    assert (state.values.text("tonic"), state.values.text("mode")) == ("D", "dorian")
    assert isinstance(follow[-1], HarmonyChanged)
    assert run(KeyCaught(5, key_of("D", "dorian")), state=state)[1] == []


def test_rungs_fold_octaves_and_mark_equal_temperament() -> None:
    state, _ = run(Adjusted(0, "shape", 2), Wished(0, Wish.DRONE_TOGGLE))
    rungs = DRONE.show(state, 0)["rungs"]
    assert [(rung.degree, rung.note) for rung in rungs] == [("1", "B♭"), ("3", "D"), ("5", "F")]
    # Helmholtz, On the Sensations of Tone, tr. Ellis, app. XX: 5/4 is 386.31 cents, 3/2 is 701.96.
    assert [rung.cents for rung in rungs] == pytest.approx([0.0, 386.31, 701.96], abs=0.01)
    assert [rung.equal_cents for rung in rungs] == pytest.approx([0.0, 400.0, 700.0], abs=1e-6)
    assert rungs[0].level == 1.0
    assert rungs[1].level == pytest.approx(10 ** (-3 / 20))
