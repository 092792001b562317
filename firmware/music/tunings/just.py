"""Just intonation: the ratios of the mode, every chord pure from its own root."""

from __future__ import annotations

from firmware.music.tuning import Tuning, of_mode

JUST = Tuning(
    name="just",
    title="just",
    source="Helmholtz tr. Ellis, app. XX sect. D; each tone names its ratio",
    fixed=False,
    rule=of_mode(),
    pure_chords=True,
)
