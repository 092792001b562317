"""A message knows the gaps in its line."""

from __future__ import annotations

import pytest

from firmware.message import Message


@pytest.mark.parametrize(
    ("line", "gaps"), [("Take {number} runs", ("number",)), ("{thing}: {value}", ("thing", "value")), ("Off", ())]
)
def test_gaps_are_named_in_their_order(line: str, gaps: tuple[str, ...]) -> None:
    assert Message("code", line, "A sentence.").gaps == gaps
