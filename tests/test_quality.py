"""The linter, the formatter and the type checker pass, and every exception to them says why."""

from __future__ import annotations

import re
import subprocess
import sys
import tokenize
from io import StringIO
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
TREES = ("firmware", "hardware", "tests", "image-build")

EXCEPTION = re.compile(
    r"#\s*(noqa(?!\w)(:\s*[A-Z]+\d+(\s*,\s*[A-Z]+\d+)*)?|type:\s*ignore(\[[\w, -]+\])?|pragma:\s*no\s*(cover|branch))"
)
REASON = re.compile(r"\W*(?!noqa|type:|pragma:)\w\S* \S*\w")


def run(*words: str) -> tuple[int, str]:
    """Exit code and output of a tool of the environment, run at the top of the project."""
    done = subprocess.run([sys.executable, "-m", *words], cwd=ROOT, capture_output=True, text=True, check=False)
    return done.returncode, done.stdout + done.stderr


def bare_exceptions(path: str, text: str) -> list[str]:
    """Find comments that switch a check off without a code or a reason beside it."""
    found: list[str] = []
    if not EXCEPTION.search(text):
        return found
    for token in tokenize.generate_tokens(StringIO(text).readline):
        if token.type != tokenize.COMMENT:
            continue
        for match in EXCEPTION.finditer(token.string):
            reasoned = REASON.match(token.string[match.end() :])
            bare = match.group(1) == "noqa" or re.fullmatch(r"type:\s*ignore", match.group(1))
            if bare or not reasoned:
                found.append(f"{path}:{token.start[0]} {token.string}")
    return found


def test_ruff_finds_nothing() -> None:
    code, output = run("ruff", "check", "--no-fix", "--output-format=concise", ".")
    assert code == 0, output


def test_ruff_would_format_nothing_differently() -> None:
    code, output = run("ruff", "format", "--check", ".")
    assert code == 0, output


@pytest.mark.timeout(300)  # the first run fills mypy's cache
def test_mypy_is_strict_and_content() -> None:
    code, output = run("mypy")
    assert code == 0, output


def test_every_exception_has_a_reason() -> None:
    found = []
    for tree in TREES:
        for path in sorted((ROOT / tree).rglob("*.py")):
            if path != Path(__file__):
                found += bare_exceptions(path.relative_to(ROOT).as_posix(), path.read_text(encoding="utf-8"))
    assert found == []


@pytest.mark.parametrize(
    "comment",
    [
        "# noqa",
        "# noqa: S101",
        "# noqa because I say so",
        "# type: ignore",
        "# type: ignore[no-any-return]",
        "# pragma: no cover",
        "# type: ignore  # no types here",
        "# type: ignore[misc]  # noqa: S101",
    ],
)
def test_the_check_sees_a_bare_exception(comment: str) -> None:
    assert bare_exceptions("x.py", f"a = 1  {comment}\n")


@pytest.mark.parametrize(
    "comment",
    [
        "# noqa: S101 - the assertion narrows a type",
        "# noqa: BLE001, S110 - a dead panel never raises",
        "# type: ignore[no-any-return]  # the library has no types",
        "# noqa: ARG002 - PortAudio's signature",
        "# pragma: no cover - only on the Pi itself",
        "# plain words about noqa rules",
    ],
)
def test_the_check_lets_a_reasoned_exception_be(comment: str) -> None:
    assert bare_exceptions("x.py", f"a = 1  {comment}\n") == []


def test_the_tools_can_fail(tmp_path: Path) -> None:
    bad = tmp_path / "bad.py"
    bad.write_text("import os\ndef f(x):\n  return  x\n")
    config = str(ROOT / "pyproject.toml")
    assert run("ruff", "check", "--config", config, str(bad))[0] != 0
    assert run("ruff", "format", "--check", "--config", config, str(bad))[0] != 0
