"""Bring the pages of the logbook up to date, as a job."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reports.words.reader import reading
from spooldown.desk.jobs import Job
from spooldown.problems import writing_to
from spooldown.work.meanwhile import begun_anew

if TYPE_CHECKING:
    from spooldown.desk.session import Desk


def build_pages(desk: Desk, to: str = "/pages/") -> Job:
    """Start building; the job leads to the start page, or to the page named. One that waits already is enough."""
    if waiting := desk.jobs.waiting("pages"):
        return waiting

    def work(job: Job) -> None:
        build_now(desk, job)
        job.to = to

    return desk.jobs.start("pages", work)


@begun_anew()
def build_now(desk: Desk, job: Job) -> None:
    """Analyse what is new and write what changed, telling the job how far it is."""
    from spooldown import register
    from spooldown.preferences import reader_of
    from spooldown.processes.workers import together
    from spooldown.site import build, site_of

    def step(name: str, done: int, whole: int) -> None:
        job.step, job.done, job.whole = name, done, whole

    with desk.book() as book, reading(reader_of(book)):  # pages are the logbook's, whoever asks for them
        if not book.exists:
            return
        with together():
            site = site_of(book, register.readable(book), progress=step)
            book.still_there()
            with writing_to(desk.pages):
                built = build(book, site, desk.pages, step)
    job.failed.extend(str(f.why) for f in built.failed)
