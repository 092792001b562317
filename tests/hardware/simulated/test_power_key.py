"""The simulated power key calls only while somebody listens."""

from __future__ import annotations

from hardware.simulated.power_key import SimulatedPowerKey


def test_it_calls_only_while_somebody_listens() -> None:
    key, calls = SimulatedPowerKey(), []
    key.hold()
    key.start(lambda: calls.append(True))
    key.tap()
    key.hold()
    key.stop()
    key.hold()
    assert calls == [True]
