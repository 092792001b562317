"""How the sheet writes times, cents and degrees."""

from __future__ import annotations


def clock(seconds: float) -> str:
    """Time as minutes and seconds, with hours only if there are any: 1:05, 1:02:05."""
    whole = max(0, round(seconds))
    minutes, rest = divmod(whole, 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02}:{rest:02}" if hours else f"{minutes}:{rest:02}"


def signed_cents(cents: float) -> str:
    """Cents to the whole one with a sign, true minus included; 0 has none."""
    whole = round(cents)
    return "0" if whole == 0 else f"{'+' if whole > 0 else '−'}{abs(whole)}"


def sharp_or_flat(cents: float) -> str:
    """Cents in a player's words: "14 cents sharp", "1 cent flat", "in tune"."""
    whole = abs(round(cents))
    if whole == 0:
        return "in tune"
    return f"{counted(whole, 'cent')} {'sharp' if cents > 0 else 'flat'}"


def counted(count: int, thing: str) -> str:
    """A number and its noun: "1 note", "2 notes"."""
    return f"{count} {thing}" if count == 1 else f"{count} {thing}s"
