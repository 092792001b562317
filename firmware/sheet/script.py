"""The one script of the sheet, and what a browser may do with the page (Content Security Policy Level 3, W3C).

A chapter's button moves its player and lets it play; all else on the page works without.
"""

from __future__ import annotations

import base64
import hashlib
from typing import Final

SCRIPT: Final = """
"use strict";
document.addEventListener("click", function (event) {
  var button = event.target.closest("button[data-player]");
  if (!button) { return; }
  var player = document.getElementById(button.dataset.player);
  document.querySelectorAll("audio").forEach(function (other) { if (other !== player) { other.pause(); } });
  player.currentTime = Number(button.dataset.at);
  var started = player.play();
  if (started) {
    started.catch(function () { document.getElementById("said").textContent = "This take could not be played."; });
  }
});
"""


def policy(style: str) -> str:
    """The page's policy: this script, this style, sound from beside the page, and nothing from anywhere else.

    A page from a stick has no origin in every browser, hence also the scheme `file:`.
    """
    return (
        f"default-src 'none'; script-src '{_sum(SCRIPT)}'; style-src '{_sum(style)}'; media-src 'self' file:; "
        "img-src data:; base-uri 'none'; form-action 'none'"
    )


def _sum(text: str) -> str:
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
