"""A helper that does everything in this process, by what can be sent to another."""

from __future__ import annotations

import pickle
from collections.abc import Callable


class BesideHere:
    """Of `sheetlark.beside.Helpers` what tracing and mending ask; `asked` names what was done so."""

    count, idle = 1, True

    def __init__(self) -> None:
        self.asked: list[str] = []

    def begin(self, work: Callable[..., object], *given: object) -> None:
        sent, with_ = pickle.loads(pickle.dumps((work, given)))
        sent(*with_)

    def meanwhile(
        self, _: Callable[[], object], there: Callable[..., object], *given: object
    ) -> Callable[[], object]:
        self.asked.append(getattr(there, "func", there).__name__)
        sent, with_ = pickle.loads(pickle.dumps((there, given)))
        return lambda: pickle.loads(pickle.dumps(sent(*with_)))
