"""What stands in for a note that was not made, and what is said about it."""

from datetime import UTC, date, datetime

import pytest
from made import START
from msgspec.structs import replace

from analyser.core.aircraft import Aircraft, Antenna, AntennaLayout, Pack, Receiver
from spooldown.logbook.flight import Flight
from spooldown.logbook.note import FlightNote
from spooldown.register import Register, RegisterFile
from spooldown.work.context import context_of

ANTENNA = Antenna("rx1", 1, (0.0, 0.0, 0.0), (0.0, 0.0, 1.0))


def flight(aircraft="Heron", utc_start=START, channels=("pack.rx1.voltage_v", "pack.ecu.voltage_v", "control.gear")):
    return Flight("heron-a", 1, 1, "heron.csv", aircraft, utc_start, 60.0, 600, "ab", channels, ())


def layout(name, since=None):
    return AntennaLayout(name, (ANTENNA,), since=since)


def register(*, layouts=(), own=(), loose=()):
    return Register({
        "heron.toml": RegisterFile("heron.toml", Aircraft("Heron", layouts=tuple(layouts)), tuple(own), ""),
        "packs.toml": RegisterFile("packs.toml", None, tuple(loose), ""),
    })  # fmt: skip


def test_roles_come_from_the_log():
    assert flight().instances("pack") == ["ecu", "rx1"]


@pytest.mark.parametrize(
    ("moment", "expected"),
    [
        (datetime(2030, 12, 31, 23, 59, tzinfo=UTC), None),
        (datetime(2031, 1, 1, 0, 0, tzinfo=UTC), "first"),
        (datetime(2031, 4, 5, 9, 0, tzinfo=UTC), "second"),
        (None, None),
    ],
)
def test_the_layout_is_the_latest_of_its_day(moment, expected):
    layouts = [layout("second", date(2031, 4, 5)), layout("first", date(2031, 1, 1))]
    context, _ = context_of(flight(utc_start=moment), FlightNote(), register(layouts=layouts))
    assert (context.layout.name if context.layout else None) == expected


def test_the_logs_own_day_tells_the_layout_where_its_zone_is_unknown():
    layouts = [layout("first", date(2031, 1, 1)), layout("second", date(2031, 4, 5))]
    local = replace(flight(utc_start=None), local_start="2031-03-01T14:00:00")
    context, _ = context_of(local, FlightNote(), register(layouts=layouts))
    assert context.layout.name == "first"


def test_a_noted_layout_overrules_and_a_lost_one_is_told():
    known = register(layouts=[layout("first", date(2031, 1, 1)), layout("second", date(2031, 4, 5))])
    context, said = context_of(flight(), FlightNote(layout="first"), known)
    assert (context.layout.name, said) == ("first", ())
    context, said = context_of(flight(), FlightNote(layout="gone"), known)
    assert context.layout is None
    assert tuple(map(str, said)) == ("Antenna layout gone is no longer registered.",)


def test_one_undated_layout_always_counts():
    context, _ = context_of(flight(utc_start=None), FlightNote(), register(layouts=[layout("only")]))
    assert context.layout.name == "only"


def test_the_usual_pack_is_taken_where_only_one_can_be_meant_and_that_is_said():
    known = register(own=[Pack("A1", role="rx1"), Pack("E1", role="ecu"), Pack("E2", role="ecu")])
    context, said = context_of(flight(), FlightNote(), known)
    assert {role: p.name for role, p in context.packs.items()} == {"rx1": "A1"}
    assert len(said) == 1
    assert "A1 taken as rx1" in str(said[0])


def test_the_aircrafts_own_packs_go_before_loose_ones():
    known = register(own=[Pack("A1", role="rx1")], loose=[Pack("L1", role="rx1"), Pack("L2", role="ecu")])
    context, _ = context_of(flight(), FlightNote(), known)
    assert {role: p.name for role, p in context.packs.items()} == {"rx1": "A1", "ecu": "L2"}


def test_a_noted_pack_overrules_and_a_lost_one_is_told():
    known = register(own=[Pack("A1", role="rx1")], loose=[Pack("L1")])
    context, said = context_of(flight(), FlightNote(packs={"rx1": "L1", "ecu": "gone"}), known)
    assert {role: p.name for role, p in context.packs.items()} == {"rx1": "L1"}
    assert tuple(map(str, said)) == ("Pack gone, noted as ecu, is no longer registered.",)


def test_an_unknown_aircraft_and_none_are_told():
    context, said = context_of(flight("Crane"), FlightNote(), register())
    assert context.aircraft == Aircraft("Crane")
    assert "Crane is not registered" in str(said[0])
    context, said = context_of(flight(""), FlightNote(), register())
    assert context.aircraft is None
    assert "spooldown note heron-a --aircraft NAME" in str(said[0])


def test_names_that_do_not_meet_are_told():
    known = Register({
        "heron.toml": RegisterFile("heron.toml", Aircraft("Heron", receivers=(Receiver("rx1"),)), (), "")
    })  # fmt: skip
    _, said = context_of(flight(channels=("link.a.rssi_dbm", "link.b.rssi_dbm")), FlightNote(), known)
    assert len(said) == 1
    assert "receiver a, b, the file of Heron says rx1" in str(said[0])
    assert context_of(flight(channels=("link.rx1.rssi_dbm", "link.b.rssi_dbm")), FlightNote(), known)[1] == ()
