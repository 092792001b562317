"""The tables of number pad and presenter, beside the kernel's own names (evdev.ecodes, from input-event-codes.h)."""

from __future__ import annotations

from pathlib import Path

import pytest
from evdev import ecodes

from firmware.events import PanelKey, Pedal
from hardware.drivers import input_table
from hardware.drivers.input_table import NUMBER_PAD, PRESENTER, STROKES, Press, Turn, kind_of, table
from hardware.simulated.input_device import CLICKER, ENCODER, MOUSE, PAD

KEYBOARD = {input_table.EV_KEY: list(range(1, 249)), 17: [0, 1, 2]}


@pytest.mark.parametrize("stroke", STROKES.values(), ids=lambda one: one.name)
def test_every_code_is_the_kernels(stroke: input_table.Stroke) -> None:
    assert ecodes.ecodes[stroke.name] == stroke.code


@pytest.mark.parametrize("name", ["EV_SYN", "EV_KEY", "EV_REL", "SYN_REPORT", "SYN_DROPPED"])
def test_every_type_is_the_kernels(name: str) -> None:
    assert ecodes.ecodes[name] == getattr(input_table, name)


def test_a_number_pad_is_a_whole_panel() -> None:
    controls = {stroke.means.control for stroke in NUMBER_PAD if isinstance(stroke.means, Press)}
    assert controls == {*(key.value for key in PanelKey), *(f"{pedal} pedal" for pedal in Pedal), "Knob"}
    assert {stroke.means.steps for stroke in NUMBER_PAD if isinstance(stroke.means, Turn)} == {1, -1}


def test_no_key_means_two_things() -> None:
    assert len(STROKES) == len(NUMBER_PAD) + len(PRESENTER)


@pytest.mark.parametrize(
    ("has", "name"),
    [
        (PAD, "number pad"),
        (CLICKER, "presenter"),
        (ENCODER, "knob"),
        (KEYBOARD, "number pad"),
        (MOUSE, None),
        ({input_table.EV_KEY: [ecodes.KEY_POWER]}, None),
        ({5: [2, 4]}, None),  # a sound card's jack
        ({}, None),
        ({input_table.EV_REL: [0, 1]}, None),
    ],
)
def test_devices_are_known_by_what_they_can_do(has: input_table.Has, name: str | None) -> None:
    kind = kind_of(has)
    assert (kind and kind.name) == name


def test_the_table_for_people_has_every_key_once() -> None:
    rows = table().splitlines()[2:]
    assert len(rows) == len(set(rows)) == len(STROKES)
    assert "| number pad | + | Knob, one detent clockwise |" in rows
    assert "| presenter | Page Down | right pedal |" in rows


def test_the_document_shows_the_table_as_it_is() -> None:
    document = (Path(__file__).parents[3] / "DEVELOPERS.md").read_text(encoding="utf-8")
    shown = document.split("<!-- number pad: begin -->\n")[1].split("\n<!-- number pad: end -->")[0]
    assert shown == table()
