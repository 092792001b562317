"""Whether an update is taken: what a bundle says of itself, against what this box is."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Any, Final

COMPATIBLE: Final = "keelnote-box"
"""Of the bundles that are made for these boards and this layout of the card."""

IMAGE: Final = "slot.img"

TRIALS: Final = 2
"""How often one image is tried: the first trial may have ended with a pulled plug."""

NUMBERS: Final = re.compile(r"\d+")

UNTRUSTED: Final = (
    ("signature verification failed", "it is signed with a key that this box does not trust"),
    ("certificate verify error", "it is signed with a key that this box does not trust"),
    ("self-signed certificate", "it is signed with a key that this box does not trust"),
    ("unable to get local issuer", "it is signed with a key that this box does not trust"),
    ("invalid bundle format", "it is no update, or it is not whole"),
    ("signature size", "it is not whole"),
    ("failed to read signature", "it is not whole"),
    ("bundle is too small", "it is not whole"),
    ("no such file", "it can't be read"),
)
"""Words of rauc and openssl, and what they mean for a person; the first that fits. Else the bundle is damaged."""


@dataclass(frozen=True, slots=True)
class Bundle:
    """An update whose signature is good, as far as it tells of itself."""

    compatible: str
    version: str
    image: str
    size: int
    sha256: str


def bundle_of(told: Mapping[str, Any]) -> Bundle:
    """Read what `rauc info --output-format=json` says; what it leaves out is empty."""
    images = [value for entry in told.get("images", ()) for value in entry.values()]
    image = images[0] if len(images) == 1 else {}
    return Bundle(
        str(told.get("compatible", "")),
        str(told.get("version", "")),
        str(image.get("filename", "")),
        int(image.get("size", 0)),
        str(image.get("checksum", "")),
    )


def refused_by_rauc(said: str) -> str:
    """Why rauc does not take a bundle, in words for a person."""
    lower = said.lower()
    return next((meaning for word, meaning in UNTRUSTED if word in lower), "it is damaged")


def order(version: str) -> tuple[int, ...]:
    """What versions are compared by: all their numbers in turn, as in 0.1.0+20261125.1530."""
    return tuple(int(number) for number in NUMBERS.findall(version))


def refusal(bundle: Bundle, version: str, slot_bytes: int, failed: Collection[str]) -> str | None:
    """Why this box does not take an update with a good signature; None if it does.

    Parameters
    ----------
    bundle
        What the update says of itself.
    version
        Of the image that runs.
    slot_bytes
        How large a slot is.
    failed
        Check values of images that were tried here before and did not start, one for each time.
    """
    if bundle.compatible != COMPATIBLE:
        return f"it is for another kind of box ({bundle.compatible or 'it does not say for which'})"
    if bundle.image != IMAGE or not 0 < bundle.size <= slot_bytes:
        return "its image does not fit the slots of this card"
    if order(bundle.version) == order(version):
        return f"it is version {bundle.version}, which this box already runs"
    if order(bundle.version) < order(version):
        return f"it is version {bundle.version}, older than {version}, which this box runs"
    if list(failed).count(bundle.sha256) >= TRIALS:
        return f"version {bundle.version} was tried {TRIALS} times and did not start here"
    return None
