"""The sheet of two hours is drawn up in 3 s at most and has 400 kB at most."""

from __future__ import annotations

import pytest

from tests.speed.sheet import measure


@pytest.mark.speed
def test_two_hours_of_rehearsal_in_three_seconds_and_400_kb() -> None:
    figures = measure(3)
    for key in ("files_to_page_seconds", "busiest_files_to_page_seconds"):
        assert float(str(figures[key])) <= 3.0, figures
    for key in ("page_kb", "busiest_page_kb"):
        assert float(str(figures[key])) <= 400.0, figures
