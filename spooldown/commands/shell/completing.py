"""What the shell offers when a name is begun: flights, aircraft, packs, layouts, mappings, words to choose from."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING, Any

import typer

from spooldown.settings import logbook_folder

if TYPE_CHECKING:
    from spooldown.logbook.book import Logbook
    from spooldown.register import Register

Complete = Callable[[typer.Context, str], list[str]]


def of_book(names: Callable[[Logbook], Iterable[str]]) -> Complete:
    """Complete names that the logbook knows."""

    def complete(ctx: typer.Context, incomplete: str) -> list[str]:
        try:
            from spooldown.logbook.book import Logbook

            with Logbook(logbook_folder(ctx.params.get("logbook"))) as book:
                return fitting(names(book), incomplete)
        except Exception:  # a completion never complains
            return []

    return complete


def of_register(names: Callable[[Register], Iterable[str]]) -> Complete:
    """Complete names that the registered files give."""

    def from_book(book: Logbook) -> Iterable[str]:
        from spooldown import register

        return names(register.load(book))

    return of_book(from_book)


def one_of(*words: str) -> Complete:
    """Complete one of a few fixed words."""

    def complete(ctx: typer.Context, incomplete: str) -> list[str]:  # noqa: ARG001 - the shell's helper hands it over
        return fitting(words, incomplete)

    return complete


def fitting(names: Iterable[str], incomplete: str) -> list[str]:
    """Keep the names that begin as what was typed, each once."""
    return [name for name in dict.fromkeys(names) if name.startswith(incomplete)]


def _numbered(book: Logbook) -> Iterable[str]:
    return (str(number) for number, _, _ in book.range_checks())


def _owners(book: Logbook) -> Iterable[str]:
    from spooldown import register

    return [*register.load(book).aircraft, *(f.aircraft for f in book.flights() if f.aircraft)]


def _mappings(book: Logbook) -> Iterable[str]:
    return (path.stem for path in book.mapping_files())


def _each(pick: Callable[[Any], Iterable[str]]) -> Callable[[Register], Iterable[str]]:
    return lambda known: (name for one in known.aircraft.values() for name in pick(one))


def _places(known: Register) -> Iterable[str]:
    """Pack places with the sign that follows: ``rx1=``."""
    return (f"{pack.role}=" for pack in known.packs.values() if pack.role)


def _fitted(known: Register) -> Iterable[str]:
    return (f"{pack.role}={pack.name}" for pack in known.packs.values() if pack.role)


flight_words = of_book(lambda book: ("latest", *(f.flight_id for f in book.flights())))
removed_flights = of_book(lambda book: (r.flight_id for r in book.removed()))
range_check_numbers = of_book(_numbered)
aircraft_names = of_book(_owners)
mapping_names = of_book(_mappings)
pack_places = of_register(_places)
packs_fitted = of_register(_fitted)
layout_names = of_register(_each(lambda one: (x.name for x in one.layouts)))
receiver_names = of_register(_each(lambda one: (x.name for x in one.receivers)))
tank_places = of_register(_each(lambda one: (f"{x.name}=" for x in one.tanks)))
