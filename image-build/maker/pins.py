"""lgpio, compiled for the box: Debian's kernel offers pins as a character device, and only lgpio speaks to it."""

from __future__ import annotations

from pathlib import Path

from maker.inputs import EPOCH
from maker.progress import run
from maker.wheels import PLACE, pins_source

COMPILER = "aarch64-linux-gnu-gcc"


def install_pins(headers: Path, root: Path, work: Path) -> None:
    """Compile lgpio's C files into one Python module, as its setup.py does with PYPI=1, and put it into the root."""
    run(["tar", "-C", work, "-xzf", pins_source()])
    folder = next(work.glob("lgpio-*"))
    run(["swig", "-python", "-o", "lgpio_wrap.c", "lgpio.i"], cwd=folder)
    files = sorted(path.relative_to(folder) for path in folder.glob("src/lg*.c"))
    flags = [
        "-O2",
        "-fPIC",
        "-shared",
        "-pthread",
        "-s",
        f"-ffile-prefix-map={folder}=lgpio",
        f"-ffile-prefix-map={headers}=include",
        "-w",
    ]
    includes = ["-Isrc", f"-I{headers}/python3.13", f"-I{headers}"]
    command = [COMPILER, *flags, *includes, "lgpio_wrap.c", "src/rgpiod.c", *files, "-o", "_lgpio.so"]
    run([*command, "-lrt", "-ldl", "-Wl,--build-id=none"], cwd=folder, env=_env())
    place = root / PLACE
    (place / "_lgpio.cpython-313-aarch64-linux-gnu.so").write_bytes((folder / "_lgpio.so").read_bytes())
    (place / "lgpio.py").write_bytes((folder / "lgpio.py").read_bytes())


def _env() -> dict[str, str]:
    return {"PATH": "/usr/bin:/bin", "LC_ALL": "C.UTF-8", "SOURCE_DATE_EPOCH": str(EPOCH)}
