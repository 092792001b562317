"""What the build says while it works, and how it runs other programs."""

from __future__ import annotations

import subprocess
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path


class BuildError(Exception):
    """The image can't be made; the text says what is missing and what to do."""


@contextmanager
def step(what: str) -> Iterator[None]:
    """Say what is being done, and afterwards how long it took."""
    print(f"[{time.strftime('%H:%M:%S')}] {what} …", flush=True)
    start = time.monotonic()
    yield
    print(f"[{time.strftime('%H:%M:%S')}] {what}: {time.monotonic() - start:.1f} s", flush=True)


def run(
    command: Sequence[str | Path],
    *,
    log: Path | None = None,
    env: Mapping[str, str] | None = None,
    cwd: Path | None = None,
    stdin: bytes | None = None,
) -> str:
    """Run a program to its end and return what it printed, nothing when that goes to a log.

    Raises
    ------
    BuildError
        If it fails, with the end of what it said.
    """
    if log:
        # Into the file as it comes, so that one can look at a step that takes long.
        with log.open("wb") as lines:
            done = subprocess.run(command, input=stdin, stdout=lines, stderr=lines, check=False, env=env, cwd=cwd)
        said = log.read_bytes()
    else:
        done = subprocess.run(command, input=stdin, capture_output=True, check=False, env=env, cwd=cwd)
        said = done.stdout + done.stderr
    if done.returncode:
        tail = said.decode(errors="replace").strip().splitlines()[-12:]
        raise BuildError(f"{command[0]} failed with {done.returncode}:\n  " + "\n  ".join(tail))
    return (done.stdout or b"").decode(errors="replace")
