"""From names to things: a flight's notes and the register give the analyser's context."""

from __future__ import annotations

from datetime import date

from analyser.core.aircraft import Aircraft, AntennaLayout, FlightContext, Pack
from analyser.core.findings import Finding, say
from spooldown.logbook.flight import Flight
from spooldown.logbook.note import FlightNote
from spooldown.register import Register


def context_of(flight: Flight, note: FlightNote, register: Register) -> tuple[FlightContext, tuple[Finding, ...]]:
    """Gather what the log cannot know about one flight.

    Returns
    -------
    FlightContext
        For the analyser.
    tuple of Finding
        What was assumed or no longer found.
    """
    said: list[Finding] = []
    aircraft = register.find_aircraft(flight.aircraft) if flight.aircraft else None
    if flight.aircraft and aircraft is None:
        aircraft = Aircraft(flight.aircraft)
        said.append(say("flight_note.unregistered", aircraft=flight.aircraft))
    elif not flight.aircraft:
        said.append(say("flight_note.unassigned", flight=flight.flight_id))
    if aircraft:
        said += _strangers(flight, aircraft)
    context = FlightContext(
        flight_id=flight.flight_id,
        aircraft=aircraft,
        packs=_packs(flight, note, register, said),
        layout=_layout(flight.day, note.layout, aircraft, said),
        fuel_notes=dict(note.fuel),
        pack_notes=dict(note.readings),
        air_temperature_c=note.air_temperature_c,
        pilot_latitude_deg=note.pilot_latitude_deg,
        pilot_longitude_deg=note.pilot_longitude_deg,
        pilot_altitude_m=note.pilot_altitude_m,
        remarks=note.remarks,
    )
    return context, tuple(said)


def _strangers(flight: Flight, aircraft: Aircraft) -> list[Finding]:
    """Say which names of the log the aircraft's file does not know: what it says of its own is then not used."""
    said = []
    for kind, subject, registered in (
        ("tank", "fuel", [t.name for t in aircraft.tanks]),
        ("engine", "engine", [e.name for e in aircraft.engines]),
        ("receiver", "link", [r.name for r in aircraft.receivers]),
    ):
        in_log = flight.instances(subject)
        if registered and in_log and not set(registered) & set(in_log):
            said.append(
                say("flight_note.other_names", kind=kind, in_log=tuple(in_log), aircraft=aircraft.name,
                    registered=tuple(registered))
            )  # fmt: skip
    return said


def _packs(flight: Flight, note: FlightNote, register: Register, said: list[Finding]) -> dict[str, Pack]:
    packs = {}
    for role, name in note.packs.items():
        pack = register.packs.get(name)
        if pack is None:
            said.append(say("flight_note.pack_gone", pack=name, place=role))
        else:
            packs[role] = pack
    for role in flight.instances("pack"):
        if role not in note.packs and (usual := register.usual_pack(flight.aircraft, role)):
            packs[role] = usual
            said.append(say("flight_note.pack_taken", pack=usual.name, place=role))
    return packs


def _layout(day: date | None, noted: str, aircraft: Aircraft | None, said: list[Finding]) -> AntennaLayout | None:
    if aircraft is None:
        return None
    if noted:
        found = next((x for x in aircraft.layouts if x.name == noted), None)
        if found is None:
            said.append(say("flight_note.layout_gone", layout=noted))
        return found
    if len(aircraft.layouts) == 1 and aircraft.layouts[0].since is None:
        return aircraft.layouts[0]
    dated = [x for x in aircraft.layouts if x.since is not None and day is not None and x.since <= day]
    return max(dated, key=lambda x: (x.since is not None, x.since), default=None)
