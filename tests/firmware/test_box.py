"""The Box: routing by table, what follows, the picture, and that no press can break it."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firmware.box import LONGEST_CHAIN, Box, routes_of
from firmware.commands import Command, KeepSettings, OpenTake, Play, Show, WriteText
from firmware.errors import KeelnoteError
from firmware.events import (
    Event,
    KeyDown,
    KeyUp,
    KnobDown,
    KnobTurn,
    KnobUp,
    Noticed,
    PanelKey,
    Pedal,
    PedalDown,
    PowerDown,
    SwitchedOn,
    Tick,
    Wish,
)
from firmware.heard_events import Heard
from firmware.parts import PARTS
from firmware.parts.part import Part, Start
from firmware.plan.plan import Plan, PlanStep
from firmware.screens.pages import PAGES
from firmware.take_events import StickChanged, TakeSaved
from firmware.units import RATE

PLAN = Plan("Any day", (PlanStep("Hymn", (("tonic", "Eb"), ("reading", "trumpet"))), PlanStep("Tutti", ())))


def switched_on(*, stick: bool = True) -> Box:
    box = Box(Start(plan=PLAN, stick=stick))
    box.handle(SwitchedOn(0))
    return box


def kinds(commands: tuple[Command, ...]) -> list[type[Command]]:
    return [type(command) for command in commands]


def test_a_key_press_becomes_sound_and_picture() -> None:
    box = switched_on()
    assert kinds(box.handle(KeyDown(100, PanelKey.DRONE))) == []
    commands = box.handle(KeyUp(4000, PanelKey.DRONE))
    plays = [command for command in commands if isinstance(command, Play)]
    assert len(plays) == 1
    assert plays[0].sound.drone.on
    assert box.sound == plays[0].sound
    assert kinds(box.handle(Tick(4800))) == [Show]
    assert kinds(box.handle(Tick(7200))) == []


def test_the_right_pedal_changes_key_and_reading() -> None:
    box = switched_on()
    box.handle(PedalDown(5, Pedal.RIGHT))
    view = box.view(6)
    assert (view.tonic, view.plan_title, view.plan_step) == ("E♭", "Hymn", 1)
    assert view.badge
    box.handle(PedalDown(7, Pedal.RIGHT))
    assert box.view(8).plan_title == "Tutti"


def test_a_take_and_its_end() -> None:
    box = switched_on()
    box.handle(KeyDown(20 * RATE, PanelKey.TAKE))
    commands = box.handle(KeyUp(20 * RATE + 9, PanelKey.TAKE))
    assert any(isinstance(command, OpenTake) for command in commands)
    assert box.view(21 * RATE).taking
    commands = box.handle(PowerDown(30 * RATE))
    assert [command.path for command in commands if isinstance(command, WriteText)] == [
        "rehearsals/0001/take-01.vtt",
        "rehearsals/0001/sheet.html",
        "rehearsals/0001/sheet.html",
    ]


def test_settings_are_kept_at_the_end() -> None:
    box = switched_on()
    box.handle(KnobTurn(5, 1))
    assert KeepSettings in kinds(box.handle(PowerDown(9)))


def test_every_wish_has_a_part_and_every_address_is_routed() -> None:
    routes = routes_of(PARTS)
    for wish in Wish:
        assert wish in routes, wish
    assert len({part.name for part in PARTS}) == len(PARTS)
    fields = [field for part in PARTS for field in part.fields]
    assert len(fields) == len(set(fields))


def test_state_of_a_part() -> None:
    assert not switched_on().state_of("drone").on


def test_parts_that_answer_each_other_for_ever_are_stopped() -> None:
    echo: Part[int] = Part(
        name="echo",
        start=lambda _: 0,
        handlers={Noticed: lambda state, event: (state + 1, (event,))},
    )
    box = Box(Start(), (echo,))
    with pytest.raises(KeelnoteError, match="chain of events"):
        box.handle(Noticed(0, "no-take"))
    assert box.state_of("echo") == LONGEST_CHAIN


ANY_EVENT = st.one_of(
    st.sampled_from(PanelKey).map(lambda key: KeyDown(0, key)),
    st.sampled_from(PanelKey).map(lambda key: KeyUp(0, key)),
    st.integers(-3, 3).map(lambda steps: KnobTurn(0, steps)),
    st.just(KnobDown(0)),
    st.just(KnobUp(0)),
    st.sampled_from(Pedal).map(lambda pedal: PedalDown(0, pedal)),
    st.just(Tick(0)),
    st.booleans().map(lambda present: StickChanged(0, present)),
    st.integers(1, 3).map(lambda number: TakeSaved(0, number, RATE)),
    st.one_of(st.none(), st.floats(30.0, 5000.0)).map(lambda hz: Heard(0, hz, 0.9, -20.0)),
)


@given(st.lists(st.tuples(ANY_EVENT, st.integers(1, RATE)), max_size=60))
@settings(max_examples=40, deadline=None)
def test_nothing_that_hands_and_feet_do_breaks_it(script: list[tuple[Event, int]]) -> None:
    box, at = switched_on(), 0
    for event, pause in script:
        at += pause
        for command in box.handle(type(event)(at, *_rest(event))):
            assert isinstance(command, Command)
    box.handle(Tick(at))
    view = box.view(at)
    assert view.page in {page.name for page in PAGES}
    box.handle(PowerDown(at + 1))


def _rest(event: Event) -> list[object]:
    return [getattr(event, name) for name in event.__match_args__[1:]]
