"""Things of one type beside each other: what is of a type, what stands out, and what nobody can tell."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest
from msgspec.structs import replace

from analyser.core.aircraft import Aircraft, Antenna, AntennaLayout, Engine, Pack, Tank
from analyser.core.events import Level
from analyser.core.findings import Part
from analyser.fleet.comparison import NEWEST, Fleet, Flown, compare, needed
from analyser.fleet.kinds import Member, kinds_of
from analyser.programme.measures import Row
from reports.words.catalogue import text


def row(measure: str, value: float | None, part: str = "", thing: str = "", half: float = 0.0, **given: object) -> Row:
    ends = (value - half, value + half) if half and value is not None else (None, None)
    doubtful = bool(given.get("doubtful"))
    return Row(measure, part, thing, value, *ends, str(given.get("unit", "mΩ")), "estimated", doubtful)


def packs_flown(levels: dict[str, float], flights: int = 6, seed: int = 1, **given: object) -> Fleet:
    """Packs of one type, each with its resistance, a little of it by chance in each flight."""
    rng = np.random.default_rng(seed)
    known = {name: Pack(name, "li_ion", 2, 2600.0) for name in levels}
    flown = [
        Flown(f"{name}-{n}", "Tern", "", (row("pack.resistance", v + rng.normal(0, 0.2), "pack.rx1", name, **given),))
        for n in range(flights) for name, v in levels.items()
    ]  # fmt: skip
    return compare(kinds_of({}, known), flown)


ALIKE = {f"P{n}": 50.0 + n % 5 for n in range(11)}


def test_what_has_no_like_is_compared_with_nothing() -> None:
    packs = {
        "A": Pack("A", "lipo", 2, 1200.0), "B": Pack("B", "lipo", 3, 1200.0), "C": Pack("C"), "D": Pack("D"),
        "E": Pack("E", "lipo", 2, 1200.0), "F": Pack("F", "lipo", 3, 900.0, type="Thin ones"),
        "G": Pack("G", "nimh", 5, type=" thin  ONES"),
    }  # fmt: skip
    kinds = kinds_of({}, packs)
    assert [[m.thing for m in k.members] for k in kinds] == [["A", "E"], ["F", "G"]]
    assert text(kinds[0].name).replace("\u00a0", " ") == "LiPo, 2 cells, 1\u202f200 mAh"
    assert kinds[1].name == "Thin ones"


def test_engines_are_of_one_type_by_their_limits_and_know_their_own_tank() -> None:
    twin = Aircraft(
        "Tern", tanks=(Tank("one"), Tank("two")),
        engines=(Engine("left", tank="one", max_rpm=1e5), Engine("right", tank="two", max_rpm=1e5)),
    )  # fmt: skip
    shared = Aircraft("Plover", engines=(Engine("a", tank="main", max_rpm=1e5), Engine("b", tank="main", max_rpm=1e5)))
    other = Aircraft("Heron", engines=(Engine("main", max_rpm=1e5, max_egt_c=700.0), Engine("x")))
    (kind,) = kinds_of({a.name: a for a in (twin, shared, other)}, {})
    assert [(m.aircraft, m.part, m.tank) for m in kind.members] == [
        ("Plover", "engine.a", ""), ("Plover", "engine.b", ""),
        ("Tern", "engine.left", "one"), ("Tern", "engine.right", "two"),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("change", "alike"),
    [
        ({"position_m": (0.33, 0.0, 0.0)}, True),  # 3 cm
        ({"position_m": (0.37, 0.0, 0.0)}, False),  # 7 cm
        ({"axis": (0.0, 0.1, -1.0)}, True),  # turned by 6°, and its ends are alike
        ({"axis": (0.0, 0.3, 1.0)}, False),  # by 17°
        ({"kind": "monopole"}, False),
        ({"number": 2}, False),
    ],
)
def test_layouts_are_of_one_type_by_places_and_directions(change: dict[str, object], alike: bool) -> None:
    one = Antenna("rx1", 1, (0.3, 0.0, 0.0), (0.0, 0.0, 1.0))
    other = replace(one, **change)  # type: ignore[arg-type]
    fleet = {
        n: Aircraft(n, layouts=(AntennaLayout("A", (a,), since=date(2031, 1, 1)),))
        for n, a in (("T", one), ("P", other))
    }
    kinds = kinds_of(fleet, {})
    assert [len(k.members) for k in kinds] == ([2] if alike else [])
    if alike:
        assert kinds[0].place == Part("link.rx1.antenna1")
        assert kinds[0].members[0] == Member("P", part="link.rx1.antenna1", layout="A")


def test_a_worn_pack_stands_out_and_is_to_be_watched() -> None:
    fleet = packs_flown(ALIKE | {"Worn": 110.0})
    ((group, compared, standing),) = fleet.odd()
    assert standing.member.thing == "Worn"
    assert standing.weight == Level.WATCH
    assert "more than in 11 others of its type" in text(standing.odd or "")
    assert compared.standings[-1] is standing
    assert compared.usual.low is not None
    assert compared.usual.low < 52.0 < (compared.usual.high or 0.0)
    assert (fleet.judged, fleet.waiting, len(group.compared)) == (1, 0, 1)


def test_better_than_all_others_stands_out_too_but_is_no_warning() -> None:
    ((_, _, standing),) = packs_flown({n: v + 100.0 for n, v in ALIKE.items()} | {"Short": 60.0}).odd()
    assert (standing.member.thing, standing.weight) == ("Short", Level.NOTE)
    assert "less than" in text(standing.odd or "")


def test_two_worn_packs_do_not_hide_each_other() -> None:
    odd = packs_flown(ALIKE | {"W1": 140.0, "W2": 141.0}).odd()
    assert {s.member.thing for _, _, s in odd} == {"W1", "W2"}


def test_of_too_few_nobody_can_tell() -> None:
    fleet = packs_flown({"A": 50.0, "B": 51.0, "C": 52.0, "D": 500.0})
    (compared,) = fleet.groups[0].compared
    assert fleet.odd() == ()
    assert (fleet.judged, fleet.waiting, compared.judged) == (0, 1, False)
    assert "it takes 6 to say what is usual" in text(compared.usual.missing)


def test_few_flights_and_doubtful_ones_are_no_level() -> None:
    fleet = packs_flown(ALIKE | {"New": 300.0}, flights=2)
    assert fleet.groups == ()
    assert packs_flown(ALIKE | {"Worn": 110.0}, doubtful=True).groups == ()


def test_a_hair_that_is_not_printed_does_not_stand_out() -> None:
    rows = {f"P{n}": 50.0 for n in range(10)} | {"X": 50.04}
    known = {name: Pack(name, "li_ion", 2, 2600.0) for name in rows}
    flown = [
        Flown(f"{n}", "Tern", "", tuple(row("pack.resistance", v, "pack.rx1", name) for name, v in rows.items()))
        for n in range(4)
    ]
    fleet = compare(kinds_of({}, known), flown)
    assert fleet.judged == 1
    assert fleet.odd() == ()


def test_only_the_newest_flights_count_and_only_those_are_asked_for() -> None:
    known = {n: Pack(n, "li_ion", 2, 2600.0) for n in "AB"}
    new = [Flown(f"n{k}", "T", "", (row("pack.resistance", 50.0, "pack.rx1", "A"),)) for k in range(NEWEST)]
    old = [Flown(f"o{k}", "T", "", (row("pack.resistance", 90.0, "pack.rx1", "A"),)) for k in range(50)]
    other = [Flown(f"b{k}", "T", "", (row("pack.resistance", 60.0, "pack.rx1", "B"),)) for k in range(5)]
    fleet = compare(kinds_of({}, known), [*new, *old, *other])
    assert [s.level.value for s in fleet.groups[0].compared[0].standings] == [50.0, 60.0]
    told = [(f"{k}", "T", "", ["A"]) for k in range(1000)] + [("last", "T", "", ["B"])]
    asked = list(needed(told))
    assert len(asked) == NEWEST + NEWEST // 2 + 1
    assert asked[-1] == "last"


def test_signal_in_another_unit_is_not_compared() -> None:
    plain = AntennaLayout("A", (Antenna("rx1", 1, (0.0, 0.0, 0.0), (0.0, 0.0, 1.0)),))
    fleet = {n: Aircraft(n, layouts=(plain,)) for n in ("P", "Q", "R")}
    flown = [
        Flown(f"{n}{k}", n, "A", (row("antenna.level", 5.0, "link.rx1.antenna1", unit="dB" if n != "R" else "%"),))
        for n in fleet for k in range(4)
    ]  # fmt: skip
    (compared,) = compare(kinds_of(fleet, {}), flown).groups[0].compared
    assert [s.member.aircraft for s in compared.standings] == ["P", "Q", "R"]
    assert [s.level.unit for s in compared.standings] == ["dB", "dB", "%"]
