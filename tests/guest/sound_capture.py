"""Records what comes out of the loopback card in the guest: `python tests/guest/sound_capture.py SECONDS`.

It prints the level and the pitch of the last second, in dB and Hz, or why nothing could be recorded.
"""

from __future__ import annotations

import sys
import time

import numpy as np
import sounddevice

from firmware.units import RATE, Samples

FAR_END = ",1)"
"""The device of the card whose input is what is played on its device 0 (kernel documentation, sound/cards)."""


def pitch_of(sound: Samples) -> float:
    """The strongest frequency, Hz, from the peak of a windowed spectrum."""
    spectrum = np.abs(np.fft.rfft(sound * np.hanning(len(sound))))
    at = int(np.argmax(spectrum[1:-1])) + 1
    before, peak, after = np.log(spectrum[at - 1 : at + 2] + 1e-12)
    return float((at + 0.5 * (before - after) / (before - 2 * peak + after)) * RATE / len(sound))


def main(seconds: float) -> None:
    """Record and say what was heard."""
    names = [str(entry["name"]) for entry in sounddevice.query_devices()]
    device = next(at for at, name in enumerate(names) if name.endswith(FAR_END) and "hw:" in name)
    blocks: list[Samples] = []
    stream = sounddevice.InputStream(
        device=device,
        samplerate=RATE,
        channels=2,
        latency="high",
        callback=lambda heard, *_: blocks.append(heard[:, 0].copy()),
    )
    with stream:
        time.sleep(seconds)
    sound = np.concatenate(blocks)[-RATE:].astype(np.float64)
    level = 10 * np.log10(np.mean(sound**2) + 1e-20)
    print(f"captured {len(sound)} {level:.2f} dB {pitch_of(sound):.3f} Hz", flush=True)  # noqa: T201 - its result


if __name__ == "__main__":
    main(float(sys.argv[1]))
