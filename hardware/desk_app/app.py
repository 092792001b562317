"""The textual app: the picture on top, the legend under it, and what sounds at the bottom."""

from __future__ import annotations

from collections.abc import Callable
from typing import ClassVar, Final

from rich.text import Text
from textual.app import App, ComposeResult
from textual.binding import Binding, BindingType
from textual.events import Key
from textual.widget import Widget
from textual.widgets import Static

from firmware.screens.frame import Frame
from hardware.desk_app.cells import drawn
from hardware.desk_app.fingers import Fingers
from hardware.desk_app.keymap import QUIT_KEY
from hardware.desk_app.legend import legend
from hardware.live_loop import LiveLoop
from hardware.simulated.panel import SimulatedPanel
from hardware.simulated.screen import SimulatedScreen

PICTURES_A_SECOND: Final = 25
STATUS_SECONDS: Final = 0.25
STRAY_KEYS: Final = 3
"""Keys without a meaning after which the legend's hint appears."""


class Oled(Widget):
    """The picture, as large as the window allows."""

    DEFAULT_CSS = "Oled { height: 1fr; min-height: 16; content-align: center middle; color: #d8e8ff; }"

    def __init__(self) -> None:
        super().__init__()
        self.frame = Frame()

    def put(self, frame: Frame) -> None:
        """Show another picture; an equal one costs nothing."""
        if frame != self.frame:
            self.frame = frame
            self.refresh()

    def render(self) -> Text:
        """Draw the picture with as many cells as there are."""
        return Text("\n".join(drawn(self.frame, self.size.width, self.size.height)), no_wrap=True)


class DeskApp(App[None]):
    """The box on a computer.

    Parameters
    ----------
    loop
        The box that runs; started when the app is up and stopped when it ends.
    panel, screen
        The box's panel and screen.
    facts : tuple of str
        Lines for the bottom that don't change: where takes go, what the microphone is.
    """

    CSS = "#legend, #status { height: auto; width: auto; } Screen { align: center top; background: #10141a; }"
    BINDINGS: ClassVar[list[BindingType]] = [Binding(QUIT_KEY, "quit", "End", priority=True)]
    ENABLE_COMMAND_PALETTE = False
    TITLE = "Keelnote"

    def __init__(
        self, loop: LiveLoop, panel: SimulatedPanel, screen: SimulatedScreen, facts: tuple[str, ...] = ()
    ) -> None:
        super().__init__()
        self._loop = loop
        self._panel = panel
        self._glass = screen
        self._facts = facts
        self.fingers = Fingers(panel)

    def compose(self) -> ComposeResult:
        """Lay out picture, legend and status."""
        yield Oled()
        yield Static("\n".join(legend()), id="legend", markup=False)
        yield Static("", id="status", markup=False)

    def on_mount(self) -> None:
        """Switch the box on."""
        self._panel.start(self._loop.post, self._loop.now)
        self._loop.start()
        self._show_status()
        self.set_interval(1 / PICTURES_A_SECOND, self._follow)
        self.set_interval(STATUS_SECONDS, self._show_status)

    def on_unmount(self) -> None:
        """End the rehearsal in order."""
        self._panel.stop()
        self._loop.stop()

    def on_key(self, event: Key) -> None:
        """Move the panel."""
        if self.fingers.stroke(event.character if event.character and event.character.isalpha() else event.key):
            event.stop()
            event.prevent_default()
            self._show_status()

    def _follow(self) -> None:
        self._panel.pump(self._loop.now())
        self.query_one(Oled).put(self._glass.last_frame)

    def _show_status(self) -> None:
        self.query_one("#status", Static).update("\n".join(status_lines(self._loop, self._facts, self.fingers.note)))


def status_lines(loop: LiveLoop, facts: tuple[str, ...], note: str) -> tuple[str, ...]:
    """What stands at the bottom: the hands, the sound, the facts, and everything that went wrong, counted."""
    counts = (("blocks late", loop.card.lost), ("dropped", loop.dropped), ("faults", loop.faults))
    wrong = "   ".join(f"{what}: {count}" for what, count in counts if count)
    sound = loop.card.status + (f"   {wrong}" if wrong else "")
    return (sound, *facts, note)
