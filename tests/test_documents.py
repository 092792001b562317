"""The documents name what exists: every `path.py:name` of DEVELOPERS.md is a definition in that file."""

from __future__ import annotations

import ast
import importlib.util
import re
import sys
from pathlib import Path
from types import ModuleType

ROOT = Path(__file__).parents[1]
POINTER = re.compile(r"`([\w/.-]+\.py):([\w.]+)`")


def names_in(text: str) -> set[str]:
    """Every function, class and assigned name of a module, at any depth."""
    found = set()
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.FunctionDef | ast.ClassDef):
            found.add(node.name)
        elif isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store):
            found.add(node.id)
    return found


def wrong_pointers(document: str, root: Path) -> list[str]:
    """Pointers whose file or name is not there."""
    wrong = []
    for path, name in POINTER.findall(document):
        file = root / path
        if not file.is_file() or name not in names_in(file.read_text(encoding="utf-8")):
            wrong.append(f"{path}:{name}")
    return wrong


def test_the_walk_of_a_key_press_names_what_exists() -> None:
    document = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    assert len(POINTER.findall(document)) >= 8
    assert wrong_pointers(document, ROOT) == []


def summary() -> ModuleType:
    """The program that draws the figures; tests are no package, so it is loaded by its path."""
    spec = importlib.util.spec_from_file_location("summary", ROOT / "tests" / "speed" / "summary.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["summary"] = module
    spec.loader.exec_module(module)
    return module


def test_the_figures_of_the_readme_are_those_that_were_measured() -> None:
    document = (ROOT / "README.md").read_text(encoding="utf-8")
    assert summary().figures_text() in document, "run python -m tests.generate"


def test_a_wrong_pointer_is_found(tmp_path: Path) -> None:
    (tmp_path / "a.py").write_text("def there() -> None: ...\n", encoding="utf-8")
    document = "`a.py:there` `a.py:gone` `b.py:there`"
    assert wrong_pointers(document, tmp_path) == ["a.py:gone", "b.py:there"]
