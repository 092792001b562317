"""What is down on an input device, against any sequence of the kernel's events."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from firmware.events import Event, KeyDown, KeyUp, KnobDown, KnobTurn, KnobUp, PanelKey, PedalDown, PedalUp
from hardware.drivers.input_fingers import Fingers, agree, feel, let_go
from hardware.drivers.input_table import EV_KEY, EV_REL, EV_SYN, KINDS, STROKES, SYN_DROPPED, SYN_REPORT
from hardware.simulated.input_device import Raw

PAD, _, KNOB = KINDS
DRONE, PLUS = 71, 78


def told(events: list[Raw], fingers: Fingers) -> tuple[Fingers, list[Event]]:
    posted: list[Event] = []
    for event in events:
        fingers, makers = feel(fingers, event)
        posted += [make(0) for make in makers]
    return fingers, posted


raw_events = st.builds(
    Raw,
    st.sampled_from([EV_SYN, EV_KEY, EV_REL, 4, 17]),
    st.sampled_from([*STROKES, 0, 1, 3, 30, 69]),
    st.integers(-3, 3),
)


@given(st.lists(raw_events, max_size=60), st.sampled_from(KINDS))
def test_whatever_comes_presses_and_releases_take_turns_and_nothing_stays_held(events: list[Raw], kind) -> None:
    fingers, posted = told(events, Fingers(kind))
    fingers, makers = let_go(fingers)
    posted += [make(0) for make in makers]
    down: dict[object, int] = {}
    for event in posted:
        if isinstance(event, KnobTurn):
            continue
        what = getattr(event, "key", None) or getattr(event, "pedal", "knob")
        down[what] = down.get(what, 0) + (1 if isinstance(event, KeyDown | KnobDown | PedalDown) else -1)
        assert isinstance(event, KeyDown | KnobDown | PedalDown | KeyUp | KnobUp | PedalUp)
        assert 0 <= down[what] <= 2  # a pedal may be down on the pad and on a presenter's key of the same device
    assert not any(down.values())
    assert fingers.held == ()


def test_a_key_that_was_down_before_it_was_plugged_in_says_nothing_until_it_is_pressed_anew() -> None:
    repeated = [Raw(EV_KEY, DRONE, 2), Raw(EV_KEY, PLUS, 2), Raw(EV_KEY, DRONE, 0)]
    assert told(repeated, Fingers(PAD)) == (Fingers(PAD), [])


def test_plus_that_is_held_turns_on_and_on_and_a_key_that_is_held_is_one_press() -> None:
    held = [Raw(EV_KEY, PLUS, 1), Raw(EV_KEY, PLUS, 2), Raw(EV_KEY, PLUS, 2), Raw(EV_KEY, PLUS, 0)]
    assert told(held, Fingers(PAD))[1] == [KnobTurn(0, 1)] * 3
    held = [Raw(EV_KEY, DRONE, 1), Raw(EV_KEY, DRONE, 2), Raw(EV_KEY, DRONE, 0)]
    assert told(held, Fingers(PAD))[1] == [KeyDown(0, PanelKey.DRONE), KeyUp(0, PanelKey.DRONE)]


def test_num_lock_is_ignored_as_pads_send_it_around_each_key() -> None:
    events = [Raw(EV_KEY, code, value) for code in (69, DRONE, 69) for value in (1, 0)]
    assert told(events, Fingers(PAD))[1] == [KeyDown(0, PanelKey.DRONE), KeyUp(0, PanelKey.DRONE)]


def test_the_kernels_knob_turns_and_says_how_far() -> None:
    assert told([Raw(EV_REL, 0, 1), Raw(EV_REL, 0, -2)], Fingers(KNOB))[1] == [KnobTurn(0, 1), KnobTurn(0, -2)]
    assert told([Raw(EV_REL, 0, 1)], Fingers(PAD))[1] == []


def test_after_a_queue_that_ran_over_what_is_up_comes_up() -> None:
    start = told([Raw(EV_KEY, DRONE, 1), Raw(EV_KEY, 72, 1)], Fingers(PAD))[0]
    torn = [Raw(EV_SYN, SYN_DROPPED, 0), Raw(EV_KEY, 73, 1), Raw(EV_SYN, SYN_REPORT, 0)]
    fingers, posted = told(torn, start)
    assert posted == []
    assert fingers.stale
    fingers, makers = agree(fingers, [72])
    assert [make(5) for make in makers] == [KeyUp(5, PanelKey.DRONE)]
    assert fingers == Fingers(PAD, held=(72,))
