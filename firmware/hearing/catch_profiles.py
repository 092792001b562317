"""Key profiles: how often or how fittingly each tone of a key sounds, from the tonic up by semitones."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

Chroma = NDArray[np.float64]
"""Amount of each pitch class from C up by semitones, shape (12,)."""


@dataclass(frozen=True, slots=True)
class Profile:
    """A pair of profiles, each of twelve figures from the tonic up."""

    name: str
    source: str
    major: tuple[float, ...]
    minor: tuple[float, ...]


KRUMHANSL_KESSLER: Final = Profile(
    "krumhansl-kessler",
    "C. L. Krumhansl and E. J. Kessler, Psychological Review 89(4), 1982 (ratings of listeners)",
    (6.35, 2.23, 3.48, 2.33, 4.38, 4.09, 2.52, 5.19, 2.39, 3.66, 2.29, 2.88),
    (6.33, 2.68, 3.52, 5.38, 2.60, 3.53, 2.54, 4.75, 3.98, 2.69, 3.34, 3.17),
)

AARDEN_ESSEN: Final = Profile(
    "aarden-essen",
    "B. Aarden, PhD thesis, Ohio State University, 2003 (counts in the Essen collection of folk songs)",
    (17.7661, 0.145624, 14.9265, 0.160186, 19.8049, 11.3587, 0.291248, 22.062, 0.145624, 8.15494, 0.232998, 4.95122),
    (18.2648, 0.737619, 14.0499, 16.8599, 0.702494, 14.4362, 0.702494, 18.6161, 4.56621, 1.93186, 7.37619, 1.75623),
)

PROFILES: Final = (KRUMHANSL_KESSLER, AARDEN_ESSEN)


def fits(chroma: Chroma, profile: Profile) -> NDArray[np.float64]:
    """Correlation of a chroma with the profile of every key, as Krumhansl and Schmuckler do.

    Parameters
    ----------
    chroma : Chroma
        Shape (12,).
    profile : Profile
        The pair of profiles.

    Returns
    -------
    array
        Pearson's correlation, shape (12, 2): tonics from C up, major and minor. Zeros for a flat chroma.

    Notes
    -----
    C. L. Krumhansl, *Cognitive Foundations of Musical Pitch*, 1990, chapter 4.
    """
    kinds = np.array([profile.major, profile.minor])
    turned = np.stack([np.roll(kinds, tonic, axis=1) for tonic in range(12)])
    centred = turned - turned.mean(axis=2, keepdims=True)
    here = chroma - chroma.mean()
    size = float(np.linalg.norm(here))
    if size <= 1e-9:
        return np.zeros((12, 2))
    out: NDArray[np.float64] = centred @ here / (np.linalg.norm(centred, axis=2) * size)
    return out
