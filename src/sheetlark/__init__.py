"""Sheetlark: from a picture to a trimmed flat-sheet model aeroplane.

The public verbs::

    import sheetlark

    design = sheetlark.load("mine.toml")
    evaluation = sheetlark.evaluate(design)
    for finding in sheetlark.findings(evaluation):
        print(finding.says)
"""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, Any

# Our matrices are small: threads cost more than they give, tenfold when the machine is busy. Must precede numpy.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

if TYPE_CHECKING:
    from sheetlark.design import load, loads
    from sheetlark.evaluation import Evaluation, evaluate
    from sheetlark.review import document, findings

__version__ = "0.1.0"

__all__ = ["Evaluation", "__version__", "document", "evaluate", "findings", "load", "loads"]

_ROOMS = {
    "load": "design",
    "loads": "design",
    "Evaluation": "evaluation",
    "evaluate": "evaluation",
    "document": "review",
    "findings": "review",
}


def __getattr__(name: str) -> Any:
    """Open a room when its verb is first asked for: start-up stays quick."""
    if name in _ROOMS:
        from importlib import import_module

        return getattr(import_module(f"sheetlark.{_ROOMS[name]}"), name)
    raise AttributeError(f"module 'sheetlark' has no attribute {name!r}")
