"""The outer ring of Keelnote: drivers, simulated devices and the entry points that compose them with the firmware."""

from __future__ import annotations

import os

# Before numpy is loaded, by whoever imports anything from here first: a second BLAS thread wins nothing on arrays as
# small as ours, and makes some audio blocks wait for 100 ms on a busy machine (measured).
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
