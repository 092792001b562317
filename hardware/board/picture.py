"""The wiring picture of a board, drawn from its net list: the header in the middle, each part at its place's height."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from hardware.board.header import PLACES, name_at
from hardware.board.nets import HEADER_MARK, KNOB, LED, Net, Part, Terminal, nets_of, parts_of
from hardware.board.parts import Board
from hardware.board.pen import Pen, bent

WIDTH: Final = 1160
HEIGHT: Final = 820
TOP: Final = 104
ROW: Final = 33
EDGES: Final = (490.0, 670.0)
"""Left and right edge of the header."""

STUB: Final = 70.0
"""From the header to where parts begin."""

BENDS: Final = (60.0, 46.0, 32.0, 18.0)
"""How far from the header wires that must step aside do so; a lower one nearer to it, so that none cross."""


SIGNS: Final = (
    "Seen from above, place 1 at the top left. Each ground sign goes to any ground of the header, "
    "each 3.3 V sign to place 1 or 17."
)

SUPPLIED: Final = frozenset({"VCC", "5 V"})
"""Terminals beside which a module says that it needs ground, too."""


@dataclass(frozen=True, slots=True)
class Slot:
    """One wire from the header: its place, the terminals at its other end, and how much room they need."""

    place: int
    ends: tuple[Terminal, ...]
    above: float
    below: float

    @property
    def way(self) -> int:
        """Which side: -1 left, 1 right."""
        return -1 if self.place % 2 else 1

    @property
    def row(self) -> float:
        """Height of its place."""
        return TOP + ROW * ((self.place - 1) // 2)


def draw_board(board: Board) -> str:
    """The picture as SVG."""
    pen = Pen(WIDTH, HEIGHT)
    nets, parts = nets_of(board), {part.mark: part for part in parts_of(board)}
    slots = _slots(nets, parts)
    pen.text(40, 44, f"{board.title}, variant {board.variant.name}: {board.variant.title}", kind="large")
    pen.text(40, 66, SIGNS)
    for way in (-1, 1):
        _side(pen, [slot for slot in slots if slot.way == way], parts, way)
    _header(pen, {slot.place for slot in slots})
    _notes(pen, board)
    words = "; ".join(f"{net.name}: {', '.join(str(end) for end in net.terminals)}" for net in nets)
    return pen.done(f"Wiring of {board.title}, variant {board.variant.name}", words)


def _slots(nets: tuple[Net, ...], parts: Mapping[str, Part]) -> list[Slot]:
    """Wires with one place of the header, and the 3.3 V and 5 V of modules."""
    found = []
    for net in nets:
        places = [int(end.name) for end in net.terminals if end.part == HEADER_MARK]
        ends = tuple(end for end in net.terminals if end.part != HEADER_MARK)
        if len(places) == 1:
            found.append(Slot(places[0], ends, *_room(ends)))
        elif net.name in {"3.3 V", "5 V"}:
            modules = tuple(end for end in ends if len(parts[end.part].terminals) > 2)
            if modules:
                found.append(Slot(places[0], modules, 12, 12))
    return sorted(found, key=lambda slot: slot.place)


def _room(ends: tuple[Terminal, ...]) -> tuple[float, float]:
    """Height over and under the wire that its parts need."""
    if len(ends) == 3 and ends[0].part.startswith("R"):
        return 56.0, 40.0
    return (24.0, 18.0) if ends[0].part == "R5" else (14.0, 16.0)


def _side(pen: Pen, slots: list[Slot], parts: Mapping[str, Part], way: int) -> None:
    edge = EDGES[way > 0]
    lowest, bend = 0.0, 0
    done: list[tuple[Slot, float]] = []
    for slot in slots:
        y = max(slot.row, lowest + slot.above)
        bend = 0 if y == slot.row else bend + 1
        start, end = (edge, slot.row), (edge + way * STUB, y)
        pen.line(*bent(start, end, edge + way * BENDS[min(bend, len(BENDS) - 1)]))
        lowest = y + slot.below
        done.append((slot, y))
    modules: dict[str, list[tuple[Slot, float]]] = {}
    for slot, y in done:
        mark = slot.ends[0].part
        if len(parts[mark].terminals) > 2:
            modules.setdefault(mark, []).append((slot, y))
        else:
            _lone(pen, parts, slot, (edge + way * STUB, y))
    for mark, wires in modules.items():
        _module(pen, parts, mark, wires, edge + way * STUB)


def _lone(pen: Pen, parts: Mapping[str, Part], slot: Slot, at: tuple[float, float]) -> None:
    first = slot.ends[0].part
    if first.startswith("S"):
        _key(pen, parts[first], at, slot.way)
    elif len(slot.ends) == 3:
        _pedal(pen, parts, slot, at)
    else:
        _led(pen, parts, at, slot.way)


def _label(pen: Pen, x: float, y: float, text: str, way: int, kind: str = "") -> None:
    pen.text(x + way * 8, y, text, anchor="start" if way > 0 else "end", kind=kind)


def _key(pen: Pen, part: Part, at: tuple[float, float], way: int) -> None:
    x = pen.contact(at, way)
    pen.line((x, at[1]), (x + way * 16, at[1]))
    pen.ground(x + way * 16, at[1])
    _label(pen, x + way * 22, at[1] + 4, f"{part.mark}  {part.name}", way)


def _pedal(pen: Pen, parts: Mapping[str, Part], slot: Slot, at: tuple[float, float]) -> None:
    series, pull_up, filter_ = (parts[end.part] for end in slot.ends)
    x, y, way = *at, slot.way
    pen.line((x, y), (x + way * 128, y))
    pen.dot(x + way * 14, y)
    pen.line((x + way * 14, y), (x + way * 14, y - 8))
    pen.line((x + way * 14, y - 8 - 20), (x + way * 14, y - 34))
    pen.down((x + way * 14, y - 28), 20)
    pen.supply(x + way * 14, y - 34, "3.3 V")
    _label(pen, x + way * 16, y - 14, f"{pull_up.mark} {pull_up.value}", way, "small")
    pen.dot(x + way * 40, y)
    pen.line((x + way * 40, y), (x + way * 40, y + 10))
    pen.ground(x + way * 40, pen.plates(x + way * 40, y + 10))
    _label(pen, x + way * 44, y + 18, f"{filter_.mark} {filter_.value}", way, "small")
    end = pen.across((x + way * 128, y), 34, way)
    pen.text(x + way * 145, y - 9, f"{series.mark} {series.value}", anchor="middle", kind="small")
    pen.line((end, y), (end + way * 34, y))
    pen.ring(end + way * 38, y, 4)
    jack = f"J{(int(series.mark[1:]) + 1) // 2}"
    _label(pen, end + way * 44, y + 4, f"{jack}  {parts[jack].name}: tip", way)
    pen.ring(end + way * 38, y + 20, 4)
    pen.line((end + way * 34, y + 20), (end + way * 22, y + 20))
    pen.ground(end + way * 22, y + 20)
    _label(pen, end + way * 44, y + 24, "sleeve", way)


def _led(pen: Pen, parts: Mapping[str, Part], at: tuple[float, float], way: int) -> None:
    x, y = at
    end = pen.across(at, 34, way)
    pen.text(x + way * 17, y - 9, f"R5 {parts['R5'].value}", anchor="middle", kind="small")
    pen.line((end, y), (end + way * 30, y))
    lit = pen.diode((end + way * 30, y), way)
    pen.line((lit, y), (lit + way * 22, y))
    pen.ground(lit + way * 22, y)
    _label(pen, lit + way * 30, y + 4, f"{LED}  {parts[LED].name}, long leg to R5", way)


def _module(pen: Pen, parts: Mapping[str, Part], mark: str, wires: list[tuple[Slot, float]], x: float) -> None:
    """Boxes for a module: one for each run of neighbouring wires; a second module on the same wires is named."""
    part, way = parts[mark], wires[0][0].way
    runs: list[list[tuple[Slot, float]]] = []
    for slot, y in wires:
        if runs and y - runs[-1][-1][1] <= 1.5 * ROW:
            runs[-1].append((slot, y))
        else:
            runs.append([(slot, y)])
    for run in runs:
        top, bottom = run[0][1] - 14, run[-1][1] + 14
        pen.box(x if way > 0 else x - 92, top, 92, bottom - top, round_by=5)
        for slot, y in run:
            end = next(end for end in slot.ends if end.part == part.mark)
            pen.text(x + way * 8, y + 4, end.name, anchor="start" if way > 0 else "end", kind="small")
        _label(pen, x + way * 92, (top + bottom) / 2 + 4, f"{part.mark}  {part.name}", way)
        if part.mark == KNOB or any(end.name in SUPPLIED for slot, _ in run for end in slot.ends):
            grounds = [name for name in part.terminals if name in {"GND", "C", "push 2"}]
            _label(pen, x + way * 92, (top + bottom) / 2 + 20, f"{' and '.join(grounds)} to ground", way, "small")
        for other in sorted({end.part for slot, _ in run for end in slot.ends} - {mark}):
            words = f"and {other}  {parts[other].name} on the same wires"
            _label(pen, x + way * 92, (top + bottom) / 2 + 36, words, way, "small")


def _header(pen: Pen, used: set[int]) -> None:
    left, right = EDGES
    pen.box(left, TOP - 20, right - left, ROW * 19 + 40, round_by=8)
    middle = (left + right) / 2
    for place in PLACES:
        way = -1 if place % 2 else 1
        x, y = middle + way * 14, TOP + ROW * ((place - 1) // 2)
        if place == 1:
            pen.box(x - 11, y - 11, 22, 22)
        else:
            pen.ring(x, y, 11)
        pen.text(x, y + 4, str(place), anchor="middle", kind="small")
        kind = "" if place in used or name_at(place) == "ground" else "faint"
        pen.text(x + way * 17, y + 4, name_at(place), anchor="start" if way > 0 else "end", kind=kind)


def _notes(pen: Pen, board: Board) -> None:
    y = HEIGHT - 46
    pen.text(40, y, "Unplug the supply before you touch a wire. Nothing but 3.3 V on any pin.")
    screen = "at most 30 cm of wire to the screen"
    usb = "the microphone" if board.sound == "i2s" else "the sound interface, with microphone and PA,"
    pen.text(40, y + 20, f"By USB: the stick, and {usb} in any socket; {screen}.")
