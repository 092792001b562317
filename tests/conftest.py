"""What all tests share: everything under tests/speed carries the marker `speed`, and no example has a deadline."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import settings

SPEED = Path(__file__).parent / "speed"

# A busy machine is no fault of an example. Where CI is set, Hypothesis also takes the same examples each time.
settings.register_profile("keelnote", settings.get_profile("ci" if os.environ.get("CI") else "default"), deadline=None)
settings.load_profile("keelnote")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark the speed figures, so that the default run leaves them out."""
    for item in items:
        if SPEED in item.path.parents:
            item.add_marker(pytest.mark.speed)
