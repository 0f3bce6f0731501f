"""Files into the logbook: recognise what is already there, plan, settle whose flights they are, read."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from functools import partial
from io import BufferedReader
from pathlib import Path

from msgspec import Struct
from msgspec.structs import replace

from analyser.core.aircraft import Aircraft
from analyser.core.findings import Finding, Text, say
from importers.codes import PlanRefused
from importers.layout import corrections
from importers.layout.mapping import Named
from importers.layout.reconcile import PART, described
from importers.model import FlightDraft, Plan
from importers.plan import plan
from importers.read import read
from importers.refusal import Refusal
from importers.table.codes import PathCode
from importers.table.source import Source as Origin
from importers.table.source import no_file, shown
from reports.addresses import LONGEST_NAME, is_name
from spooldown.bench.sheet import is_bench_sheet
from spooldown.intake.codes import IntakeRefused
from spooldown.logbook.book import Logbook, slug
from spooldown.logbook.catalogue import CATALOGUE
from spooldown.logbook.flight import Source
from spooldown.logbook.plain import below
from spooldown.logbook.store import EncodedDraft
from spooldown.logbook.unknown import holds_flights
from spooldown.problems import NotFoundProblem, OpenQuestion, UsageProblem
from spooldown.register import Register
from spooldown.sheets.field import is_sheet
from spooldown.sheets.range_checks import is_range_sheet

LOG_SUFFIXES = (".csv", ".tsv", ".txt", ".log", ".gz", ".zip", ".zst", ".bz2", ".xz")
UNASSIGNED = say("intake.unassigned")


class LogFile(Struct, frozen=True):
    """One file to import, and its name as the logbook shows it (below the folder that was given)."""

    path: Path
    name: str


class Outcome(Struct, frozen=True):
    """What became of one file.

    ``state`` is ``imported``, ``known`` (same content already there), ``planned`` (dry run) or ``skipped``.
    """

    name: str
    state: str
    flight_ids: tuple[str, ...] = ()
    aircraft: str = ""
    why_aircraft: Text = ""
    plan: Plan | None = None
    notices: tuple[Text, ...] = ()


def find_logs(paths: Sequence[Path], left_out: list[Finding] | None = None) -> list[LogFile]:
    """List the files to import: files as named, folders with everything in them that may be a log.

    A link in a folder that leads out of it is left out: who fills the folder must not choose which other files of this
    machine are read. Named by itself it is followed.

    Parameters
    ----------
    paths : sequence of Path
    left_out : list of Finding or None
        Takes a sentence for each link that was left out, and for each folder that may not be looked into.

    Raises
    ------
    NotFoundProblem
        If a path is not there, or a folder holds no log.
    FolderClosed
        If a folder may not be looked into, or, where none has a log, one below it.
    UsageProblem
        If a path is a logbook's folder, or neither file nor folder.
    """
    found: list[LogFile] = []
    for path in paths:
        try:
            path.stat()
        except OSError as error:
            why = "" if isinstance(error, FileNotFoundError) else str(error.strerror)
            raise NotFoundProblem("problem.no_file_or_folder", path=str(path), why=why) from error
        if (path / CATALOGUE).is_file() or holds_flights(path):
            raise UsageProblem("usage.logbook_not_logs", folder=str(path))
        if path.is_dir():
            there, closed = below(path)
            if left_out is not None:
                left_out += [one.finding for one in closed]
            inside = sorted(p for p in there if p.is_file() and p.name.lower().endswith(LOG_SUFFIXES))
            # What a logbook keeps is no log, wherever it lies among them.
            books = [p.parent for p in there if p.name == CATALOGUE]
            inside = [p for p in inside if not any(p.is_relative_to(b) for b in books)]
            top = path.resolve()
            outside = {p for p in inside if not p.resolve().is_relative_to(top)}
            if left_out is not None:
                left_out += [
                    say("problem.link_outside", path=shown(str(p)), folder=shown(str(path))) for p in sorted(outside)
                ]
            inside = [p for p in inside if p not in outside]
            if not inside and closed:
                raise closed[0]
            if not inside:
                raise NotFoundProblem(
                    "problem.folder_without_log", folder=str(path), endings=LOG_SUFFIXES, links=len(outside)
                )
            # The folder's own name counts: it may name the aircraft. A link counts where it lies, not where it leads.
            root = top.name
            found += [LogFile(p, shown(Path(root, p.relative_to(path)).as_posix())) for p in inside]
        elif path.is_file():
            found.append(LogFile(path, shown(path.name)))
        else:
            raise UsageProblem("usage.not_a_file", path=str(path), kind=_kind(path), name=path.name)
    return found


def _kind(path: Path) -> Finding:
    return no_file(path) or say(PathCode.DEVICE)


def whose(file: LogFile, proposed: Plan, register: Register, given: str) -> tuple[str, Finding]:
    """Settle whose flights a file holds: the option, the file's own preamble, its folder's name, its name's start.

    Returns
    -------
    name : str
        '' where nothing tells.
    why : Finding
        Where it is from.
    """
    said = next((v.strip() for k, v in proposed.preamble.items() if k.casefold() == "aircraft" and v.strip()), "")
    if given and not is_name(given):
        raise UsageProblem("usage.name", found=" ".join(given.split())[:LONGEST_NAME], longest=LONGEST_NAME)
    if word := given or (said if is_name(said) else ""):
        known = register.find_aircraft(word)
        why = say("intake.owner_given" if given else "intake.owner_in_file", known=known is not None)
        return (known.name if known else word), why
    folder = file.path.resolve().parent.name
    if known := register.find_aircraft(folder):
        return known.name, say("intake.owner_from_folder", folder=folder)
    stem = slug(file.path.name)
    fitting = [name for name in register.aircraft if stem.startswith(f"{slug(name)}-") or stem == slug(name)]
    if fitting:
        return max(fitting, key=len), say("intake.owner_from_file", file=file.path.name)
    return "", UNASSIGNED


def likely_owner(file: LogFile, register: Register, given: str) -> Aircraft | None:
    """Whose names of parts to read headings by, before the file is looked at: as given, as named, or the only one."""
    found = _likely(file, register, given)
    if found is None:
        return None
    # The names of the only one may help; the flights need not be its own.
    return with_roles(found, register, found.name or next(iter(register.aircraft)))


def with_roles(aircraft: Aircraft, register: Register, name: str) -> Aircraft:
    """An aircraft with the roles of the packs in its own file."""
    own = (p for f in register.files.values() if f.aircraft and f.aircraft.name == name for p in f.packs)
    return described(aircraft, (p.role for p in own))


def _likely(file: LogFile, register: Register, given: str) -> Aircraft | None:
    if given:
        return register.find_aircraft(given)
    if known := register.find_aircraft(file.path.resolve().parent.name):
        return known
    stem = slug(file.path.name)
    fitting = [name for name in register.aircraft if stem.startswith(f"{slug(name)}-") or stem == slug(name)]
    if fitting:
        return register.aircraft[max(fitting, key=len)]
    only = next(iter(register.aircraft.values())) if len(register.aircraft) == 1 else None
    return replace(only, name="") if only else None  # its names of parts may help; the flights need not be its own


LARGE_BYTES = 16 * 2**20
"""A log this large is looked at while its hash is worked out, unless one of its size is there."""
REMEMBERED = 20
"""So many flights of an aircraft, the newest, are looked at for what was said of its parts."""


def remembered(book: Logbook, aircraft: Aircraft | None) -> dict[str, str]:
    """What was said before of the parts of an aircraft, as answers: the names in its logs that its file has not."""
    said: dict[str, str] = {}
    if aircraft is None or not aircraft.name:
        return said
    for flight in book.latest(REMEMBERED, aircraft=aircraft.name):
        said = {k: v for k, v in book.answers(flight.flight_id).items() if k.startswith(PART)} | said
    return said


def look_first(
    files: Sequence[LogFile], *, answers: Mapping[str, str], mappings: Sequence[Path]
) -> None:  # fmt: skip
    """Stop before anything is written where what a person said fits no file.

    Parameters
    ----------
    mappings : sequence of Path
        Of those in :class:`importers.layout.mapping.Named` each file must be able to use one.

    Raises
    ------
    UsageProblem
        If an answer or correction is for nothing that any of the files holds, with the nearest that there is.
    Refusal
        If a named mapping cannot be used.
    """
    from spooldown.processes.cores import POOL_FROM
    from spooldown.processes.workers import WorkerEnded, in_order  # slow to load, and seldom needed

    if unheard := corrections.unheard(answers):
        raise UsageProblem("usage.answers", answers=tuple(unheard))
    plans: list[Plan] = []
    left: list[Finding] | None = None
    named = isinstance(mappings, Named)
    some = [f for f in files if not no_log(f)] if answers or named else []
    trials = (Trial(f.path, f.name, dict(answers), mappings) for f in some)
    for one in in_order(try_file, trials, workers=1 if len(some) < POOL_FROM else 0):
        if isinstance(one.error, WorkerEnded):
            continue  # it will be said when it is its turn
        if one.error is not None:
            raise one.error
        plans += one.value or []
        left = corrections.unfitting(answers, plans) if plans else []
        if not left and not named:
            return
    if plans and left != [] and (bad := corrections.unfitting(answers, plans)):
        raise UsageProblem("usage.answers", answers=tuple(bad))


class Trial(Struct, frozen=True):
    """What a worker needs to look at a file with and without what a person said."""

    path: Path
    name: str
    answers: dict[str, str]
    mappings: Sequence[Path]


def try_file(trial: Trial) -> list[Plan]:
    """Plans of a file with the answers and without; none where it can't be read, which is said when it is its turn.

    Raises
    ------
    Refusal
        If a named mapping, or a correction, is of no use for it.
    """
    member = trial.answers.get("member", "")
    origin = partial(Origin, trial.path, trial.name, member)
    plain = {"member": member} if member else {}
    try:
        tried = [plan(origin(), mappings=trial.mappings, answers=trial.answers)]
    except Refusal as refusal:
        if refusal.code == PlanRefused.OTHER_MAPPING or corrections.taken(trial.answers) != ({}, {}):
            raise
        return []
    with suppress(Refusal):  # what was said may be what makes it readable
        tried.append(plan(origin(), mappings=trial.mappings, answers=plain))
    return tried


def add_file(
    book: Logbook,
    file: LogFile,
    register: Register,
    *,
    aircraft: str = "",
    answers: Mapping[str, str] | None = None,
    mappings: Sequence[Path] = (),
    dry_run: bool = False,
    progress: Callable[[int], None] | None = None,
    found: Plan | None = None,
    drafts: Iterable[FlightDraft | EncodedDraft] | None = None,
) -> Outcome:
    """Import one file, or say why there is nothing to do.

    Parameters
    ----------
    found, drafts : Plan, iterable of FlightDraft or EncodedDraft
        Its plan and its flights, where they have been read already.

    Raises
    ------
    Refusal
        If the file cannot be read as telemetry.
    OpenQuestion
        If it leaves something open that must not be guessed.
    """
    if why := no_log(file):
        return Outcome(file.name, "skipped", notices=(why,))
    origin = found.origin if found else Origin(file.path, file.name, (answers or {}).get("member", ""))
    later = not (found or origin.packed) and origin.size >= LARGE_BYTES and not book.has_size(origin.size)
    if later:
        origin.hash_ahead()
    elif known := already(book, origin):
        return Outcome(file.name, "known", tuple(known))
    likely = likely_owner(file, register, aircraft)
    before = {} if found else remembered(book, likely)
    proposed = found or plan(origin, mappings=mappings, answers={**before, **(answers or {})}, aircraft=likely)
    owner, why = whose(file, proposed, register, aircraft)
    if later and (known := already(book, origin)):  # it came in an archive
        return Outcome(file.name, "known", tuple(known))
    if dry_run:
        return Outcome(file.name, "planned", (), owner, why, proposed, tuple(proposed.notices))
    refuse_open([proposed])
    source = Source(file.name, origin.content_sha256(), origin.size)
    label = next((v for k, v in proposed.preamble.items() if k.casefold() == "label"), "")
    more = {"label": label} if label else {}
    if proposed.answers:  # so that the log can be read again the same way
        more["answers"] = json.dumps(dict(proposed.answers), ensure_ascii=False)
    with book.writing():
        if known := book.known(source.sha256):  # another process was quicker
            return Outcome(file.name, "known", tuple(known))
        flights = read(proposed, progress=progress) if drafts is None else drafts
        held: dict[str, Finding] = {}
        added = book.add([source], flights, aircraft=owner, more=more, held=held)
    copies = tuple(held.values())
    if not added:
        return Outcome(file.name, "known", tuple(held), owner, why, proposed, copies)
    notices = (*dict.fromkeys(n for i in added for n in book.flight(i).notices), *copies)
    return Outcome(file.name, "imported", tuple(added), owner, why, proposed, notices)


def no_log(file: LogFile) -> Finding | None:
    """Tell by its first line that a file is one of the sheets filled in at the field; None for anything else."""
    with _readable(file) as stream:
        head = stream.read(256)
    if is_sheet(head):
        return say("intake.field_sheet")
    if is_range_sheet(head):
        return say("intake.range_sheet")
    if is_bench_sheet(head):
        return say("intake.bench_sheet")
    return None


def already(book: Logbook, origin: Origin) -> list[str]:
    """Flights that came from this content, plain or in any archive."""
    # Logbooks of version 0.1 know an archive by its own bytes.
    before = book.known(origin.stored_sha256()) if origin.packed and not origin.member else []
    return before or book.known(origin.content_sha256())


def refuse_open(plans: Sequence[Plan]) -> None:
    """Stop where files leave something open.

    Raises
    ------
    OpenQuestion
        One line a question, with how to answer it.
    """
    asked = tuple(
        say("intake.question", file=p.source, question=q.text, key=q.key, answers=q.answers)
        for p in plans
        for q in p.questions
    )
    if asked:
        raise OpenQuestion("intake.questions", questions=asked)


@contextmanager
def _readable(file: LogFile) -> Iterator[BufferedReader]:
    try:
        with file.path.open("rb") as stream:
            yield stream
    except OSError as error:
        raise Refusal(file.name, IntakeRefused.UNREADABLE, why=error.strerror or str(error)) from error
