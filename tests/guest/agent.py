"""Runs in the guest as its first program: takes commands through a serial port and answers line by line."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import threading
import time
from pathlib import Path
from typing import IO, Any

PORTS = Path("/dev")


class Agent:
    """Runs each command on a thread of its own, so that one that goes on for long hinders no other.

    Parameters
    ----------
    port : file
        Both ways; a JSON object a line.
    """

    def __init__(self, port: IO[bytes]) -> None:
        self._port = port
        self._lock = threading.Lock()
        self._running: dict[int, subprocess.Popen[str]] = {}

    def serve(self) -> None:
        """Answer until the port is closed, which it never is."""
        self._say(id=0, ready=True)
        for line in self._port:
            job = json.loads(line)
            if "kill" in job:
                self._running[job["kill"]].send_signal(job["signal"])
            else:
                threading.Thread(target=self._run, args=(job,), daemon=True).start()

    def _say(self, **answer: object) -> None:
        with self._lock:
            self._port.write(json.dumps(answer).encode() + b"\n")
            self._port.flush()

    def _run(self, job: dict[str, Any]) -> None:
        process = subprocess.Popen(
            job["command"],
            cwd=job["folder"],
            env={**os.environ, **job["environment"]},
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            errors="replace",
        )
        self._running[job["id"]] = process
        assert process.stdout is not None
        for line in process.stdout:
            self._say(id=job["id"], line=line.rstrip("\n"))
        self._say(id=job["id"], code=process.wait())


def wait_for_port() -> str:
    """Path of the virtual serial port, which appears when its module has looked around."""
    while True:
        found = sorted(PORTS.glob("vport*"))
        if found:
            return str(found[0])
        time.sleep(0.05)


def main() -> None:
    """Be the first program of the guest."""
    os.environ.update(PATH="/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin", HOME="/run", LANG="C.UTF-8")
    descriptor = os.open(wait_for_port(), os.O_RDWR)
    reader = os.fdopen(os.dup(descriptor), "rb", buffering=0)
    writer = os.fdopen(descriptor, "wb", buffering=0)
    Agent(_Both(reader, writer)).serve()
    sys.exit("the port was closed")


class _Both:
    """Reads by lines and writes, which a port can do at the same time and a buffered file can't."""

    def __init__(self, reader: IO[bytes], writer: IO[bytes]) -> None:
        self._reader = reader
        self._writer = writer
        self._rest = b""

    def __iter__(self) -> _Both:
        return self

    def __next__(self) -> bytes:
        while b"\n" not in self._rest:
            data = self._reader.read(65536)
            if not data:
                time.sleep(0.05)  # nobody is at the other end yet
            self._rest += data or b""
        line, self._rest = self._rest.split(b"\n", 1)
        return line

    def write(self, data: bytes) -> None:
        left = memoryview(data)
        while left:
            left = left[self._writer.write(left) or 0 :]

    def flush(self) -> None:
        """Nothing waits."""


if __name__ == "__main__":
    main()
