"""How times, cents and counts are written."""

from firmware.sheet.words import clock, counted, sharp_or_flat, signed_cents


def test_words():
    assert [clock(seconds) for seconds in (0, 65.4, 3599.6, 3725, -2)] == ["0:00", "1:05", "1:00:00", "1:02:05", "0:00"]
    assert [signed_cents(cents) for cents in (13.7, -13.7, 0.4, -0.4)] == ["+14", "−14", "0", "0"]
    assert [sharp_or_flat(cents) for cents in (13.7, -1.0, 0.2)] == ["14 cents sharp", "1 cent flat", "in tune"]
    assert [counted(count, "note") for count in (0, 1, 2)] == ["0 notes", "1 note", "2 notes"]
