"""The real box in the guest, under a service manager that prints its news; its drone sounds from the start.

    python tests/guest/sound_box.py FOLDER

It ends in order at SIGTERM. Nothing of the box is replaced: sound card, panel, screen and stick are those of the guest,
which has a sound card or none. An emulated processor is slow, so that the drone is one plain tone.
"""

from __future__ import annotations

import json
import os
import signal
import socket
import subprocess
import sys
from pathlib import Path

from firmware.settings import DEFAULTS, write_settings

TONE = (("tonic", "A"), ("shape", "unison"), ("octave", 4), ("octaves", 1), ("timbre", "plain"), ("drone_level", -12.0))
HZ = 440.0
"""A4 (ISO 16:1975), which is what TONE sounds."""


def main(folder: str) -> None:
    """Run the box until told to end."""
    place = Path(folder)
    place.mkdir(parents=True, exist_ok=True)
    values = DEFAULTS
    for name, value in TONE:
        values = values.put(name, value)
    state = {"tries": 0, "sounding": True, "settings": write_settings(values)}
    (place / "state.json").write_text(json.dumps(state), encoding="utf-8")
    news = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
    news.bind(str(place / "notify"))
    environment = os.environ | {"NOTIFY_SOCKET": str(place / "notify"), "RUNTIME_DIRECTORY": folder}
    command = [sys.executable, "-m", "hardware.desk", "box", "--stick", f"{folder}/stick", "--card", folder]
    box = subprocess.Popen(command, env=environment)
    signal.signal(signal.SIGTERM, lambda *_: box.terminate())
    while True:
        line = news.recv(4096).decode()
        if line != "WATCHDOG=1":
            print(line, flush=True)  # noqa: T201 - whoever watches reads it
        if line == "STOPPING=1":
            sys.exit(box.wait())


if __name__ == "__main__":
    main(sys.argv[1])
