"""In which order the bars of a score are played: repeats and their endings, da capo, dal segno, fine and coda."""

from __future__ import annotations

from typing import Final

from firmware.plan.score import Turn

MOST_PLAYED: Final = 40_000
"""Bars after which a score that never ends is taken as it is printed."""

IN_CODA: Final = -1
"""Stands for the bar that sent the players back when they are in the coda, which ends with the movement."""


def played(turns: tuple[Turn, ...]) -> tuple[int, ...]:
    """Bars in the order of playing, counted from 0.

    A repeat without a sign where it begins goes back to the end of the one before, or to the beginning of the
    movement. After da capo and dal segno repeats are not taken again and the last ending is played (common practice).
    A sign that is missing, or repeats without end, leave the bars as they are printed.
    """
    order = _Player(turns).play()
    return order if order is not None else tuple(range(len(turns)))


class _Player:
    """A place in the bars, with the beginning of the section that would be repeated, and the pass it is in."""

    def __init__(self, turns: tuple[Turn, ...]) -> None:
        self.turns = turns
        self.bar = 0
        self.start = 0
        self.passing = 1
        self.movement = 0
        """Where the movement begins: da capo goes back no further."""
        self.jumped_at: int | None = None
        """The bar that sent the players back to the beginning or to the segno; None before that."""

    def play(self) -> tuple[int, ...] | None:
        order: list[int] = []
        while self.bar < len(self.turns):
            turn = self.turns[self.bar]
            if turn.ending_begins and self.bar != self.start and self.passed_over(turn):
                self.bar = self.end_of_ending() + 1
                continue
            if turn.forward and self.start != self.bar:
                self.start, self.passing = self.bar, 1
            order.append(self.bar)
            if len(order) > MOST_PLAYED:
                return None
            self.go_on(turn)
        return tuple(order)

    def passed_over(self, turn: Turn) -> bool:
        """Whether the ending that begins here is not the one to play now."""
        return (self.passing if self.jumped_at is None else self.passes()) not in turn.endings

    def end_of_ending(self) -> int:
        """Last bar of the ending that holds this bar."""
        last = self.bar
        while last + 1 < len(self.turns) and self.turns[last + 1].endings and not self.turns[last + 1].ending_begins:
            last += 1
        return last

    def begin_of_ending(self) -> int:
        """First bar of the ending that holds this bar."""
        first = self.bar
        while first > 0 and not self.turns[first].ending_begins and self.turns[first - 1].endings:
            first -= 1
        return first

    def passes(self) -> int:
        """Number of the last ending of the group that holds this bar."""
        first = last = self.bar
        while first > 0 and self.turns[first - 1].endings:
            first -= 1
        while last + 1 < len(self.turns) and self.turns[last + 1].endings:
            last += 1
        return max((number for turn in self.turns[first : last + 1] for number in turn.endings), default=1)

    def go_on(self, turn: Turn) -> None:
        """Go to the bar that is played next."""
        if self.jumped_at is not None and (turn.fine or self.bar == self.jumped_at or turn.final):
            self.begin_movement(max(self.jumped_at, self.bar) + 1)
        elif self.goes_back(turn) or self.jumps(turn):
            return
        elif turn.final and not turn.fine and not self.is_trio(self.bar + 1):
            self.begin_movement(self.bar + 1)
        else:
            self.bar += 1

    def goes_back(self, turn: Turn) -> bool:
        """Take a repeat, or leave the section that it repeats."""
        if turn.backward and self.jumped_at is None:
            if self.passing < (max(turn.backward, self.passes()) if turn.endings else turn.backward):
                self.passing += 1
                self.bar = self.start
                return True
            self.start, self.passing = self.bar + 1, 1
        elif turn.endings and self.bar == self.end_of_ending() and self.start < self.begin_of_ending():
            self.start, self.passing = self.bar + 1, 1
        return False

    def jumps(self, turn: Turn) -> bool:
        """Go back to the beginning or to the segno, or on to the coda after that."""
        if self.jumped_at is None and (turn.da_capo or turn.dal_segno):
            signs = (bar for bar in range(self.bar, -1, -1) if self.turns[bar].segno)
            target = next(signs, None) if turn.dal_segno else self.movement
            if target is not None:
                self.jumped_at, self.bar, self.start, self.passing = self.bar, target, target, 1
                return True
        if self.jumped_at is not None and turn.to_coda:
            after = range(self.bar + 1, len(self.turns))
            coda = next((bar for bar in after if self.turns[bar].coda), None)
            if coda is not None:
                self.jumped_at, self.bar = IN_CODA, coda
                return True
        return False

    def begin_movement(self, bar: int) -> None:
        """Go on after the end of a movement, if there is more."""
        self.bar = self.movement = self.start = bar
        self.passing, self.jumped_at = 1, None

    def is_trio(self, bar: int) -> bool:
        """Whether the music from a bar on belongs to the movement before: a trio, after which that is played again."""
        return bar < len(self.turns) and self.turns[bar].trio
