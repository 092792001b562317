"""From the settings of the pulse to its program, also while it runs."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Final

from firmware.errors import KeelnoteError, UnknownNameError
from firmware.music.groove import Groove
from firmware.music.grooves import GROOVES
from firmware.music.meter import Bars, parse_bars
from firmware.music.moves import parse_moves
from firmware.music.program import CROSSINGS, Program
from firmware.music.tempo import Curve, Law, Move, Stretch
from firmware.settings import Values

PLAIN: Final = "click"
"""Name of the groove that is none: plain beats."""


@dataclass(frozen=True, slots=True)
class Piece:
    """A piece with its own bars and tempos, read from a file."""

    name: str
    program: Program


@dataclass(frozen=True, slots=True)
class Rhythms:
    """The user's own grooves and pieces, beside those that come with the box."""

    grooves: tuple[Groove, ...] = ()
    pieces: tuple[Piece, ...] = ()

    @property
    def names(self) -> tuple[str, ...]:
        """All that can be chosen, in the order of the knob."""
        own = (*(groove.name for groove in self.grooves), *(piece.name for piece in self.pieces))
        return tuple(dict.fromkeys((PLAIN, *(groove.name for groove in GROOVES), *own)))

    def groove(self, name: str) -> Groove | None:
        """The groove of a name, the user's own first; None for plain beats and for a name that there isn't."""
        return next((groove for groove in (*self.grooves, *GROOVES) if groove.name == name), None)

    def piece(self, name: str) -> Piece | None:
        """The piece of a name, if there is one."""
        return next((piece for piece in self.pieces if piece.name == name), None)

    def check(self, name: str) -> str:
        """The name itself; raises UnknownNameError if it is none."""
        if name not in self.names:
            raise UnknownNameError("groove", name, self.names)
        return name


def unit_of(bars: Bars) -> Fraction:
    """Note value that the tempo counts: the beat of the first bar."""
    return bars.runs[0][1].beat


def program_of(values: Values, rhythms: Rhythms) -> Program:
    """Make the program that the settings ask for. A piece keeps its own bars and tempos."""
    piece = rhythms.piece(values.text("groove"))
    count_in = values.whole("count_in")
    if piece is not None:
        heard, silent = _silent(values)
        return replace(piece.program, kit=values.text("kit"), count_in=count_in, heard=heard, silent=silent)
    bars = parse_bars(values.text("meter"))
    unit = unit_of(bars)
    tempo = values.number("tempo")
    moves = _moves(values, bars, unit)
    pickup = Fraction(values.number("pickup")) * unit
    heard, silent = _silent(values)
    return Program(
        bars=bars,
        curve=Curve(tempo * float(unit), moves),
        unit=unit,
        groove=rhythms.groove(values.text("groove")),
        swing=Fraction(str(values.number("swing"))),
        kit=values.text("kit"),
        subdivision=values.whole("subdivision"),
        cross=CROSSINGS[values.text("cross")],
        accents=values.text("accents"),
        count_in=count_in,
        pickup=min(pickup, bars.bar(1)[1].length - unit / 8),
        heard=heard,
        silent=silent,
    )


def _silent(values: Values) -> tuple[int, int]:
    return values.whole("heard_bars"), values.whole("silent_bars")


def _moves(values: Values, bars: Bars, unit: Fraction) -> tuple[Move, ...]:
    """Moves as written, else the ramp that the knob has set, after so many steady bars."""
    tempo = values.number("tempo")
    if values.text("moves") != "none":
        try:
            return parse_moves(values.text("moves"), bars, unit, tempo)
        except KeelnoteError:  # what was fine in four quarters may be too long in other bars
            return ()
    if not values.whole("ramp_over"):
        return ()
    speed, goal = tempo * float(unit), values.number("ramp_to") * float(unit)
    steady = bars.bar(1 + values.whole("ramp_after"))[0]
    ramp = Stretch(values.whole("ramp_over") * unit, speed, goal, Law(values.text("ramp_law")))
    return (Stretch(steady, speed, speed), ramp)


def same_tempo(before: Values, after: Values) -> bool:
    """Whether two settings ask for the same tempo from first to last."""
    names = ("tempo", "moves", "ramp_to", "ramp_over", "ramp_after", "ramp_law")
    return all(before.entries[name] == after.entries[name] for name in names)


def going_on(
    old: Program, new: Program, seconds: float, *, tempo: float | None, at_once: bool
) -> tuple[Program, float]:
    """Let a running program turn into another without a break: what has been played stays as it was.

    Another meter begins with the next bar, another tempo with the next beat, or at once; the rest at once.

    Parameters
    ----------
    old, new : Program
        What runs, and what the settings ask for now.
    seconds : float
        Time in the old program.
    tempo : float or None
        New tempo, counting the new program's unit; None to let the old curve go on.
    at_once : bool
        Whether the tempo changes at once.

    Returns
    -------
    (Program, float)
        The program to go on with, and by how many seconds its time 0 lies later than the old one's.
    """
    here = Fraction(old.position(seconds))
    number = old.bars.number_at(here)
    bars = old.bars
    if new.bars != old.bars:
        bars = old.bars.changed_from(number + 1, new.bars)
    kept = replace(new, bars=bars, curve=old.curve, count_in=old.count_in, pickup=old.pickup)
    if tempo is None and new.unit == old.unit:
        return kept, 0.0
    speed = old.curve.speed_at(float(here))
    goal = speed if tempo is None else tempo * float(new.unit)
    switch = here if at_once else next_beat(old, number, here)
    if new.unit != old.unit:
        goal = goal if tempo is not None else speed / float(old.unit) * float(new.unit)
        switch = old.bars.bar(number + 1)[0]
    moves = (Stretch(switch, speed, speed), Stretch(Fraction(0), goal, goal)) if switch > 0 else ()
    kept = replace(kept, curve=Curve(goal, moves))
    return kept, old.time(here) - kept.time(here)


def next_beat(program: Program, number: int, here: Fraction) -> Fraction:
    """Position of the first beat after a position in bar `number`."""
    start, meter = program.bars.bar(number)
    return start + ((here - start) // meter.beat + 1) * meter.beat


def chosen(names: Iterable[str], name: str, steps: int) -> str:
    """The name some places further in a circle of names; the first if it is none of them."""
    circle = tuple(names)
    return circle[(circle.index(name) + steps) % len(circle)] if name in circle else circle[0]
