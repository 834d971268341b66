"""A second process, for work in pieces that do not wait for one another.

Python computes on one processor at a time. Where a machine has more, a helper is forked off, which knows all that was
imported by then, and takes pieces from the end of a row while this process takes them from its beginning. What comes of
a piece is the same wherever it was done; a piece that a helper does not finish, because it was stopped or went wrong, is
done here, so that nothing but time depends on helpers.
"""

from __future__ import annotations

import os
import signal
import sys
import threading
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any, Generic, TypeVar

PROCESSES = "SHEETLARK_PROCESSES"  # how many processes a command may use; 1 for no helper
_MOST_HELPERS = 3

T = TypeVar("T")
R = TypeVar("R")


class Helpers:
    """Processes that wait for work."""

    def __init__(self, pool: ProcessPoolExecutor, count: int) -> None:
        self._pool, self.count = pool, count
        self._begun: list[Future[Any]] = []
        self._in_hand: list[Future[Any]] = []

    @property
    def idle(self) -> bool:
        """Whether no helper has anything to do."""
        return all(f.done() for f in (*self._begun, *self._in_hand))

    def begin(self, work: Callable[..., object], *given: object) -> None:
        """Let each helper do something that its pieces will need, and forget what comes of it.

        What no helper has taken up by the time that there is something else to do is left undone.
        """
        for _ in range(self.count):
            future = _submitted(self._pool, work, *given)
            if future is not None:
                self._begun.append(future)

    def _leave_begun(self) -> None:
        self._begun = [f for f in self._begun if not f.done() and not f.cancel()]

    def meanwhile(self, here: Callable[[], R], there: Callable[..., R], *given: object) -> Callable[[], R]:
        """What comes of one thing, done in a helper until it is asked for; here where none does it.

        Parameters
        ----------
        here, there : as of `share`, with no piece.
        """
        self._leave_begun()
        future = _submitted(self._pool, there, *given)
        if future is None:
            return here
        self._in_hand.append(future)

        def came() -> R:
            return here() if future.cancelled() or future.exception() is not None else future.result()

        return came

    def share(
        self,
        pieces: Sequence[T],
        here: Callable[[T], R],
        there: Callable[..., R],
        *given: object,
    ) -> list[R]:
        """What comes of every piece, in their order.

        Parameters
        ----------
        here : what does a piece in this process; what it raises is raised.
        there : what does one in a helper, after `given`: a function of a module, of what can be sent.
        """
        self._leave_begun()
        row = _Row(self._pool, pieces, there, given)
        try:
            in_hand = [f for f in self._in_hand if not f.done()]
            for future in in_hand:  # who has something else in hand takes a piece when that is done
                future.add_done_callback(lambda _: row.hand_on())
            for _ in range(self.count - len(in_hand)):
                row.hand_on()
            while (next_ := row.first()) is not None:
                row.done[next_] = here(pieces[next_])
            return [row.done[i] for i in range(len(pieces))]
        finally:
            row.close()


class _Row(Generic[T, R]):
    """Pieces yet to be done, taken from both ends."""

    def __init__(
        self,
        pool: ProcessPoolExecutor,
        pieces: Sequence[T],
        there: Callable[..., R],
        given: tuple[object, ...],
    ) -> None:
        self.done: dict[int, R] = {}
        self._pool, self._pieces, self._there, self._given = pool, pieces, there, given
        self._left = deque(range(len(pieces)))
        self._out: set[int] = set()
        self._changed = threading.Condition()

    def first(self) -> int | None:
        """The next piece to do here; waits for what helpers have in hand; None where all are done."""
        with self._changed:
            while not self._left and self._out:
                self._changed.wait()
            return self._left.popleft() if self._left else None

    def hand_on(self) -> None:
        """Give the last piece left to a helper."""
        with self._changed:
            if not self._left:
                return
            i = self._left.pop()
            self._out.add(i)
        future = _submitted(self._pool, self._there, *self._given, self._pieces[i])
        if future is None:
            self._back(i)
        else:
            future.add_done_callback(lambda f: self._came(i, f))

    def _came(self, i: int, future: Future[R]) -> None:
        if future.cancelled() or future.exception() is not None:
            self._back(i)  # it will be done here, where what goes wrong can be said
            return
        with self._changed:
            self.done[i] = future.result()
            self._out.discard(i)
            self._changed.notify()
        self.hand_on()

    def _back(self, i: int) -> None:
        with self._changed:
            self._out.discard(i)
            self._left.appendleft(i)
            self._changed.notify()

    def close(self) -> None:
        """Hand nothing on any more."""
        with self._changed:
            self._left.clear()


def _submitted(pool: ProcessPoolExecutor, work: Callable[..., R], *given: object) -> Future[R] | None:
    """None where there is no helper any more."""
    try:
        return pool.submit(_unless_over, work, *given)
    except RuntimeError:
        return None


@contextmanager
def helpers() -> Iterator[Helpers | None]:
    """Helpers, where this machine has processors for them; None where it has not, or forking is not safe.

    Call it before there are other threads and after importing what helpers need. Whoever leaves, as at a stop from the
    keyboard, does not wait for what helpers have in hand.
    """
    import multiprocessing

    others = set(multiprocessing.active_children())
    pool = _pool(_count())
    if pool is None:
        yield None
        return
    own = set(multiprocessing.active_children()) - others
    try:
        yield Helpers(pool, len(own))
    finally:
        for process in own:
            if process.is_alive() and process.pid is not None:
                with suppress(ProcessLookupError):
                    os.kill(process.pid, _OVER)
        pool.shutdown(cancel_futures=True)


def _pool(count: int) -> ProcessPoolExecutor | None:
    """So many processes, forked off; None for none, or where this machine has no room for more."""
    import multiprocessing

    if count == 0:
        return None
    try:
        context = multiprocessing.get_context("fork")
        pool = ProcessPoolExecutor(count, context, initializer=_bound, initargs=(os.getpid(),))
        pool.submit(os.getpid)  # they are forked now
    except (OSError, ImportError, NotImplementedError, RuntimeError):
        return None
    return pool


# tells a helper that nothing more is wanted of it; where there is no such signal there are no helpers
_OVER = getattr(signal, "SIGUSR1", signal.SIGTERM)


class _Over(BaseException):
    """Ends what a helper has in hand. Killed while it sends what came of something, it would be listened to for ever."""


class _State:
    """Of a helper: whether it has something in hand that may be broken off, and whether anything is still wanted of it."""

    at_work, over = False, False


def _ends(*_: object) -> None:
    _State.over = True
    if _State.at_work:
        raise _Over


def _unless_over(work: Callable[..., R], *given: object) -> R:
    """Do something in a helper, as long as anything is wanted of it."""
    _State.at_work = True
    try:
        if _State.over:
            raise _Over
        return work(*given)
    finally:
        _State.at_work = False


def _bound(asker: int) -> None:
    """A helper lives and dies with the process that asked for it: a stop from the keyboard is for that one alone."""
    import ctypes

    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(_OVER, _ends)
    ends_with_parent = 1  # PR_SET_PDEATHSIG, Linux's prctl(2)
    ctypes.CDLL(None).prctl(ends_with_parent, signal.SIGKILL)
    if os.getppid() != asker:  # it has gone before it could be told
        os._exit(1)


def _count() -> int:
    """How many helpers are of use: one for each further processor, where a fork is a fork of all there is."""
    if not sys.platform.startswith("linux") or threading.active_count() > 1 or _threads() > 1:
        return 0
    stated = os.environ.get(PROCESSES, "")
    most = int(stated) - 1 if stated.isdecimal() else _MOST_HELPERS
    return max(0, min(most, len(os.sched_getaffinity(0)) - 1, _MOST_HELPERS))


def _threads() -> int:
    """Threads of this process, those of libraries too."""
    try:
        return sum(1 for _ in Path("/proc/self/task").iterdir())
    except OSError:
        return 2  # not known, so not safe
