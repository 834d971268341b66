"""Sheetlark: from a picture to a trimmed flat-sheet model aeroplane.

The public verbs::

    import sheetlark

    design = sheetlark.load("mine.toml")
    evaluation = sheetlark.evaluate(design)
    for finding in sheetlark.findings(evaluation):
        print(finding.says)
"""

from sheetlark.design import load, loads
from sheetlark.evaluation import Evaluation, evaluate
from sheetlark.review import document, findings

__version__ = "0.1.0"

__all__ = ["Evaluation", "__version__", "document", "evaluate", "findings", "load", "loads"]
