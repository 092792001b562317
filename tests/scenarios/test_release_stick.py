"""The stick of a whole box is let go at the panel, pulled, looked at, put back; nothing of the rehearsal is missing."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from firmware.events import KeyDown, KeyUp, KnobDown, KnobTurn, KnobUp, PanelKey
from firmware.parts.panel import NAME as PANEL
from firmware.parts.part import Start
from firmware.parts.releaser import DETENTS, FIELD
from firmware.screens.pages import PAGES
from firmware.units import BLOCK, RATE
from hardware.desk import offline_box
from hardware.loop import OfflineLoop
from hardware.simulated.screen import SimulatedScreen
from hardware.simulated.stick import SimulatedStick

SILENCE = np.zeros(BLOCK, dtype=np.float32)


def run(loop: OfflineLoop, seconds: float) -> None:
    for _ in range(round(seconds * RATE / BLOCK)):
        loop.block(SILENCE)


def tap(loop: OfflineLoop, key: PanelKey) -> None:
    loop.post(KeyDown(loop.now, key))
    loop.post(KeyUp(loop.now, key))
    run(loop, 0.3)


def go_to(loop: OfflineLoop) -> None:
    """Push and turn the knob to the setup page, then push it down to the field."""
    pages = [page.name for page in PAGES]
    cursor = loop.box.state_of(PANEL).cursor
    loop.post(KnobDown(loop.now))
    loop.post(KnobTurn(loop.now, pages.index("setup") - pages.index(cursor.page)))
    loop.post(KnobUp(loop.now))
    run(loop, 0.1)
    for _ in range(40):
        if loop.box.state_of(PANEL).cursor.field == FIELD:
            return
        loop.post(KnobDown(loop.now))
        loop.post(KnobUp(loop.now))
        run(loop, 0.05)
    raise AssertionError(loop.box.state_of(PANEL).cursor)


def let_go(loop: OfflineLoop) -> None:
    go_to(loop)
    loop.post(KnobTurn(loop.now, DETENTS))
    run(loop, 1.5)


def test_it_is_let_go_pulled_and_put_back_and_the_log_has_every_line(tmp_path: Path) -> None:
    stick = SimulatedStick(tmp_path / "KEELNOTE")
    loop = offline_box(stick, SimulatedScreen(), Start(number=1, stick=True))
    run(loop, 0.5)
    tap(loop, PanelKey.DRONE)
    tap(loop, PanelKey.TAKE)
    let_go(loop)
    assert stick.present
    assert loop.box.view(loop.now).message == "Stop the take first"
    tap(loop, PanelKey.TAKE)
    run(loop, 3.0)
    let_go(loop)
    view = loop.box.view(loop.now)
    assert (stick.present, view.stick, view.stick_released, view.message) == (False, False, True, "Stick may be pulled")
    assert (stick.root / "rehearsals/0001/take-01.flac").stat().st_size > 0
    written = (stick.root / "rehearsals/0001/log.jsonl").read_text(encoding="utf-8")
    stick.pull_out()
    run(loop, 1.5)
    tap(loop, PanelKey.DRONE)
    assert not loop.box.view(loop.now).stick_released
    assert (stick.root / "rehearsals/0001/log.jsonl").read_text(encoding="utf-8") == written
    stick.put_back()
    run(loop, 2.0)
    whole = (stick.root / "rehearsals/0001/log.jsonl").read_text(encoding="utf-8")
    assert whole.startswith(written)
    assert whole.count('"sounding": false') == written.count('"sounding": false') + 1
    tap(loop, PanelKey.TAKE)
    tap(loop, PanelKey.TAKE)
    run(loop, 1.0)
    assert (stick.root / "rehearsals/0001/take-02.flac").exists()
