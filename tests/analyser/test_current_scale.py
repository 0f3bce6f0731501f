"""What charges put back teach of a current sensor, with factors and figures known beforehand."""

from __future__ import annotations

import numpy as np
import pytest
from msgspec.structs import replace
from scipy import stats

from analyser.core.aircraft import Aircraft, Pack, PackNote
from analyser.core.figures import Figure
from analyser.packs.scale import (
    CHARGER_SHARED_SE,
    PRIOR_PERCENT,
    CurrentScale,
    ScaleBasis,
    learn,
    rescaled,
    scale_in_flight,
    unchecked_scale,
)
from analyser.record import FlightRecord
from analyser.season.lineup import Lineup, facts_of
from analyser.season.packs.current_scale import correct_currents, currents_settled, currents_taught, scales_by_flight
from analyser.season.packs.resistance import correct_resistance
from analyser.season.teaching import teachers_of
from tests.analyser.pack_flights import Truth, record, true_mah
from tests.analyser.pack_flights import flown as columns_of

PACK = Pack("P", "lipo", 2, 2000.0)
CRAFT = Aircraft("Ash")


def ratio(value: float, half: float = 0.06) -> Figure:
    return Figure.within("", value, half, "×", digits=3)


def flight(number: int, *, noted: bool, excess: float = 1.01, reads: float = 0.9) -> FlightRecord:
    """A flight whose sensor reads ``reads`` times the truth: the log is what it reads, the charger knows better."""
    truth = Truth(mah=2000.0)
    given = true_mah(columns_of(truth, seed=number, hz=2.0)) / reads
    note = PackNote(charged_mah=given * excess) if noted else None
    made = record(truth, PACK, number, note=note, seed=0)
    return replace(made, context=replace(made.context, aircraft=CRAFT))


@pytest.fixture(scope="module")
def season() -> tuple[FlightRecord, ...]:
    """Ten flights, eight of them with their charge noted; the sensor reads a tenth low."""
    return tuple(flight(n, noted=n not in (3, 10)) for n in range(1, 11))


def test_a_sensor_that_nobody_checked_is_one_within_the_prior() -> None:
    scale = unchecked_scale("rx1", CRAFT)
    assert (scale.value, scale.checked) == (1.0, False)
    assert scale.factor.half_width == pytest.approx(PRIOR_PERCENT / 100.0)
    stated = unchecked_scale("rx1", replace(CRAFT, current_scale_percent=3.0))
    assert stated.factor.half_width == pytest.approx(0.03)


def test_charges_narrow_the_scale_down_to_the_chargers_own_error() -> None:
    prior = unchecked_scale("rx1", None)
    halves = []
    for n in (1, 3, 10, 30):
        learned = learn(prior, [ratio(1.05)] * n, np.full(n, CHARGER_SHARED_SE))
        halves.append(scale_in_flight(prior, Figure.unavailable("", "×", "-"), learned).factor.half_width)
    assert halves == sorted(halves, reverse=True)
    assert halves[-1] > 1.9 * CHARGER_SHARED_SE * 0.9
    assert halves[-1] < 0.5 * prior.factor.half_width


def test_the_factor_is_the_precision_weighted_mean_by_hand() -> None:
    """Gelman et al., 2.5: prior 1 ± 0.051, data 1.06 ± its own error and the charger's, in logarithms."""
    prior = unchecked_scale("rx1", None)
    n, own = 5, 0.02
    half = 1.96 * float(np.hypot(own, CHARGER_SHARED_SE)) * 1.06
    learned = learn(prior, [ratio(1.06, half)] * n, np.full(n, CHARGER_SHARED_SE))
    scale = scale_in_flight(prior, Figure.unavailable("", "×", "-"), learned)
    inflation = 3.0 / (3 + n - 1)  # no scatter at all, against three charges' worth of the usual
    few = float(stats.t.ppf(0.975, 3 + n - 1) / stats.norm.ppf(0.975))
    # Drawn to no drift: the charges lie at one place here.
    data = few**2 * inflation * own**2 / n + CHARGER_SHARED_SE**2
    share = prior.relative_se**2 / (prior.relative_se**2 + data)
    assert scale.value == pytest.approx(np.exp(share * np.log(1.06)), rel=1e-3)
    assert scale.relative_se == pytest.approx(np.sqrt(share * data), rel=0.02)


def test_a_note_far_off_corrects_nothing() -> None:
    prior = unchecked_scale("rx1", None)
    assert scale_in_flight(prior, ratio(1.3)) == prior


def test_rescaling_there_and_back_is_nothing() -> None:
    prior = unchecked_scale("rx1", None)
    other = CurrentScale(ScaleBasis.FLIGHTS, Figure.within("", 1.07, 0.03, "×"), 4)
    figure = rescaled(Figure.within("", 50.0, 2.0, "mΩ"), None, prior, -1)
    there = rescaled(figure, prior, other, -1)
    assert there.value == pytest.approx(50.0 / 1.07)
    assert there.half_width / (there.value or 1.0) == pytest.approx(np.hypot(2.0 / 50.0, 0.03 / 1.07), rel=1e-9)
    back = rescaled(there, other, prior, -1)
    assert (back.value, back.low, back.high) == pytest.approx((figure.value, figure.low, figure.high))


def test_a_season_sets_charge_resistance_and_capacity_right(season: tuple[FlightRecord, ...]) -> None:
    right = correct_currents(season)
    for before, after in zip(season, right, strict=True):
        (raw,), (pack,) = before.result.packs.packs, after.result.packs.packs
        true = (raw.charge.integrated_mah.value or 0.0) / 0.9
        used, factor = pack.charge.used_mah, pack.scale.applied.factor
        assert (used.low or 0.0) <= true <= (used.high or 0.0)
        assert (factor.low or 0.0) <= 1.0 / 0.9 <= (factor.high or 0.0)
        assert used.value == pytest.approx(true, rel=0.04)
        # The same sensor read the current of the resistance: it is as much lower as the charge is higher.
        k = factor.value or 1.0
        read = raw.resistance.as_read_mohm.value or 0.0
        assert pack.resistance.as_read_mohm.value == pytest.approx(read * raw.scale.applied.value / k)
        assert pack.charge.used_wh.value == pytest.approx(
            (raw.charge.used_wh.value or 0.0) * (used.value or 0.0) / (raw.charge.used_mah.value or 1.0)
        )
        # The route by itself stays what the sensor said.
        assert pack.charge.integrated_mah == raw.charge.integrated_mah
    unnoted = right[9].result.packs.packs[0]
    assert unnoted.scale.applied.basis is ScaleBasis.FLIGHTS
    assert unnoted.charge.used_mah.half_width < 0.7 * season[9].result.packs.packs[0].charge.used_mah.half_width


def test_doing_it_twice_changes_nothing(season: tuple[FlightRecord, ...]) -> None:
    right = correct_resistance(correct_currents(season))
    assert correct_resistance(correct_currents(right)) == right
    asked = season[9].flight_id
    among = correct_currents(season)
    assert correct_currents(season, {asked}) == (*season[:9], among[9], *season[10:])
    assert among[9] is not season[9]
    assert currents_settled(right) == {f.flight_id for f in season}


def test_a_flight_learns_the_same_from_its_teachers_alone(season: tuple[FlightRecord, ...]) -> None:
    many = [replace(f, flight_id=f"{k}-{f.flight_id}", context=replace(f.context, flight_id=f"{k}-{f.flight_id}"))
            for k in range(6) for f in season]  # fmt: skip
    wanted = many[37].flight_id
    lineup = Lineup((f.flight_id, facts_of(f.context)) for f in many)
    asked = teachers_of(lineup, tuple(currents_taught(lineup)), {wanted})
    some = [f for f in many if f.flight_id in asked]
    assert len(some) < len(many)
    whole = dict(zip((f.flight_id for f in many), scales_by_flight(many), strict=True))
    part = dict(zip((f.flight_id for f in some), scales_by_flight(some), strict=True))
    assert part[wanted] == whole[wanted]


def test_an_exchanged_sensor_is_not_judged_by_the_old_one() -> None:
    old = [flight(n, noted=True, reads=0.92) for n in range(1, 9)]
    new = [flight(n, noted=True, reads=1.08) for n in range(9, 17)]
    scales = [s["rx1"].value for s in scales_by_flight([*old, *new])]
    assert np.mean(scales[:8]) == pytest.approx(1.0 / 0.92, rel=0.035)
    assert np.mean(scales[8:]) == pytest.approx(1.0 / 1.08, rel=0.035)


def test_storage_charges_tell_nothing_of_the_sensor() -> None:
    made = record(Truth(mah=2000.0), PACK, 1, note=PackNote(charged_mah=150.0), minutes=14.0)
    (pack,) = made.result.packs.packs
    assert pack.scale.own.value is None
    assert not pack.scale.applied.checked
