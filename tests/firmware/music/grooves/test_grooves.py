"""What holds for every groove of the registry, and the figures that the trade knows."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

import firmware.music.grooves
from firmware.errors import UnknownNameError
from firmware.music.groove import Groove
from firmware.music.grooves import GROOVES, groove_named
from firmware.music.kit import SOUNDS

every_groove = pytest.mark.parametrize("groove", GROOVES, ids=lambda groove: groove.name)


def places(groove: Groove, sound: str, bar: int = 1) -> list[Fraction]:
    """Places of a sound in a bar, in beats."""
    return [stroke.place / groove.meter.beat for stroke in groove.strokes(bar) if stroke.sound == sound]


def test_the_registry_lists_every_file_once() -> None:
    files = {path.stem for path in Path(firmware.music.grooves.__file__).parent.glob("*.py")} - {"__init__"}
    assert len(GROOVES) == len(files) == len({groove.name for groove in GROOVES})


@every_groove
def test_a_groove_is_whole_bars_of_known_sounds(groove: Groove) -> None:
    assert groove_named(groove.name) is groove
    assert len(groove.title) <= 16
    for bar in groove.bars:
        assert bar
        assert all(0 <= stroke.place < groove.meter.length and stroke.sound in SOUNDS for stroke in bar)
        assert [stroke.place for stroke in bar] == sorted(stroke.place for stroke in bar)


def test_the_users_own_come_first() -> None:
    own = Groove("waltz", "Mine", GROOVES[0].meter, ((),))
    assert groove_named("waltz", (own,)) is own
    with pytest.raises(UnknownNameError, match="waltz"):
        groove_named("walz")


def test_figures_are_those_of_common_practice() -> None:
    """Common practice: the backbeat, the waltz's low 1, three strokes over two beats, the clave."""
    assert places(groove_named("straight-eighths"), "snare") == [1, 3]
    assert places(groove_named("waltz"), "bass") == [0]
    assert places(groove_named("waltz"), "snare") == [1, 2]
    thirds = [Fraction(n, 3) for n in (0, 2, 4, 6, 8, 10)]
    assert places(groove_named("quarter-triplets"), "wood") == thirds
    assert places(groove_named("son-clave"), "wood") == [0, Fraction(3, 4), Fraction(3, 2)]
    assert places(groove_named("son-clave"), "wood", 2) == [1, 2]
    assert [groove.name for groove in GROOVES if groove.swung] == ["swing", "shuffle"]
