"""A class that answers drills by ear, as well as it hears: it has the knob moved, and says when or which."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np

from firmware.drills.drill import Phase, Run
from firmware.events import PanelKey, Pedal
from firmware.units import RATE, samples_of
from hardware.simulated.panel import SimulatedPanel

SAYINGS: Final = ("what it hears", "just", "equal")
"""What a class says when it is asked which: the truth if it can hear it, or always the same."""

APART_CENTS: Final = 13.7
"""By so much the thirds of just and equal chords differ (common practice)."""

KEYS: Final = {"just": PanelKey.DRONE, "equal": PanelKey.COMPARE}


@dataclass(frozen=True, slots=True)
class Pupils:
    """How a class hears from second `at` on.

    Parameters
    ----------
    hears : float
        What is closer than this to where the class wants it, in cents or dB, is right to its ears.
    believes : float
        Where it wants it: cents above just, or dB above the level that is aimed at.
    says : str
        One of `SAYINGS`.
    waits : float
        Seconds that it listens before it says anything.
    turns : float
        Detents a second by which the director's hand follows it.
    """

    at: float
    hears: float = 3.0
    believes: float = 0.0
    says: str = SAYINGS[0]
    waits: float = 1.5
    turns: float = 8.0


class SchoolClass:
    """Plays a class on a panel: reads the drill as its ears would, and moves knob, keys and pedal.

    Parameters
    ----------
    panel
        What it moves.
    pupils
        How it hears, from which time on, in the order of time.
    run : function
        The drill that is under way; None without one.
    seed : int
        For answers of a class that can't hear the difference.
    """

    def __init__(
        self, panel: SimulatedPanel, pupils: tuple[Pupils, ...], run: Callable[[], Run | None], seed: int = 1
    ) -> None:
        self._panel = panel
        self._pupils = pupils
        self._run = run
        self._coin = np.random.Generator(np.random.PCG64(seed))
        self._turned = 0
        self._quiet = 0
        self._place: tuple[int, int] | None = None

    def pump(self, now: int) -> None:
        """Do what the class does at a sample count."""
        pupils = next((one for one in reversed(self._pupils) if samples_of(one.at) <= now), None)
        run = self._run()
        if pupils is None or run is None or run.phase is not Phase.OPEN:
            return
        if self._place != (run.place, run.since):
            self._place, self._quiet = (run.place, run.since), run.since
        if run.drill.detent and not run.drill.listens(run.task) and abs(run.value - pupils.believes) > pupils.hears:
            self._turn(run, pupils, now)
        elif now - self._quiet >= samples_of(pupils.waits) and run.drill.name != "match":
            self._quiet = now
            self._say(run, pupils)

    def _turn(self, run: Run, pupils: Pupils, now: int) -> None:
        self._quiet = now
        if now - self._turned >= RATE / pupils.turns:
            self._turned = now
            self._panel.turn(1 if run.value < pupils.believes else -1)

    def _say(self, run: Run, pupils: Pupils) -> None:
        if run.drill.name != "which-is-it":
            self._panel.pedal(Pedal.RIGHT)
            return
        said = pupils.says
        if said not in KEYS:
            heard = pupils.hears < APART_CENTS or self._coin.random() < 0.5
            said = "just" if bool(run.question.begins) is heard else "equal"
        self._panel.tap(KEYS[said])
