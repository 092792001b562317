"""The textual app: the picture on top, the legend under it, and what sounds at the bottom."""

from __future__ import annotations

from typing import ClassVar, Final

from textual.app import App, ComposeResult
from textual.binding import Binding, BindingType
from textual.events import Key
from textual.screen import ModalScreen
from textual.widgets import Static

from firmware.screens.frame import Frame
from hardware.desk_app.cells import drawn
from hardware.desk_app.fingers import Fingers
from hardware.desk_app.keymap import HELP_KEY, QUIT_KEY
from hardware.desk_app.legend import legend, words
from hardware.live_loop import LiveLoop
from hardware.simulated.panel import SimulatedPanel
from hardware.simulated.screen import SimulatedScreen

PICTURES_A_SECOND: Final = 25
STATUS_SECONDS: Final = 0.25


class Oled(Static):
    """The picture, as large as the window allows."""

    DEFAULT_CSS = "Oled { height: 1fr; content-align: center middle; color: #d8e8ff; }"

    def __init__(self) -> None:
        super().__init__("", markup=False)
        self.picture = Frame()

    def put(self, picture: Frame) -> None:
        """Show another picture; an equal one costs nothing."""
        if picture != self.picture:
            self.picture = picture
            self.on_resize()

    def on_resize(self) -> None:
        """Draw the picture with as many cells as there are."""
        self.update("\n".join(drawn(self.picture, self.size.width, self.size.height)))


class Help(ModalScreen[None]):
    """What every key does, until the next key."""

    DEFAULT_CSS = "Help { align: center middle; } Help Static { width: auto; height: auto; padding: 0 1; }"

    def compose(self) -> ComposeResult:
        """Lay out the lines."""
        yield Static("\n".join(words()), markup=False)

    def on_key(self, event: Key) -> None:
        """Go back."""
        event.stop()
        self.dismiss()


class DeskApp(App[None]):
    """The box on a computer.

    Parameters
    ----------
    loop
        The box that runs; started when the app is up and stopped when it ends.
    panel, screen
        The box's panel and screen.
    facts : str
        What stands at the bottom when the hands rest: where takes go, what the microphone is.
    """

    CSS = """
    Screen { align: center top; background: #10141a; overflow: hidden; }
    #legend, #status { height: auto; width: auto; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [Binding(QUIT_KEY, "quit", "End", priority=True)]
    ENABLE_COMMAND_PALETTE = False
    TITLE = "Keelnote"

    def __init__(self, loop: LiveLoop, panel: SimulatedPanel, screen: SimulatedScreen, facts: str = "") -> None:
        super().__init__()
        self._live = loop
        self._panel = panel
        self._glass = screen
        self._facts = facts
        self._oled = Oled()
        self._status = Static("", id="status", markup=False)
        self.fingers = Fingers(panel)

    def compose(self) -> ComposeResult:
        """Lay out picture, legend and status."""
        yield self._oled
        yield Static("\n".join(legend()), id="legend", markup=False)
        yield self._status

    def on_mount(self) -> None:
        """Switch the box on."""
        self._panel.start(self._live.post, self._live.now)
        self._live.start()
        self._show_status()
        self.set_interval(1 / PICTURES_A_SECOND, self._follow)
        self.set_interval(STATUS_SECONDS, self._show_status)

    def on_unmount(self) -> None:
        """End the rehearsal in order."""
        self._panel.stop()
        self._live.stop()

    def on_key(self, event: Key) -> None:
        """Move the panel."""
        if event.key == HELP_KEY:
            self.push_screen(Help())
        elif self.fingers.stroke(event.character if event.character and event.character.isalpha() else event.key):
            event.stop()
            event.prevent_default()
            self._show_status()

    def _follow(self) -> None:
        self._panel.pump(self._live.now())
        if self._oled.is_attached:  # the timers outlive the widgets by a moment when the app ends
            self._oled.put(self._glass.last_frame)

    def _show_status(self) -> None:
        if self._status.is_attached:
            self._status.update("\n".join(status_lines(self._live, self._facts, self.fingers.note)))


def status_lines(loop: LiveLoop, facts: str, note: str) -> tuple[str, str]:
    """What stands at the bottom: the sound and all that went wrong, counted; then the hands, advice, or the facts."""
    counts = (("blocks late", loop.card.lost), ("dropped", loop.dropped), ("faults", loop.faults))
    wrong = "   ".join(f"{what}: {count}" for what, count in counts if count)
    sound = loop.card.status + (f"   {wrong}" if wrong else "")
    return sound, note or loop.card.advice or facts
