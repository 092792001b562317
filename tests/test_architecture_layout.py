"""The tree: registries list their folders, files stay small, documents name what exists, packages say what they are."""

from __future__ import annotations

import ast
import importlib
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).parents[1]
PACKAGES = ("firmware", "hardware")
LONGEST = 400

REGISTRIES = (
    ("firmware.music.tunings", "TUNINGS"),
    ("firmware.music.languages", "LANGUAGES"),
    ("firmware.music.grooves", "GROOVES"),
    ("firmware.sound.timbres", "TIMBRES"),
    ("firmware.screens.pages", "PAGES"),
    ("firmware.screens.fonts", "FONTS"),
    ("firmware.parts", "PARTS"),
    ("firmware.selftest.steps", "STEPS"),
    ("firmware.drills", "DRILLS"),
)
"""Folders in which one new thing is one new file and one line."""

HELPERS = frozenset({"firmware.parts.part", "firmware.drills.drill", "firmware.drills.course"})
"""Files in such a folder that are no entry: they say what a part or a drill is, and how a drill goes."""

DOCUMENTS = ("README.md", "DEVELOPERS.md")

UNTESTED = {
    "firmware/hearing/harmonic.py": "a step of pitch.py; what it does is seen in test_ear.py",
    "firmware/hearing/own_fit.py": "a step of own_sound.py; what it does is seen in test_own_sound.py",
    "firmware/hearing/pitch.py": "a step of ear.py; what it does is seen in test_ear.py and on sampled instruments",
    "firmware/sheet/intonation.py": "a part of the page; test_sheet.py reads the page",
    "firmware/sheet/svg.py": "the pen of all pictures; test_sheet.py reads the page",
    "hardware/drivers/stick_paths.py": "guards every path of stick.py; the contract of sticks tries bad ones",
}
"""Source files without a test file at the mirrored path, each with its reason."""


def python_files(*folders: str) -> list[Path]:
    """Every Python file of the folders."""
    return [path for folder in folders for path in sorted((ROOT / folder).rglob("*.py"))]


def too_long(path: str, text: str) -> list[str]:
    """Say so when a file is too long."""
    lines = len(text.splitlines())
    return [f"{path} has {lines} lines"] if lines > LONGEST else []


def unlisted(package: ModuleType, registry: str) -> list[str]:
    """Files of a registry's folder from which nothing stands in the registry.

    An entry belongs to a file when the file binds it at its top under any public name, or when the entry is, or holds,
    a class or function that the file defines. Files that begin with an underscore are helpers.
    """
    entries = getattr(package, registry)
    assert isinstance(entries, tuple), f"{package.__name__}.{registry} must be a tuple"
    files = [path.stem for path in Path(str(package.__file__)).parent.glob("*.py") if not path.stem.startswith("_")]
    found = []
    for name in files:
        if f"{package.__name__}.{name}" in HELPERS:
            continue
        module = importlib.import_module(f"{package.__name__}.{name}")
        if not any(bound_in(module, entry) for entry in entries):
            found.append(f"{package.__name__}.{registry} lists nothing of {name}.py")
    return found


def bound_in(module: ModuleType, entry: object) -> bool:
    """Whether a module binds an entry at its top or defines it."""
    named = any(value is entry for name, value in vars(module).items() if not name.startswith("__"))
    return named or getattr(entry, "__module__", None) == module.__name__


def paths_named_in(document: str) -> Iterator[str]:
    """Paths that a document names: in backticks or as a link to a place in the tree.

    Only words with a slash or with the ending of a file of ours count; places on the stick (KEELNOTE/...), outputs of a
    command and patterns are not paths of the tree.
    """
    text = re.sub(r"```.*?```", "", document, flags=re.DOTALL)
    for code in re.findall(r"`([^`\n]+)`", text):
        word = code.strip().split("::")[0].split(":")[0].rstrip("/")
        if re.fullmatch(r"\.?[A-Za-z][\w.-]*(/[\w.-]+)+|[\w-]+\.(py|md|toml)", word) and not skipped(word):
            yield word
    for target in re.findall(r"\]\(([^)#\s]+)\)", text):
        if not re.match(r"[a-z]+:", target):
            yield target.rstrip("/")


def skipped(word: str) -> bool:
    """Whether a word with a slash is no path of the tree."""
    return (
        word.split("/", maxsplit=1)[0] in {"KEELNOTE", "plans", "grooves", "rehearsals", "rehearsal"}
        or word == "settings.toml"
    )


def absent(document: str, tree: frozenset[str]) -> list[str]:
    """Paths that a document names and the tree lacks; a bare file name may stand for a file in any one folder."""
    names = {path.rsplit("/", 1)[-1] for path in tree}
    return sorted({word for word in paths_named_in(document) if word not in tree and word not in names})


def tree() -> frozenset[str]:
    """Paths of all files and folders of the project, relative to its top."""
    skip = {".git", ".venv", "__pycache__", "rehearsal"}
    found = set()
    for top in ROOT.iterdir():
        if top.name in skip or (top.name.startswith(".") and top.name.endswith("_cache")):
            continue
        found.add(top.name)
        if top.is_dir():
            found |= {path.relative_to(ROOT).as_posix() for path in top.rglob("*") if "__pycache__" not in path.parts}
    return frozenset(found)


def has_tests(path: Path, text_of_tests: dict[Path, str]) -> bool:
    """Whether a source file has tests at the mirrored path, or in the mirrored folder a test file that imports it."""
    folder = Path("tests") / path.parent
    module = ".".join(path.with_suffix("").parts)
    named = re.compile(rf"\b(from {re.escape(module)} import|import {re.escape(module)}\b)")
    return folder / f"test_{path.name}" in text_of_tests or any(
        named.search(text) for test, text in text_of_tests.items() if test.is_relative_to(folder)
    )


def only_declares(text: str) -> bool:
    """Whether a file holds no behaviour to test: imports, constants, and classes without code in their methods."""
    return not any(
        isinstance(node, ast.If | ast.For | ast.While | ast.Return | ast.Raise | ast.Try | ast.With)
        for node in ast.walk(ast.parse(text))
    )


def test_registries_list_every_file_of_their_folder() -> None:
    found = [line for name, registry in REGISTRIES for line in unlisted(importlib.import_module(name), registry)]
    assert found == []


def test_every_tuple_of_a_folder_of_alike_files_is_known_as_a_registry() -> None:
    shouting = re.compile(r"^([A-Z]+S)(: .*)? = \(", re.MULTILINE)
    found = set()
    for path in python_files("firmware"):
        if path.name == "__init__.py" and (match := shouting.search(path.read_text(encoding="utf-8"))):
            package = ".".join(path.parent.relative_to(ROOT).parts)
            found.add((package, match.group(1)))
    assert found - set(REGISTRIES) == set()


def test_no_file_is_long(record_property: Callable[[str, object], None]) -> None:
    files = python_files(*PACKAGES, "tests", "image-build")
    texts = {path.relative_to(ROOT).as_posix(): path.read_text(encoding="utf-8") for path in files}
    assert [line for path, text in texts.items() for line in too_long(path, text)] == []
    lengths = sorted(len(text.splitlines()) for path, text in texts.items() if not path.endswith("__init__.py"))
    record_property("median_lines", lengths[len(lengths) // 2])
    assert lengths[len(lengths) // 2] <= 150, "the median file has outgrown about 100 lines"


@pytest.mark.parametrize("name", DOCUMENTS)
def test_documents_name_only_what_exists(name: str) -> None:
    assert absent((ROOT / name).read_text(encoding="utf-8"), tree()) == []


def test_every_package_says_what_it_is() -> None:
    found = []
    for package in PACKAGES:
        for folder in {path.parent for path in python_files(package)}:
            start = folder / "__init__.py"
            if not start.exists() or not ast.get_docstring(ast.parse(start.read_text(encoding="utf-8"))):
                found.append(start.relative_to(ROOT).as_posix())
    assert sorted(found) == []


def test_tests_mirror_the_source() -> None:
    tests = {path.relative_to(ROOT): path.read_text(encoding="utf-8") for path in python_files("tests")}
    lacking = [
        path.relative_to(ROOT).as_posix()
        for path in python_files(*PACKAGES)
        if path.name != "__init__.py"
        and not only_declares(path.read_text(encoding="utf-8"))
        and not has_tests(path.relative_to(ROOT), tests)
    ]
    assert set(lacking) - UNTESTED.keys() == set()
    assert all((ROOT / path).exists() for path in UNTESTED)


def test_the_check_sees_a_long_file() -> None:
    assert too_long("x.py", "a = 1\n" * (LONGEST + 1)) == ["x.py has 401 lines"]
    assert too_long("x.py", "a = 1\n" * LONGEST) == []


def test_the_check_sees_a_file_that_no_registry_lists(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = tmp_path / "sample_registry"
    folder.mkdir()
    (folder / "one.py").write_text("ONE = object()\n")
    (folder / "two.py").write_text("TWO = object()\n")
    (folder / "_help.py").write_text("")
    (folder / "__init__.py").write_text("from sample_registry.one import ONE\nTHINGS = (ONE,)\n")
    monkeypatch.syspath_prepend(str(tmp_path))
    package = importlib.import_module("sample_registry")
    assert unlisted(package, "THINGS") == ["sample_registry.THINGS lists nothing of two.py"]


def test_the_check_sees_a_path_that_is_not_there() -> None:
    document = (
        "See `firmware/gone.py`, `firmware/box.py:12`, [map](docs/gone.md), `a/b = 1`, `KEELNOTE/plans` and `box.py`."
    )
    assert absent(document, frozenset({"firmware", "firmware/box.py"})) == ["docs/gone.md", "firmware/gone.py"]


def test_the_check_sees_a_file_without_tests() -> None:
    source = Path("firmware/music/notes.py")
    assert not has_tests(source, {Path("tests/firmware/sound/test_notes.py"): ""})
    assert not has_tests(source, {Path("tests/outside/test_midi.py"): "from firmware.music.notes import Note"})
    assert has_tests(source, {Path("tests/firmware/music/test_notes.py"): ""})
    assert has_tests(source, {Path("tests/firmware/music/test_spelling.py"): "from firmware.music.notes import Note"})


def test_the_check_tells_behaviour_from_declaration() -> None:
    assert only_declares("class A:\n    x: int = 1\n")
    assert not only_declares("def f(x):\n    return x\n")
