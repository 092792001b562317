"""The programs that make and test the image lie in a folder of their own, whose name is no package's."""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2] / "image-build"))
