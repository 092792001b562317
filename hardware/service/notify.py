"""News to the service manager, by the protocol of sd_notify(3): lines of text in a datagram on a Unix socket."""

from __future__ import annotations

import os
import socket
from collections.abc import Mapping
from contextlib import suppress


class Notifier:
    """Tells the service manager how the box is; without one it tells nobody, and nothing ever raises.

    Parameters
    ----------
    address
        Path of the socket, an "@" in front for one without a file; empty for no service manager.
    watchdog_seconds
        After how long without `alive` it starts the box anew; 0 for never.
    """

    def __init__(self, address: str = "", watchdog_seconds: float = 0.0) -> None:
        self._address = "\0" + address[1:] if address.startswith("@") else address
        self.watchdog_seconds = watchdog_seconds

    def ready(self) -> None:
        """Everything that depends on the box may start now."""
        self._send("READY=1")

    def alive(self) -> None:
        """The watchdog may wait anew."""
        self._send("WATCHDOG=1")

    def status(self, text: str) -> None:
        """Say how the box is, in one line for a person."""
        self._send("STATUS=" + " ".join(text.split()))

    def stopping(self) -> None:
        """The box ends, as it was told to."""
        self._send("STOPPING=1")

    def _send(self, line: str) -> None:
        if not self._address:
            return
        # A service manager that is gone or has no room is no trouble of the box's, and it may never wait for one.
        with suppress(OSError, ValueError), socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as link:
            link.settimeout(0)
            link.sendto(line.encode(), self._address)


def notifier_from(environment: Mapping[str, str] = os.environ) -> Notifier:
    """The service manager that started this process, by its environment (sd_notify(3), sd_watchdog_enabled(3))."""
    pid = environment.get("WATCHDOG_PID", "")
    ours = pid in {"", str(os.getpid())}
    micros = environment.get("WATCHDOG_USEC", "") if ours else ""
    return Notifier(environment.get("NOTIFY_SOCKET", ""), int(micros) / 1e6 if micros.isdecimal() else 0.0)
