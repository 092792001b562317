"""Every fault has words: a line that fits the OLED with its widest values, a sentence, and what to do."""

from __future__ import annotations

import pytest

from firmware.screens.fonts import SMALL
from firmware.selftest.finding import BY_CODE, Finding, capital, found, gaps
from firmware.selftest.kind import Kind
from firmware.selftest.kinds import KINDS
from firmware.selftest.pictures import paint_finding
from firmware.selftest.steps import STEPS

BY_ID = pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.code)


def filled(kind: Kind) -> Finding:
    """A finding with the widest value in every gap."""
    widest = dict(kind.widest)
    every = gaps(kind.line) | gaps(kind.what) | gaps(kind.remedy)
    return found(kind.code, **{gap: widest.get(gap, "88") for gap in every})


@BY_ID
def test_its_line_fits_the_screen_with_the_widest_values(kind: Kind) -> None:
    one = filled(kind)
    assert paint_finding(one, 88, 88).cuts == [], one.line
    assert {character for character in one.line if character != " "} <= set(SMALL.glyphs)
    assert gaps(kind.line) == {name for name, _ in kind.widest}


@BY_ID
def test_it_says_what_is_wrong_and_what_to_do(kind: Kind) -> None:
    one = filled(kind)
    assert kind.what.endswith(".")
    assert kind.remedy.endswith(".")
    assert "{" not in one.sentence
    assert one.sentence[0].isupper()


def test_codes_are_unique_and_their_steps_exist() -> None:
    assert len(BY_CODE) == len(KINDS)
    assert {kind.step for kind in KINDS} <= {step.name for step in STEPS}


def test_a_longer_value_is_cut_on_the_screen_and_whole_in_the_report() -> None:
    one = found("joined", first="a part with a very long name", second="b", places="1 and 2")
    assert "long name" not in one.line
    assert "long name" in one.sentence
    assert capital("") == ""
