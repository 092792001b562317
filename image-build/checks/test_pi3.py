"""The image on a model of a Raspberry Pi 3B: what our kernel module tells the board's firmware at a reboot."""

from __future__ import annotations

from pathlib import Path

import pytest

from emulated import pi3

SET_REBOOT_FLAGS = 0x00038064
"""github.com/raspberrypi/linux, include/soc/bcm2835/raspberrypi-firmware.h, RPI_FIRMWARE_SET_REBOOT_FLAGS."""

PATIENCE = 900.0


@pytest.mark.timeout(1000)
@pytest.mark.parametrize(
    ("argument", "partition", "flag"),
    [
        ("3 tryboot", 3, True),  # both at once, so that one start is enough
        pytest.param("0 tryboot", 0, True, marks=pytest.mark.nightly),  # what a Pi 4 is told
        pytest.param("3", 3, False, marks=pytest.mark.nightly),  # what a Pi 3 is told
    ],
)
def test_a_reboot_tells_the_firmware_where_to_start_from(
    card: Path,
    folder: Path,
    argument: str,
    partition: int,
    flag: bool,  # noqa: FBT001 - a table's row
) -> None:
    seen = pi3.reboot(card, folder, argument, PATIENCE)
    assert f'keelnote: the next start is told "{argument}"' in seen.console
    assert seen.partition == partition
    assert (SET_REBOOT_FLAGS in seen.tags) == flag
    card.unlink()
