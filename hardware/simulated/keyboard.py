"""A MIDI keyboard without wires; a test or a script plugs it in and plays it."""

from __future__ import annotations

from firmware.keyboard_events import KeyboardChanged, NoteOff, NoteOn, SustainChanged
from firmware.ports import Now, Post

NAME = "keys of the desk"


class SimulatedKeyboard:
    """A keyboard that keeps the Keyboard contract and is moved by calls."""

    def __init__(self) -> None:
        self._post: Post | None = None
        self._now: Now = int
        self._name = ""
        self.sent: list[bytes] = []
        """Messages that it was sent while it was plugged in."""

    @property
    def plugged(self) -> bool:
        """Whether it is plugged in."""
        return bool(self._name)

    def start(self, post: Post, now: Now) -> None:
        """Begin to post; a keyboard that is plugged in already is told."""
        self._post, self._now = post, now
        if self._name:
            post(KeyboardChanged(now(), present=True, name=self._name))

    def stop(self) -> None:
        """End; a second call does nothing."""
        self._post = None

    def send(self, message: bytes) -> None:
        """Take a message."""
        if self._name:
            self.sent.append(message)

    def plug_in(self, name: str = NAME) -> None:
        """Plug it in."""
        self._name = name
        if self._post:
            self._post(KeyboardChanged(self._now(), present=True, name=name))

    def pull_out(self) -> None:
        """Pull it out, with whatever is down."""
        name, self._name = self._name, ""
        if self._post and name:
            self._post(KeyboardChanged(self._now(), present=False, name=name))

    def press(self, note: int, velocity: int = 64) -> None:
        """Put a key down."""
        if self._post and self._name:
            self._post(NoteOn(self._now(), note, velocity))

    def release(self, note: int) -> None:
        """Let a key come up."""
        if self._post and self._name:
            self._post(NoteOff(self._now(), note))

    def sustain(self, *, down: bool) -> None:
        """Press or leave the sustain pedal."""
        if self._post and self._name:
            self._post(SustainChanged(self._now(), down))
