"""Guests for tests of what only a real kernel can show; one that lives long is shared by the tests of a file."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.guest.kernel import Kernel, fetch_kernel
from tests.guest.machine import Guest

NEEDED = ("qemu-system-x86_64", "mcopy", "apt-get", "dpkg-deb", "setpriv")
HERE = Path(__file__).parent
OWN = ("/tmp", "/run", "/dev")  # noqa: S108 - nothing is written there
"""Folders that a guest does not share with its host."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Every test here needs a guest and takes long; leave it out where there is no QEMU."""
    lacking = [name for name in NEEDED if shutil.which(name) is None]
    hidden = [place for place in OWN if HERE.is_relative_to(place)]
    for item in items:
        if HERE in item.path.parents:
            item.add_marker(pytest.mark.guest)
            item.add_marker(pytest.mark.long)
            if lacking:
                item.add_marker(pytest.mark.skip(reason=f"not installed: {', '.join(lacking)}"))
            if hidden:
                item.add_marker(
                    pytest.mark.skip(reason=f"guests have their own {hidden[0]}: put the checkout elsewhere")
                )


@pytest.fixture(scope="session")
def kernel() -> Kernel:
    """The kernel of all guests."""
    return fetch_kernel()


@pytest.fixture(scope="module")
def guest(kernel: Kernel) -> Iterator[Guest]:
    """A guest that runs."""
    with Guest(kernel) as running:
        yield running
