"""What a recorder puts around headings is left out before they are read; what names a part stays.

The logs are drawn anew for each seed: words of the trade in two languages, ids made up here; no source but common
practice.
"""

import io
import random

import numpy as np
import pytest

from analyser.core.channels import parse
from importers.clock.timeline import find_clock
from importers.layout import tags
from importers.meaning.heading import dissect
from importers.plan import plan
from importers.refusal import Refusal

ROWS = 160
SENSORS = {
    "en": {
        "engine.main.speed_rpm": ("Shaft speed", "rpm"), "engine.main.egt_c": ("Exhaust temperature", "degC"),
        "fuel.main.flow_ml_per_min": ("Fuel flow", "ml/min"), "pack.rx1.voltage_v": ("Rx1 battery voltage", "V"),
        "pack.rx2.voltage_v": ("Rx2 battery voltage", "V"), "pack.ecu.voltage_v": ("ECU battery voltage", "V"),
        "motion.airspeed_m_s": ("Airspeed", "m/s"),
    },
    "de": {
        "engine.main.speed_rpm": ("Wellendrehzahl", "1/min"), "engine.main.egt_c": ("Abgastemperatur", "°C"),
        "fuel.main.flow_ml_per_min": ("Kraftstofffluss", "ml/min"),
        "pack.rx1.voltage_v": ("Empfänger 1 Akkuspannung", "V"),
        "pack.rx2.voltage_v": ("Empfänger 2 Akkuspannung", "V"), "pack.ecu.voltage_v": ("ECU Akkuspannung", "V"),
        "motion.airspeed_m_s": ("Fahrt", "m/s"),
    },
}  # fmt: skip


def flight(random_state):
    """Values of one flight, by channel: the packs sag, the shaft follows a throttle."""
    rng = np.random.default_rng(random_state)
    throttle = np.clip(np.cumsum(rng.normal(0, 0.04, ROWS)) + 0.5, 0, 1)
    return {
        "engine.main.speed_rpm": np.round(40_000 + 70_000 * throttle + rng.normal(0, 80, ROWS)),
        "engine.main.egt_c": np.round(430 + 200 * throttle + rng.normal(0, 2, ROWS), 1),
        "fuel.main.flow_ml_per_min": np.round(140 + 350 * throttle + rng.normal(0, 2, ROWS), 1),
        "pack.rx1.voltage_v": np.round(7.9 - 0.002 * np.arange(ROWS) + rng.normal(0, 0.02, ROWS), 2),
        "pack.rx2.voltage_v": np.round(8.0 - 0.002 * np.arange(ROWS) + rng.normal(0, 0.02, ROWS), 2),
        "pack.ecu.voltage_v": np.round(11.9 - 0.001 * np.arange(ROWS) + rng.normal(0, 0.02, ROWS), 2),
        "motion.airspeed_m_s": np.round(np.clip(60 * throttle + rng.normal(0, 1, ROWS), 0, None), 1),
    }


def planned(columns, clock=None):
    """The plan of a log: heading → values."""
    columns = {"Time (s)": np.round(np.arange(ROWS) * 0.2, 1) if clock is None else clock, **columns}
    return _plan(columns)


def _plan(columns):
    lines = [";".join(columns), *(";".join(map(str, row)) for row in zip(*columns.values(), strict=True))]
    return plan(io.BytesIO("\n".join(lines).encode()), name="drawn.csv")


def found(columns, **more):
    p = planned(columns, **more)
    assert not p.questions, [(q.key, q.columns) for q in p.questions]
    return {c.heading: c.channel for c in p.columns}


def _id_per_column(rng, n):
    letters = rng.choice(["S", "TC", "CH", "AI", "FM", "K", "Sens"])
    return [f"{letters}{k:02d}" for k in rng.sample(range(1, 99), n)]


def _address(rng, n):
    device = rng.choice(["Dev1", "Rack2", "Mod7"])
    return [f"{device}/ai{k}" for k in range(n)]


def _count(rng, n):
    mark = rng.choice(["#{}", "[{}]", "{}:", "{}"])
    return [mark.format(k) for k in range(1, n + 1)]


def _analog(rng, n):
    return [f"A{k}" for k in range(n)]


def _hex(rng, n):
    return [f"0x{k:03X}" for k in rng.sample(range(16, 4096), n)]


@pytest.mark.parametrize("language", SENSORS)
@pytest.mark.parametrize("ids", [_id_per_column, _address, _count, _analog, _hex])
@pytest.mark.parametrize("seed", [0, 2])
def test_an_id_that_differs_in_every_column_names_nothing(language, ids, seed):
    rng = random.Random(f"{language} {ids.__name__} {seed}")
    values, words = flight(seed), SENSORS[language]
    tagged = ids(rng, len(words))
    gap = rng.choice([" ", "_", " - "]) if ids is _id_per_column else " "
    behind = ids is _id_per_column and seed == 2
    headed = {}
    for (channel, (name, unit)), tag in zip(words.items(), tagged, strict=True):
        headed[f"{name}{gap}{tag} [{unit}]" if behind else f"{tag}{gap}{name} [{unit}]"] = channel
    if behind and any(len(t.rstrip("0123456789")) < 2 for t in tagged):
        pytest.skip("a letter and a number behind a name may be a part's")
    assert found({h: values[c] for h, c in headed.items()}) == {"Time (s)": "time_s", **headed}


@pytest.mark.parametrize("language", SENSORS)
def test_a_letter_for_the_type_of_a_value_is_no_word(language):
    values, words = flight(5), SENSORS[language]
    rng = random.Random(language)
    headed = {rng.choice(["f", "f32", "d"]) + "".join(w[:1].upper() + w[1:] for w in name.split()) + f" [{unit}]": c
              for c, (name, unit) in words.items()}  # fmt: skip
    assert found({h: values[c] for h, c in headed.items()}) == {"Time (s)": "time_s", **headed}


def test_a_number_that_several_columns_share_stays_a_parts_name():
    for some in (("R1 V", "R1 A", "R2 V", "R2 A"), ("P1 RPM", "P1 EGT", "P2 RPM", "P2 EGT"),
                 ("Rx1 V", "Rx2 V", "Rx3 V"), ("B1 volts", "B1 amps", "B2 mAh")):  # fmt: skip
        headings = [dissect(h) for h in ("Time", *some)]
        assert [h.words for h in tags.left_out(headings)] == [h.words for h in headings]


def test_letters_for_quantities_are_no_types():
    headings = [dissect(h) for h in ("tSec", "uRx", "iRx", "uEcu", "nShaft", "tEgt")]
    assert [h.words for h in tags.left_out(headings)] == [h.words for h in headings]


@pytest.mark.parametrize(("heading", "channel", "values"), [
    ("Fuel counter (ml)", "fuel.main.used_ml", np.arange(ROWS) * 1.5),
    ("Kerosinzähler (ml)", "fuel.main.used_ml", np.arange(ROWS) * 1.5),
    ("Durchflusszähler (ml)", "fuel.main.used_ml", np.arange(ROWS) * 1.5),
    ("Flow counter (ml)", "fuel.main.used_ml", np.arange(ROWS) * 1.5),
])  # fmt: skip
def test_a_counter_of_millilitres_is_no_clock(heading, channel, values):
    columns = {heading: values, "Shaft (rpm)": flight(1)["engine.main.speed_rpm"]}
    p = planned(columns)
    assert {c.heading: c.channel for c in p.columns}[heading] == channel
    with pytest.raises(Refusal):
        _plan(columns)


@pytest.mark.parametrize("heading", ["time_left_s", "Restzeit (s)", "Temps restant (s)", "Timer (s)", "Countdown"])
def test_what_runs_out_is_no_clock(heading):
    for before in (True, False):
        falling = 300 - np.arange(ROWS) // 5
        shaft = {"Shaft (rpm)": flight(2)["engine.main.speed_rpm"]}
        columns = {heading: falling, **shaft} if before else {**shaft, heading: falling}
        p = planned(columns)
        assert {c.heading: c.channel for c in p.columns}[heading].startswith("extra.")
    alone = {heading: falling, **shaft}
    cells = [[str(v) for v in x] for x in alone.values()]
    clock = find_clock([dissect(h) for h in alone], cells, ROWS, {})[0]
    assert clock is None or heading == "Timer (s)"


def test_newest_first_may_be_told_by_two_clocks():
    falling = np.round(40 - np.arange(ROWS) * 0.2, 1)
    p = planned({"Elapsed (ms)": np.rint(falling * 1000).astype(int),
                 "Shaft (rpm)": flight(3)["engine.main.speed_rpm"]}, clock=falling)  # fmt: skip
    assert {c.channel for c in p.columns} == {"time_s", "engine.main.speed_rpm"}
    assert all(parse(c.channel) or c.channel == "time_s" for c in p.columns)


@pytest.mark.parametrize("tag", ["{}-{}01 ", "{}_{}01.PV "])
def test_tags_of_instrument_loops_name_no_part(tag):
    """A loop's tag has letters for what it measures and a number (ANSI/ISA-5.1, from memory): level is an L."""
    values = flight(3)
    letters = dict(zip(SENSORS["en"], ("SI", "TI", "FI", "EI", "EI", "LI", "VI"), strict=True))
    columns = {f"{tag.format(letters[c], n)}{name} [{unit}]": values[c]
               for n, (c, (name, unit)) in enumerate(SENSORS["en"].items(), 1)}  # fmt: skip
    made = planned(columns)
    assert [c.channel for c in made.columns[1:]] == list(SENSORS["en"])
    assert not made.questions


def test_a_letter_and_a_number_count_the_channels_of_a_bench():
    values = flight(4)
    columns = {f"V{n} {name} [{unit}]": values[c] for n, (c, (name, unit)) in enumerate(SENSORS["de"].items(), 1)}
    assert [c.channel for c in planned(columns).columns[1:]] == list(SENSORS["de"])


@pytest.mark.parametrize("sign", [" = ", ": "])
@pytest.mark.parametrize("code", ["K{}", "c{}", "sig_{}"])
def test_lines_above_the_header_say_what_codes_stand_for(sign, code):
    values, sensors = flight(5), SENSORS["de"]
    above = [f"# {code.format(n)}{sign}{name} [{unit}]" for n, (name, unit) in enumerate(sensors.values(), 1)]
    columns = {"Zeit (s)": np.arange(ROWS) / 5, **{code.format(n): values[c] for n, c in enumerate(sensors, 1)}}
    rows = [";".join(columns), *(";".join(map(str, row)) for row in zip(*columns.values(), strict=True))]
    made = plan(io.BytesIO("\n".join([*above, *rows, ""]).encode()), name="log.csv")
    assert [c.channel for c in made.columns[1:]] == list(sensors)
    assert [c.heading for c in made.columns] == list(columns)
    alone = plan(io.BytesIO("\n".join([above[0], *rows, ""]).encode()), name="log.csv", bare=True)
    assert "engine.main.speed_rpm" not in {c.channel for c in alone.columns}  # one line may be of something else


def test_what_is_left_beside_another_systems_right_remains():
    values = flight(6)
    left = 4000 - np.cumsum(values["fuel.main.flow_ml_per_min"]) / 300
    columns = {"Fuel left (ml)": left, "Time left (s)": 500 - np.arange(ROWS) / 5, "Right rudder trim": 3 + 0 * left}
    made = planned({"Shaft speed (rpm)": values["engine.main.speed_rpm"], **columns})
    assert {c.heading: c.channel for c in made.columns}["Fuel left (ml)"] == "fuel.main.remaining_ml"
    assert not made.questions


@pytest.mark.parametrize(("bus", "pack"), [
    ("Empfängerspannung (V)", "Empfängerakku (V)"), ("Rx voltage (V)", "Rx battery (V)"),
])  # fmt: skip
def test_a_receivers_voltage_beside_its_packs_is_that_of_its_bus(bus, pack):
    volts = flight(7)["pack.rx1.voltage_v"]
    made = planned({pack: volts, bus: np.round(volts - 0.35, 2)})
    assert [c.channel for c in made.columns[1:]] == ["pack.rx.voltage_v", "bus.rx.voltage_v"]
    assert not made.questions


def test_sat_alone_may_be_a_temperature():
    sat, speed = 15 + np.arange(ROWS) // 60, flight(8)["motion.airspeed_m_s"]
    assert planned({"Sat": sat, "Airspeed (m/s)": speed}).questions
    assert not planned({"Sat": sat, "GPS speed (m/s)": speed}).questions
