"""The command ``spooldown``: thin commands over the logbook. Heavy imports wait until a command needs them."""

from __future__ import annotations

import io
import json
import os
import sys
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, NoReturn

import typer

from spooldown.settings import EXIT_CODES_TEXT, LOGBOOK_VARIABLE, ExitCode, logbook_folder

if TYPE_CHECKING:
    from analyser.aircraft import Aircraft
    from importers.read import Plan
    from spooldown.adding import Outcome
    from spooldown.logbook.book import Flight, Logbook
    from spooldown.logbook.note import FlightNote
    from spooldown.register import Register
    from spooldown.results import Analysed

app = typer.Typer(
    name="spooldown",
    help="Log flight sessions of turbine model jets and read what they say: fuel, packs, radio link.",
    epilog=EXIT_CODES_TEXT,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"]},
)

CAUTION = (
    "A record of what was logged, no advice to fly: the makers' manuals, your association's safety code and local law"
    " decide."
)

Book = Annotated[
    Path | None,
    typer.Option("--logbook", envvar=LOGBOOK_VARIABLE, help="The logbook folder.", show_default="your data folder"),
]
AsJson = Annotated[bool, typer.Option("--json", help="Print JSON for a script.")]
DryRun = Annotated[bool, typer.Option("--dry-run", help="Show what would be done; write nothing.")]


def _flight_names(ctx: typer.Context, incomplete: str) -> list[str]:
    """Complete flight ids in the shell."""
    try:
        from spooldown.logbook.book import Logbook

        with Logbook(logbook_folder(ctx.params.get("logbook"))) as book:
            return [f.flight_id for f in book.flights() if f.flight_id.startswith(incomplete)]
    except Exception:  # a completion never complains
        return []


FlightId = Annotated[
    str, typer.Argument(help="Flight id, as `spooldown flights` lists it.", autocompletion=_flight_names)
]


@contextmanager
def _open(folder: Path | None, *, must_exist: bool = True) -> Iterator[Logbook]:
    from spooldown.logbook.book import Logbook
    from spooldown.problems import NotFoundProblem

    place = logbook_folder(folder)
    with Logbook(place) as book:
        if must_exist and not book.exists:
            raise NotFoundProblem(
                f"there is no logbook at {place} yet; import a log, name another with --logbook,"
                " or see `spooldown demo`."
            )
        yield book


# Logs in


@app.command("import")
def import_logs(
    paths: Annotated[list[Path], typer.Argument(help="CSV files, folders, or - for standard input.")],
    aircraft: Annotated[str, typer.Option(help="Whose flights these are.")] = "",
    answer: Annotated[list[str] | None, typer.Option(metavar="KEY=VALUE", help="Settle an open question.")] = None,
    mapping: Annotated[list[Path] | None, typer.Option(help="A saved column mapping to use.")] = None,
    save_mapping: Annotated[str, typer.Option(metavar="NAME", help="Remember this column mapping.")] = "",
    join: Annotated[bool, typer.Option("--join", help="The files are one flight: put them on one clock.")] = False,
    offset: Annotated[
        list[float] | None,
        typer.Option(metavar="SECONDS", help="With --join: how long after the first file the next one starts."),
    ] = None,
    dry_run: DryRun = False,
    as_json: AsJson = False,
    logbook: Book = None,
) -> None:
    """Import CSV telemetry logs; the same content twice changes nothing."""
    from importers.refusal import Refusal
    from spooldown import adding, register
    from spooldown.problems import Problem, UsageProblem
    from spooldown.terminal import bytes_bar, complain

    if offset and not join:
        raise UsageProblem("--offset belongs to --join.")
    answers = dict(_pair(item, "--answer") for item in answer or [])
    outcomes: list[Outcome] = []
    failures: list[tuple[str, str, int]] = []
    with ExitStack() as stack:
        book = stack.enter_context(_open(logbook, must_exist=False))
        known = register.load(book)
        owner = _owner(known, aircraft)
        files = adding.find_logs([_stdin(stack) if str(p) == "-" else p for p in paths])
        mappings = [*(mapping or []), *sorted(book.mappings_folder.glob("*.toml"))]
        update = stack.enter_context(bytes_bar(sum(f.path.stat().st_size for f in files), quiet=as_json))
        before = 0
        if join:
            from spooldown.joining import add_joined

            outcomes += add_joined(
                book, files, known, aircraft=owner, answers=answers, mappings=mappings, offsets_s=offset or [],
                dry_run=dry_run,
            )  # fmt: skip
            files = []
        for file in files:
            try:
                outcomes.append(
                    adding.add_file(
                        book,
                        file,
                        known,
                        aircraft=owner,
                        answers=answers,
                        mappings=mappings,
                        dry_run=dry_run,
                        progress=lambda n, start=before, name=file.name: update(name, start + n),  # type: ignore[misc]
                    )
                )
            except Refusal as refusal:
                failures.append((file.name, str(refusal), ExitCode.REFUSED))
            except Problem as problem:
                failures.append((file.name, str(problem), problem.exit_code))
            before += file.path.stat().st_size
        if save_mapping and not dry_run:
            _save_mapping(book, save_mapping, [o.plan for o in outcomes if o.plan])
    if as_json:
        _say_json(
            {"files": [_outcome_json(o) for o in outcomes], "refused": [{"file": n, "why": w} for n, w, _ in failures]}
        )
    else:
        for outcome in outcomes:
            _say_outcome(outcome)
    for _, why, _ in failures:
        complain(why)
    if failures:
        raise typer.Exit(max(code for *_, code in failures))


def _save_mapping(book: Logbook, name: str, plans: list[Plan]) -> None:
    from spooldown.logbook.book import slug
    from spooldown.logbook.store import write_whole
    from spooldown.problems import UsageProblem
    from spooldown.terminal import say

    if len({p.fingerprint for p in plans}) != 1:
        raise UsageProblem("--save-mapping needs logs that all have the same columns; import them on their own.")
    from importers.mapping import to_toml

    with book.writing():
        book.mappings_folder.mkdir(exist_ok=True)
        write_whole(book.mappings_folder / f"{slug(name, 'mapping')}.toml", to_toml(plans[0], name).encode())
    say(f"Saved the mapping as {slug(name, 'mapping')}.")


def _stdin(stack: ExitStack) -> Path:
    """Put standard input into a file: its hash must be known before it is read."""
    import shutil
    import tempfile

    folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="spooldown-")))
    path = folder / "standard-input.csv"
    with path.open("wb") as file:
        shutil.copyfileobj(sys.stdin.buffer, file, 1 << 20)
    return path


def _say_outcome(outcome: Outcome) -> None:
    from spooldown.adding import UNASSIGNED
    from spooldown.terminal import say, table

    if outcome.state == "known":
        say(f"{outcome.name}: already in the logbook as {', '.join(outcome.flight_ids)}; nothing changed.")
        return
    if outcome.state == "skipped":
        say(f"{outcome.name}: left out, {'; '.join(outcome.notices)}.")
        return
    owner = f"{outcome.aircraft}, {outcome.why_aircraft}" if outcome.aircraft else UNASSIGNED
    if outcome.state == "planned" and outcome.plan:
        plan = outcome.plan
        say(f"{outcome.name}: {plan.shape}; clock {plan.clock}; {owner}.")
        table(
            ("column", "channel", "unit", "conversion", "samples", "sure", "because"),
            [
                (
                    c.heading,
                    c.channel or "(dropped)",
                    c.unit_found,
                    c.conversion,
                    ", ".join(c.samples[:3]),
                    f"{c.confidence:.0%}",
                    c.reason,
                )
                for c in plan.columns
            ],
            numeric=(5,),
        )
        for question in plan.questions:
            say(f"  open: {question.text} (--answer {question.key}={'|'.join(question.answers)})")
    else:
        say(f"{outcome.name}: imported {', '.join(outcome.flight_ids)} ({owner}).")
    for notice in outcome.notices:
        say(f"  {notice}")


def _outcome_json(outcome: Outcome) -> dict[str, Any]:
    plan = outcome.plan
    return {
        "file": outcome.name,
        "state": outcome.state,
        "flights": list(outcome.flight_ids),
        "aircraft": outcome.aircraft,
        "aircraft_from": outcome.why_aircraft,
        "notices": list(outcome.notices),
        "columns": [
            {
                "heading": c.heading,
                "channel": c.channel,
                "unit": c.unit_found,
                "conversion": c.conversion,
                "samples": list(c.samples),
                "confidence": c.confidence,
                "reason": c.reason,
            }
            for c in (plan.columns if plan else ())
        ],
        "questions": [
            {"key": q.key, "text": q.text, "answers": list(q.answers)} for q in (plan.questions if plan else ())
        ],
    }


# What the log cannot know


@app.command("register")
def register_files(
    files: Annotated[
        list[Path] | None, typer.Argument(help="TOML files: an aircraft with its parts, packs, or both.")
    ] = None,
    example: Annotated[bool, typer.Option("--example", help="Print a file to start from.")] = False,
    dry_run: DryRun = False,
    logbook: Book = None,
) -> None:
    """Register aircraft, engines, tanks, packs and antenna layouts from TOML files."""
    from spooldown import register
    from spooldown.problems import UsageProblem
    from spooldown.terminal import say

    if example:
        say(register.EXAMPLE.rstrip())
        return
    if not files:
        raise UsageProblem("name a TOML file, or see `spooldown register --example`.")
    with _open(logbook, must_exist=False) as book:
        known = register.load(book)
        checked = []
        for path in files:
            data = _read(path)
            checked.append((register.parse(data, str(path)), data))
        for file, data in checked:
            if dry_run:
                outcome = register.what_add_does(known, file, book.register_folder / file.copy_name, data)
            else:
                outcome = register.add(book, register.load(book), file, data)
            names = [f"aircraft {file.aircraft.name}"] if file.aircraft else []
            names += [f"pack {p.name}" for p in file.packs]
            say(f"{', '.join(names)}: {'would be ' if dry_run else ''}{outcome} (register/{file.copy_name}).")


@app.command()
def note(
    flight: Annotated[str, typer.Argument(help="Flight id.", autocompletion=_flight_names)] = "",
    sheet: Annotated[Path | None, typer.Option(help="Take the notes from a field sheet (CSV).")] = None,
    aircraft: Annotated[str, typer.Option(help="Whose flight it is.")] = "",
    pack: Annotated[list[str] | None, typer.Option(metavar="ROLE=NAME", help="Pack fitted.")] = None,
    layout: Annotated[str, typer.Option(help="Antenna layout in use.")] = "",
    fuel_before: Annotated[list[str] | None, typer.Option(metavar="TANK=ML", help="Fuel on board before.")] = None,
    fuel_put_in: Annotated[list[str] | None, typer.Option(metavar="TANK=ML", help="Fuel put in afterwards.")] = None,
    charged: Annotated[list[str] | None, typer.Option(metavar="ROLE=MAH", help="Charge put back.")] = None,
    resistance: Annotated[list[str] | None, typer.Option(metavar="ROLE=MOHM", help="Resistance read.")] = None,
    cell_resistance: Annotated[
        list[str] | None, typer.Option(metavar="ROLE=MOHM/MOHM", help="Resistance read, cell by cell.")
    ] = None,
    pack_temperature: Annotated[list[str] | None, typer.Option(metavar="ROLE=C", help="Pack temperature.")] = None,
    air_temperature: Annotated[float | None, typer.Option(metavar="C", help="Air temperature.")] = None,
    pilot: Annotated[str, typer.Option(metavar="LAT,LON[,ALT]", help="Where the pilot stood.")] = "",
    remarks: Annotated[str, typer.Option(help="Anything else.")] = "",
    forget: Annotated[bool, typer.Option("--forget", help="First drop what was noted.")] = False,
    dry_run: DryRun = False,
    logbook: Book = None,
) -> None:
    """Note what the log cannot know: packs fitted, fuel, charge put back, resistance, weather, remarks."""
    from spooldown import register
    from spooldown.demo import apply_sheet
    from spooldown.logbook.note import FlightNote
    from spooldown.problems import UsageProblem
    from spooldown.sheet import read_sheet
    from spooldown.terminal import say, say_json

    if bool(flight) == bool(sheet):
        raise UsageProblem("name a flight, or a field sheet with --sheet, one of the two.")
    with _open(logbook) as book:
        known = register.load(book)
        if sheet:
            data = _read(sheet)
            if dry_run:
                touched = [r.flight_id for r in read_sheet(data, str(sheet), book.flights(), known)]
            else:
                touched = apply_sheet(book, known, data, str(sheet))
            say(f"{'Would note' if dry_run else 'Noted'} {len(touched)} flights: {', '.join(touched)}.")
            return
        which = book.flight(flight)
        owner = _owner(known, aircraft)
        newer = _typed_note(
            known, owner or which.aircraft, pack, layout, fuel_before, fuel_put_in, charged, resistance,
            cell_resistance, pack_temperature, air_temperature, pilot, remarks,
        )  # fmt: skip
        old = FlightNote() if forget else book.notes().get(flight, FlightNote())
        merged = old.updated(newer)
        if not dry_run and (owner or newer or forget):
            with book.writing():
                if owner:
                    book.assign([flight], owner)
                book.set_notes({flight: merged})
        say(f"{'Would be noted' if dry_run else 'Noted'} for {flight}:")
        from spooldown.logbook.codec import to_json

        say_json({k: v for k, v in json.loads(to_json(merged)).items() if v})


def _typed_note(
    known: Register,
    owner: str,
    pack: list[str] | None,
    layout: str,
    fuel_before: list[str] | None,
    fuel_put_in: list[str] | None,
    charged: list[str] | None,
    resistance: list[str] | None,
    cell_resistance: list[str] | None,
    pack_temperature: list[str] | None,
    air_temperature: float | None,
    pilot: str,
    remarks: str,
) -> FlightNote:
    """Check typed notes against the register."""
    from analyser.aircraft import FuelNote, PackNote
    from spooldown.logbook.note import FlightNote, out_of_bounds
    from spooldown.problems import UsageProblem, not_found

    if layout:
        whose = known.find_aircraft(owner)
        names = [x.name for x in whose.layouts] if whose else []
        if layout not in names:
            raise not_found("antenna layout", layout, names, remedy="register it first")
    fuel: dict[str, dict[str, float]] = {}
    for items, key, option in (
        (fuel_before, "before_ml", "--fuel-before"),
        (fuel_put_in, "put_in_ml", "--fuel-put-in"),
    ):
        for item in items or []:
            tank, value = _pair(item, option)
            fuel.setdefault(tank, {})[key] = _number(value, option)
    readings: dict[str, dict[str, Any]] = {}
    for items, key, option in (
        (charged, "charged_mah", "--charged"),
        (resistance, "resistance_mohm", "--resistance"),
        (pack_temperature, "temperature_c", "--pack-temperature"),
    ):
        for item in items or []:
            role, value = _pair(item, option)
            readings.setdefault(role, {})[key] = _number(value, option, below_zero=option == "--pack-temperature")
    for item in cell_resistance or []:
        role, value = _pair(item, "--cell-resistance")
        cells = tuple(_number(v, "--cell-resistance") for v in value.split("/"))
        readings.setdefault(role, {})["cell_resistance_mohm"] = cells
    if air_temperature is not None and (wanted := out_of_bounds("air_temperature_c", air_temperature)):
        raise UsageProblem(f"--air-temperature wants {wanted}, got {air_temperature:g}.")
    place = [_number(v, "--pilot", below_zero=True) for v in pilot.split(",")] if pilot else []
    if place and (len(place) not in (2, 3) or abs(place[0]) > 90 or abs(place[1]) > 180):
        raise UsageProblem("--pilot wants latitude,longitude or latitude,longitude,altitude in degrees and metres.")
    return FlightNote(
        packs={role: known.find_pack(name).name for role, name in (_pair(i, "--pack") for i in pack or [])},
        layout=layout,
        fuel={k: FuelNote(**v) for k, v in fuel.items()},
        readings={k: PackNote(**v) for k, v in readings.items()},
        air_temperature_c=air_temperature,
        pilot_latitude_deg=place[0] if place else None,
        pilot_longitude_deg=place[1] if place else None,
        pilot_altitude_m=place[2] if len(place) > 2 else None,
        remarks=remarks,
    )


@app.command("range-check")
def range_check(
    aircraft: Annotated[str, typer.Argument(help="Whose range check it is.")],
    sheet: Annotated[
        Path | None, typer.Argument(help="CSV with day, receiver, antenna, distance_m, reduction_db, orientation.")
    ] = None,
    day: Annotated[str, typer.Option(metavar="YYYY-MM-DD", help="When.")] = "",
    receiver: Annotated[str, typer.Option(help="Which receiver.")] = "",
    antenna: Annotated[str, typer.Option(metavar="NUMBER", help="Which antenna; none for the whole receiver.")] = "",
    distance: Annotated[str, typer.Option(metavar="M", help="Distance at which the link just held.")] = "",
    reduction: Annotated[str, typer.Option(metavar="DB", help="How far below full power; the radio's manual.")] = "",
    orientation: Annotated[str, typer.Option(help="How the aircraft stood: nose to pilot.")] = "",
    remarks: Annotated[str, typer.Option(help="Anything else.")] = "",
    dry_run: DryRun = False,
    logbook: Book = None,
) -> None:
    """Keep walked range checks, from a CSV or one typed in; the same check twice is kept once."""
    from spooldown import register
    from spooldown.problems import UsageProblem
    from spooldown.range_sheet import as_sheet, read_range_sheet
    from spooldown.terminal import say

    typed = {
        "day": day, "receiver": receiver, "antenna": antenna, "distance_m": distance, "reduction_db": reduction,
        "orientation": orientation, "remarks": remarks,
    }  # fmt: skip
    if bool(sheet) == any(typed.values()):
        raise UsageProblem("name a CSV file, or type one check with --day, --receiver, --distance and --reduction.")
    with _open(logbook, must_exist=False) as book:
        known = register.load(book)
        owner = _owner(known, aircraft)
        data, name = (_read(sheet), str(sheet)) if sheet else (as_sheet(typed), "the check typed in")
        rows = read_range_sheet(data, name, known, owner)
        new = len(rows) if dry_run else book.add_range_checks((r.aircraft, r.check) for r in rows)
    already = f"; {len(rows) - new} already there" if new < len(rows) else ""
    say(f"{'Would keep' if dry_run else 'Kept'} {new} range check{'' if new == 1 else 's'} of {owner}{already}.")


@app.command("range-checks")
def range_checks(
    aircraft: Annotated[str, typer.Option(help="Only this aircraft's.")] = "",
    remove: Annotated[int | None, typer.Option(metavar="NUMBER", help="Take this one out.")] = None,
    as_json: AsJson = False,
    logbook: Book = None,
) -> None:
    """List the walked range checks and the full-power range each line of them implies."""
    from analyser.range_check import CAUTION as RANGE_CAUTION
    from spooldown.pages import range_results
    from spooldown.terminal import say, table

    with _open(logbook) as book:
        if remove is not None:
            book.remove_range_check(remove)
            say(f"Range check {remove} removed.")
            return
        found = [
            (n, who, c) for n, who, c in book.range_checks() if not aircraft or who.casefold() == aircraft.casefold()
        ]
        results = range_results(book, {who for _, who, _ in found})
    if as_json:
        from spooldown.logbook.codec import to_json

        listed = [{"number": n, "aircraft": who, **json.loads(to_json(c))} for n, who, c in found]
        _say_json({"checks": listed, "lines": {who: json.loads(to_json(r)) for who, r in results.items()}})
        return
    if not found:
        say("No range checks yet; `spooldown range-check` takes them.")
        return
    table(
        ("no.", "aircraft", "day", "receiver", "antenna", "distance m", "reduction dB", "orientation", "remarks"),
        [
            (
                n, who, c.day, c.receiver, c.number or "all", f"{c.distance_m:g}", f"{c.reduction_db:g}", c.orientation,
                c.note,
            )
            for n, who, c in found
        ],
        numeric=(0, 5, 6),
    )  # fmt: skip
    for who, result in results.items():
        say(f"\n{who}: implied full-power range, latest day of each")
        table(
            ("antenna", "orientation", "free-space scaling", "cautious", "since it was moved", "against flown"),
            [
                (
                    line.antenna, line.orientation, line.implied_m.text(),
                    line.cautious_m.text() if line.cautious_m else "", line.moved_db.text() if line.moved_db else "",
                    line.note,
                )
                for line in result.lines
            ],
        )  # fmt: skip
    say(RANGE_CAUTION)


# Looking


@app.command()
def flights(
    aircraft: Annotated[str, typer.Option(help="Only this aircraft's.")] = "",
    as_json: AsJson = False,
    logbook: Book = None,
) -> None:
    """List the flights, oldest first."""
    from spooldown.terminal import say, table

    with _open(logbook) as book:
        found = [f for f in book.flights() if not aircraft or f.aircraft.casefold() == aircraft.casefold()]
        noted = set(book.notes())
    if as_json:
        _say_json([{**_flight_json(f), "noted": f.flight_id in noted} for f in found])
        return
    if not found:
        say("No flights yet." if not aircraft else f"No flights of {aircraft}.")
        return
    table(
        ("flight", "aircraft", "UTC", "minutes", "channels", "noted", "from"),
        [
            (
                f.flight_id,
                f.aircraft or "(unassigned)",
                f"{f.utc_start:%Y-%m-%d %H:%M}" if f.utc_start else "undated",
                f"{f.duration_s / 60:.1f}",
                len(f.channels),
                "yes" if f.flight_id in noted else "",
                f.source,
            )
            for f in found
        ],
        numeric=(3, 4),
    )


@app.command()
def show(
    flight: FlightId,
    every: Annotated[bool, typer.Option("--all", help="Every figure, also those the log cannot support.")] = False,
    as_json: AsJson = False,
    logbook: Book = None,
) -> None:
    """Show one flight in the terminal: what it burned, what the packs gave, how the link held."""
    from analyser.figures import figures_of
    from spooldown.export import encode, rows_of
    from spooldown.pages import title_of
    from spooldown.terminal import say, table

    with _open(logbook) as book:
        one = _one(book, flight)
    if as_json:
        _say_json({w: json.loads(encode(rows_of([one], w), "json")) for w in ("flights", "figures", "events")})
        return
    result = one.record.result
    say(f"{title_of(one)} ({flight}), {result.duration_s / 60:.1f} min logged")
    for subject in ("fuel", "turbine", "packs", "link"):
        rows = [
            (path.rpartition(".")[0], f.label, f.text(), str(f.method), "; ".join(f.doubts) or f.missing)
            for path, f in figures_of(getattr(result, subject))
            if (every or f.value is not None) and (every or path.count(".") < 3)
        ]
        if rows:
            say(f"\n{subject.capitalize()}")
            table(("of", "figure", "value", "how", "but"), rows, numeric=(2,))
    events = list(result.events())
    if events:
        say("\nEvents")
        table(
            ("at", "level", "what"),
            [(f"{e.start_s:.1f} s", e.level.name.lower(), e.summary) for e in events],
            numeric=(0,),
        )
    for item in result.missing():
        say(f"Not in this log: {item.what} (costs {item.cost})" + (f"; {item.remedy}" if item.remedy else "") + ".")
    for sentence in (*one.flight.notices, *one.said):
        say(f"Note: {sentence}")
    say(CAUTION)


@app.command()
def aircraft(as_json: AsJson = False, logbook: Book = None) -> None:
    """List the registered aircraft."""
    from spooldown import register
    from spooldown.terminal import say, table

    with _open(logbook) as book:
        known = register.load(book)
        owners = [f.aircraft for f in book.flights()]
    rows = [
        {
            "name": a.name,
            "engines": [e.name for e in a.engines],
            "tanks": [t.name for t in a.tanks],
            "receivers": [r.name for r in a.receivers],
            "layouts": [x.name for x in a.layouts],
            "flights": owners.count(a.name),
        }
        for a in known.aircraft.values()
    ]
    if as_json:
        _say_json(rows)
    elif rows:
        table(
            tuple(rows[0]),
            [[", ".join(v) if isinstance(v, list) else v for v in r.values()] for r in rows],
            numeric=(5,),
        )
    else:
        say("No aircraft registered; `spooldown register --example` shows how.")


@app.command()
def engines(as_json: AsJson = False, logbook: Book = None) -> None:
    """List the registered engines, aircraft by aircraft, with the tank each drinks from and its makers' limits."""
    _list_parts(
        logbook,
        as_json,
        lambda a: [
            {
                "engine": e.name,
                "tank": e.tank,
                "tank mL": next((t.capacity_ml for t in a.tanks if t.name == e.tank), None),
                "pack place": e.pack_role,
                "max rpm": e.max_rpm,
                "max EGT °C": e.max_egt_c,
                "service every h": e.service_interval_h,
            }
            for e in a.engines
        ],
        numeric=(3, 5, 6, 7),
    )


@app.command()
def layouts(as_json: AsJson = False, logbook: Book = None) -> None:
    """List the registered antenna layouts, antenna by antenna: where each sits and which way it points."""
    _list_parts(
        logbook,
        as_json,
        lambda a: [
            {
                "layout": layout.name,
                "since": layout.since.isoformat() if layout.since else None,
                "receiver": antenna.receiver,
                "antenna": antenna.number,
                "name": antenna.name,
                "forward, right, down m": antenna.position_m,
                "points": antenna.axis,
            }
            for layout in a.layouts
            for antenna in layout.antennas
        ],
        numeric=(4,),
    )


def _list_parts(
    logbook: Path | None, as_json: bool, rows_of: Callable[[Aircraft], list[dict[str, Any]]], numeric: tuple[int, ...]
) -> None:
    """List one kind of part over all aircraft."""
    from spooldown import register
    from spooldown.terminal import say, table

    with _open(logbook) as book:
        known = register.load(book)
    rows = [{"aircraft": a.name, **row} for a in known.aircraft.values() for row in rows_of(a)]
    if as_json:
        _say_json(rows)
    elif rows:
        table(tuple(rows[0]), [[_plain(v) for v in r.values()] for r in rows], numeric=numeric)
    else:
        say("None registered; `spooldown register --example` shows how.")


def _plain(value: Any) -> Any:
    """Write a value for a table's cell."""
    if isinstance(value, tuple):
        return ", ".join(map(_plain, value))
    return f"{value:g}" if isinstance(value, float) and abs(value) < 1e6 else value


@app.command()
def packs(as_json: AsJson = False, logbook: Book = None) -> None:
    """List the registered packs and the flights they were noted in."""
    from spooldown import register
    from spooldown.terminal import say, table

    with _open(logbook) as book:
        known = register.load(book)
        noted = [name for n in book.notes().values() for name in n.packs.values()]
    rows = [
        {
            "name": p.name,
            "usual place": p.role,
            "chemistry": p.chemistry,
            "cells": p.cells,
            "rated mAh": p.rated_mah,
            "since": p.in_service_since.isoformat() if p.in_service_since else None,
            "noted in": noted.count(p.name),
        }
        for p in known.packs.values()
    ]
    if as_json:
        _say_json(rows)
    elif rows:
        table(tuple(rows[0]), [list(r.values()) for r in rows], numeric=(3, 4, 6))
    else:
        say("No packs registered; `spooldown register --example` shows how.")


# Pages and tables out


@app.command()
def pages(
    out: Annotated[Path | None, typer.Option(help="Folder for the pages.", show_default="pages in the logbook")] = None,
    single: Annotated[
        tuple[str, Path] | None, typer.Option(metavar="FLIGHT FILE", help="Only this flight, in one file to send.")
    ] = None,
    compare: Annotated[list[str] | None, typer.Option(metavar="FLIGHT", help="Also lay these side by side.")] = None,
    open_it: Annotated[bool, typer.Option("--open", help="Open the result in the browser.")] = False,
    dry_run: DryRun = False,
    as_json: AsJson = False,
    logbook: Book = None,
) -> None:
    """Build the pages; only what changed is analysed and written again."""
    from reports.site import build_comparison, build_single_flight
    from spooldown import register
    from spooldown.pages import site_of
    from spooldown.problems import UsageProblem
    from spooldown.terminal import say, steps_bar

    with _open(logbook) as book:
        folder = out or book.folder / "pages"
        chosen = [i for item in compare or [] for i in item.split(",") if i]
        for flight_id in [*chosen, *(single[:1] if single else ())]:
            book.flight(flight_id)
        if chosen and (single or len(set(chosen)) < 2):
            raise UsageProblem("--compare wants at least two different flights, and goes without --single.")
        if dry_run:
            say(f"Would build {single[1] if single else folder} from {len(book.flights())} flights.")
            return
        known = register.load(book)
        with steps_bar(quiet=as_json) as step:
            site = site_of(book, known, progress=step)
        if single:
            with _writing_to(single[1]):
                result = build_single_flight(site, single[0], single[1])
            counts: dict[str, int] = {}
        else:
            result, counts = _build(site, folder, as_json)
            if chosen:
                with _writing_to(folder):
                    result = build_comparison(site, chosen, folder)
    if as_json:
        _say_json({"page": str(result.resolve()), **counts})
    else:
        if counts:
            say(f"{counts['written']} pages written, {counts['kept']} unchanged, {counts['removed']} removed.")
        say(str(result.resolve()))
    if open_it:
        import webbrowser

        webbrowser.open(result.resolve().as_uri())


def _build(site: Any, folder: Path, quiet: bool) -> tuple[Path, dict[str, int]]:
    from reports.site import build_site
    from spooldown.terminal import steps_bar

    with steps_bar(quiet=quiet) as step, _writing_to(folder):
        built = build_site(site, folder, progress=step)
    return built.start, {"written": built.written, "kept": built.kept, "removed": built.removed}


@app.command()
def export(
    what: Annotated[str, typer.Argument(help="figures, events, flights or telemetry.")] = "figures",
    flight: Annotated[list[str] | None, typer.Option(help="Only these flights.", autocompletion=_flight_names)] = None,
    form: Annotated[
        str, typer.Option("--format", help="csv, json or parquet.", show_default="by --out, else csv")
    ] = "",
    out: Annotated[Path | None, typer.Option(help="File to write.", show_default="standard output")] = None,
    dry_run: DryRun = False,
    logbook: Book = None,
) -> None:
    """Export results (or one flight's telemetry) as CSV, JSON or Parquet."""
    from spooldown import export as exporting
    from spooldown import register
    from spooldown.problems import UsageProblem
    from spooldown.results import analysed
    from spooldown.terminal import say, steps_bar

    form = exporting.form_of(out, form)
    if form not in ("csv", "json", "parquet") or what not in ("figures", "events", "flights", "telemetry"):
        raise UsageProblem(
            "export figures, events, flights or telemetry as csv, json or parquet, by --format or the file's ending."
        )
    with _open(logbook) as book:
        chosen = [book.flight(i).flight_id for i in flight or []]
        if what == "telemetry":
            if len(chosen) != 1:
                raise UsageProblem("telemetry is exported one flight at a time; name it with --flight.")
            data = exporting.encode_table(book.telemetry(chosen[0]).table, form)
        else:
            with steps_bar(quiet=out is None) as step:
                found = analysed(book, register.load(book), progress=step)
            kept = [a for a in found if not chosen or a.flight.flight_id in chosen]
            data = exporting.encode(exporting.rows_of(kept, what), form)  # type: ignore[arg-type]
    if dry_run:
        say(f"Would write {len(data)} bytes of {form} to {out or 'standard output'}.")
    elif out is None:
        sys.stdout.buffer.write(data)
        sys.stdout.buffer.flush()
    else:
        from spooldown.logbook.store import write_whole

        with _writing_to(out):
            write_whole(out, data)
        say(f"Wrote {out}.")


# Housekeeping


@app.command()
def remove(
    flight_ids: Annotated[list[str], typer.Argument(metavar="FLIGHT...", autocompletion=_flight_names)],
    yes: Annotated[bool, typer.Option("--yes", help="Do not ask.")] = False,
    dry_run: DryRun = False,
    logbook: Book = None,
) -> None:
    """Take flights out of the logbook, with their notes."""
    from spooldown.terminal import say

    with _open(logbook) as book:
        for flight_id in flight_ids:
            book.flight(flight_id)
        if dry_run:
            say(f"Would remove {', '.join(flight_ids)}.")
            return
        if not yes and not _sure(f"Remove {', '.join(flight_ids)} and their notes?"):
            say("Nothing removed.")
            raise typer.Exit(ExitCode.INTERRUPTED)
        book.remove(flight_ids)
        say(f"Removed {', '.join(flight_ids)}.")


@app.command()
def demo(
    folder: Annotated[Path, typer.Argument(help="Where to put the demonstration.")] = Path("spooldown-demo"),
    open_it: Annotated[bool, typer.Option("--open", help="Open the start page in the browser.")] = False,
    as_json: AsJson = False,
) -> None:
    """Import the invented sample logs into a fresh logbook and build its pages."""
    from spooldown import demo as demonstration
    from spooldown import register
    from spooldown.pages import site_of
    from spooldown.terminal import say, steps_bar

    samples = demonstration.sample_folder()
    with demonstration.fresh(folder) as book:
        with steps_bar(quiet=as_json) as step:
            outcomes, _ = demonstration.fill(book, samples, progress=step)
        count = sum(len(o.flight_ids) for o in outcomes if o.state == "imported")
        if not as_json:
            say(f"{count} flights imported from the invented sample logs.")
        with steps_bar(quiet=as_json) as step:
            site = site_of(book, register.load(book), progress=step)
        start, counts = _build(site, folder / "pages", as_json)
    if as_json:
        _say_json({"page": str(start.resolve()), "flights": count, **counts})
    else:
        say(f"{counts['written']} pages written. Start here:")
        say(str(start.resolve()))
    if open_it:
        import webbrowser

        webbrowser.open(start.resolve().as_uri())


@app.callback(invoke_without_command=True)
def front(version: Annotated[bool, typer.Option("--version", help="Print the version.")] = False) -> None:
    """Log flight sessions of turbine model jets and read what they say: fuel, packs, radio link."""
    if version:
        from spooldown import __version__

        print(f"spooldown {__version__}")
        raise typer.Exit()


# Small helpers


def _owner(known: Register, word: str) -> str:
    """Settle an aircraft's name: as registered; unregistered is fine unless it looks like a slip of the pen."""
    from spooldown.problems import nearest, not_found

    if not word:
        return ""
    if found := known.find_aircraft(word):
        return found.name
    if nearest(word, known.aircraft, cutoff=0.7):
        raise not_found("aircraft", word, known.aircraft, remedy="register it first")
    return word


def _sure(question: str) -> bool:
    """Ask; no answer is a no."""
    try:
        return typer.confirm(question)
    except typer.Abort:
        return False


@contextmanager
def _writing_to(place: Path) -> Iterator[None]:
    """Say in one sentence that a place for pages or tables cannot be written."""
    from spooldown.problems import UsageProblem

    try:
        yield
    except OSError as error:
        raise UsageProblem(f"{place} cannot be written ({error.strerror or error}); name another place.") from error


def _one(book: Logbook, flight_id: str) -> Analysed:
    from spooldown import register
    from spooldown.results import analysed
    from spooldown.terminal import steps_bar

    book.flight(flight_id)
    with steps_bar(quiet=False) as step:
        return next(a for a in analysed(book, register.load(book), progress=step) if a.flight.flight_id == flight_id)


def _flight_json(flight: Flight) -> dict[str, Any]:
    return {
        "flight": flight.flight_id,
        "aircraft": flight.aircraft,
        "utc_start": flight.utc_start.isoformat() if flight.utc_start else None,
        "duration_s": flight.duration_s,
        "rows": flight.rows,
        "source": flight.source,
        "part": flight.part,
        "channels": list(flight.channels),
        "notices": list(flight.notices),
    }


def _say_json(value: Any) -> None:
    from spooldown.terminal import say_json

    say_json(value)


def _pair(item: str, option: str) -> tuple[str, str]:
    from spooldown.problems import UsageProblem

    key, equals, value = item.partition("=")
    if not (equals and key.strip() and value.strip()):
        raise UsageProblem(f"{option} wants NAME=VALUE, got {item!r}.")
    return key.strip(), value.strip()


def _number(text: str, option: str, *, below_zero: bool = False) -> float:
    import math

    from spooldown.problems import UsageProblem

    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value) or (value < 0 and not below_zero):
        raise UsageProblem(f"{option} wants a number{'' if below_zero else ', zero or more'}, got {text!r}.")
    return value


def _read(path: Path) -> bytes:
    from spooldown.problems import NotFoundProblem

    try:
        return path.read_bytes()
    except OSError as error:
        raise NotFoundProblem(f"{path} cannot be read ({error.strerror}).") from error


def main() -> NoReturn:
    """Run the command; whatever stops it is one sentence and an exit code, never a traceback."""
    from importers.refusal import Refusal
    from spooldown.problems import Problem
    from spooldown.terminal import complain

    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):  # a terminal that lacks a letter shows another
            stream.reconfigure(errors="replace")
    code: int = ExitCode.OK
    try:
        app(prog_name="spooldown")
    except Refusal as refusal:
        complain(str(refusal))
        code = ExitCode.REFUSED
    except Problem as problem:
        complain(str(problem))
        code = problem.exit_code
    except BrokenPipeError:
        # The reader of our output has gone; Python must not try to flush to it again.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    except KeyboardInterrupt:
        complain("interrupted; the logbook holds whole flights only.")
        code = ExitCode.INTERRUPTED
    except Exception as error:
        if os.environ.get("SPOOLDOWN_TRACEBACK"):
            raise
        complain(
            f"a fault in spooldown itself ({type(error).__name__}: {error}); set SPOOLDOWN_TRACEBACK=1 and report it."
        )
        code = ExitCode.BUG
    sys.exit(code)


if __name__ == "__main__":
    main()
