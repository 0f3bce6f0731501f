"""The simulators themselves: their circuits, fading and books hold before anything is judged by them."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import signal

from tests.simulators import event, kinematic, stepwise
from tests.simulators.cells import Cells, alone_now, discharge, share_load
from tests.simulators.flight import Condition, FloatArray, Maker
from tests.simulators.noise import bursts, pink, smooth_wander
from tests.simulators.radio import ground_ray_db, installed_dipole, rician_db, seen_from_body, to_degrees
from tests.simulators.stepwise_motion import march, slosh

MAKERS: tuple[Maker, ...] = (kinematic, event, stepwise)
DT = 0.05
PACK = Cells("polymer", (1_500.0, 1_450.0), (0.02, 0.022), ((0.4, 3.0), (0.5, 30.0)), 25_000.0)


def load(n: int, seed: int = 1) -> FloatArray:
    return 2.0 + np.abs(smooth_wander(n, DT, 2.0, 1.0, np.random.default_rng(seed)))


@pytest.mark.parametrize("maker", MAKERS, ids=lambda m: m.name)
def test_the_same_seed_flies_the_same_flight(maker: Maker) -> None:
    one, two = (maker.fly(maker.build(r), Condition(), r) for r in (np.random.default_rng(5), np.random.default_rng(5)))
    assert one.telemetry.table.equals(two.telemetry.table)
    assert one.truth.figures == two.truth.figures


@pytest.mark.parametrize("maker", MAKERS, ids=lambda m: m.name)
def test_the_books_balance(maker: Maker) -> None:
    """What the tank held, burned and kept add up, and the log is uneven with holes."""
    rng = np.random.default_rng(8)
    flown = maker.fly(maker.build(rng, rate_hz=4.0), Condition(minutes=4.0), rng)
    told = flown.truth.figures
    for tank, (t, burned) in flown.truth.burned.items():
        stem = f"fuel.tanks.{tank}"
        at_landing = float(np.interp(flown.truth.touch_down_s, t, burned))
        assert told[f"{stem}.content.left"] + at_landing == pytest.approx(told[f"{stem}.content.start"])
        assert told[f"{stem}.burn.burned"] >= told[f"{stem}.burn.airborne"] > 0
        assert (np.diff(burned) >= 0).all()
    step = np.diff(flown.telemetry.time_s)
    assert step.std() > 0.1 * step.mean()
    assert told["phases.airborne_min"] == pytest.approx(4.0, rel=0.4)


def test_two_packs_obey_kirchhoff() -> None:
    """Split and voltages solve the circuit: equal at the bus where both give, and the load is shared in full."""
    other = Cells("polymer", (1_300.0, 1_300.0), (0.03, 0.03), ((0.3, 5.0),), 25_000.0)
    total = load(4_000)
    a, b, bus = share_load((PACK, other), total, DT, np.full(4_000, 25.0), (0.01, 0.015), (0.3, 0.25))
    np.testing.assert_allclose(a.current_a + b.current_a, total, rtol=1e-9)
    both = (a.current_a > 0.05) & (b.current_a > 0.05)
    left = a.volts - 0.3 - 0.01 * a.current_a
    right = b.volts - 0.25 - 0.015 * b.current_a
    assert both.mean() > 0.5
    np.testing.assert_allclose(left[both], right[both], atol=2e-3)
    np.testing.assert_allclose(bus[both], left[both], atol=2e-3)


def test_a_failing_second_pack_is_the_circuit_itself() -> None:
    """The closed form against a discharge whose current really takes the other's load for one second."""
    n, at = 4_000, 2_500
    celsius = np.full(n, 15.0)
    mine, others = load(n), load(n, 2)
    flown = discharge(PACK, mine, DT, celsius)
    taken = np.where((np.arange(n) > at - 20) & (np.arange(n) <= at), others, 0.0)
    direct = discharge(PACK, mine + taken, DT, celsius).volts[at]
    # Only the charge of that one second, a milliampere hour, is left out of the closed form.
    assert alone_now(PACK, flown, others, DT)[at] == pytest.approx(float(direct), abs=2e-3)


def test_relaxation_of_a_step_is_the_exponential() -> None:
    """Ohm's law and V = I R (1 − exp(−t/τ)) for a constant load on one pair, with a flat stretch of open circuit."""
    one = Cells("polymer", (1e6,), (0.05,), ((0.5, 4.0),), 0.0, 0.0)
    n = 400
    flown = discharge(one, np.full(n, 10.0), DT, np.full(n, 25.0))
    t = DT * np.arange(1, n + 1)
    expected = flown.rest_v - 10.0 * 0.05 * (1.0 + 0.5 * (1.0 - np.exp(-t / 4.0)))
    np.testing.assert_allclose(flown.volts, expected, atol=1e-9)


def test_fading_keeps_its_mean_and_narrows_with_a_stronger_direct_ray() -> None:
    """A Rician channel of unit mean power (its definition: a constant and a complex normal part)."""
    rng = np.random.default_rng(3)
    weak, strong = (rician_db(np.full(40_000, k), 1, rng) for k in (0.0, 12.0))
    for drawn in (weak, strong):
        assert float((10.0 ** (drawn / 10.0)).mean()) == pytest.approx(1.0, abs=0.03)
    assert weak.std() > 2.0 * strong.std()


def test_the_ground_ray_adds_to_six_decibels_at_most() -> None:
    ground = np.linspace(20.0, 800.0, 5_000)
    gain = ground_ray_db(ground, np.full(5_000, 30.0), 1.6, 2_440.0, -1.0)
    assert gain.max() == pytest.approx(6.0, abs=0.1)
    assert gain.min() < -15.0


def test_a_dipole_is_deaf_along_its_axis() -> None:
    gain = installed_dipole((1.0, 0.0, 0.0), -12.0, (90.0, 0.0, 20.0, 0.0))
    across, along = gain(np.array([90.0, 0.0]), np.array([0.0, 0.0]))
    assert along == pytest.approx(-12.0, abs=0.01)
    assert across == pytest.approx(10.0 * np.log10(1.5 + 10.0**-1.2), abs=0.01)


def test_the_pilot_is_seen_where_he_stands() -> None:
    """Heading east with the pilot to the north: off the left wing; rolled 90° right, the belly faces him."""
    one = (np.zeros(2), np.full(2, 100.0), np.zeros(2))
    azimuth, elevation = seen_from_body(*one, np.full(2, 90.0), np.zeros(2), np.array([0.0, 90.0]))
    assert azimuth[0] == pytest.approx(-90.0)
    assert elevation == pytest.approx([0.0, -90.0], abs=1e-6)


def test_metres_become_degrees_as_a_reference_library_has_them() -> None:
    """GeographicLib (Karney 2013) puts the point 300 m out within a centimetre."""
    from geographiclib.geodesic import Geodesic

    lat, lon = to_degrees(np.array([180.0]), np.array([240.0]), 47.25, 9.5)
    there = Geodesic.WGS84.Inverse(47.25, 9.5, float(lat[0]), float(lon[0]))
    assert there["s12"] == pytest.approx(300.0, abs=0.01)


def test_noise_has_the_size_and_memory_asked_for() -> None:
    rng = np.random.default_rng(4)
    wander = smooth_wander(200_000, 0.1, 2.0, 3.0, rng)
    assert wander.std() == pytest.approx(2.0, rel=0.05)
    assert float(np.corrcoef(wander[:-30], wander[30:])[0, 1]) == pytest.approx(np.exp(-1.0), abs=0.05)
    rough = pink(4_096, 1.0, rng)
    power = np.abs(np.fft.rfft(rough)) ** 2
    assert power[1:20].mean() > 20.0 * power[-500:].mean()
    bad = bursts(100_000, 0.4, 0.01, rng)
    assert bad.mean() == pytest.approx(0.01 / (0.01 + 0.4), rel=0.2)


def test_a_pendulum_settles_at_the_angle_and_swings_at_its_frequency() -> None:
    """A step of the surface's angle: overshoot exp(−πζ/√(1−ζ²)) as any text on second-order systems has it."""
    swung = slosh(np.full(4_000, 0.1), 0.9, 0.12)
    assert swung[-1] == pytest.approx(0.1, rel=1e-3)
    overshoot = np.exp(-np.pi * 0.12 / np.sqrt(1.0 - 0.12**2))
    assert swung.max() / 0.1 - 1.0 == pytest.approx(overshoot, rel=0.05)
    peaks = signal.find_peaks(swung[:200])[0] * stepwise.DT
    assert np.diff(peaks).mean() == pytest.approx(1.0 / (0.9 * np.sqrt(1.0 - 0.12**2)), rel=0.05)


def test_the_marched_point_mass_turns_as_its_bank_says() -> None:
    """Rate of turn is g tan φ / V (any text on flight mechanics); height is the integral of climb."""
    rng = np.random.default_rng(3)
    m = march(stepwise.build(rng).frame, 3.0, 0.0, rng)
    of = m.of
    flying = (of["height"] > 20.0)[1:-1] & (of["speed"] > 30.0)[1:-1]
    rate = (np.unwrap(of["heading"])[2:] - np.unwrap(of["heading"])[:-2]) / (2.0 * stepwise.DT)
    # Ground speed stands in for airspeed: the wind is what they differ by.
    expected = 9.81 * np.tan(of["bank"][1:-1]) / np.maximum(of["speed"][1:-1], 1.0)
    steep = flying & (np.abs(of["bank"][1:-1]) > 0.5)
    assert np.median(rate[steep] / expected[steep]) == pytest.approx(1.0, abs=0.05)
    assert of["height"][m.t < m.take_off_s].max() == 0.0
    assert of["height"][m.t > m.touch_down_s].max() == 0.0


def test_two_wells_keep_their_charge_and_share_the_load() -> None:
    """Charge given is the integral of current, both packs give the whole load, and the bus is one point."""
    b = stepwise.build(np.random.default_rng(4))
    pair = [b.batteries[r] for r in stepwise.ROLES]
    total = load(3_000)
    one, two = stepwise.share(pair, total, [1.0, 0.98], [22.0, 25.0], 20.0)
    np.testing.assert_allclose(one.amps + two.amps, total, rtol=1e-9)
    for given, p, full in ((one, pair[0], 1.0), (two, pair[1], 0.98)):
        np.testing.assert_allclose(np.diff(given.given_mah), given.amps[:-1] * stepwise.DT / 3.6, atol=1e-9)
        np.testing.assert_allclose((full - given.mean_charge) * p.mah, given.given_mah, atol=1e-6)
    at = [g.volts - p.drop_v - p.lead_ohm * g.amps for g, p in zip((one, two), pair, strict=True)]
    both = (one.amps > 0.01) & (two.amps > 0.01)
    assert both.mean() > 0.5
    np.testing.assert_allclose(at[0][both], at[1][both], atol=1e-9)


def test_a_wire_across_the_wave_hears_less() -> None:
    """An upright wire hears an upright wave best from the side; lying across it, the scatter alone is left."""
    from_ahead, up = np.array([[1.0, 0.0, 0.0]]), np.array([[0.0, 0.0, -1.0]])
    along = stepwise.leaning_db(np.array([0.0, 0.0, 1.0]), from_ahead, up)
    across = stepwise.leaning_db(np.array([0.0, 1.0, 0.0]), from_ahead, up)
    assert along[0] == pytest.approx(0.0, abs=1e-6)
    assert across[0] == pytest.approx(10.0 * np.log10(0.4 / 1.4), abs=1e-6)
