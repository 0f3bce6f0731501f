"""Limits files: one TOML file an aircraft in the logbook's ``limits`` folder, for a person to read and edit.

::

    aircraft = "Tern"

    [[limits]]
    name = "sag"                  # yours, unique in the file
    event = "sag"                 # or matter = …, figure = "pack.state_after", channel = "engine.egt_c"
    level = "note"                # an event or a matter: what it deserves whenever it is there
    above = { watch = 15 }        # or below = { watch = 30, act = 20 }; the number is passed, not reached
    unit = "%"
    part = "pack.rx1"             # only this one; a figure of a pack may name the pack itself
    for_s = 0.5                   # how long, where that matters
    phase = "flight"              # where it holds; "airborne" for all of it off the ground
    source = "maker's manual"     # or "owner", "common practice"
    note = ""

What a file leaves out keeps the level of common practice. ``level = "fine"`` takes an event's level away.
"""

from __future__ import annotations

import hashlib
import math
import os
import tomllib
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import suppress
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

from analyser.core.channels import VOCABULARY, names_a_quantity, parse
from analyser.core.findings import Finding, say
from analyser.core.levels import COMMON_PRACTICE, Level, Limit, Limits, On, Origin
from analyser.programme.limits import PHASES
from analyser.programme.measures import BY_ID
from importers.refusal import Refusal
from spooldown.judging.codes import LimitsRefused as Why
from spooldown.logbook.plain import plain
from spooldown.problems import nearest
from spooldown.register import dotted, line_of

if TYPE_CHECKING:
    from spooldown.logbook.book import Logbook

ONS: tuple[On, ...] = ("event", "matter", "figure", "channel")
LEVELS = ("fine", "note", "watch", "act")
BOUNDED = LEVELS[1:]
KEYS = ("name", *ONS, "level", "above", "below", "unit", "part", "for_s", "phase", "source", "note")


def path_of(book: Logbook, aircraft: str) -> Path:
    """Where an aircraft's limits file is, or would be."""
    from spooldown.logbook.book import slug

    digest = hashlib.sha256(aircraft.encode()).hexdigest()[:6]
    stem = slug(aircraft, "aircraft")
    return book.limits_folder / f"{stem if stem == aircraft.casefold() else f'{stem}-{digest}'}.toml"


def text_of(book: Logbook, aircraft: str) -> str:
    """An aircraft's limits file as it is, '' where there is none.

    Raises
    ------
    Refusal
        If it cannot be read, is no text, or has nothing in it.
    """
    path = path_of(book, aircraft)
    try:
        text = plain(path).read_text("utf-8")
    except FileNotFoundError:
        return ""
    except UnicodeDecodeError as error:
        raise Refusal(str(path), Why.NOT_UTF8, byte=error.start) from error
    except OSError as error:
        raise Refusal(str(path), Why.UNREADABLE, why=error.strerror or str(error)) from error
    if not text.strip():  # as an interrupted editor leaves it
        raise Refusal(str(path), Why.EMPTY)
    return text


def own_limits(book: Logbook, aircraft: str) -> tuple[Limit, ...]:
    """Limits of an aircraft's own file; none where it has no file.

    Raises
    ------
    Refusal
        Naming line and key of whatever is wrong.
    """
    text = text_of(book, aircraft)
    return parse_limits(text, str(path_of(book, aircraft)), aircraft) if text else ()


def limits_of(book: Logbook, aircraft: str) -> Limits:
    """Limits that hold for an aircraft: common practice with its own over it."""
    return COMMON_PRACTICE.with_own(own_limits(book, aircraft))


class Held(dict[str, Limits]):
    """Limits by aircraft, of those that have a file of their own.

    ``unreadable`` says by aircraft why a file does not read: what it would judge is not judged at all, for limits of
    common practice may be wider than its own.
    """

    def __init__(self) -> None:
        super().__init__()
        self.unreadable: dict[str, Finding] = {}


def all_limits(book: Logbook, names: Iterable[str]) -> Held:
    """Limits of every aircraft that has a file of its own; one that does not read is told once the logbook is left."""
    from spooldown.logbook.book import lost_texts

    held = Held()
    with suppress(OSError):  # a folder that may not be entered is told below
        for file in lost_texts(book, book.limits_folder):
            book.left_out[say("check.text_gone", file=file)] = None
    if not os.path.lexists(book.limits_folder):
        return held
    for name in dict.fromkeys(names):
        try:
            own = own_limits(book, name) if name else ()
        except Refusal as refusal:
            held.unreadable[name] = refusal.finding
            book.left_out[refusal.finding] = None
            continue
        if own:
            held[name] = COMMON_PRACTICE.with_own(own)
    return held


def save(book: Logbook, aircraft: str, text: str, fits: Callable[[], None] = lambda: None) -> tuple[Limit, ...]:
    """Check a limits file and keep it, whole or not at all; one without any text is taken out.

    Parameters
    ----------
    fits : callable
        Raises where what is there by then is not to be replaced.

    Raises
    ------
    Refusal
        If anything in it is wrong; the old file stays.
    """
    path = path_of(book, aircraft)
    limits = parse_limits(text, path.name, aircraft)
    if text.strip():
        book.keep_text(path, text.encode(), fits)
    else:
        with book.writing():
            fits()
            book.drop_text(path)
    return limits


def parse_limits(text: str, name: str, aircraft: str) -> tuple[Limit, ...]:
    """Read and check one limits file.

    Parameters
    ----------
    text, name : str
        The file's text, and its name as shown in refusals.
    aircraft : str
        Whose limits they must be.

    Raises
    ------
    Refusal
        Naming line and key of whatever is wrong: an unknown key, event, figure or channel, a unit that does not fit,
        levels that contradict each other, two limits of one name or on one thing.
    """
    try:
        tree = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        raise Refusal(name, Why.NO_TOML, why=str(error)[:120]) from error
    reader = _Reader(name, text)
    reader.known_keys(tree, ("aircraft", "limits"), ())
    whose = tree.get("aircraft", aircraft)
    if whose != aircraft:
        raise reader.refuse(Why.OTHER_AIRCRAFT, ("aircraft",), whose=str(whose), aircraft=aircraft)
    tables = tree.get("limits", [])
    if not isinstance(tables, list):
        raise reader.refuse(Why.WRONG_KIND, ("limits",), wanted="[[limits]]")
    limits = [reader.limit(table, ("limits", k)) for k, table in enumerate(tables)]
    names: dict[str, int] = {}
    things: dict[tuple[str, ...], int] = {}
    for k, limit in enumerate(limits):
        if names.setdefault(limit.name, k) != k:
            raise reader.refuse(Why.NAMED_TWICE, ("limits", k, "name"), name=limit.name)
        thing = (limit.on, limit.of, limit.part, *((limit.phase,) if limit.on == "channel" else ()))
        if things.setdefault(thing, k) != k:
            raise reader.refuse(
                Why.SET_TWICE, ("limits", k), of=limit.of, first=limits[things[thing]].name, second=limit.name
            )
    return tuple(limits)


class _Reader:
    """Turns one file's tables into limits and knows where in the text each key stands."""

    def __init__(self, name: str, text: str) -> None:
        self.name, self.text = name, text

    def refuse(self, why: Why, path: tuple[str | int, ...], **values: Any) -> Refusal:
        return Refusal(self.name, why, line=line_of(self.text, path), column=dotted(path), **values)

    def known_keys(self, table: Mapping[str, Any], known: Sequence[str], path: tuple[str | int, ...]) -> None:
        for key in table:
            if key not in known:
                raise self.refuse(
                    Why.UNKNOWN_KEY, (*path, key), key=key, alike=nearest(key, known), known=tuple(known)
                )  # fmt: skip

    def limit(self, table: Any, path: tuple[str | int, ...]) -> Limit:
        if not isinstance(table, dict):
            raise self.refuse(Why.WRONG_KIND, path, wanted="[[limits]]")
        self.known_keys(table, KEYS, path)
        texts = {key: self._text(table, key, path) for key in ("name", *ONS, "unit", "part", "phase", "note")}
        if not texts["name"].strip():
            raise self.refuse(Why.NO_NAME, path)
        on = [x for x in ONS if texts[x]]
        if len(on) != 1:
            raise self.refuse(Why.ON_WHAT, path, given=tuple(on), known=ONS)
        thing = texts[on[0]]
        self._known_thing(on[0], thing, (*path, on[0]))
        above, below = (self._bounds(table.get(side, {}), (*path, side), up=side == "above") for side in SIDES)
        if above and below and max(below.values()) >= min(above.values()):
            raise self.refuse(
                Why.CONTRADICT, (*path, "below"), below=max(below.values()), above=min(above.values())
            )  # fmt: skip
        level = self._choice(table, "level", LEVELS, "fine", path)
        if on[0] in ("figure", "channel") and not (above or below):
            raise self.refuse(Why.NO_NUMBER, path, thing=thing)
        self._fitting_unit(on[0], thing, texts["unit"], (*path, "unit"))
        if texts["phase"] and texts["phase"] not in PHASES:
            raise self.refuse(
                Why.NO_CHOICE, (*path, "phase"), found=texts["phase"], alike=nearest(texts["phase"], PHASES),
                known=PHASES,
            )  # fmt: skip
        for_s = self._number(table.get("for_s", 0.0), (*path, "for_s"))
        if for_s < 0:
            raise self.refuse(Why.NEGATIVE, (*path, "for_s"), found=for_s)
        source = self._choice(table, "source", tuple(Origin), Origin.OWNER, path)
        return Limit(
            texts["name"].strip(), on[0], thing, Level[level.upper()], above, below,
            unit=texts["unit"], part=texts["part"], for_s=for_s, phase=texts["phase"], source=Origin(source),
            note=texts["note"],
        )  # fmt: skip

    def _text(self, table: Mapping[str, Any], key: str, path: tuple[str | int, ...]) -> str:
        value = table.get(key, "")
        if not isinstance(value, str):
            raise self.refuse(Why.WRONG_KIND, (*path, key), wanted=f'{key} = "…"')
        return value

    def _choice(
        self, table: Mapping[str, Any], key: str, known: Sequence[str], otherwise: str, path: tuple[str | int, ...]
    ) -> str:
        value = self._text({key: table.get(key, otherwise)}, key, path)
        if value not in known:
            raise self.refuse(Why.NO_CHOICE, (*path, key), found=value, alike=nearest(value, known), known=tuple(known))
        return value

    def _number(self, value: Any, path: tuple[str | int, ...]) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
            raise self.refuse(Why.WRONG_KIND, path, wanted=f"{path[-1]} = 1.5")
        return float(value)

    def _bounds(self, table: Any, path: tuple[str | int, ...], *, up: bool) -> dict[str, float]:
        if not isinstance(table, dict):
            raise self.refuse(Why.WRONG_KIND, path, wanted=f"{path[-1]} = {{ watch = 1.5 }}")
        self.known_keys(table, BOUNDED, path)
        bounds = {key: self._number(table[key], (*path, key)) for key in BOUNDED if key in table}
        for (mild, a), (grave, b) in pairwise(bounds.items()):
            if a >= b if up else a <= b:
                raise self.refuse(
                    Why.NOT_IN_ORDER, (*path, grave), mild=mild, grave=grave, mild_at=a, grave_at=b, above=up
                )  # fmt: skip
        return bounds

    def _known_thing(self, on: On, thing: str, path: tuple[str | int, ...]) -> None:
        known = known_things(on)
        if thing in known or (on == "channel" and names_a_quantity(thing)):
            return
        raise self.refuse(Why.UNKNOWN_OF, path, on=on, thing=thing, alike=nearest(thing, known))

    def _fitting_unit(self, on: On, thing: str, unit: str, path: tuple[str | int, ...]) -> None:
        wanted = unit_of(on, thing)
        if unit and wanted is not None and unit != wanted:
            raise self.refuse(Why.OTHER_UNIT, path, unit=unit, wanted=wanted, thing=thing)


SIDES = ("above", "below")


def known_things(on: On) -> list[str]:
    """What a limit may be set on: kinds of event, matters, ids of figures, channels without their instance."""
    if on == "figure":
        return list(BY_ID)
    if on == "channel":
        return [f"{c.subject}.{c.quantity}" for c in VOCABULARY]
    return [x.of for x in COMMON_PRACTICE.every if x.on == on]


def unit_of(on: On, thing: str) -> str | None:
    """The unit its numbers are in; ``None`` where the log decides."""
    if on == "figure":
        measure = BY_ID[thing]
        return None if measure.of == "antenna" and not measure.unit else measure.unit
    if on == "channel":
        found = parse(thing)
        channel = found.channel if found else next(
            (c for c in VOCABULARY if f"{c.subject}.{c.quantity}" == thing), None
        )  # fmt: skip
        return channel.unit if channel else None
    held = COMMON_PRACTICE.find(on, thing)
    return held.unit if held else None


def written(aircraft: str, limits: Sequence[Limit]) -> str:
    """A limits file as text, with a word beside every limit, for its owner to edit."""
    import tomlkit

    from reports.words.catalogue import has, message

    file = tomlkit.document()
    for line in message("limits.file.head", aircraft=aircraft).splitlines():
        file.add(tomlkit.comment(line))
    file.add("aircraft", tomlkit.item(aircraft))
    tables = tomlkit.aot()
    for limit in limits:
        table = tomlkit.table()
        table.add("name", limit.name)
        table.add(limit.on, limit.of)
        code = f"limits.of.{limit.on}.{limit.of}"
        if limit.on == "figure":
            code = str(BY_ID[limit.of].code)
        if has(code):
            table[limit.on].comment(message(code))
        if limit.on in ("event", "matter"):
            table.add("level", limit.level.name.lower())
        for side in SIDES:
            if bounds := cast(Mapping[str, float], getattr(limit, side)):
                inline = tomlkit.inline_table()
                inline.update({k: int(v) if float(v).is_integer() else v for k, v in bounds.items()})
                table.add(side, inline)
        for key in ("unit", "part", "phase"):
            if value := getattr(limit, key):
                table.add(key, value)
        if limit.for_s:
            table.add("for_s", limit.for_s)
        table.add("source", str(limit.source))
        if limit.note:
            table.add("note", limit.note)
        tables.append(table)
    file.add("limits", tables)
    return tomlkit.dumps(file)
