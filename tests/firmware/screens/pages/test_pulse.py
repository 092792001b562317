"""The pulse page: every tempo, bar and beat fits, and the mark of the beat burns down."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import groupby, pairwise
from typing import Any

from firmware.music.meter import parse_meter
from firmware.screens.page import BOTTOM
from firmware.screens.pages.pulse import GROUP_GAP, MARKS, PAGE
from firmware.screens.render import render
from firmware.screens.view import View
from firmware.settings import METERS

Cuts = Callable[[View], list[str]]


def test_every_beat_of_every_meter_fits(view: View, cuts: Cuts) -> None:
    for name in METERS:
        meter = parse_meter(name)
        for beat in range(1, meter.beats + 1):
            value = meter.beat.as_integer_ratio()
            shown = replace(
                view, page="pulse", pulse_on=True, meter=name, meter_groups=meter.groups, beat_value=value, beat=beat
            )
            assert cuts(shown) == [], (beat, name)


def test_every_bar_fits(view: View, cuts: Cuts) -> None:
    for bar in (-3, 0, 1, 88, 888, 8888):
        shown = replace(view, page="pulse", pulse_on=True, beat=64, bar=bar, silent_bar=True, counting=bar < 1)
        assert cuts(shown) == [], bar


def test_every_tempo_fits(view: View, cuts: Cuts) -> None:
    for tenth in range(200, 3001, 7):
        assert cuts(replace(view, page="pulse", cursor="tempo", tempo=tenth / 10)) == [], tenth
        shown = replace(view, page="pulse", cursor="tonic", tempo=tenth / 10, pulse_on=True, beat=1, bar=1)
        assert cuts(replace(shown, ramp=0.5, ramp_to=tenth / 10)) == [], tenth


def test_the_mark_of_the_beat_is_full_and_burns_down(view: View, dots: Callable[..., Any]) -> None:
    lefts, widths = [], []
    for beat in range(1, 5):
        shown = dots(render(replace(view, page="pulse", pulse_on=True, beat=beat)))
        lefts.append(shown[MARKS.y + 1].nonzero()[0][1:].min())
    assert lefts == sorted(set(lefts))
    for eighth in range(9):
        shown = dots(render(replace(view, page="pulse", pulse_on=True, beat=2, phase=eighth / 8)))
        widths.append(int(shown[MARKS.y + 1].sum()))
    assert widths == sorted(widths, reverse=True)
    assert widths[0] > widths[-1] + 20
    off = dots(render(replace(view, page="pulse", pulse_on=False, beat=1)))
    assert off[MARKS.y + 1].sum() == 1, "only the mark of the bar"
    assert PAGE.name == "pulse"


def test_groups_stand_apart(view: View, dots: Callable[..., Any]) -> None:
    shown = dots(render(replace(view, page="pulse", meter_groups=(2, 2, 3))))
    line = shown[MARKS.bottom - 1]
    gaps = [len(list(run)) for lit, run in groupby(line[MARKS.x : MARKS.right]) if not lit]
    assert sorted(gaps)[-3:-1] != [1, 1]
    assert sum(gap >= GROUP_GAP for gap in gaps) == 2


def test_marks_of_any_meter_stay_in_their_place(view: View, dots: Callable[..., Any]) -> None:
    for groups in ((), (0,), (1,), (64,), (31, 33), (1,) * 64, (200,)):
        shown = dots(render(replace(view, page="pulse", pulse_on=True, beat=3, meter_groups=groups)))
        assert shown[MARKS.bottom - 1].any()


def test_a_silent_bar_looks_empty(view: View, dots: Callable[..., Any]) -> None:
    heard = dots(render(replace(view, page="pulse", pulse_on=True, beat=2)))
    silent = dots(render(replace(view, page="pulse", pulse_on=True, beat=2, silent_bar=True)))
    rows = slice(MARKS.y, MARKS.bottom)
    assert silent[rows].sum() < heard[rows].sum() / 2


def test_the_lowest_line_tells_what_matters_most(view: View, dots: Callable[..., Any]) -> None:
    running = replace(view, page="pulse", cursor="tonic", pulse_on=True, beat=1, bar=1)
    plain = dots(render(running))[BOTTOM:]
    ramp = replace(running, ramp=0.5, ramp_to=60.0)
    news = replace(ramp, next_bar="3/4")
    field = replace(news, cursor="swing")
    pictures = [dots(render(each))[BOTTOM:] for each in (ramp, news, field)]
    for one, other in pairwise([plain, *pictures]):
        assert (one != other).any()
    assert (dots(render(replace(field, next_bar="")))[BOTTOM:] == pictures[2]).all()


def test_long_news_are_cut_with_a_sign(view: View, cuts: Cuts) -> None:
    shown = replace(view, page="pulse", cursor="tonic", pulse_on=True, beat=1, next_bar="2+2+2+3/8, slower to 30, hold")
    assert cuts(shown) == []
