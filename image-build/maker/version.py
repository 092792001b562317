"""The number of an image: a later one is greater, and an update never goes back."""

from __future__ import annotations

import os
import tomllib

from maker.inputs import PROJECT
from maker.progress import BuildError, run


def image_version() -> str:
    """Give the project's version and the time of its last commit, as in 0.1.0+20261125.1530 (Semantic Versioning 2).

    $KEELNOTE_IMAGE_VERSION stands for it where there is no git.
    """
    if told := os.environ.get("KEELNOTE_IMAGE_VERSION"):
        return told
    number = tomllib.loads((PROJECT / "pyproject.toml").read_text(encoding="utf-8"))["project"]["version"]
    command = ["git", "-c", f"safe.directory={PROJECT}", "log", "-1", "--date=format-local:%Y%m%d.%H%M", "--format=%cd"]
    try:
        when = run(command, cwd=PROJECT, env=os.environ | {"TZ": "UTC"}).strip()
    except BuildError:
        raise BuildError("no git history here: set KEELNOTE_IMAGE_VERSION=NUMBER") from None
    return f"{number}+{when}"
