"""Helper processes: the same results wherever a piece is done, and nothing lost where a helper is."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

# A fork must be of a process without other threads, which a test's own process may not be: each runs in a fresh one.
BEGIN = """
import os, sys, time
from sheetlark.beside import helpers

def there(n, piece):
    if piece == "dies" and os.getpid() != n:
        os._exit(1)
    if piece == "fails" and os.getpid() != n:
        raise RuntimeError("a helper's trouble")
    time.sleep(0.05)
    return piece, os.getpid()

def here(piece):
    return there(os.getpid(), piece)
"""


def run(code: str, processes: str = "3") -> str:
    made = subprocess.run(
        [sys.executable, "-c", BEGIN + code],
        env={**os.environ, "SHEETLARK_PROCESSES": processes},
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert made.returncode == 0, made.stderr
    assert not made.stderr
    return made.stdout


several = pytest.mark.skipif(
    not sys.platform.startswith("linux") or len(os.sched_getaffinity(0)) < 2, reason="needs two processors"
)


@several
def test_pieces_come_back_in_order_from_more_than_one_process():
    out = run("""
with helpers() as h:
    made = h.share(list(range(12)), here, there, os.getpid())
print([m[0] for m in made] == list(range(12)), len({m[1] for m in made}) > 1, made[0][1] == os.getpid())
""")
    assert out.split() == ["True", "True", "True"]


@several
@pytest.mark.parametrize("trouble", ["dies", "fails"])
def test_what_a_helper_does_not_finish_is_done_here(trouble):
    out = run(f"""
with helpers() as h:
    made = h.share(["a", "b", "c", {trouble!r}], here, there, os.getpid())
print([m[0] for m in made], made[-1][1] == os.getpid())
""")
    assert out.strip() == f"['a', 'b', 'c', '{trouble}'] True"


@several
@pytest.mark.parametrize("trouble", ["none", "dies", "fails"])
def test_one_thing_is_done_meanwhile_or_else_here(trouble):
    out = run(f"""
with helpers() as h:
    came = h.meanwhile(lambda: here({trouble!r}), there, os.getpid(), {trouble!r})
    made = came()
print(made[0], made[1] == os.getpid())
""")
    assert out.split() == [trouble, str(trouble != "none")]


@several
def test_a_helper_with_something_in_hand_takes_pieces_after_it():
    """A piece waiting behind it in the helper would be waited for here."""
    out = run(
        """
def long():
    time.sleep(1.0)
    return os.getpid()
with helpers() as h:
    came = h.meanwhile(long, long)
    begun = time.perf_counter()
    made = h.share(list(range(4)), here, there, os.getpid())
    print({m[1] for m in made} == {os.getpid()}, time.perf_counter() - begun < 0.8)
    begun = time.perf_counter()
    print(came() != os.getpid(), time.perf_counter() - begun > 0.2)
    made = h.share(list(range(4)), here, there, os.getpid())
    print(len({m[1] for m in made}))
""",
        processes="2",
    )
    assert out.split() == ["True", "True", "True", "True", "2"]


@several
def test_what_goes_wrong_here_is_raised_and_nobody_waits():
    out = run("""
def stop(piece):
    raise KeyboardInterrupt
begun = time.perf_counter()
def slow(piece):
    time.sleep(30)
try:
    with helpers() as h:
        h.share(list(range(6)), stop, slow)
except KeyboardInterrupt:
    print("stopped", time.perf_counter() - begun < 5)
""")
    assert out.split() == ["stopped", "True"]


@several
def test_whoever_leaves_while_much_is_being_sent_back_waits_for_no_more_of_it():
    """Half a message would be waited for for ever; so would a helper that goes on with what stands in its queue."""
    out = run("""
def much():
    return bytes(80_000_000)
worst = 0.0
for k in range(12):
    while len(os.listdir("/proc/self/task")) > 1:
        time.sleep(0.01)
    with helpers() as h:
        came = [h.meanwhile(much, much) for _ in range(6)]
        time.sleep(0.02 * k)
        begun = time.perf_counter()
    worst = max(worst, time.perf_counter() - begun)
print(worst < 5.0)
""")
    assert out.split() == ["True"]


@several
def test_what_was_only_begun_gives_way_to_what_is_asked_for():
    out = run(
        """
def long():
    time.sleep(0.3)
with helpers() as h:
    print(h.idle)
    for _ in range(20):
        h.begin(long)
    print(h.idle)
    begun = time.perf_counter()
    print(h.meanwhile(os.getpid, os.getpid)() != os.getpid(), time.perf_counter() - begun < 2.0, h.idle)
""",
        processes="2",
    )
    assert out.split() == ["True", "False", "True", "True", "True"]


def test_no_helper_without_a_processor_or_beside_other_threads():
    assert run("with helpers() as h: print(h)", processes="1").strip() == "None"
    beside_a_thread = """
import threading
threading.Thread(target=time.sleep, args=(1,), daemon=True).start()
with helpers() as h: print(h)
"""
    assert run(beside_a_thread).strip() == "None"


@several
def test_no_helper_where_there_is_no_room_for_another_process():
    full = """
def fork():
    raise BlockingIOError(11, "Resource temporarily unavailable")
os.fork = fork
with helpers() as h: print(h)
"""
    assert run(full).strip() == "None"


@several
def test_helpers_end_with_a_process_that_is_killed():
    code = (
        BEGIN
        + """
with helpers() as h:
    print(*(p.pid for p in __import__("multiprocessing").active_children()), flush=True)
    time.sleep(60)
"""
    )
    with subprocess.Popen(
        [sys.executable, "-c", code],
        env={**os.environ, "SHEETLARK_PROCESSES": "2"},
        stdout=subprocess.PIPE,
        text=True,
    ) as asked:
        assert asked.stdout is not None
        helper = int(asked.stdout.readline())
        asked.send_signal(signal.SIGKILL)
    for _ in range(100):
        if not running(helper):
            return
        time.sleep(0.05)
    pytest.fail("the helper lives on")


def running(process: int) -> bool:
    """Whether a process is there, and not only its exit to be read by someone."""
    try:
        stat = Path(f"/proc/{process}/stat").read_text(encoding="ascii")
    except OSError:
        return False
    return stat.rsplit(")", 1)[1].split()[0] != "Z"


@several
def test_a_review_says_the_same_with_helpers_and_without(tmp_path):
    """Two findings with several levers each."""
    from sheetlark.design import starter

    design = tmp_path / "mine.toml"
    design.write_text(starter("dunnock").replace("height = 105", "height = 60"), encoding="utf-8")

    def review(processes: str) -> str:
        return subprocess.run(
            [sys.executable, "-m", "sheetlark", "review", str(design)],
            env={**os.environ, "SHEETLARK_PROCESSES": processes},
            capture_output=True,
            text=True,
            timeout=120,
            check=True,
        ).stdout

    alone, shared = review("1"), review("2")
    assert alone.count("→") >= 3
    assert shared == alone
