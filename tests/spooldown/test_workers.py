"""Processes that work for us: they end with us, and one that dies takes no other's work along."""

import os
import signal
import subprocess
import sys
import time

import psutil
import pytest

from spooldown.processes import workers


def squared(number: int) -> int:
    if number == 3:
        raise ValueError("three")
    if number == 5:
        os.kill(os.getpid(), signal.SIGKILL)  # as the system does for want of memory
    return number * number


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="no SIGKILL here")
def test_one_that_fails_and_one_that_dies_stop_no_other(monkeypatch):
    monkeypatch.setattr("spooldown.processes.workers.available", lambda: 2)
    done = {d.item: d for d in workers.spread(squared, list(range(8)))}
    assert {n: d.value for n, d in done.items() if d.error is None} == {n: n * n for n in (0, 1, 2, 4, 6, 7)}
    assert isinstance(done[3].error, ValueError)
    assert isinstance(done[5].error, workers.WorkerEnded)


def test_few_are_done_here():
    assert [(d.value, str(d.error)) for d in workers.spread(squared, [2, 3])] == [(4, "None"), (None, "three")]


def own_number(_: int) -> int:
    time.sleep(0.05)
    return os.getpid()


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="no SIGKILL here")
def test_the_same_processes_do_one_thing_after_the_other_and_are_replaced_when_they_die(monkeypatch):
    monkeypatch.setattr("spooldown.processes.workers.available", lambda: 2)
    with workers.together():
        first = {d.value for d in workers.spread(own_number, range(8))}
        again = {d.value for d in workers.spread(own_number, range(8))}
        assert again <= first
        assert os.getpid() not in first
        for number in first:
            os.kill(number, signal.SIGKILL)
        after = [d.value for d in workers.spread(own_number, range(8))]
        assert len(after) == 8
        assert first.isdisjoint(after)
    assert not any(psutil.pid_exists(n) for n in after)


PARENT = """
import sys, time
sys.path.insert(0, {tests!r})
from spooldown.processes import workers
from test_workers import slow
print("working", flush=True)
for done in workers.spread(slow, list(range(4)), workers=2):
    pass
"""


def slow(number: int) -> None:
    os.write(1, b"begun\n")  # in one piece: two processes write
    time.sleep(60)


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="no SIGKILL here")
@pytest.mark.parametrize("begun", [0, 2])
def test_workers_end_with_a_killed_parent(begun):
    words = [sys.executable, "-c", PARENT.format(tests=os.path.dirname(__file__))]
    with subprocess.Popen(words, stdout=subprocess.PIPE, text=True) as parent:
        assert parent.stdout.readline() == "working\n"
        for _ in range(begun):
            assert parent.stdout.readline() == "begun\n"
        until = time.monotonic() + 30
        while not (children := psutil.Process(parent.pid).children(recursive=True)) and time.monotonic() < until:
            time.sleep(0.01)
        assert children
        parent.kill()
        parent.stdout.read()  # the pipe ends with the last process that holds it
    _, alive = psutil.wait_procs(children, timeout=10)
    assert alive == []


READY = """
import sys
import time
sys.path.insert(0, {tests!r})
import test_workers
from spooldown.processes import cores, lightly, workers
cores.one_thread_each()
lightly.load_lightly()
workers.available = lambda: 2
test_workers.known[:] = ["the parent's"]
with workers.together((*workers.READING, *workers.ANALYSING)):
    for done in workers.spread(test_workers.known_there, list(range(8))):
        print(*done.value, flush=True)
    time.sleep(60)
"""
known: list[str] = []


def known_there(_: int) -> list[str]:
    time.sleep(0.02)
    return known


@pytest.mark.skipif(sys.platform != "linux", reason="processes begin anew elsewhere")
def test_workers_that_are_known_to_be_needed_share_what_is_loaded_and_end_with_a_killed_parent():
    """No library starts a thread while it loads: else forks were not safe, and workers would load everything again."""
    words = [sys.executable, "-c", READY.format(tests=os.path.dirname(__file__))]
    with subprocess.Popen(words, stdout=subprocess.PIPE, text=True) as parent:
        assert {parent.stdout.readline() for _ in range(8)} == {"the parent's\n"}
        children = psutil.Process(parent.pid).children(recursive=True)
        parent.kill()
        parent.stdout.read()  # the pipe ends with the last process that holds it
    assert len(children) == 2
    _, alive = psutil.wait_procs(children, timeout=10)
    assert alive == []
