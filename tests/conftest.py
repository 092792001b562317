"""What all tests share: everything under tests/speed carries the marker `speed`."""

from __future__ import annotations

from pathlib import Path

import pytest

SPEED = Path(__file__).parent / "speed"


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark the speed figures, so that the default run leaves them out."""
    for item in items:
        if SPEED in item.path.parents:
            item.add_marker(pytest.mark.speed)
