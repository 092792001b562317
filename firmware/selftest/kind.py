"""What a kind of fault is."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of fault.

    Parameters
    ----------
    code : str
        Its name.
    step : str
        The step that finds it.
    line : str
        What the OLED shows; {gaps} are filled with values.
    what : str
        What is wrong, as a sentence.
    remedy : str
        What the builder does about it, as one or more sentences.
    widest : tuple of (str, str)
        For every gap of the line the widest value that is shown whole.
    """

    code: str
    step: str
    line: str
    what: str
    remedy: str
    widest: tuple[tuple[str, str], ...] = ()
