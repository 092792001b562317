"""Talks to QEMU: plugs, pulls and presses (QEMU Machine Protocol, a JSON object a line)."""

from __future__ import annotations

import json
import socket
import time
from contextlib import suppress
from pathlib import Path
from typing import Any


class Control:
    """The connection to one running QEMU.

    Parameters
    ----------
    path : Path
        Its socket, which QEMU makes when it starts.
    """

    def __init__(self, path: Path) -> None:
        self.events: list[dict[str, Any]] = []
        deadline = time.monotonic() + 20
        while True:
            link = socket.socket(socket.AF_UNIX)
            try:
                link.connect(str(path))
                break
            except OSError:
                link.close()
                if time.monotonic() > deadline:
                    raise
                time.sleep(0.02)
        self._link = link
        self._file = link.makefile("rwb", buffering=0)
        self._file.readline()
        self.ask("qmp_capabilities")

    def ask(self, what: str, **values: object) -> Any:  # noqa: ANN401 - QEMU answers with anything
        """Have QEMU do something; raises AssertionError with its reason when it will not."""
        self._file.write(json.dumps({"execute": what, "arguments": values}).encode() + b"\n")
        while line := self._file.readline():
            answer = json.loads(line)
            if "error" in answer:
                raise AssertionError(f"QEMU, {what}: {answer['error'].get('desc')}")
            if "return" in answer:
                return answer["return"]
            self.events.append(answer)
        raise AssertionError(f"QEMU ended at {what}")

    def read_rest(self) -> None:
        """Read what QEMU still said before it ended."""
        with suppress(OSError):
            while line := self._file.readline():
                self.events.append(json.loads(line))

    def close(self) -> None:
        """Let it go."""
        with suppress(OSError):
            self._file.close()
            self._link.close()

    def plug(self, image: Path, name: str = "stick", *, locked: bool = False, log: Path | None = None) -> None:
        """Put a USB stick in, whose contents are the file `image`; all that is written to it is also kept in `log`."""
        quick = {"cache": {"no-flush": True}}
        file = {"driver": "file", "filename": str(image)}
        stick: dict[str, object] = quick | {"driver": "raw", "node-name": name, "read-only": locked, "file": file}
        if log is not None:
            log.write_bytes(b"")
            # A flush is kept in the log too, so that only the files behind it may be spared one.
            kept = {"log": quick | {"driver": "file", "filename": str(log)}, "log-sector-size": 512}
            stick = {"driver": "blklogwrites", "node-name": name, "file": quick | file, **kept}
        self.ask("blockdev-add", **stick)
        self.ask("device_add", driver="usb-storage", bus="usb.0", drive=name, id=f"usb-{name}", removable=True)

    def yank(self, name: str = "stick") -> None:
        """Pull a USB stick out without a word to the guest."""
        self.ask("device_del", id=f"usb-{name}")
        deadline = time.monotonic() + 30
        while time.monotonic() < deadline:
            with suppress(AssertionError):
                self.ask("blockdev-del", **{"node-name": name})
                return
            time.sleep(0.05)
        raise AssertionError(f"{name} can't be pulled out")

    def strike(self, code: str, *, down: bool) -> None:
        """Press or release a key of the keyboard, by QEMU's name of it: `kp_7`, say."""
        key = {"type": "qcode", "data": code}
        self.ask("input-send-event", events=[{"type": "key", "data": {"down": down, "key": key}}])

    def tap(self, *codes: str, hold: float = 0.15) -> None:
        """Press and release some keys at once."""
        for code in codes:
            self.strike(code, down=True)
        time.sleep(hold)
        for code in codes:
            self.strike(code, down=False)
