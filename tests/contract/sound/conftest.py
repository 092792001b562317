"""One private sound server for all tests of this folder."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from hardware.drivers.sound_card import portaudio
from tests.contract.sound.server import SoundServer, missing


@pytest.fixture(scope="session")
def running_server() -> Iterator[SoundServer]:
    absent = missing()
    if absent:
        pytest.skip(f"not installed: {absent}")
    # A folder with a short name, because the path of a Unix socket has at most 107 characters.
    with tempfile.TemporaryDirectory(prefix="kn-") as folder, pytest.MonkeyPatch.context() as patch:
        server = SoundServer(Path(folder))
        for name, value in server.client_env.items():
            patch.setenv(name, value)
        sounddevice = portaudio()
        sounddevice._terminate()
        sounddevice._initialize()  # lists the devices of this server, should it have been imported before
        yield server
        server.close()


@pytest.fixture
def server(running_server: SoundServer) -> Iterator[SoundServer]:
    yield running_server
    running_server.end_all()
    running_server.put_back()
