"""How the card was found becomes a line on the screen; every word that the image's script may leave is known."""

from __future__ import annotations

import re
from pathlib import Path

from firmware.messages import BY_CODE
from hardware.service.data_partition import NOTICES, PLACE, card_notices

SCRIPT = Path(__file__).parents[3] / "image-build/files/usr/lib/keelnote/data"


def test_each_word_of_the_script_has_its_line() -> None:
    script = SCRIPT.read_text(encoding="utf-8")
    assert set(re.findall(r"state=([a-z]+)", script)) == {"ok", *NOTICES}
    assert f">{PLACE}" in script
    assert set(NOTICES.values()) <= set(BY_CODE)


def test_a_card_that_is_well_or_not_spoken_of_says_nothing(tmp_path: Path) -> None:
    word = tmp_path / "data"
    assert card_notices(word) == ()
    for data, lines in ((b"ok\n", ()), (b"\xff\0", ()), (b"", ()), (b"memory\n", ("card-memory",))):
        word.write_bytes(data)
        assert card_notices(word) == lines
