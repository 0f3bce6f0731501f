"""Long work beside the requests: one thing at a time, with its progress to look at."""

from __future__ import annotations

import queue
import secrets
import threading
import traceback
from collections.abc import Callable
from contextvars import Context, copy_context
from typing import Any

from msgspec import Struct, field

from reports.words.catalogue import message
from spooldown.problems import Problem, of_the_place

KEPT = 50
"""Finished jobs that can still be looked at."""


class Job(Struct):
    """One piece of long work.

    ``done`` of ``whole`` says how far it is (0 of 0 where nobody knows); ``lines`` what became of it so far, ``failed``
    what did not work, ``to`` the page that shows the result.
    """

    title: str
    work: Callable[[Job], None]
    name: str = field(default_factory=lambda: secrets.token_hex(8))
    state: str = "waiting"
    step: str = ""
    done: int = 0
    whole: int = 0
    lines: list[str] = field(default_factory=list)
    failed: list[str] = field(default_factory=list)
    to: str = ""
    context: Context = field(default_factory=copy_context)
    """Who asked for it, and so in which words it is told."""

    def snapshot(self) -> dict[str, Any]:
        """What a page shows of it."""
        return {
            "title": self.title, "state": self.state, "step": self.step, "done": self.done, "whole": self.whole,
            "lines": list(self.lines), "failed": list(self.failed), "to": self.to,
        }  # fmt: skip


class Jobs:
    """Runs jobs one after another in a thread of its own."""

    def __init__(self) -> None:
        self._jobs: dict[str, Job] = {}
        self._queue: queue.Queue[Job | None] = queue.Queue()
        self._thread: threading.Thread | None = None
        self._lock = threading.Lock()

    def start(self, title: str, work: Callable[[Job], None]) -> Job:
        """Put a job in the line."""
        job = Job(title, work)
        with self._lock:
            self._jobs[job.name] = job
            for name in [n for n, j in self._jobs.items() if j.state in ("finished", "stopped")][:-KEPT]:
                del self._jobs[name]
            if self._thread is None or not self._thread.is_alive():
                self._thread = threading.Thread(target=self._run, name="desk jobs", daemon=True)
                self._thread.start()
        self._queue.put(job)
        return job

    def waiting(self, title: str) -> Job | None:
        """A job of that title that has not begun yet: it will see whatever changes until it does."""
        return next((j for j in list(self._jobs.values()) if j.title == title and j.state == "waiting"), None)

    def get(self, name: str) -> Job | None:
        """The job of that name."""
        return self._jobs.get(name)

    @property
    def busy(self) -> bool:
        """Whether anything is running or waiting."""
        return any(j.state in ("waiting", "running") for j in self._jobs.values())

    def close(self) -> None:
        """Let the thread end after the job it is at."""
        self._queue.put(None)

    def _run(self) -> None:
        while (job := self._queue.get()) is not None:
            job.state = "running"
            try:
                job.context.run(job.work, job)
                job.state = "finished"
            except Problem as problem:
                job.failed.append(job.context.run(str, problem))
                job.state = "stopped"
            except Exception as error:  # one job that fails stops neither the next nor the desk
                if of_the_place(error) is None:
                    traceback.print_exc()
                job.failed.append(job.context.run(said_of, error))
                job.state = "stopped"


def said_of(error: Exception) -> str:
    """What a person is told of an error that nothing else speaks of: of the place it is, or a fault of ours."""
    what = of_the_place(error)
    return str(what) if what else message("desk.refused.fault", what=f"{type(error).__name__}: {error}")
