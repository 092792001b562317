"""The key with which updates are signed: made once by whoever builds images, and kept outside of the project."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

from maker.progress import run, step

YEARS = 30


@dataclass(frozen=True, slots=True)
class Keys:
    """A private key, which never leaves its folder, and the certificate that goes into the image."""

    private: Path
    certificate: Path


def signing_keys() -> Keys:
    """Give the keys in $KEELNOTE_KEYS, or keelnote-image in the user's configuration; made if there are none."""
    home = Path(os.environ.get("XDG_CONFIG_HOME") or Path.home() / ".config")
    return keys_in(Path(os.environ.get("KEELNOTE_KEYS") or home / "keelnote-image"))


def keys_in(folder: Path) -> Keys:
    """Give the keys in a folder; made if there are none."""
    keys = Keys(folder / "update-key.pem", folder / "update-certificate.pem")
    if not keys.certificate.exists():
        folder.mkdir(parents=True, exist_ok=True)
        folder.chmod(0o700)
        with step(
            f"making a key for updates in {folder}: keep a copy of it, without it no box takes an update of yours"
        ):
            make = ["openssl", "req", "-x509", "-newkey", "rsa:3072", "-sha256", "-noenc", "-days", str(365 * YEARS)]
            run([*make, "-subj", "/CN=updates of our boxes", "-keyout", keys.private, "-out", keys.certificate])
        keys.private.chmod(0o600)
    return keys
