"""Who puts the box together, and that importing a module wakes no device."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]

PLANES = {"Box": "firmware.box", "Engine": "firmware.sound.engine", "Ear": "firmware.hearing.ear"}
"""The planes, and where they come from; a rectangle on the screen is called a box too."""

ENTRY_POINTS = frozenset({"hardware/desk.py", "hardware/device.py"})
"""Where the planes and the drivers may meet."""

DEVICE_LIBRARIES = ("sounddevice", "gpiozero", "luma", "textual", "RPi", "lgpio", "smbus2")

MAY_LOAD = {
    "hardware.drivers.oled_bus": frozenset({"luma"}),
    "hardware.drivers.oled_chip": frozenset({"luma"}),
    "hardware.desk_app.app": frozenset({"textual"}),
}
"""Modules that load a device library when imported; each is itself only imported when its device is wanted."""


def constructed(text: str) -> frozenset[str]:
    """Names of what a file calls."""
    made = (node.func for node in ast.walk(ast.parse(text)) if isinstance(node, ast.Call))
    return frozenset(call.attr if isinstance(call, ast.Attribute) else getattr(call, "id", "") for call in made)


def planes_in(text: str) -> frozenset[str]:
    """Planes that a file makes."""
    homes = {node.module for node in ast.walk(ast.parse(text)) if isinstance(node, ast.ImportFrom)}
    homes |= {alias.name for node in ast.walk(ast.parse(text)) if isinstance(node, ast.Import) for alias in node.names}
    return frozenset(name for name in constructed(text) & PLANES.keys() if PLANES[name] in homes)


def classes_in(*folders: str) -> frozenset[str]:
    """Public classes that the files of the folders define."""
    files = [path for folder in folders for path in sorted((ROOT / folder).glob("*.py"))]
    nodes = [node for path in files for node in ast.parse(path.read_text(encoding="utf-8")).body]
    return frozenset(node.name for node in nodes if isinstance(node, ast.ClassDef) and not node.name.startswith("_"))


def composes(text: str, drivers: frozenset[str]) -> bool:
    """Whether a file puts planes together: the Box with anything else, or the engine with the ear or a driver."""
    made = constructed(text)
    planes = planes_in(text)
    return len(planes) > 1 or ("Box" in planes and bool(made & drivers))


def loaded_by(module: str) -> frozenset[str]:
    """Device libraries that a fresh interpreter holds after importing a module."""
    code = (
        "import importlib, sys\n"
        f"importlib.import_module({module!r})\n"
        f"print(*[name for name in {DEVICE_LIBRARIES!r} if name in sys.modules])\n"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    return frozenset(done.stdout.split())


def all_loaded(modules: list[str]) -> dict[str, frozenset[str]]:
    """Device libraries that each module loads; one interpreter for all, a fresh one only for those it names."""
    code = (
        "import importlib, sys\n"
        f"for module in {modules!r}:\n"
        "    before = set(sys.modules)\n"
        "    importlib.import_module(module)\n"
        f"    new = [name for name in {DEVICE_LIBRARIES!r} if name in sys.modules and name not in before]\n"
        "    print(module, *new)\n"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    lines = [line.split() for line in done.stdout.splitlines()]
    return {line[0]: frozenset(line[1:]) for line in lines if len(line) > 1}


def modules_of(package: str) -> list[str]:
    """Dotted names of every module of a package."""
    paths = [path.relative_to(ROOT).with_suffix("") for path in sorted((ROOT / package).rglob("*.py"))]
    return [".".join(path.parts).removesuffix(".__init__") for path in paths]


def test_only_the_entry_points_put_the_box_together() -> None:
    drivers = classes_in("hardware/drivers", "hardware/simulated")
    composing = {
        path.relative_to(ROOT).as_posix()
        for package in ("firmware", "hardware")
        for path in (ROOT / package).rglob("*.py")
        if composes(path.read_text(encoding="utf-8"), drivers)
    }
    assert composing - ENTRY_POINTS == set()


def test_importing_the_firmware_wakes_no_device() -> None:
    assert all_loaded(modules_of("firmware")) == {}


def test_importing_hardware_wakes_no_device() -> None:
    found = all_loaded(modules_of("hardware"))
    beyond = {name: libraries - MAY_LOAD.get(name, frozenset()) for name, libraries in found.items()}
    assert {name: libraries for name, libraries in beyond.items() if libraries} == {}


def test_the_check_sees_a_module_that_puts_the_box_together() -> None:
    drivers = frozenset({"GpioPanel"})
    box, engine = "from firmware.box import Box\n", "from firmware.sound.engine import Engine\n"
    assert composes(f"{box}box = Box()\npanel = GpioPanel()", drivers)
    assert composes(f"import firmware.hearing.ear\n{engine}Engine(48000)\nfirmware.hearing.ear.Ear()", drivers)
    assert not composes(f"{engine}engine = Engine()", drivers)
    assert not composes("panel = GpioPanel()", drivers)
    assert not composes("from firmware.screens.widgets import Box\nBox()\nGpioPanel()", drivers)


def test_the_check_sees_a_module_that_wakes_a_device(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "waking.py").write_text("import gpiozero\n")
    (tmp_path / "quiet.py").write_text("def start():\n    import gpiozero\n")
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    assert loaded_by("waking") == {"gpiozero"}
    assert all_loaded(["quiet", "waking"]) == {"waking": frozenset({"gpiozero"})}
