"""The header: it fits in every key with every mark and badge, and says what is going on."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from firmware.music.keys import TONICS
from firmware.music.modes import MODES
from firmware.music.transposition import INSTRUMENTS
from firmware.music.tunings import TUNINGS
from firmware.screens.header import RULE, draw_header
from firmware.screens.raster import Canvas
from firmware.screens.render import render
from firmware.screens.view import View

Cuts = Callable[[View], list[str]]
BADGES = sorted({instrument.badge for instrument in INSTRUMENTS})


def test_every_key_fits_beside_all_marks_and_every_badge(busy: View) -> None:
    for badge in BADGES:
        for mode in MODES:
            for tonic in TONICS:
                shown = replace(busy, page="ear", badge=badge, tonic=tonic.text, mode=mode.title)
                canvas = Canvas()
                draw_header(canvas, shown, 2, 7)
                assert canvas.cuts == [], (tonic.text, mode.title, badge)


def test_every_comparison_and_pitch_standard_fits_beside_everything(busy: View, cuts: Cuts) -> None:
    for badge in BADGES:
        for tuning in TUNINGS:
            values = {**busy.values, "tuning": tuning.name, "a4": 442.5}
            assert cuts(replace(busy, badge=badge, values=values)) == [], (tuning.title, badge)
            assert cuts(replace(busy, badge=badge, comparing=tuning.title)) == [], (tuning.title, badge)


def test_a_plan_title_of_any_length_is_cut_to_its_room(busy: View, cuts: Cuts) -> None:
    assert cuts(replace(busy, plan_title="A chorale with a very long name " * 5, plan_step=12, plan_steps=34)) == []


@pytest.mark.parametrize(
    "change",
    [
        {"drone_on": True},
        {"taking": True},
        {"replaying": 2},
        {"badge": "in F"},
        {"comparing": "equal"},
        {"plan_title": "Chorale", "plan_step": 1, "plan_steps": 2},
    ],
    ids=str,
)
def test_every_state_shows_in_the_header(change: dict[str, Any], view: View, dots: Callable[..., Any]) -> None:
    quiet, changed = dots(render(view)), dots(render(replace(view, **change)))
    assert (quiet[:RULE] != changed[:RULE]).any()


def test_the_badge_is_inverted(view: View, dots: Callable[..., Any]) -> None:
    shown = dots(render(replace(view, badge="in B♭")))
    assert shown[0, 100:126].sum() >= 20, "the upper rim of the badge is lit"


def test_the_tonic_is_inverted_only_when_the_knob_would_turn_it(view: View, dots: Callable[..., Any]) -> None:
    rest = dots(render(replace(view, page="ear", cursor="tonic")))
    chosen = dots(render(replace(view, page="ear", cursor="tolerance")))
    assert rest[0, 2:10].all()
    assert not chosen[0, 2:10].any()


def test_the_dash_of_the_page_is_thick(dots: Callable[..., Any]) -> None:
    for place in range(7):
        canvas = Canvas()
        draw_header(canvas, View(), place, 7)
        thick = dots(canvas.done())[RULE + 1].nonzero()[0]
        assert place * 128 / 7 <= thick.min() < thick.max() < (place + 1) * 128 / 7
