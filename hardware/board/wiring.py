"""The wiring of a board as tables for a person with a soldering iron, drawn from the board file."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from typing import Final

from hardware.board.checks import buses_of, led_ma, pins_ma, rail_ma, supply_ma
from hardware.board.header import HEADER, PLACES, RESERVED, name_at
from hardware.board.limits import ALL_PINS_MA, PIN_MA, RAIL_3_MA, SUPPLY_MA
from hardware.board.nets import HEADER_MARK, nets_of, parts_of
from hardware.board.parts import Board

BLOCK: Final = re.compile(r"<!-- drawn: ([a-z ]+)-->\n.*?<!-- end -->", re.DOTALL)


def table(heads: tuple[str, ...], rows: Sequence[tuple[str, ...]]) -> str:
    """A Markdown table."""
    lines = [heads, tuple("---" for _ in heads), *rows]
    return "\n".join(f"| {' | '.join(cells)} |" for cells in lines)


def at_places(board: Board) -> dict[int, tuple[str, ...]]:
    """What is soldered to each used place of the header, but for what any ground or supply place serves."""
    found: dict[int, tuple[str, ...]] = {}
    for net in nets_of(board):
        places = [int(terminal.name) for terminal in net.terminals if terminal.part == HEADER_MARK]
        if len(places) == 1:
            found[places[0]] = tuple(str(end) for end in net.terminals if end.part != HEADER_MARK)
    return found


def pin_table(a: Board, b: Board) -> str:
    """Place, pin, and what is on it in each variant, in the order of the header."""
    columns = (_column(a), _column(b))
    rows = []
    for place in PLACES:
        first, second = (column[place] for column in columns)
        rows.append((str(place), name_at(place), first, second if second != first else "the same"))
    return table(("place", "pin", "variant A", "variant B"), rows)


def _column(board: Board) -> dict[int, str]:
    """What to write beside each place."""
    ends = at_places(board)
    nets = {int(end.name): net.name for net in nets_of(board) for end in net.terminals if end.part == HEADER_MARK}
    kept = {HEADER[pin]: f"kept for {bus}" for bus in buses_of(board) for pin in RESERVED[bus]}
    return {
        place: f"{nets[place]}: {', '.join(ends[place])}" if place in ends else nets.get(place, kept.get(place, "free"))
        for place in PLACES
    }


def part_table(board: Board) -> str:
    """Mark, name and value of each part."""
    return table(("mark", "part", "value"), [(part.mark, part.name, part.value) for part in parts_of(board)])


def net_table(board: Board) -> str:
    """Every net with all its terminals; place n of the header is H1.n."""
    rows = [(net.name, ", ".join(str(terminal) for terminal in net.terminals)) for net in nets_of(board)]
    return table(("net", "joins"), rows)


def current_table(a: Board, b: Board) -> str:
    """Currents at most beside what may flow."""
    asked: tuple[tuple[str, Callable[[Board], float], float], ...] = (
        ("LED, one pin", led_ma, PIN_MA),
        ("all pins together", pins_ma, ALL_PINS_MA),
        ("3.3 V of the header", rail_ma, RAIL_3_MA),
        ("the supply, Pi and stick included", supply_ma, SUPPLY_MA),
    )
    rows = [(what, f"{of(a):.1f} mA", f"{of(b):.1f} mA", f"{most:g} mA") for what, of, most in asked]
    return table(("current", "variant A", "variant B", "at most"), rows)


def renewed(page: str, drawings: Mapping[str, str]) -> str:
    """A page with each `<!-- drawn: NAME -->` block drawn anew; raises KeyError for a name that is not drawn."""

    def block(match: re.Match[str]) -> str:
        name = match.group(1).strip()
        return f"<!-- drawn: {name} -->\n{drawings[name]}\n<!-- end -->"

    return BLOCK.sub(block, page)


def drawings_of(a: Board, b: Board) -> dict[str, str]:
    """Every table of the page by its name."""
    return {
        "pins": pin_table(a, b),
        "parts": part_table(b),
        "currents": current_table(a, b),
        "nets a": net_table(a),
        "nets b": net_table(b),
    }
