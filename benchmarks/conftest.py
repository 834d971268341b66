"""One core for linear algebra, before anything loads numpy: figures that do not hang on the neighbours."""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
