"""What the box asks of the system, which it may not do itself: let the stick go, switch the power off.

The service runs without privileges. It leaves an empty file with the name of what it wants in a folder of its own; a
systemd path unit of the same name (`hardware/service/`) watches for that file, does this one thing as root, and removes
the file. So nothing but these few wishes can cross, and none with an argument.
"""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable
from pathlib import Path
from typing import Final

from firmware.errors import DeviceError
from hardware.drivers.stick_errors import BUSY, stick_error
from hardware.drivers.stick_mounts import MOUNTS, mount_on

FOLDER: Final = Path("/run/keelnote/requests")
"""In the service's RuntimeDirectory (systemd.exec), which only it and root can write."""

RELEASE: Final = "release-stick"
POWER_OFF: Final = "power-off"

ANSWER_SECONDS: Final = 20.0
"""How long a wish may take: a slow stick writes what the kernel still holds back for it."""

LOOK_SECONDS: Final = 0.05


class Requests:
    """The folder in which wishes are left.

    Parameters
    ----------
    folder
        Where.
    """

    def __init__(self, folder: Path = FOLDER) -> None:
        self._folder = folder

    def ask(self, wish: str) -> None:
        """Leave a wish; raises DeviceError where nobody could see it."""
        try:
            self._folder.mkdir(mode=0o755, exist_ok=True)
            (self._folder / wish).touch()
        except OSError as error:
            allowed = f"{self._folder} must be there, to be written to ({error.strerror})"
            raise DeviceError("request", wish, allowed, "Start the box as a service.") from error

    def pending(self, wish: str) -> bool:
        """Whether a wish has not been dealt with yet."""
        return (self._folder / wish).exists()

    def take_back(self, wish: str) -> None:
        """Leave a wish no longer."""
        with contextlib.suppress(OSError):
            (self._folder / wish).unlink()


def unmounting(
    place: Path,
    requests: Requests,
    mounts: Path = MOUNTS,
    patience: float = ANSWER_SECONDS,
    sleep: Callable[[float], object] = time.sleep,
) -> Callable[[], None]:
    """What has the stick at `place` unmounted by the system, and waits for it; for `FolderStick`.

    It raises DeviceError when the stick is in use, or when nobody answers.
    """

    def unmount() -> None:
        requests.ask(RELEASE)
        for _ in range(max(1, round(patience / LOOK_SECONDS))):
            if not requests.pending(RELEASE):
                break
            sleep(LOOK_SECONDS)
        requests.take_back(RELEASE)
        if mount_on(place, mounts) is not None:
            raise stick_error("the stick", BUSY)

    return unmount
