"""Aircraft, packs and antenna layouts from TOML files that a person writes and edits.

The logbook keeps verbatim copies under ``register/``; those copies are read afresh each time, so an edit there counts
at once. A file holds one aircraft with its parts, or packs, or both::

    [aircraft]            name, mass_kg, radio_mhz, …; reserve and fuel as sub-tables
    [[engines]] [[tanks]] [[receivers]]
    [[layouts]]           with [[layouts.antennas]] and [[layouts.shadows]]
    [[packs]]             with an optional [packs.retire]

Keys are the fields of the records in :mod:`analyser.core.aircraft`. ``label`` at the top marks invented data.
"""

from __future__ import annotations

import math
import re
import tomllib
import types
import unicodedata
from collections.abc import Collection, Iterable, Mapping
from datetime import date, datetime
from itertools import chain, count
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, Union, get_args, get_origin, get_type_hints

from msgspec import Struct
from msgspec.structs import fields

from analyser.core.aircraft import Aircraft, AntennaLayout, Engine, Pack, Receiver, Tank
from analyser.core.findings import Finding, Text, say
from importers.refusal import Refusal
from reports.addresses import LONGEST_NAME, is_name
from spooldown.codes import RegisterRefused, ValueCode
from spooldown.logbook.book import Logbook, lost_texts, slug
from spooldown.logbook.plain import files_in, plain
from spooldown.problems import LogbookProblem, NotFoundProblem, nearest

if TYPE_CHECKING:
    from spooldown.logbook.flight import Flight

PARTS: Mapping[str, type] = {"engines": Engine, "tanks": Tank, "receivers": Receiver, "layouts": AntennaLayout}
NO_LONGER_USED = ("stall_speed_m_s",)
"""Keys of an aircraft that earlier versions took and nothing read: a kept copy may hold them, a new file not."""
BOUNDS: Mapping[str, tuple[float, float]] = {
    "mass_kg": (0.05, 1000), "radio_mhz": (1, 100_000), "brown_out_v": (0.5, 100),
    "percent": (0, 100), "ml": (0, 1e6), "minutes": (0, 600),
    "density_15c_kg_m3": (600, 1000), "oil_percent": (0, 50), "oil_density_kg_m3": (700, 1200),
    "capacity_ml": (1, 1e6), "unusable_ml": (0, 1e6), "usual_fill_ml": (1, 1e6), "x_m": (-100, 100),
    "sensor_scale_percent": (0.01, 100),
    "idle_rpm": (100, 1e6), "max_rpm": (100, 1e6), "max_egt_c": (100, 1500), "max_start_egt_c": (100, 2000),
    "pump_ml_per_min_at_full": (1, 1e5), "service_interval_h": (0.01, 1e5), "hours_before_log": (0, 1e5),
    "starts_before_log": (0, 1e6), "burn_floor_ml_per_min": (0, 1e5), "burn_cubic_ml_per_min": (0, 1e5),
    "burn_spread_percent": (0, 100),
    "cells": (1, 100), "rated_mah": (10, 1e6), "cycles_before_log": (0, 1e5), "new_resistance_mohm": (0.01, 1e5),
    "reserve_percent": (0, 100), "capacity_percent": (1, 100), "resistance_ratio": (1, 100),
    "cell_spread_v": (0.001, 5),
    "sensitivity_dbm": (-200, 0), "frame_rate_hz": (0.1, 1e5),
    "azimuth_deg": (-360, 360), "elevation_deg": (-90, 90), "half_width_deg": (0.1, 180), "loss_db": (0, 200),
}  # fmt: skip
"""What the numbers of a file may be at all, by key: wide bounds of plain sense (no source) against slips of the pen."""
EXAMPLE = """\
# One aircraft: put your own in the place of this invented one. Only the names are needed: whatever you leave out
# costs only the figures that need it. Engines, tanks, receivers and pack places go by the names the log gives them:
# `spooldown import --dry-run` shows them in the middle of each channel, rx1 in pack.rx1.voltage_v.
[aircraft]
name = "Heron"
mass_kg = 21.5
radio_mhz = 2440          # what your transmitter uses
brown_out_v = 5.0         # the bus voltage below which receivers or servos may stop, from their manuals
reserve = { percent = 25 } # or { ml = 900 } or { minutes = 2 }
fuel = { density_15c_kg_m3 = 800, oil_percent = 3 }

[[engines]]
name = "main"             # as the log names it
tank = "main"
pack_role = "ecu"
max_rpm = 120000          # from the maker's manual
max_egt_c = 720
service_interval_h = 25

[[tanks]]
name = "main"
engine = "main"
capacity_ml = 4200
unusable_ml = 80

[[receivers]]
name = "rx1"
sensitivity_dbm = -100    # from the maker's data sheet

[[layouts]]
name = "first"
since = 2020-01-01        # the day they were fitted so; flights from then on count
[[layouts.antennas]]
receiver = "rx1"
number = 1
name = "nose"
position_m = [0.9, 0.0, 0.0]  # forward, right, down, from a point you choose
axis = [0, 0, 1]              # which way the antenna's wire points

[[packs]]
name = "A1"
role = "rx1"              # where it usually sits
use = "receiver"          # what it feeds: receiver, engine, ignition or other
chemistry = "li_ion"      # lipo, li_ion, lifepo4 or nimh
cells = 2
rated_mah = 3500
in_service_since = 2020-01-01
"""


class RegisterFile(Struct, frozen=True):
    """One TOML file, read and checked."""

    name: str
    aircraft: Aircraft | None
    packs: tuple[Pack, ...]
    label: str


class Register(Struct, frozen=True):
    """Everything registered: aircraft and packs by name, and which file each pack came from."""

    files: Mapping[str, RegisterFile]
    unreadable: Mapping[str, Finding] = {}
    """Why files do not read, by name: what is not found may be in one of them."""

    @property
    def aircraft(self) -> dict[str, Aircraft]:
        """Aircraft by name."""
        return {f.aircraft.name: f.aircraft for f in self.files.values() if f.aircraft}

    @property
    def packs(self) -> dict[str, Pack]:
        """Packs by name."""
        return {p.name: p for f in self.files.values() for p in f.packs}

    def labels(self) -> dict[str, str]:
        """Label of each labelled aircraft."""
        return {f.aircraft.name: f.label for f in self.files.values() if f.aircraft and f.label}

    def usual_pack(self, aircraft: str, role: str) -> Pack | None:
        """The only registered pack that could usually sit there: the aircraft's own file first, then loose packs."""
        own = [p for f in self.files.values() if f.aircraft and f.aircraft.name == aircraft for p in f.packs]
        loose = [p for f in self.files.values() if f.aircraft is None for p in f.packs]
        for shelf in (own, loose):
            fitting = [p for p in shelf if p.role == role]
            if fitting:
                return fitting[0] if len(fitting) == 1 else None
        return None

    def refuse_unread(self, but: str = "") -> None:
        """Refuse a change that may not fit what does not read, ``but`` for the file that it replaces.

        Raises
        ------
        LogbookProblem
            Saying which file that is, and why.
        """
        for name, why in self.unreadable.items():
            if name != but:
                raise LogbookProblem(why)

    def settles(self, flight: Flight, packs: Mapping[str, Pack], noted: Collection[str]) -> bool:
        """Whether what does not read can say nothing else of a flight: its aircraft reads, and the packs it shows.

        A place without a pack is shown as one; a pack that is in no file of an aircraft may have a rival.

        Parameters
        ----------
        packs : mapping of str to Pack
            Those fitted, by role.
        noted : collection of str
            Roles whose pack was noted.
        """
        if not self.unreadable:
            return True
        own = next((f for f in self.files.values() if f.aircraft and f.aircraft.name == flight.aircraft), None)
        return own is not None and all(
            role in packs and (role in noted or packs[role] in own.packs) for role in {*packs, *noted}
        )

    def find_aircraft(self, word: str) -> Aircraft | None:
        """The aircraft of that name, letter case, accents and punctuation aside."""
        exact = self.aircraft.get(word)
        return exact or next((a for name, a in self.aircraft.items() if _folded(name) == _folded(word)), None)

    def place_of(self, file: RegisterFile) -> str:
        """File name under which a file is, or shall be, copied: one that names no other aircraft, nor loose packs."""
        if file.aircraft:
            for name, known in self.files.items():
                if known.aircraft and _folded(known.aircraft.name) == _folded(file.aircraft.name):
                    return name
        stem = slug(file.aircraft.name if file.aircraft else Path(file.name).stem, "register")
        names = chain([f"{stem}.toml"], (f"{stem}-{n}.toml" for n in count(2)))
        return next(n for n in names if n not in self.files or not (file.aircraft or self.files[n].aircraft))


def load(book: Logbook) -> Register:
    """Read the logbook's register, all of it: to change something, or to hold a name against it.

    Raises
    ------
    Refusal, LogbookProblem
        If an edited copy no longer reads, or two files name the same thing.
    """
    register = Register({path.name: _read(path) for path in files_in(book.register_folder, ".toml")})
    _check_unique(register)
    return register


def readable(book: Logbook) -> Register:
    """Read what reads of the logbook's register, to show by it what does not depend on the rest.

    Which files do not read, or are there no more, is told once the logbook is left.

    Raises
    ------
    Refusal
        If two files name the same thing.
    """
    files, unreadable = {}, {}
    for path in files_in(book.register_folder, ".toml"):
        try:
            files[path.name] = _read(path)
        except (Refusal, LogbookProblem) as error:
            unreadable[path.name] = error.finding
            book.left_out[error.finding] = None
    for name in lost_texts(book, book.register_folder):
        book.left_out[say("check.text_gone", file=name)] = None
    register = Register(files, unreadable)
    _check_unique(register)
    return register


def _read(path: Path) -> RegisterFile:
    try:
        data = plain(path).read_bytes()
    except OSError as error:
        raise LogbookProblem("problem.register_unreadable", path=str(path), why=error.strerror) from error
    return parse(data, str(path), kept=True)


def parse(data: bytes, name: str, *, kept: bool = False) -> RegisterFile:
    """Read and check one TOML file.

    Parameters
    ----------
    data : bytes
        The file's content.
    name : str
        As the user named it, for refusals.
    kept : bool
        Whether it is the logbook's own copy, which may hold keys and names that earlier versions took.

    Raises
    ------
    Refusal
        Naming line, key path, and the nearest valid key.
    """
    try:
        text = data.decode("utf-8-sig")
        tree = tomllib.loads(text)
    except UnicodeDecodeError as error:
        raise Refusal(name, RegisterRefused.NO_UTF8, byte=error.start) from error
    except tomllib.TOMLDecodeError as error:
        raise _syntax(name, str(error)) from error
    except RecursionError as error:
        raise _syntax(name, say(ValueCode.ENDLESS_NESTING)) from error
    except ValueError as error:  # Python gives up on whole numbers of thousands of digits
        raise _syntax(name, say(ValueCode.ENDLESS_NUMBER)) from error
    reader = _Reader(name, text, kept=kept)
    reader.check_keys(tree, ("label", "aircraft", *PARTS, "packs"), ())
    if "aircraft" not in tree and "packs" not in tree:
        raise Refusal(name, RegisterRefused.EMPTY)
    stray = next((k for k in PARTS if k in tree and "aircraft" not in tree), None)
    if stray:
        raise reader.refuse((stray,), RegisterRefused.STRAY_PART, part=stray)
    aircraft = None
    if "aircraft" in tree:
        whole = reader.table(tree["aircraft"], ("aircraft",))
        if kept:
            whole = {key: value for key, value in whole.items() if key not in NO_LONGER_USED}
        own = [name for name in Aircraft.__struct_fields__ if name not in PARTS]
        reader.check_keys(whole, own, ("aircraft",))
        parts = {kind: tree[kind] for kind in PARTS if kind in tree}
        aircraft = reader.build(Aircraft, {**whole, **parts}, ("aircraft",), roots=parts)
    packs = reader.value(tuple[Pack, ...], tree.get("packs", []), ("packs",))
    return RegisterFile(name, aircraft, packs, reader.value(str, tree.get("label", ""), ("label",)))


class Addition(Struct, frozen=True):
    """What taking in one file comes to, checked but not yet done.

    ``outcome`` is ``added``, ``replaced`` or ``unchanged``; ``register`` is what there will be then.
    """

    outcome: str
    copy_name: str
    data: bytes
    register: Register


def check(book: Logbook, register: Register, file: RegisterFile, data: bytes, at: str = "") -> Addition:
    """See what taking a file into the logbook's register comes to.

    Parameters
    ----------
    at : str
        The copy it takes the place of; '' where its aircraft's name tells.

    Raises
    ------
    Refusal
        If another registered file already names one of its packs.
    NotFoundProblem
        If a noted pack would vanish with the replaced copy.
    """
    name = at or register.place_of(file)
    after = Register({**register.files, name: file})
    _check_unique(after)
    lost = set(register.packs) - set(after.packs)
    for flight_id, note in book.notes().items():
        gone = sorted(lost & set(note.packs.values()))
        if gone:
            raise NotFoundProblem("problem.noted_pack_gone", file=file.name, pack=gone[0], flight=flight_id)
    if name not in register.files:
        return Addition("added", name, data, after)
    target = book.register_folder / name
    same = target.is_file() and target.read_bytes() == data
    return Addition("unchanged" if same else "replaced", name, data, after)


def keep(book: Logbook, addition: Addition) -> None:
    """Copy a checked file into the logbook's register, where that is still what it was checked against.

    Raises
    ------
    Refusal, NotFoundProblem
        If it does not fit any more: another process was quicker.
    LogbookProblem
        If it would be kept under another name by now.
    """

    def fits() -> None:
        file = addition.register.files[addition.copy_name]
        now = readable(book)
        now.refuse_unread(addition.copy_name)
        _check_unique(Register({**now.files, addition.copy_name: file}))
        if addition.outcome == "added" and addition.copy_name in now.files:
            raise LogbookProblem("logbook.busy", folder=str(book.folder))

    if addition.outcome != "unchanged":
        book.keep_text(book.register_folder / addition.copy_name, addition.data, fits)


def add(book: Logbook, data: bytes, name: str) -> Addition:
    """Read, check and keep one file; see :func:`parse` and :func:`check` for what it raises."""
    addition = check(book, load(book), parse(data, name), data)
    keep(book, addition)
    return addition


def _folded(name: str) -> str:
    """Reduce a name to what tells it from others, in any script."""
    plain = "".join(c for c in unicodedata.normalize("NFKD", name) if not unicodedata.combining(c))
    return re.sub(r"[\W_]+", "-", plain.casefold()).strip("-") or name


def _check_unique(register: Register) -> None:
    seen: dict[tuple[str, str], str] = {}
    for file in register.files.values():
        names = [("pack", p.name) for p in file.packs]
        if file.aircraft:
            names.append(("aircraft", file.aircraft.name))
        for kind, name in names:
            key = (kind, name.casefold())
            if key in seen:
                other = seen[key] if seen[key] != file.name else ""
                raise Refusal(
                    file.name,
                    RegisterRefused.TWICE,
                    kind=kind,
                    name=name,
                    other=other,
                )
            seen[key] = file.name


def _syntax(name: str, message: Text) -> Refusal:
    place = re.search(r"\(at line (\d+), column (\d+)\)", message) if isinstance(message, str) else None
    what = message
    if isinstance(message, str):  # the reader's own words, which are English
        what = message.split(" (at ", maxsplit=1)[0]
        what = f"{what[0].lower()}{what[1:]}"
    return Refusal(name, RegisterRefused.NO_TOML, line=int(place[1]) if place else None, what=what)


Path_ = tuple[str | int, ...]


class _Reader:
    """Turns TOML values into records, strictly, and knows where in the text each key stands."""

    def __init__(self, name: str, text: str, *, kept: bool) -> None:
        self.name, self.text, self._kept = name, text, kept

    def refuse(self, path: Path_, code: RegisterRefused, **values: Any) -> Refusal:
        return Refusal(self.name, code, line=line_of(self.text, path), column=dotted(path), **values)

    def check_keys(self, table: Mapping[str, Any], known: Iterable[str], path: Path_) -> None:
        known = list(known)
        for key in table:
            if key not in known:
                raise self.refuse(
                    (*path, key), RegisterRefused.UNKNOWN_KEY, key=key, alike=nearest(key, known), known=tuple(known)
                )

    def table(self, value: Any, path: Path_) -> dict[str, Any]:
        if not isinstance(value, dict):
            raise self.refuse(path, RegisterRefused.NO_TABLE, value=_kind(value), heading=dotted(path))
        return value

    def build(self, kind: type, value: Any, path: Path_, roots: Mapping[str, Any] | None = None) -> Any:
        table = dict(self.table(value, path))
        hints = get_type_hints(kind)
        self.check_keys(table, hints, path)
        given = {
            key: self.value(hints[key], item, (key,) if key in (roots or {}) else (*path, key))
            for key, item in table.items()
        }
        for f in fields(kind):
            if f.name not in given and f.required:
                raise self.refuse(path, RegisterRefused.KEY_MISSING, key=f.name)
        if "density_15c_kg_m3" in given:
            given.setdefault("density_is_assumed", False)
        try:
            return kind(**given)
        except ValueError as error:
            raise self.refuse(path, RegisterRefused.DO_NOT_FIT, why=str(error)) from error

    def value(self, hint: Any, value: Any, path: Path_) -> Any:
        origin, args = get_origin(hint), get_args(hint)
        if origin in (Union, types.UnionType):
            return self.value(next(a for a in args if a is not type(None)), value, path)
        if isinstance(hint, type) and issubclass(hint, Struct):
            return self.build(hint, value, path)
        if origin is Literal:
            if value not in args:
                alike = nearest(str(value), args)
                raise self.refuse(path, RegisterRefused.NO_CHOICE, found=repr(value), alike=alike, known=args)
            return value
        if origin is tuple:
            if not isinstance(value, list):
                raise self.refuse(path, RegisterRefused.NO_LIST, value=_kind(value))
            if args[-1] is Ellipsis:
                return tuple(self.value(args[0], item, (*path, i)) for i, item in enumerate(value))
            if len(value) != len(args):
                raise self.refuse(path, RegisterRefused.ITEMS, found=len(value), wanted=len(args))
            return tuple(self.value(a, item, (*path, i)) for i, (a, item) in enumerate(zip(args, value, strict=True)))
        return self.plain(hint, value, path)

    def plain(self, hint: Any, value: Any, path: Path_) -> Any:
        if hint is float and isinstance(value, int | float) and not isinstance(value, bool):
            try:
                number = float(value)
            except OverflowError:
                number = math.inf
            if math.isfinite(number):
                return self.bounded(number, path)
            raise self.refuse(path, RegisterRefused.NOT_FINITE, found=str(number))
        if hint is date and isinstance(value, datetime):
            return value.date()
        if isinstance(value, hint) and not (hint is int and isinstance(value, bool)):
            if hint is str and path[-1] == "name" and not value.strip():
                raise self.refuse(path, RegisterRefused.NO_NAME)
            if hint is str and path[-1] == "name" and not (self._kept or is_name(value)):
                raise self.refuse(path, RegisterRefused.UNFIT_NAME, found=value, longest=LONGEST_NAME)
            return self.bounded(value, path) if hint is int else value
        kinds: dict[Any, ValueCode] = {
            float: ValueCode.NUMBER, int: ValueCode.WHOLE, str: ValueCode.TEXT, date: ValueCode.DAY,
            bool: ValueCode.TRUTH,
        }  # fmt: skip
        wanted = kinds.get(hint, ValueCode.OTHER)
        raise self.refuse(path, RegisterRefused.WRONG_KIND, value=_kind(value), wanted=say(wanted, shown=""))

    def bounded(self, number: Any, path: Path_) -> Any:
        low, high = BOUNDS.get(str(path[-1]), (-math.inf, math.inf))
        if low <= number <= high:
            return number
        raise self.refuse(path, RegisterRefused.OUT_OF_BOUNDS, found=number, low=float(low), high=float(high))


def _kind(value: Any) -> Finding:
    """Say what a value is, and show it unless it is long."""
    kinds: dict[type, ValueCode] = {
        bool: ValueCode.TRUTH, int: ValueCode.WHOLE, float: ValueCode.NUMBER, str: ValueCode.TEXT,
        list: ValueCode.LIST, dict: ValueCode.TABLE,
    }  # fmt: skip
    code = kinds.get(type(value), ValueCode.OTHER)
    return say(code) if isinstance(value, dict | list) else say(code, shown=repr(value))


def dotted(path: Path_) -> str:
    """Write a key path as people do: ``layouts[2].antennas[1].axis``, counted from 1."""
    text = ""
    for step in path:
        text += f"[{step + 1}]" if isinstance(step, int) else f".{step}" if text else step
    return text


_HEADER = re.compile(r"^\s*(\[\[?)\s*([^\]]+?)\s*\]\]?\s*(#.*)?$")
_KEY = re.compile(r"^\s*([A-Za-z0-9_\-\"'.\s]+?)\s*=")


def line_of(text: str, path: Path_) -> int | None:
    """Find the line (1-based) on which a key path stands, or the nearest enclosing one; None where not to be told."""
    best: tuple[int, int] | None = None
    counts: dict[tuple[str | int, ...], int] = {}
    here: tuple[str | int, ...] = ()
    for number, line in enumerate(text.splitlines(), 1):
        if header := _HEADER.match(line):
            here = ()
            names = [n.strip().strip("\"'") for n in header[2].split(".")]
            for depth, part in enumerate(names):
                here = (*here, part)
                last = depth == len(names) - 1
                if last and header[1] == "[[":
                    counts[here] = counts.get(here, -1) + 1
                if here in counts:
                    here = (*here, counts[here])
            found = here
        elif key := _KEY.match(line):
            found = (*here, *(n.strip().strip("\"'") for n in key[1].split(".")))
        else:
            continue
        found = found[: len(path)]
        if found == path[: len(found)] and (best is None or len(found) > best[0]):
            best = (len(found), number)
    return best[1] if best else None
