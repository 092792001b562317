"""The real stick driver lets a stick go, inside the guest: asks the system, waits, and says how the stick stands.

python tests/guest/let_go.py MOUNT REQUESTS
"""

from __future__ import annotations

import sys
from pathlib import Path

from firmware.errors import DeviceError
from hardware.drivers.requests import Requests, unmounting
from hardware.drivers.stick import FolderStick


def main(mount: str, requests: str) -> None:
    """Write something, try to let go with a file open, then without."""
    place = Path(mount)
    stick = FolderStick(place / "KEELNOTE", mounted=True, unmount=unmounting(place, Requests(Path(requests))))
    say("at first", stick.present, stick.trouble() or "well")
    stick.write_text("settings.toml", "a4 = 442\n")
    with (place / "KEELNOTE" / "settings.toml").open(encoding="utf-8"):
        try:
            stick.release()
        except DeviceError as error:
            say("with a file open", error.message)
    say("still", stick.present)
    stick.release()
    say("let go", stick.present, *(stick.trouble() for _ in range(5)))
    for line in sys.stdin:
        say(line.strip(), stick.present, stick.trouble() or "well")


def say(*words: object) -> None:
    print(*words, flush=True)  # noqa: T201 - the test reads it


if __name__ == "__main__":
    main(*sys.argv[1:])
