"""The invented scenario: made again byte for byte, small enough, labelled, and sound where physics has closed forms."""

from __future__ import annotations

import json
import time
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from msgspec.structs import replace

from sample_logs.generator import scenario
from sample_logs.generator.__main__ import main
from sample_logs.generator.electric import discharge, open_circuit_v, share
from sample_logs.generator.radio import Aerial, Link, dipole_gain, direct_gain, direction, free_space_loss_db
from sample_logs.generator.range_walks import range_checks, reach_m
from sample_logs.generator.scenario import Sortie
from sample_logs.generator.sensors import geodetic
from sample_logs.generator.session import STEP_S, Session, play

HERE = Path(scenario.__file__).resolve().parents[1]
MADE = (".csv", ".toml", ".json")


def _made(folder: Path) -> dict[str, bytes]:
    files = (p for p in sorted(folder.rglob("*")) if p.suffix in MADE)
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in files}


@pytest.fixture(scope="module")
def truth() -> dict[str, Any]:
    found: dict[str, Any] = json.loads((HERE / "ground_truth.json").read_text(encoding="utf-8"))
    return found


@pytest.fixture(scope="module")
def played() -> tuple[Sortie, Session]:
    sortie = scenario.tern()[13]
    return sortie, play(sortie.plan)


def test_made_again_byte_for_byte_and_quickly(tmp_path: Path) -> None:
    began = time.process_time()
    main(tmp_path, say=lambda _: None)
    spent_s = time.process_time() - began
    again, kept = _made(tmp_path), _made(HERE)
    assert sorted(again) == sorted(kept)
    assert [name for name in kept if kept[name] != again[name]] == []
    assert spent_s < 30


def test_another_seed_makes_another_log() -> None:
    plan = scenario.plover()[0].plan
    one, two = play(plan), play(replace(plan, seed=plan.seed + 1))
    assert one.range_m[: len(two.range_m)].tolist() != two.range_m[: len(one.range_m)].tolist()


def test_small_enough() -> None:
    assert sum(len(data) for name, data in _made(HERE).items() if name.endswith(".csv")) < 6_000_000


def test_enough_flights_in_enough_dialects(truth: dict[str, Any]) -> None:
    assert sum(f["aircraft"] == "Tern" for f in truth["flights"]) >= 12
    assert sum(f["aircraft"] == "Plover" for f in truth["flights"]) >= 4
    sorties = [*scenario.tern(), *scenario.plover()]
    assert {s.signal for s in sorties} == {"dbm", "percent", "counter", "none"}
    assert {s.attitude for s in sorties} == {True, False}
    assert len({s.dialect for s in sorties}) >= 9


def test_labelled_as_invented(truth: dict[str, Any]) -> None:
    assert truth["invented"] is True
    assert "**invented**" in (HERE / "README.md").read_text(encoding="utf-8")
    for path in (HERE / "aircraft").glob("*.toml"):
        assert path.read_text(encoding="utf-8").startswith("# Invented")
    with_remarks = [p for p in HERE.glob("*/*.csv") if p.read_bytes().startswith(b"#")]
    assert len(with_remarks) >= 6
    assert all(b"# Label: invented data" in p.read_bytes()[:200] for p in with_remarks)


def test_brown_outs_come_late_and_with_the_gear(truth: dict[str, Any]) -> None:
    tern = [f for f in truth["flights"] if f["aircraft"] == "Tern"]
    assert not any(f["brown_outs"] for f in truth["flights"] if f["aircraft"] != "Tern")
    assert not any(f["brown_outs"] for f in tern if f["number"] < truth["ageing"]["brown_outs_from_flight"])
    late = [b for f in tern for b in f["brown_outs"] if b["end_s"] - b["start_s"] >= 0.3]
    assert len(late) >= 4
    for f in tern:
        assert all(-0.05 <= b["start_s"] - f["gear_up_s"] < 2.5 for b in f["brown_outs"])


def test_one_short_failsafe_while_the_fin_antenna_was_bad(truth: dict[str, Any]) -> None:
    found = {(f["aircraft"], f["number"], r): s for f in truth["flights"] for r, s in f["failsafe_s"].items() if s}
    assert list(found) == [("Tern", truth["failsafe"]["flight"], "rx2")]
    assert 0.0 < max(found.values()) <= 1.0
    assert truth["failsafe"]["flight"] <= truth["null"]["until_flight"]


@pytest.mark.parametrize(
    "sortie", [scenario.tern()[k] for k in (0, 4, 6)] + scenario.plover()[:2], ids=lambda s: s.file
)
def test_take_off_and_landing_into_wind(sortie: Sortie) -> None:
    session = play(sortie.plan)
    motion = session.motion
    for mark in ("lift_off", "touch_down"):
        along = motion.velocity_m_s[np.searchsorted(motion.time_s, motion.marks[mark]), :2]
        assert along @ np.array(sortie.plan.wind_m_s) < 0
    aloft = np.searchsorted(motion.time_s, motion.marks["lift_off"] + 1.0)
    assert motion.airspeed_m_s[aloft] > np.linalg.norm(motion.velocity_m_s[aloft])


def test_free_space_loss_against_friis() -> None:
    # Friis: (4 π d f / c)². P.525 rounds the constant to 32.4 dB (32.45).
    distance = np.array([10.0, 50.0, 300.0, 1200.0])
    friis = 20 * np.log10(4 * np.pi * distance * 2440e6 / 299_792_458.0)
    assert free_space_loss_db(2440.0, distance) == pytest.approx(friis, abs=0.06)


def test_dipole_against_its_closed_forms() -> None:
    # Half-wave dipole: 2.15 dBi across the axis, nothing along it, 78° between its half-power directions (Balanis 4.6).
    assert 10 * np.log10(dipole_gain(np.zeros(1))[0]) == pytest.approx(2.15, abs=0.01)
    assert dipole_gain(np.ones(1))[0] < 1e-6
    off = np.radians(np.linspace(0, 90, 9001))
    gain = dipole_gain(np.cos(off))
    half = np.degrees(off[np.argmax(gain >= gain[-1] / 2)])
    assert 2 * (90 - half) == pytest.approx(78, abs=0.3)
    # All that is radiated adds up: the mean over the sphere is 1.
    cosine = np.linspace(-1, 1, 20_001)
    assert np.trapezoid(dipole_gain(cosine), cosine) / 2 == pytest.approx(1.0, abs=2e-4)


def test_the_null_lies_where_the_truth_says(truth: dict[str, Any]) -> None:
    azimuth, sine = np.meshgrid(np.arange(0, 360, 5.0), np.linspace(-0.99, 0.99, 45))
    seen = np.stack([direction(a, np.degrees(np.arcsin(s))) for a, s in zip(azimuth.flat, sine.flat, strict=True)])
    gain = direct_gain(scenario.FIN_BEFORE, seen)
    tail = seen @ direction(truth["null"]["azimuth_deg"], truth["null"]["elevation_deg"])
    assert gain[tail > np.cos(np.radians(12))].max() < 0.01
    assert np.median(gain) > 0.5
    moved = direct_gain(scenario.FIN_AFTER, direction(180.0, -15.0)[None, :])
    assert moved[0] > 1.0


def test_walked_range_checks_solve_the_links_budget(truth: dict[str, Any]) -> None:
    reach = reach_m(scenario.TERN_LINK, 2.0, 30.0)
    heard = 20.0 - 10.0 - 30.0 + 2.0 - free_space_loss_db(2440.0, np.array([reach]))[0]
    assert heard == pytest.approx(-94.0, abs=1e-6)
    walked = [r for r in range_checks() if r["antenna"] == 2 and r["orientation"] == "tail to pilot"]
    before = [float(str(r["distance_m"])) for r in walked if str(r["day"]) < scenario.MOVED_ON]
    after = [float(str(r["distance_m"])) for r in walked if str(r["day"]) >= scenario.MOVED_ON]
    planted = truth["null"]["gain_dbi"]["B"] - truth["null"]["gain_dbi"]["A"]
    assert 20 * np.log10(np.mean(after) / np.mean(before)) == pytest.approx(planted, abs=2)


def test_free_space_when_nothing_is_in_the_way() -> None:
    bare = Aerial("rx1", 1, "bare", (0.0, 0.0, 0.0), (0.0, 1.0, 0.0))
    assert direct_gain(bare, np.array([[1.0, 0.0, 0.0]]))[0] == pytest.approx(1.64, abs=0.01)
    assert Link().mhz == 2440.0


def test_places_against_geographiclib() -> None:
    rng = np.random.default_rng(1)
    east, north = rng.uniform(-700, 700, (2, 50))
    latitude, longitude, altitude = geodetic(east, north, np.zeros(50))
    for x, y, lat, lon in zip(east, north, latitude, longitude, strict=True):
        line = Geodesic.WGS84.Inverse(scenario.LATITUDE_DEG, scenario.LONGITUDE_DEG, lat, lon)
        assert line["s12"] == pytest.approx(np.hypot(x, y), abs=0.02)
        assert np.radians(line["azi1"]) == pytest.approx(np.arctan2(x, y), abs=1e-4)
    # The tangent plane rises above the ellipsoid by d² / 2R.
    assert altitude - scenario.GROUND_M == pytest.approx((east**2 + north**2) / 2 / 6.38e6, abs=0.005)


def test_charge_is_the_integral_of_current(played: tuple[Sortie, Session]) -> None:
    _, session = played
    for pack in session.packs.values():
        mah = np.trapezoid(pack.current_a, dx=STEP_S) / 3.6
        assert pack.used_mah[-1] == pytest.approx(mah, rel=1e-3)
    assert session.packs["rx1"].current_a + session.packs["rx2"].current_a == pytest.approx(session.load_a, abs=1e-9)


def test_both_packs_agree_on_the_bus(played: tuple[Sortie, Session]) -> None:
    sortie, session = played
    given = zip(sortie.plan.receiver_packs, session.packs.values(), strict=False)
    for state, trace in given:
        feeding = trace.current_a > 0.3
        at_bus = trace.voltage_v - trace.current_a * state.lead_ohm
        assert np.abs(at_bus - session.bus_v)[feeding].max() < 0.02
        assert (at_bus <= session.bus_v + 1e-9).all()


def test_a_cell_under_a_steady_load_against_its_closed_form() -> None:
    state = scenario.receiver_pack("R1", 1)
    current = np.full(3001, 6.0)
    trace = discharge(state, current, STEP_S, 25.0)
    cell = state.cells[0]
    t = np.arange(1, 3002) * STEP_S
    relaxed = 1 - np.exp(-t / state.rc_s)
    free = open_circuit_v("li_ion", cell.soc - 6.0 * t / 3.6 / cell.capacity_mah)
    drop = 6.0 * (cell.resistance_ohm + cell.rc_ohm * relaxed) * trace.scale[0]
    assert trace.cells_v[0] == pytest.approx(free - drop, abs=1e-6)
    assert trace.temperature_c[-1] > 25.0


def test_equal_packs_share_equally() -> None:
    state = scenario.receiver_pack("R1", 1)
    load = 5.0 + 3.0 * np.sin(np.arange(2000) / 40.0)
    (one, two), bus = share((state, state), load, STEP_S, 20.0)
    assert one.current_a == pytest.approx(two.current_a, abs=1e-9)
    assert (bus < one.voltage_v).all()


def test_ageing_shows_in_the_packs_own_numbers(truth: dict[str, Any]) -> None:
    tern = [f for f in truth["flights"] if f["aircraft"] == "Tern"]
    old = [f["resistance_25c_mohm"]["rx2"] for f in tern]
    assert np.all(np.diff(old) > 0)
    assert old[-1] > 2 * old[0]
    assert tern[-1]["capacity_mah"]["rx2"] < 0.8 * 2600
    last = tern[-1]["cells"]["rx2"]
    assert last[1]["resistance_25c_mohm"] > 1.4 * last[0]["resistance_25c_mohm"]
