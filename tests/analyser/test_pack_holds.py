"""What a pack holds: flights left in it, charge no pack of its label can have given, and a shared bus's brown-outs."""

from __future__ import annotations

import numpy as np
import pytest
from msgspec.structs import replace

from analyser.core.aircraft import Aircraft, Pack, PackNote
from analyser.core.events import Event
from analyser.packs.analysis import PackResult
from analyser.packs.bus.brown_outs import BusDip, feeding
from analyser.packs.chemistry import PUBLISHED
from analyser.season.packs.brown_outs import BrownOuts, count_brown_outs, count_of
from analyser.season.packs.uses import PackUse, uses_of
from reports.words.catalogue import text
from tests.analyser.pack_flights import GEAR_S, Truth, analysed, flown, record, true_mah

CELLS = {"lipo": 2, "li_ion": 2, "lifepo4": 2, "nimh": 5}
CURVES = [(chemistry, make) for chemistry, makes in PUBLISHED.items() for make in makes]


def random_pack(seed: int, chemistry: str, make: str) -> tuple[Truth, Pack, dict[str, np.ndarray]]:
    """A healthy pack of any age, resistance and size, and one flight of it."""
    rng = np.random.default_rng(seed)
    rated = float(rng.choice([2000.0, 3000.0, 5000.0]))
    truth = Truth(
        rng.uniform(0.02, 0.10), rated * rng.uniform(0.75, 1.04), 0.0, float(rng.choice([100.0, 85.0])),
        CELLS[chemistry], chemistry, make,
    )  # fmt: skip
    columns = flown(truth, hz=2.0, minutes=rng.uniform(5.0, 9.0), seed=seed, rest_s=rng.uniform(20.0, 60.0))
    return truth, Pack("X", chemistry, CELLS[chemistry], rated), columns  # type: ignore[arg-type]


def remarks(pack: PackResult) -> list[Event]:
    return [e for e in pack.events if e.kind == "pack_data"]


@pytest.mark.parametrize(("chemistry", "make"), CURVES)
def test_healthy_packs_are_not_accused_and_flights_left_hold_the_truth(chemistry: str, make: str) -> None:
    for seed in range(8):
        truth, fitted, columns = random_pack(seed, chemistry, make)
        used = true_mah(columns)
        if used > 0.95 * truth.charge_percent / 100 * truth.mah:
            continue
        note = {"rx1": PackNote(charged_mah=used)} if seed % 2 and truth.charge_percent == 100.0 else {}
        pack = analysed(columns, packs={"rx1": fitted}, pack_notes=note).packs[0]
        assert not remarks(pack)
        figure = pack.capacity.flights_left
        left = truth.charge_percent - 100.0 * used / truth.mah - fitted.reserve_percent
        assert figure.low is not None
        assert figure.high is not None
        assert figure.low <= max(left, 0.0) / 100.0 * truth.mah / used <= figure.high, (seed, figure, figure.how)


def test_flights_left_say_which_capacity_they_count_with() -> None:
    columns = flown(Truth(mah=3000.0))
    rated = analysed(columns, packs={"rx1": Pack("R1", "lipo", 2, 3000.0)}).packs[0].capacity.flights_left
    assert "assumed to be left" in text(rated.how)
    unknown = analysed(columns, packs={"rx1": Pack("R1", "lipo", 2)}).packs[0].capacity.flights_left
    assert unknown.value is None or "rated" not in text(unknown.how)
    deep = flown(Truth(mah=1000.0))
    note = {"rx1": PackNote(charged_mah=true_mah(deep))}
    told = analysed(deep, packs={"rx1": Pack("R1", "lipo", 2, 1500.0)}, pack_notes=note).packs[0].capacity.flights_left
    assert "charge put back over" in text(told.how) or "charge used over" in text(told.how)


@pytest.mark.parametrize("offset_a", [1.0, 1.5, 2.5, 5.0])
@pytest.mark.parametrize("mah", [1500.0, 3000.0, 5000.0])
def test_an_offset_is_named_without_a_second_route(offset_a: float, mah: float) -> None:
    columns = flown(Truth(mah=mah), hz=2.0)
    columns["pack.rx1.current_a"] = columns["pack.rx1.current_a"] + offset_a
    pack = analysed(columns, packs={"rx1": Pack("R1", "lipo", 2, mah)}).packs[0]
    (event,) = remarks(pack)
    assert "reads too much" in text(event.summary)
    assert "A throughout" in text(event.summary)
    assert "put back" in text(event.summary)
    assert event.summary in pack.charge.used_mah.doubts


@pytest.mark.parametrize(
    ("scale", "word"), [(0.1, "reads too little"), (2.0, "reads too much"), (10.0, "reads too much")]
)
def test_a_wrong_scale_is_named_and_not_taken_for_an_offset(scale: float, word: str) -> None:
    columns = flown(hz=2.0)
    columns["pack.rx1.current_a"] = columns["pack.rx1.current_a"] * scale
    (event,) = remarks(analysed(columns, packs={"rx1": Pack("R1", "lipo", 2, 3000.0)}).packs[0])
    assert word in text(event.summary)
    assert scale < 1 or "an offset would show" in text(event.summary)


def test_a_wrong_label_is_told_from_a_wrong_sensor_by_the_put_back() -> None:
    columns = flown(hz=2.0)
    label = Pack("R1", "lipo", 2, 1200.0)
    note = {"rx1": PackNote(charged_mah=true_mah(columns))}
    (event,) = remarks(analysed(columns, packs={"rx1": label}, pack_notes=note).packs[0])
    assert "the sensor is right" in text(event.summary)


def test_cells_without_one_between_make_no_pack_voltage() -> None:
    columns = flown(Truth(cells=3))
    del columns["pack.rx1.voltage_v"], columns["pack.rx1.cell2_v"]
    assert analysed(columns, packs={"rx1": Pack("R1", "lipo", 3)}).packs[0].voltage.lowest_v.value is None
    whole = flown(Truth(cells=3))
    lowest = whole.pop("pack.rx1.voltage_v").min()
    found = analysed(whole, packs={"rx1": Pack("R1", "lipo", 3)}).packs[0].voltage.lowest_v.value
    assert found == pytest.approx(lowest, abs=0.02)


# A bus that two packs feed


def shared(first_a: float, second_a: float) -> dict[str, np.ndarray]:
    """Two packs on one bus that falls to 5.5 V under the gear, where each gives its own current; terminals stay up."""
    columns = flown()
    gear = (columns["time_s"] >= GEAR_S) & (columns["time_s"] < GEAR_S + 2.5)
    columns |= {k: v for k, v in flown(Truth(), role="rx2", seed=2).items() if "rx2" in k}
    columns["pack.rx1.current_a"] = np.where(gear, first_a, columns["pack.rx1.current_a"])
    columns["pack.rx2.current_a"] = np.where(gear, second_a, columns["pack.rx2.current_a"])
    columns["bus.main.voltage_v"] = np.where(gear, 5.5, 7.2)
    return columns


def use_of(result: PackResult, dips: tuple[BusDip, ...]) -> PackUse:
    """One flight of a pack with made-up results."""
    made = record(Truth(), Pack("R2", "lipo", 2, brown_out_v=6.0), 1)
    flight = replace(made.result, packs=replace(made.result.packs, bus_dips=dips, packs=(result,)))
    return PackUse(replace(made, result=flight), result, made.context.packs["rx1"])


def test_a_bus_brown_out_says_what_each_pack_gave() -> None:
    result = analysed(shared(15.0, 5.0), aircraft=Aircraft("invented", brown_out_v=6.0))
    (event,) = result.events
    assert "rx1 gave 15.0 A (75 % of the load)" in text(event.summary)
    assert "rx2 gave 5.0 A (25 % of the load)" in text(event.summary)
    (dip,) = result.bus_dips
    assert dip.share("rx2") == pytest.approx(0.25)


def test_a_pack_without_current_has_no_share() -> None:
    columns = shared(15.0, 5.0)
    del columns["pack.rx2.current_a"]
    result = analysed(columns, aircraft=Aircraft("invented", brown_out_v=6.0))
    assert result.bus_dips[0].share("rx1") is None
    assert "rx2 was at" in text(result.events[0].summary)
    assert "of the load" not in text(result.events[0].summary)


def counted(own_at: float | None, dips: list[tuple[float, float]]) -> BrownOuts:
    """Brown-outs of a pack with dips of its bus at instants, in which it gave a share."""
    (base,) = analysed(flown(hz=2.0)).packs
    events = () if own_at is None else (replace(_brown(own_at), subject="pack.rx1"),)
    made = tuple(
        BusDip("main", t, t + 1.0, t, ("rx1", "rx2"), {}, {"rx1": 10.0 * s, "rx2": 10.0 * (1 - s)}) for t, s in dips
    )
    use = use_of(replace(base, events=events), made)
    return count_brown_outs([use], count_of(use), set())


def _brown(at: float) -> Event:
    result = analysed(shared(15.0, 5.0), aircraft=Aircraft("invented", brown_out_v=6.0))
    return replace(result.events[0], start_s=at, end_s=at + 1.0)


def test_a_moment_is_counted_once_and_only_against_the_pack_that_gave_less() -> None:
    both = counted(100.0, [(100.2, 0.2), (200.0, 0.2), (300.0, 0.7)])
    assert (len(both.own), both.beside, both.let_down, both.carried) == (1, 2, 1, 1)
    reason = both.reason()
    assert reason is not None
    assert "1\u00a0brown-out" in text(reason[1])
    assert "and 1 more on the bus it feeds" in text(reason[1])
    assert counted(None, [(300.0, 0.7)]).reason() is None
    alone = counted(None, [(300.0, 0.2), (400.0, 0.3)]).reason()
    assert alone is not None
    assert text(alone[1]).startswith("2\u00a0brown-outs on the bus it feeds")


RECEIVERS = ("rx1", "rx2")


def test_which_packs_feed_a_bus() -> None:
    assert feeding("main", ["main"], ["rx1", "rx2", "ecu"], RECEIVERS) == ("rx1", "rx2")
    assert feeding("rx1", ["rx1", "main"], ["rx1", "rx2"], RECEIVERS) == ("rx1",)
    assert feeding("main", ["main", "other"], ["rx1", "rx2"], RECEIVERS) == ()


def test_uses_follow_a_pack_over_roles() -> None:
    pack = Pack("wanderer", "lipo", 2)
    (uses,) = uses_of([record(Truth(), pack, 1), record(Truth(), pack, 2)])
    assert [u.flight.number for u in uses] == [1, 2]
