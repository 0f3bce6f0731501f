"""Packs over flights: planted ageing found, sound packs left alone, forecasts with the truth inside, doubts said."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from msgspec.structs import replace

from analyser.core.aircraft import Pack, PackNote, RetirementRule
from analyser.core.events import Level
from analyser.core.figures import Figure
from analyser.core.findings import Finding, say
from analyser.record import FlightRecord
from analyser.season.analysis import pack_histories
from analyser.season.lineup import Lineup, facts_of
from analyser.season.packs.cycles import days_stored_full
from analyser.season.packs.history import PackHistory
from analyser.season.packs.resistance import TEACH, correct_resistance
from analyser.season.teaching import taught, teachers_of
from reports.words.catalogue import reading, text
from reports.words.reader import Reader
from tests.analyser.pack_flights import Truth, analysed, flown, record, season

AGED = {"grown": 2.1, "lost": 0.30, "weak_v": 0.13}


@pytest.fixture(scope="module")
def ageing() -> list[FlightRecord]:
    return season("ageing", **AGED)


@pytest.fixture(scope="module")
def sound() -> list[FlightRecord]:
    return season("sound", seed=1)


def followed(flights: list[FlightRecord]) -> PackHistory:
    (history,) = pack_histories(flights)
    return history


def holds(figure: Figure, truth: float) -> bool:
    return figure.low is not None and figure.high is not None and figure.low <= truth <= figure.high


def test_the_ageing_pack_is_found_among_normal_ones(ageing: list[FlightRecord], sound: list[FlightRecord]) -> None:
    first, second = pack_histories([*sound, *ageing])
    assert first.pack.name == "ageing"
    assert first.level == Level.ACT
    said = " ".join(map(text, first.reasons))
    for word in ("resistance", "cell spread", "brown-out", "gear", "cell 2"):
        assert word in said
    assert text(first.sentence).startswith("Retire ageing by your rule")
    assert first.spread.weak_cell == 2
    assert second.level <= Level.NOTE, second.reasons
    assert not second.questions


def test_figures_hold_the_planted_truth(ageing: list[FlightRecord]) -> None:
    history = followed(ageing)
    # The first three flights' median is the second flight: one ninth of the way.
    assert holds(history.capacity.against_first_percent, 100 * 0.70 / (1 - 0.30 / 9))
    assert holds(history.capacity.now_percent, 70.0)
    assert history.resistance.over_new.value == pytest.approx(3.1 / (1 + 2.1 / 9), rel=0.06)
    assert (history.resistance.trend.low or 0.0) > 0.0
    assert (history.capacity.trend.high or 0.0) < 0.0


@pytest.mark.parametrize("make", ["Ai2020", "Ecker2015"])
def test_a_make_off_the_mean_curve_is_not_accused(make: str) -> None:
    history = followed(season("other", 6, make=make))
    assert history.level <= Level.NOTE, history.reasons
    assert holds(history.capacity.now_percent, 100.0)
    assert holds(history.capacity.against_first_percent, 100.0)


def test_a_wrong_label_is_no_pack_of_wonder() -> None:
    history = followed(season("label", 5, pack=Pack("label", "lipo", 2, 1000.0)))
    assert history.capacity.now_percent.value is None
    assert "rated capacity" in text(history.capacity.now_percent.missing)
    assert history.capacity.against_first_percent.value is not None


@pytest.mark.parametrize(("limit", "level"), [(1.05, Level.ACT), (1.27, Level.WATCH), (1.9, Level.FINE)])
def test_act_only_where_the_whole_interval_is_beyond_the_rule(limit: float, level: Level) -> None:
    pack = Pack("straddle", "lipo", 2, 3000.0, new_resistance_mohm=40.8, retire=RetirementRule(50.0, limit, 9.0))
    history = followed(season("straddle", 6, grown=0.3, hz=1.0, pack=pack))
    assert history.level == level, (history.reasons, history.resistance.over_new)
    if level == Level.WATCH:
        assert "includes it" in text(history.sentence) or "near your" in text(history.sentence)


def test_forecast_holds_the_flight_at_which_the_rule_is_met() -> None:
    # Resistance grows by 6 % of new a flight; twice new is met 16.7 flights after the first, 8.7 after the ninth.
    pack = Pack("fore", "lipo", 2, 3000.0, new_resistance_mohm=40.8)
    history = followed(season("fore", 9, grown=0.48, pack=pack))
    figure = history.flights_to_retirement
    assert "resistance" in text(figure.how)
    assert holds(figure, 1.0 / 0.06 - 8.0)
    assert figure.value == pytest.approx(8.7, rel=0.15)


def test_a_steady_pack_is_not_forecast(sound: list[FlightRecord]) -> None:
    figure = followed(sound).flights_to_retirement
    assert figure.value is None or figure.value > 50


@pytest.mark.parametrize("flights", [1, 3, 4])
def test_few_flights_forecast_nothing(flights: int, ageing: list[FlightRecord]) -> None:
    figure = followed(ageing[-flights:]).flights_to_retirement
    assert figure.value is None or figure.value == 0.0
    if figure.value is None:
        assert "not enough flights" in text(figure.missing)


@pytest.mark.parametrize("place", [0, 5, 9])
def test_a_foreign_pack_is_asked_about_wherever_it_flew(
    place: int, sound: list[FlightRecord], ageing: list[FlightRecord]
) -> None:
    flights = list(sound)
    flights[place] = replace(
        sound[place], result=replace(sound[place].result, packs=ageing[-1].result.packs), context=sound[place].context
    )
    (question,) = followed(flights).questions
    assert flights[place].flight_id in text(question)


def test_even_ageing_is_no_foreign_pack(ageing: list[FlightRecord]) -> None:
    assert not followed(ageing).questions


def test_flights_without_a_date_stay_out_of_the_trend(ageing: list[FlightRecord]) -> None:
    mixed = [replace(f, utc_start=None) if n in (2, 5) else f for n, f in enumerate(ageing)]
    shuffled = [f for f in mixed if f.utc_start] + [f for f in mixed if not f.utc_start]
    history = followed(shuffled)
    assert len(history.flight_ids) == 10
    assert text(history.resistance.trend.how) == "Theil–Sen slope over 8 flights"
    assert "2 flights of ageing have no date" in text(history.questions[0])
    without = followed([replace(f, utc_start=None) for f in ageing])
    assert without.resistance.trend.value == followed(ageing).resistance.trend.value


def test_days_stored_full_counts_only_what_is_known() -> None:
    nan, start = np.nan, datetime(2020, 5, 1, tzinfo=UTC).timestamp()
    days = start + 86_400.0 * np.array([0.0, 3.0, 10.0, 30.0])
    assert days_stored_full(days, np.array([99.0, nan, nan, nan]), np.array([nan, nan, 95.0, 50.0])) is None
    # Left at 40 %, found full: at least none of the 3 days, at most all; left full for 7; left low, found low.
    told = days_stored_full(days, np.array([99.0, 98.0, 97.0, 40.0]), np.array([40.0, 95.0, 42.0, 40.0]))
    assert told == (7.0, 10.0, 3)
    assert days_stored_full(np.array([nan, start]), np.array([99.0, 99.0]), np.array([99.0, 99.0])) is None


def test_a_forecast_of_any_history_is_ordered(ageing: list[FlightRecord], sound: list[FlightRecord]) -> None:
    for n in range(1, 11):
        for history in pack_histories([*ageing[:n], *sound[:n]]):
            for figure in (history.flights_to_retirement, history.resistance.over_new, history.life.days_stored_full):
                if figure.value is not None and figure.low is not None and figure.high is not None:
                    assert figure.low <= figure.value <= figure.high, figure


def test_a_pack_already_beyond_its_limit_is_told_so(ageing: list[FlightRecord]) -> None:
    figure = followed(ageing).flights_to_retirement
    assert (figure.value, figure.high) == (0.0, 0.0)
    assert "already beyond your limit" in text(figure.how)


def test_a_measured_capacity_counts_instead_of_told_ones() -> None:
    pack = Pack("bench", "lipo", 2, 3000.0)
    flights = [record(Truth(mah=3000.0 - 130.0 * n), pack, n, hz=2.0, seed=3) for n in range(1, 9)]
    told = followed(flights)
    # From rest voltage alone, no flight is deep enough to tell a loss of a third for sure.
    assert text(say(told.capacity.route)) != "measured by the owner"
    assert told.level < Level.ACT
    noted = [
        record(Truth(mah=3000.0 - 130.0 * n), pack, n, hz=2.0, seed=3, note=PackNote(capacity_mah=3000.0 - 130.0 * n))
        if n in (1, 8)
        else f
        for n, f in enumerate(flights, 1)
    ]
    history = followed(noted)
    assert text(say(history.capacity.route)) == "measured by the owner"
    assert history.capacity.now_percent.value == pytest.approx(100 * 1960 / 3000)
    assert history.capacity.against_first_percent.value == pytest.approx(100 * 1960 / 2870)
    assert history.level == Level.ACT
    assert "capacity 65 % of the label's" in text(history.sentence)


def test_a_packs_way_with_temperature_is_learned_from_its_flights() -> None:
    pack = Pack("weather", "lipo", 2, 3000.0)
    celsius = [18.0, 31.0, 22.0, 36.0, 20.0, 33.0, 25.0, 38.0, 19.0, 30.0]
    flights = [
        record(Truth(celsius=c, energy_j_per_mol=38_000.0), pack, n, hz=2.0, seed=4) for n, c in enumerate(celsius, 1)
    ]
    history = followed(flights)
    learned = history.resistance.activation_kj_per_mol
    assert holds(learned, 38.0)
    assert learned.half_width < 15.0
    by_makes = [f.result.packs.packs[0].resistance.value_mohm.value or 0.0 for f in flights]
    carried = [f.value or 0.0 for f in history.resistance.figures]
    assert np.std(carried) < 0.5 * np.std(by_makes)
    assert holds(history.resistance.over_new, 1.0)
    assert history.level <= Level.NOTE


def test_a_season_that_grows_warm_feigns_no_recovery_and_hides_no_ageing() -> None:
    # Colder to warmer in one line: ageing and weather can't be told apart, and the trend says so.
    pack = Pack("spring", "lipo", 2, 3000.0)
    flights = [
        record(Truth(celsius=12.0 + 2.0 * n, energy_j_per_mol=36_000.0), pack, n, hz=2.0, seed=5) for n in range(1, 11)
    ]
    history = followed(flights)
    assert holds(history.resistance.trend, 0.0)
    assert holds(history.resistance.over_new, 1.0)


def soon_after(first: FlightRecord, second: FlightRecord, hours: float) -> list[FlightRecord]:
    """Two flights, the second that many hours after the first had ended."""
    assert first.utc_start is not None
    return [first, replace(second, utc_start=first.utc_start + timedelta(seconds=480.0, hours=hours))]


@pytest.mark.parametrize(
    ("started", "then", "hours", "asked"),
    [
        (100.0, 100.0, 1.0, ""),  # charged in an hour
        (100.0, 70.0, 1.0, ""),  # flown again as it came down
        (100.0, 30.0, 1.0, "no pack loses that much at rest"),
        (100.0, 30.0, 40.0, ""),  # brought to storage charge meanwhile
        (60.0, 100.0, 0.05, "no charger is that fast"),
        (100.0, 100.0, -0.05, "One began before the other had ended"),
    ],
)
def test_charge_that_no_rest_or_charger_explains_is_asked_about(
    started: float, then: float, hours: float, asked: str
) -> None:
    pack = Pack("same", "lipo", 2, 3000.0)
    flights = [record(Truth(charge_percent=c), pack, n, hz=2.0) for n, c in ((1, started), (2, then))]
    questions = followed(soon_after(*flights, hours)).questions
    assert (asked in text(questions[0]) and flights[1].flight_id in text(questions[0])) if asked else not questions


def test_sound_packs_flown_twice_a_day_are_not_asked_about() -> None:
    rng = np.random.default_rng(8)
    asked = 0
    for make in ("Ai2020", "Ecker2015", "Ramadass2004"):
        for n in range(8):
            pack = Pack("twice", "lipo", 2, 3000.0)
            mah = 3000.0 * rng.uniform(0.75, 1.0)
            start = 100.0
            first = record(Truth(mah=mah, make=make, charge_percent=start), pack, 1, hz=2.0, seed=n)
            used = first.result.packs.packs[0].charge.used_mah.value or 0.0
            second = record(Truth(mah=mah, make=make, charge_percent=start - 100.0 * used / mah), pack, 2, seed=n)
            asked += len(followed(soon_after(first, second, float(rng.uniform(0.1, 10.0)))).questions)
    assert asked == 0


def test_a_cell_too_many_is_asked_about() -> None:
    columns = flown(Truth(cells=3))
    pack = analysed(columns, packs={"rx1": Pack("two", "lipo", 2, 3000.0)}).packs[0]
    (told,) = [e for e in pack.events if e.kind == "pack_data"]
    assert "shows a cell 3 at pack rx1, but two has 2" in text(told.summary)


def test_what_no_reading_settles_is_not_called_fine() -> None:
    # A shallow discharge tells capacity so widely that the owner's limit lies inside.
    pack = Pack("open", "lipo", 2, 3000.0, new_resistance_mohm=40.8)
    flights = [record(Truth(mah=3000.0), pack, n, hz=2.0, seed=6) for n in range(1, 7)]
    history = followed(flights)
    now = history.capacity.now_percent
    assert now.low is None or now.low < pack.retire.capacity_percent
    assert history.level is Level.CANT_TELL
    assert "can't tell yet" in text(history.sentence)
    assert "note the capacity" in text(history.sentence)
    measured = [
        record(Truth(mah=3000.0), pack, n, hz=2.0, seed=6, note=PackNote(capacity_mah=2950.0)) for n in range(1, 7)
    ]
    assert followed(measured).level is Level.FINE


def test_a_declared_use_counts_and_a_name_is_only_a_fallback() -> None:
    columns = {k.replace("rx1", "rear"): v for k, v in flown(Truth(ohm=0.060)).items()}
    named = Pack("r", "lipo", 2, 3000.0, brown_out_v=6.9)
    (pack,) = analysed(columns, packs={"rear": named}).packs
    assert (pack.use.feeds, pack.use.declared) == ("", False)
    assert not [e for e in pack.events if e.kind == "brown_out"]
    (pack,) = analysed(columns, packs={"rear": replace(named, use="receiver")}).packs
    assert (pack.use.feeds, pack.use.declared) == ("receiver", True)
    assert [e for e in pack.events if e.kind == "brown_out"]
    engine = replace(named, use="engine")
    (pack,) = analysed(flown(Truth(ohm=0.060)), packs={"rx1": engine}).packs
    assert not [e for e in pack.events if e.kind == "brown_out"]


def test_a_flight_and_its_packs_history_show_one_resistance() -> None:
    pack = Pack("one", "lipo", 2, 3000.0)
    celsius = [18.0, 31.0, 22.0, 36.0, 20.0, 33.0]
    flights = [
        record(Truth(celsius=c, energy_j_per_mol=38_000.0), pack, n, hz=2.0, seed=7) for n, c in enumerate(celsius, 1)
    ]
    right = correct_resistance(flights)
    shown = [f.result.packs.packs[0].resistance.value_mohm for f in right]
    assert shown != [f.result.packs.packs[0].resistance.value_mohm for f in flights]
    assert tuple(shown) == followed(list(right)).resistance.figures
    assert correct_resistance(right) == right
    # One flight that is asked about shows what it shows among all, and the others stay as they are.
    assert correct_resistance(flights, {flights[2].flight_id}) == (*flights[:2], right[2], *flights[3:])


def test_a_flight_taught_by_its_teachers_alone_is_as_among_all() -> None:
    """So a logbook that grew flight by flight shows what one built at once does, long after the first lessons."""
    pack = Pack("one", "lipo", 2, 3000.0)
    celsius = [18.0, 31.0, 22.0, 36.0, 20.0, 33.0]
    models = [record(Truth(celsius=c), pack, n, hz=2.0, seed=7) for n, c in enumerate(celsius, 1)]
    rng = np.random.default_rng(11)

    def copied(n: int) -> FlightRecord:
        flight = models[n % len(models)]
        (own,) = flight.result.packs.packs
        read = own.resistance.by_sensor_mohm
        assert read is not None
        resistance = replace(own.resistance, by_sensor_mohm=read * float(rng.lognormal(0.0, 0.03)))
        packs = replace(flight.result.packs, packs=(replace(own, resistance=resistance),))
        return replace(flight, flight_id=f"f{n:03}", number=n + 1, result=replace(flight.result, packs=packs))

    flights = [copied(n) for n in range(2 * TEACH + 10)]
    lineup = Lineup((f.flight_id, facts_of(f.context)) for f in flights)
    shown = set()
    for at, whole in enumerate(correct_resistance(flights)):
        if at % 7 == 0 or at in (TEACH - 1, TEACH):
            ids = teachers_of(lineup, taught(lineup), {whole.flight_id})
            assert len(ids) <= TEACH + 1
            alone = correct_resistance([f for f in flights if f.flight_id in ids])
            assert next(f for f in alone if f.flight_id == whole.flight_id) == whole
            shown.add(whole.result.packs.packs[0].resistance.value_mohm.value)
    assert len(shown) > len(models)


def test_a_capacity_is_asked_for_only_while_it_decides_something() -> None:
    """Shallow flights leave it open: asked. One reading settles it: the ask is gone. Surely beyond: nothing to ask."""
    flights = season("Q", 8)
    (history,) = pack_histories(flights)
    (ask,) = history.asks
    assert isinstance(ask, Finding)
    assert ask.code == "season.packs.ask_now"
    assert (ask.values["flights"], ask.values["limit"]) == (8, 80.0)
    assert 0.0 < ask.values["low"] < 80.0 < ask.values["high"]
    for measured, expected in ((2900.0, []), (2500.0, ["season.packs.ask_later"]), (2000.0, [])):
        noted = record(Truth(), flights[0].context.packs["rx1"], 9, note=PackNote(capacity_mah=measured))
        (history,) = pack_histories([*flights, noted])
        assert [a.code for a in history.asks if isinstance(a, Finding)] == expected
    assert "let the charger discharge it fully" in text(ask)
    with reading(Reader(language="de")):
        assert "Kapazität einmal messen" in text(ask)
