"""Which way imports go: firmware stands alone, hardware stands on it, and nothing undeclared comes in."""

from __future__ import annotations

import ast
import re
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]

PURE_STDLIB = frozenset(
    {
        "__future__",
        "abc",
        "array",
        "base64",
        "bisect",
        "cmath",
        "collections",
        "collections.abc",
        "copy",
        "csv",
        "dataclasses",
        "difflib",
        "enum",
        "fractions",
        "functools",
        "hashlib",
        "heapq",
        "html",
        "itertools",
        "io",
        "json",
        "math",
        "numbers",
        "operator",
        "re",
        "statistics",
        "string",
        "struct",
        "textwrap",
        "tomllib",
        "types",
        "typing",
        "unicodedata",
        "urllib.parse",
        "xml.parsers",
        "xml.etree.ElementTree",
        "zipfile",
        "zlib",
    }
)
"""The standard library that firmware may use: nothing here reaches a device, clock, thread, file or environment,
as long as `csv`, `io` and `zipfile` are given bytes, which the purity test sees to."""

PILLOW_IN = "firmware/screens/raster.py"

DISTRIBUTION_OF = {
    "PIL": "pillow",
    "luma": "luma.oled",
    "RPi": "rpi.gpio",
    "smbus2": "luma.oled",
    "yaml": "pyyaml",
    "rtmidi": "python-rtmidi",
}
"""Import names that differ from the name on the package index; smbus2 comes with luma."""

HARDWARE_LAYERS = (("commands", "desk", "device"), ("loop", "drivers", "simulated", "board"))
"""Outer first: a later layer never imports an earlier one."""


TRADES = frozenset({"music", "drills", "sound", "hearing", "takes", "plan", "screens", "sheet"})
"""Folders of firmware that each know one trade."""


def imports_of(text: str) -> Iterator[tuple[int, str]]:
    """Line and dotted name of each import, wherever in the file it stands; a relative one starts with a dot."""
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Import):
            yield from ((node.lineno, alias.name) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            yield node.lineno, "." * node.level + (node.module or "")


def wrong_in_firmware(path: str, text: str) -> list[str]:
    """Find imports that a firmware file may not have."""
    found = []
    for line, name in imports_of(text):
        top = name.split(".")[0]
        fine = (
            top in {"firmware", "numpy"} or name in PURE_STDLIB or (top == "PIL" and path == PILLOW_IN)
        ) and not name.startswith("numpy.random")
        if not fine:
            found.append(f"{path}:{line} imports {name}")
    return found


def wrong_in_hardware(path: str, text: str) -> list[str]:
    """Find imports that a hardware file may not have: relative ones, and any from a layer further out."""
    parts = path.removesuffix(".py").split("/")
    own = next((level for level, names in enumerate(HARDWARE_LAYERS) if parts[1] in names), None)
    found = []
    for line, name in imports_of(text):
        target = name.split(".")
        outer = own is not None and target[0] == "hardware" and len(target) > 1
        if name.startswith(".") or target[0] == "tests":
            found.append(f"{path}:{line} imports {name}")
        elif outer and any(target[1] in names for names in HARDWARE_LAYERS[:own]):
            found.append(f"{path}:{line} imports {name}, which is further out")
    return found


def meddling(path: str, text: str) -> list[str]:
    """Find imports by which one trade of the firmware would know another, or one part another.

    Drills, sound, hearing, takes, plan, screens and sheet know music and the files at firmware's top, not each other.
    Parts know all of those, but of the parts only `part`, which says what a part is.
    """
    own = path.split("/")[1]
    found = []
    for line, name in imports_of(text):
        folder, *rest = [*name.split(".")[1:], ""]
        if not name.startswith("firmware.") or folder == own != "parts":
            continue
        another_trade = own in TRADES and folder in TRADES - {"music"}
        another_part = path.startswith("firmware/parts/") and folder == "parts" and rest[0] != "part"
        if another_trade or (own in TRADES and folder == "parts") or (another_part and "__init__" not in path):
            found.append(f"{path}:{line} imports {name}")
    return found


def rings(edges: dict[str, frozenset[str]]) -> list[str]:
    """Find the modules that import themselves by way of others."""

    def reached(start: str) -> set[str]:
        seen: set[str] = set()
        waiting = [start]
        while waiting:
            for name in edges.get(waiting.pop(), frozenset()) - seen:
                seen.add(name)
                waiting.append(name)
        return seen

    return sorted(name for name in edges if name in reached(name))


def undeclared(path: str, text: str, declared: frozenset[str]) -> list[str]:
    """Find imports that neither we nor the standard library nor a declared dependency provide."""
    # A program under tests may use another one, and the packages of image-build; what is shipped may not.
    beside = {"tests", "maker", "emulated", "figures"} if path.startswith("tests/") else set()
    ours = {"firmware", "hardware"} | beside
    found = []
    for line, name in imports_of(text):
        top = name.split(".")[0]
        if top in ours or top in sys.stdlib_module_names or name.startswith("."):
            continue
        if DISTRIBUTION_OF.get(top, top).lower() not in declared:
            found.append(f"{path}:{line} imports {name}, which pyproject.toml does not declare")
    return found


def sources(*folders: str) -> list[tuple[str, str]]:
    """Path and text of each Python file under the folders."""
    paths = [path for folder in folders for path in sorted((ROOT / folder).rglob("*.py"))]
    return [(path.relative_to(ROOT).as_posix(), path.read_text(encoding="utf-8")) for path in paths]


def distributions(*extras: str) -> frozenset[str]:
    """Distributions that pyproject.toml asks for at run time and with the named extras."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    wanted = list(project["dependencies"])
    for extra in extras:
        wanted += project["optional-dependencies"][extra]
    names = [re.match(r"[A-Za-z0-9_.-]+", line) for line in wanted]
    return frozenset(match.group().lower() for match in names if match) - {"keelnote"}


def test_firmware_imports_only_itself_numpy_and_pure_parts_of_the_standard_library() -> None:
    assert [line for path, text in sources("firmware") for line in wrong_in_firmware(path, text)] == []


def test_no_trade_knows_another_and_no_part_another() -> None:
    assert [line for path, text in sources("firmware") for line in meddling(path, text)] == []


def test_no_modules_import_each_other_in_a_ring() -> None:
    edges = {}
    for path, text in sources("firmware", "hardware"):
        name = path.removesuffix(".py").removesuffix("/__init__").replace("/", ".")
        edges[name] = frozenset(target for _, target in imports_of(text)) - {name}  # a package may name its own files
    assert rings(edges) == []


def test_hardware_imports_absolutely_and_only_inwards() -> None:
    assert [line for path, text in sources("hardware") for line in wrong_in_hardware(path, text)] == []


def test_every_import_is_declared() -> None:
    shipped, all_ = distributions("desk", "device", "enclosure"), distributions("desk", "device", "enclosure", "tests")
    found = [line for path, text in sources("firmware", "hardware") for line in undeclared(path, text, shipped)]
    found += [line for path, text in sources("tests") for line in undeclared(path, text, all_)]
    assert found == []


@pytest.mark.parametrize(
    "text",
    [
        "import os",
        "import time",
        "def f():\n    import threading",
        "from pathlib import Path",
        "from hardware.loop import Loop",
        "import soundfile",
        "from . import notes",
        "from PIL import Image",
        "from numpy.random import default_rng",
        "import xml.sax",
        "from datetime import datetime",
        "import sys",
    ],
)
def test_the_check_sees_a_bad_import_in_firmware(text: str) -> None:
    assert len(wrong_in_firmware("firmware/music/notes.py", text)) == 1


@pytest.mark.parametrize(
    ("path", "text"),
    [
        ("firmware/sound/engine.py", "from firmware.hearing.ear import Ear"),
        ("firmware/music/notes.py", "import firmware.screens.frame"),
        ("firmware/sheet/sheet.py", "from firmware.parts.drone import DRONE"),
        ("firmware/parts/drone.py", "from firmware.parts.pulse import PULSE"),
    ],
)
def test_the_check_sees_one_trade_or_part_meddle_with_another(path: str, text: str) -> None:
    assert len(meddling(path, text)) == 1


@pytest.mark.parametrize(
    ("path", "text"),
    [
        ("firmware/sound/engine.py", "from firmware.music.notes import Note"),
        ("firmware/sound/engine.py", "from firmware.sound.mixer import mix"),
        ("firmware/screens/page.py", "from firmware.settings import Settings"),
        ("firmware/parts/drone.py", "from firmware.parts.part import Part"),
        ("firmware/parts/__init__.py", "from firmware.parts.drone import DRONE"),
    ],
)
def test_the_check_lets_a_trade_use_music_and_a_part_use_trades(path: str, text: str) -> None:
    assert meddling(path, text) == []


def test_the_check_sees_a_ring() -> None:
    edges = {"a": frozenset({"b"}), "b": frozenset({"c"}), "c": frozenset({"a", "d"}), "d": frozenset({"e"})}
    assert rings(edges) == ["a", "b", "c"]


def test_the_check_lets_good_imports_pass() -> None:
    text = "from __future__ import annotations\nimport math\nimport numpy as np\nfrom firmware.units import RATE\n"
    assert wrong_in_firmware("firmware/music/notes.py", text) == []
    assert wrong_in_firmware(PILLOW_IN, "from PIL import Image") == []


@pytest.mark.parametrize(
    ("path", "text"),
    [
        ("hardware/drivers/panel.py", "from hardware.desk import main"),
        ("hardware/simulated/panel.py", "import hardware.commands.rehearse"),
        ("hardware/drivers/panel.py", "from .oled import Oled"),
        ("hardware/loop.py", "from tests.conftest import thing"),
    ],
)
def test_the_check_sees_a_bad_import_in_hardware(path: str, text: str) -> None:
    assert len(wrong_in_hardware(path, text)) == 1


def test_the_check_lets_hardware_import_inwards() -> None:
    assert wrong_in_hardware("hardware/desk.py", "from hardware.drivers.panel import GpioPanel") == []


def test_the_check_sees_an_undeclared_dependency() -> None:
    assert len(undeclared("hardware/x.py", "import requests\nimport numpy\nimport json", frozenset({"numpy"}))) == 1
