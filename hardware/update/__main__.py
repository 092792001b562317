"""`python3 -m hardware.update install` or `confirm`, as root: see `hardware/update/run.py`."""

from __future__ import annotations

import sys

from hardware.update.run import main

if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
