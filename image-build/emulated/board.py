"""One emulated board with a card in it, from power-on to power-off; everything about the box is seen from outside.

Nothing of the test is in the image. What looks into the running box is a unit that comes on the kernel's command line
(systemd.system-credentials(7), `systemd.extra-unit.*`), the program that it runs lies on a disk of its own, and the
screen is shown in a file by the option of `keelnote box` that is made for it.
"""

from __future__ import annotations

import base64
import io
import json
import os
import queue
import re
import signal
import socket
import subprocess
import threading
import time
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO, Any, Final

from emulated import firmware
from emulated.qmp import Control
from maker.inputs import PROJECT

AGENT: Final = PROJECT / "tests/guest/agent.py"
MARK: Final = b"#outside\n"
SCREEN: Final = "/run/keelnote/screen.pbm"
READY: Final = "Keelnote is running."

# Some disk begins with the mark; names of disks depend on the order in which the kernel finds them.
RUN: Final = (
    "import glob\n"
    "for p in glob.glob('/dev/vd?'):\n"
    "    d=open(p,'rb').read(65536)\n"
    f"    if d.startswith({MARK!r}): exec(d.rstrip(bytes(1)))\n"
)
LOOK: Final = f'import base64;exec(base64.b64decode("{base64.b64encode(RUN.encode()).decode()}"))'
LOOKER: Final = (
    "[Unit]\nDefaultDependencies=no\nAfter=systemd-udevd.service\nStartLimitIntervalSec=0\n"
    f"[Service]\nRestart=always\nExecStart=/usr/bin/python3 -c '{LOOK}'\n"
)
# Emulated on a busy machine, everything takes many times as long as on the slowest board; so the limits are wider.
SHOWN: Final = (
    "[Service]\nTimeoutStartSec=300s\nWatchdogSec={seconds}s\n"
    f"ExecStart=\nExecStart=/usr/bin/keelnote box --standby --screen-file {SCREEN}\n"
)


@dataclass(slots=True)
class Board:
    """A board; `power_on`, then talk to it, then `cut_power` or wait for its end.

    Parameters
    ----------
    card : Path
        The card's contents, a file that is written to.
    folder : Path
        Where console logs and screens are kept, numbered by starts.
    devices : tuple of str
        More arguments for QEMU: a sound card, say.
    looked_into : bool
        Whether the looking unit and the screen's file are asked for; a start that is timed goes without.
    memory : int
        MiB; the smallest board has 512.
    """

    card: Path
    folder: Path
    devices: tuple[str, ...] = ()
    looked_into: bool = True
    memory: int = 512
    watchdog: int = 30
    """Seconds after which the service is taken for hung."""
    arguments: str = ""
    card_options: str = ""
    card_log: Path | None = None
    """Where every write to the card is kept, for `emulated.write_log`."""
    environment: dict[str, str] = field(default_factory=dict)
    """What QEMU finds in its environment beside what is there."""
    reboot_argument: str = ""
    """What the reboot was told that leads to the next start."""
    more_initrd: bytes = b""
    """An archive that the kernel unpacks behind the image's own initial RAM disk: a module for tests, say."""
    starts: int = 0
    slot: int = 0
    control: Control = field(init=False)
    _process: subprocess.Popen[bytes] | None = None
    _agent: socket.socket | None = None
    _answers: queue.Queue[dict[str, Any]] = field(default_factory=queue.Queue)
    _count: int = 0
    _shots: int = 0

    @property
    def console(self) -> Path:
        """What this start wrote on the serial console."""
        return self.folder / f"console-{self.starts}.log"

    def power_on(self) -> None:
        """Start, as the firmware would; returns at once."""
        self.starts += 1
        self.folder.mkdir(parents=True, exist_ok=True)
        loaded = firmware.load(self.card, self.folder / "loaded", self.reboot_argument)
        self.slot, self.reboot_argument = loaded.slot, ""
        if self.more_initrd:
            whole = loaded.initrd.read_bytes()
            loaded.initrd.write_bytes(whole + bytes(-len(whole) % 4) + self.more_initrd)
        for name in ("control", "agent"):
            (self.folder / name).unlink(missing_ok=True)
        with self.console.open("wb") as log:
            self._process = subprocess.Popen(
                self._command(loaded),
                stdin=subprocess.DEVNULL,
                stdout=log,
                stderr=log,
                env=os.environ | self.environment,
            )
        self.control = Control(self.folder / "control")
        if self.looked_into:
            self._listen()

    def cut_power(self) -> None:
        """Pull the plug: nothing that the guest had not handed to the card by now will be on it."""
        self._end(signal.SIGKILL)

    def wait_for_end(self, seconds: float) -> None:
        """Wait until the board has switched itself off or begun to restart (QEMU runs with -no-reboot)."""
        assert self._process is not None
        self._process.wait(seconds)
        self.control.read_rest()
        # What a real board keeps in its registers until the next start; here the kernel's own words for it.
        told = re.search(r"reboot: Restarting system with command '(.*?)'", self.log())
        self.reboot_argument = told[1] if told else ""
        self._end(signal.SIGKILL)

    def running(self) -> bool:
        """Whether the board has neither switched itself off nor begun to restart."""
        return self._process is not None and self._process.poll() is None

    @property
    def process_number(self) -> int:
        """Of the QEMU that runs; 0 while the power is off."""
        return self._process.pid if self._process is not None else 0

    def log(self) -> str:
        """Give the console of this start so far."""
        return self.console.read_text(encoding="utf-8", errors="replace")

    def wait_for_line(self, text: str, seconds: float) -> float:
        """Wait for a text on the console; seconds that it took."""
        began = time.monotonic()
        while text not in self.log():
            if time.monotonic() - began > seconds or not self.running():
                raise AssertionError(f"no {text!r} on the console within {seconds} s:\n{self.log()[-3000:]}")
            time.sleep(0.1)
        return time.monotonic() - began

    def run(self, *command: str, seconds: float = 60.0) -> tuple[int, str]:
        """Run a program in the guest, as root; its exit code and what it printed."""
        assert self._agent is not None
        self._count += 1
        message = {"id": self._count, "command": command, "folder": "/", "environment": {}}
        self._agent.sendall(json.dumps(message).encode() + b"\n")
        lines: list[str] = []
        deadline = time.monotonic() + seconds
        while True:
            try:
                answer = self._answers.get(timeout=max(0.01, deadline - time.monotonic()))
            except queue.Empty:
                raise AssertionError(f"{command} did not end in {seconds} s: {lines}\n{self.log()[-2000:]}") from None
            if answer.get("id") != self._count:
                continue
            if "code" in answer:
                return int(answer["code"]), "\n".join(lines)
            lines.append(answer.get("line", ""))

    def shell(self, text: str, seconds: float = 60.0) -> str:
        """Run a line of shell in the guest; what it printed. Raises AssertionError if it fails."""
        code, said = self.run("/bin/sh", "-c", text, seconds=seconds)
        if code:
            raise AssertionError(f"{text!r} gave {code}: {said}")
        return said

    def service(self, name: str, unit: str = "keelnote.service") -> str:
        """Give a property of a unit, as systemd shows it."""
        return self.shell(f"systemctl show -P {name} {unit}").strip()

    def wait_until(self, what: str, test: object, seconds: float, every: float = 0.5) -> float:
        """Wait until `test()` is true; seconds that it took."""
        began = time.monotonic()
        while not test():  # type: ignore[operator]  # any callable
            if time.monotonic() - began > seconds:
                raise AssertionError(f"{what}: not within {seconds} s\n{self.log()[-3000:]}")
            time.sleep(every)
        return time.monotonic() - began

    def screen(self, name: str = "") -> bytes:
        """Give the picture on the screen, 1024 bytes; kept as a PNG, with `name` in its name."""
        data = base64.b64decode(self.shell(f"base64 -w0 {SCREEN}"))
        from PIL import Image, ImageOps  # noqa: PLC0415 - only tests that look at the screen need it

        self._shots += 1
        with Image.open(io.BytesIO(data)) as picture:
            shown = ImageOps.invert(picture.convert("L")).resize((512, 256))
            shown.save(self.folder / f"screen-{self._shots:02d}{name and '-' + name}.png")
        return data[-1024:]

    def wait_ready(self, seconds: float = 240.0) -> float:
        """Wait until the box says that it runs; seconds since power-on, about."""
        return self.wait_for_line(READY, seconds)

    def _end(self, number: int) -> None:
        process, self._process = self._process, None
        if process is not None:
            with suppress(ProcessLookupError):
                process.send_signal(number)
            process.wait(30)
            self.control.close()
        if self._agent is not None:
            self._agent.close()
            self._agent = None

    def _command(self, loaded: firmware.Loaded) -> list[str]:
        words = loaded.arguments.replace("console=tty1 quiet loglevel=3", "console=ttyAMA0 loglevel=4")
        words += f" systemd.journald.forward_to_console=1 {self.arguments}"
        if self.looked_into:
            words += f" {credential('extra-unit.outside.service', LOOKER)} systemd.wants=outside.service"
            words += f" {credential('unit-dropin.keelnote.service', SHOWN.format(seconds=self.watchdog))}"
            disk = self.folder / "agent.img"
            disk.write_bytes((MARK + AGENT.read_bytes()).ljust(65536, b"\0"))
        assert len(words) < 2048, "the kernel takes no longer line"
        return [
            *("qemu-system-aarch64", "-M", "virt", "-cpu", "cortex-a53", "-smp", "2", "-m", str(self.memory)),
            *("-nodefaults", "-display", "none", "-no-reboot", "-serial", "stdio"),
            *(
                "-kernel",
                str(loaded.kernel),
                "-initrd",
                str(loaded.initrd),
                "-append",
                re.sub(" +", " ", words).strip(),
            ),
            *self._card(),
            *("-device", "virtio-blk-device,drive=card", "-device", "qemu-xhci,id=usb"),
            *("-qmp", f"unix:{self.folder}/control,server=on,wait=off"),
            *self._looking(),
            *self.devices,
        ]

    def _card(self) -> tuple[str, ...]:
        if self.card_log is None:
            return ("-drive", f"file={self.card},if=none,id=card,format=raw{self.card_options}")
        self.card_log.write_bytes(b"")
        log = f"log.driver=file,log.filename={self.card_log},log-sector-size=512"
        return ("-blockdev", f"driver=blklogwrites,node-name=card,file.driver=file,file.filename={self.card},{log}")

    def _looking(self) -> tuple[str, ...]:
        if not self.looked_into:
            return ()
        return (
            *("-drive", f"file={self.folder}/agent.img,if=none,id=agent,format=raw,readonly=on"),
            *("-device", "virtio-blk-device,drive=agent", "-device", "virtio-serial-device"),
            *("-chardev", f"socket,id=agent,path={self.folder}/agent,server=on,wait=off"),
            *("-device", "virtserialport,chardev=agent,name=agent"),
        )

    def _listen(self) -> None:
        link = socket.socket(socket.AF_UNIX)
        link.connect(str(self.folder / "agent"))
        self._agent = link
        self._answers = queue.Queue()
        threading.Thread(target=_read, args=(link.makefile("rb"), self._answers), daemon=True).start()


def _read(lines: IO[bytes], answers: queue.Queue[dict[str, Any]]) -> None:
    with suppress(OSError):
        for line in lines:
            with suppress(json.JSONDecodeError):
                answers.put(json.loads(line))


def credential(name: str, text: str) -> str:
    """Give the word on the kernel's command line that hands a unit to systemd."""
    return f"systemd.set_credential_binary=systemd.{name}:{base64.b64encode(text.encode()).decode()}"
