"""A computer in a computer: QEMU with a real kernel, for what this one's kernel can't do.

It sees the host's files read-only, with what it writes kept in its memory, so that tests run in it with the same
`.venv` and checkout. USB sticks are plugged and yanked while it runs; `cut_power` kills it. Nothing in it is known to
this file: what runs there comes as commands, what it needs of the kernel as names of modules.
"""

from __future__ import annotations

import contextlib
import json
import queue
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from types import TracebackType
from typing import Any, Final, Self

from tests.guest.cpio import initial_files
from tests.guest.kernel import Kernel

ROOT: Final = Path(__file__).parents[2]

BASE: Final = ("virtio_pci", "9pnet_virtio", "9p", "overlay", "virtio_console", "xhci_pci", "usb_storage", "sd_mod")
"""Modules that every guest needs: the host's files, the port of the agent, USB."""

FAT: Final = ("vfat", "nls_cp437", "nls_iso8859-1", "nls_utf8", "nls_ascii")
"""Modules for FAT sticks."""

BOOT_SECONDS: Final = 150.0
"""Patience with a guest on a busy machine; on an idle one it takes about ten."""


class GuestError(AssertionError):
    """The guest did not do what it was told to; its console is in the text."""


@dataclass(slots=True)
class Job:
    """A command that runs in the guest."""

    number: int
    answers: queue.Queue[dict[str, Any]] = field(default_factory=queue.Queue)
    lines: list[str] = field(default_factory=list)
    code: int | None = None


class Guest:
    """One guest, from power-on to power-off; a context manager.

    Parameters
    ----------
    kernel : Kernel
        What it boots.
    modules : sequence of str
        What its kernel loads beside BASE.
    devices : sequence of str
        More arguments for QEMU: a sound card, say.
    memory : int
        MiB.
    processors : int
        How many it has.
    """

    def __init__(
        self,
        kernel: Kernel,
        modules: Sequence[str] = FAT,
        devices: Sequence[str] = (),
        memory: int = 1024,
        processors: int = 2,
    ) -> None:
        self._folder = tempfile.TemporaryDirectory(prefix="keelnote-guest-")
        self._kernel = kernel
        self._modules = (*BASE, *modules)
        self._devices = devices
        self._memory = memory
        self._processors = processors
        self._jobs: dict[int, Job] = {}
        self._process: subprocess.Popen[bytes] | None = None
        self._agent: socket.socket | None = None
        self._listener: threading.Thread | None = None
        self._control: Any = None
        self.boot_seconds = 0.0

    def __enter__(self) -> Self:
        self.power_on()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, value: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Cut the power for good, and tidy up."""
        self.cut_power()
        self._folder.cleanup()

    # --- power ------------------------------------------------------------------------------------------------------

    def power_on(self) -> None:
        """Boot, and wait until commands are taken."""
        began = time.monotonic()
        self._jobs = {0: Job(0)}
        folder = Path(self._folder.name)
        initial = folder / "initial.cpio"
        if not initial.exists():
            agent = f"{sys.executable} {Path(__file__).with_name('agent.py')}"
            initial.write_bytes(initial_files(self._kernel, self._modules, agent))
        for name in ("agent", "control"):
            (folder / name).unlink(missing_ok=True)
        with (folder / "console").open("wb") as console:
            self._process = subprocess.Popen(
                self._command(initial), stdin=subprocess.DEVNULL, stdout=console, stderr=console
            )
        self._agent = self._connect("agent")
        control = self._connect("control")
        self._control = control.makefile("rwb", buffering=0)
        self._control.readline()  # QEMU's greeting
        control.close()
        self._ask_qemu("qmp_capabilities")
        self._listener = threading.Thread(target=self._listen, args=(self._agent,), daemon=True)
        self._listener.start()
        self._next(self._jobs[0], BOOT_SECONDS)
        self.boot_seconds = time.monotonic() - began

    def cut_power(self) -> None:
        """Kill it: nothing that was not on a disk by now will ever be."""
        process, self._process = self._process, None
        if process is not None:
            process.send_signal(signal.SIGKILL)
            process.wait(30)
        if self._listener is not None:
            self._listener.join(10)  # to the last line that the guest got out
            self._listener = None
        if self._control is not None:
            self._control.close()
            self._control = None
        if self._agent is not None:
            self._agent.close()
            self._agent = None

    # --- sticks -----------------------------------------------------------------------------------------------------

    def plug(self, image: Path, name: str = "stick", *, locked: bool = False) -> None:
        """Put a USB stick in, whose contents are the file `image`."""
        self._ask_qemu(
            "blockdev-add",
            **{
                "driver": "raw",
                "node-name": name,
                "read-only": locked,
                # The host outlives a killed guest, so nothing has to reach its disk; that would only lend the stick the
                # slowness of whatever else this machine does.
                "cache": {"no-flush": True},
                "file": {"driver": "file", "filename": str(image)},
            },
        )
        self._ask_qemu("device_add", driver="usb-storage", bus="usb.0", drive=name, id=f"usb-{name}", removable=True)

    def yank(self, name: str = "stick") -> None:
        """Pull a USB stick out without a word to the guest."""
        self._ask_qemu("device_del", id=f"usb-{name}")
        deadline = time.monotonic() + 30
        while time.monotonic() < deadline:
            with contextlib.suppress(GuestError):
                self._ask_qemu("blockdev-del", **{"node-name": name})
                return
            time.sleep(0.05)
        self._fail(f"{name} can't be pulled out")

    # --- other devices ----------------------------------------------------------------------------------------------

    def plug_in(self, driver: str, name: str) -> None:
        """Put another USB device in: `usb-kbd`, say."""
        self._ask_qemu("device_add", driver=driver, bus="usb.0", id=name)

    def pull_out(self, name: str) -> None:
        """Pull it out."""
        self._ask_qemu("device_del", id=name)

    def strike(self, code: str, *, down: bool) -> None:
        """Press or release a key of the keyboard, by QEMU's name of it: `kp_7`, say."""
        key = {"type": "qcode", "data": code}
        self._ask_qemu("input-send-event", events=[{"type": "key", "data": {"down": down, "key": key}}])

    # --- commands ---------------------------------------------------------------------------------------------------

    def start(self, *command: str, environment: Mapping[str, str] | None = None) -> Job:
        """Start a command, in the checkout, and go on."""
        job = Job(len(self._jobs))
        self._jobs[job.number] = job
        self._tell(
            {
                "id": job.number,
                "command": command,
                "folder": str(ROOT),
                "environment": {"PYTHONPATH": str(ROOT), "PYTHONDONTWRITEBYTECODE": "1", **(environment or {})},
            }
        )
        return job

    def wait(self, job: Job, seconds: float = 60.0) -> Job:
        """Wait for a command to end."""
        deadline = time.monotonic() + seconds
        while job.code is None:
            self._next(job, deadline - time.monotonic())
        return job

    def wait_for(self, job: Job, begin: str, seconds: float = 60.0) -> str:
        """Wait for a line that begins so; the line."""
        deadline = time.monotonic() + seconds
        seen = 0
        while True:
            for line in job.lines[seen:]:
                if line.startswith(begin):
                    return line
            seen = len(job.lines)
            if job.code is not None:
                self._fail(f"ended with {job.code} before {begin!r}:\n" + "\n".join(job.lines[-30:]))
            self._next(job, deadline - time.monotonic())

    def wait_next(self, job: Job, seconds: float = 60.0) -> None:
        """Wait for the next line of a command, or its end."""
        self._next(job, seconds)
        while not job.answers.empty():
            self._next(job, 1.0)

    def run(self, *command: str, seconds: float = 60.0, environment: Mapping[str, str] | None = None) -> str:
        """Run a command to its end; its output. Raises GuestError when it fails."""
        job = self.wait(self.start(*command, environment=environment), seconds)
        output = "\n".join(job.lines)
        if job.code != 0:
            self._fail(f"{' '.join(command)} ended with {job.code}:\n{output[-6000:]}")
        return output

    def send_signal(self, job: Job, number: int) -> None:
        """Send a signal to a command."""
        self._tell({"kill": job.number, "signal": int(number)})

    def drain(self, job: Job) -> list[str]:
        """All lines that came so far, also from a guest whose power is cut."""
        while not job.answers.empty():
            self._next(job, 1.0)
        return job.lines

    # --- helpers ----------------------------------------------------------------------------------------------------

    def _command(self, initial: Path) -> list[str]:
        folder = self._folder.name
        return [
            *(
                "qemu-system-x86_64",
                "-accel",
                "tcg,thread=multi",
                "-cpu",
                "max",
                "-smp",
                str(self._processors),
                "-m",
                str(self._memory),
            ),
            *("-nodefaults", "-no-user-config", "-display", "none", "-no-reboot", "-serial", "stdio"),
            *("-kernel", str(self._kernel.image), "-initrd", str(initial)),
            # On a busy host the kernel would find its timer too slow, and give up.
            *("-append", "console=ttyS0 panic=-1 quiet mitigations=off tsc=unstable no_timer_check"),
            *("-virtfs", "local,path=/,mount_tag=host,security_model=none,readonly=on,multidevs=remap"),
            *("-device", "virtio-serial-pci", "-chardev", f"socket,id=agent,path={folder}/agent,server=on,wait=off"),
            *("-device", "virtserialport,chardev=agent,name=agent"),
            *("-qmp", f"unix:{folder}/control,server=on,wait=off"),
            *("-device", "qemu-xhci,id=usb"),
            *self._devices,
        ]

    def _connect(self, name: str) -> socket.socket:
        path = Path(self._folder.name) / name
        deadline = time.monotonic() + 20
        while time.monotonic() < deadline:
            with contextlib.suppress(OSError):
                link = socket.socket(socket.AF_UNIX)
                try:
                    link.connect(str(path))
                except OSError:
                    link.close()
                    raise
                return link
            time.sleep(0.02)
        self._fail(f"QEMU does not open {name}")
        raise AssertionError

    def _ask_qemu(self, what: str, **values: object) -> None:
        # The QEMU Machine Protocol: a JSON object a line; events come in between and are of no interest.
        self._control.write(json.dumps({"execute": what, "arguments": values}).encode() + b"\n")
        for answer in self._qemu_answers():
            if "error" in answer:
                self._fail(f"QEMU, {what}: {answer['error'].get('desc')}")
            if "return" in answer:
                return
        self._fail(f"QEMU ended at {what}")

    def _qemu_answers(self) -> Iterator[dict[str, Any]]:
        while line := self._control.readline():
            yield json.loads(line)

    def _tell(self, message: Mapping[str, Any]) -> None:
        assert self._agent is not None
        self._agent.sendall(json.dumps(message).encode() + b"\n")

    def _listen(self, link: socket.socket) -> None:
        with contextlib.suppress(OSError), link.makefile("rb") as lines:
            for line in lines:
                with contextlib.suppress(json.JSONDecodeError):  # the last line of a guest whose power was cut
                    answer = json.loads(line)
                    self._jobs[answer["id"]].answers.put(answer)

    def _next(self, job: Job, seconds: float) -> None:
        try:
            answer = job.answers.get(timeout=max(seconds, 0.0))
        except queue.Empty:
            self._fail("the guest did not answer in time; so far:\n" + "\n".join(job.lines[-30:]))
            return
        if "line" in answer:
            job.lines.append(answer["line"])
        job.code = answer.get("code", job.code)

    def _fail(self, what: str) -> None:
        console = (Path(self._folder.name) / "console").read_text(encoding="utf-8", errors="replace")
        raise GuestError(f"{what}\n--- console of the guest:\n{console[-3000:]}")
