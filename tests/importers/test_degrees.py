"""Latitudes and longitudes as loggers write them, against an independent reading: pint for every factor.

The first position is the example of NMEA 0183's GGA sentence: 4807.038,N and 01131.000,E, as open-source readers of it
carry it in their tests.
"""

import io

import numpy as np
import pint
import pyarrow as pa
import pytest

from importers.meaning import degrees
from importers.plan import plan
from importers.read import read

UREG = pint.UnitRegistry()
LATITUDE = (UREG.Quantity(48, "deg") + UREG.Quantity(7.038, "arcmin")).to("deg").magnitude
LONGITUDE = (UREG.Quantity(11, "deg") + UREG.Quantity(31.0, "arcmin")).to("deg").magnitude


def joined(x, width):
    whole = int(abs(x))
    return f"{whole:0{width}d}{(abs(x) - whole) * 60:07.4f}"


def marked(x, letters):
    whole, rest = divmod(abs(x) * 3600, 3600)
    minutes, seconds = divmod(rest, 60)
    return f"{int(whole)}°{int(minutes):02d}'{seconds:05.2f}\"{letters[int(x < 0)]}"


WAYS = {
    "joined with letters": (lambda a: joined(a, 2) + "NS"[int(a < 0)], lambda o: joined(o, 3) + "EW"[int(o < 0)]),
    "marked": (lambda a: marked(a, "NS"), lambda o: marked(o, "EW")),
    "letter behind": (lambda a: f"{abs(a):.6f} {'NS'[int(a < 0)]}", lambda o: f"{abs(o):.6f} {'EW'[int(o < 0)]}"),
    "letter in front": (lambda a: f"{'NS'[int(a < 0)]}{abs(a):.6f}", lambda o: f"{'EW'[int(o < 0)]}{abs(o):.6f}"),
    "whole numbers": (lambda a: str(round(a * 1e7)), lambda o: str(round(o * 1e7))),
    "plain": (lambda a: f"{a:.7f}", lambda o: f"{o:.7f}"),
}


def flight(text, **answers):
    proposal = plan(io.BytesIO(text.encode()), name="log.csv", answers=answers)
    draft = next(read(proposal))
    return draft.telemetry()


def cell(text):
    return '"' + text.replace('"', '""') + '"'


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize(("a", "o"), [(LATITUDE, LONGITUDE), (-33.9, 151.2), (51.5, -0.12)])
def test_every_way_of_writing_a_position(way, a, o):
    if way == "whole numbers" and abs(a) * 1e7 < 90e6:
        return
    steps = np.arange(60) * 1e-4
    write = WAYS[way]
    text = "Time (s),GPS latitude,GPS longitude,EGT (°C)\n"
    text += "".join(
        f"{i / 5},{cell(write[0](a + s))},{cell(write[1](o - s))},{500 + i % 5}\n" for i, s in enumerate(steps)
    )
    telemetry = flight(text)
    for channel, wanted in (("position.latitude_deg", a + steps), ("position.longitude_deg", o - steps)):
        np.testing.assert_allclose(telemetry.series(channel).values, wanted, atol=3e-6)


@pytest.mark.parametrize("letters", [("N", "E"), ("S", "W")])
def test_degrees_and_minutes_in_one_number_with_letters_beside_it(letters):
    text = "Time (s),Latitude,NS,Longitude,EW,EGT (°C)\n" + "".join(
        f"{i / 5},{4807.038 + i / 1000:.3f},{letters[0]},{1131 + i / 1000:.3f},{letters[1]},{500 + i % 5}\n"
        for i in range(50)
    )
    telemetry = flight(text)
    sign = 1 if letters[0] == "N" else -1
    latitude = telemetry.series("position.latitude_deg").values
    np.testing.assert_allclose(latitude, sign * (LATITUDE + np.arange(50) / 60_000), atol=1e-9)
    longitude = telemetry.series("position.longitude_deg").values
    np.testing.assert_allclose(longitude, sign * (LONGITUDE + np.arange(50) / 60_000), atol=1e-9)


def test_whole_numbers_that_may_be_of_two_sizes_are_asked():
    text = "Time (s),Latitude,Longitude,EGT (°C)\n" + "".join(
        f"{i / 5},{48117300 + i},{11516666 + i},{500 + i % 5}\n" for i in range(50)
    )
    proposal = plan(io.BytesIO(text.encode()), name="log.csv")
    assert {q.key for q in proposal.questions} >= {"unit.latitude", "unit.longitude"}
    said = dict.fromkeys(("unit.latitude", "unit.longitude"), degrees.SIXTHS)
    telemetry = flight(text, **said)
    assert telemetry.series("position.latitude_deg").values[0] == pytest.approx(LATITUDE)


@pytest.mark.parametrize("form", ["N{a:.6f};E{o:.6f}", "{a:.6f} {o:.6f}", "50°{m:.4f}' N;9°{m:.4f}' E"])
def test_positions_with_decimal_commas(form):
    places = [(50.2 + i / 6e5, 9.2 + i / 6e5, 12 + i / 1e4) for i in range(50)]
    cells = [form.format(a=a, o=o, m=m).replace(".", ",") for a, o, m in places]
    heads = "Breite;Länge" if ";" in form else "Position GPS"
    text = f"Zeit (s);{heads};EGT (°C)\n"
    text += "".join(f"{i / 5};{cell};{500 + i % 5}\n".replace(".", ",") for i, cell in enumerate(cells))
    telemetry = flight(text)
    for channel, at in (("position.latitude_deg", 0), ("position.longitude_deg", 1)):
        wanted = [(50, 9)[at] + p[2] / 60 if "°" in form else p[at] for p in places]
        np.testing.assert_allclose(telemetry.series(channel).values, wanted, atol=2e-6)


@pytest.mark.parametrize(("heading", "between"), [("lat,lon", ","), ("GPS", " "), ("Position", ", ")])
def test_both_in_one_column(heading, between):
    text = f'Time (s),"{heading}",EGT (°C)\n' + "".join(
        f'{i / 5},"{48.1173 + i * 1e-4:.5f}{between}{-11.51667 - i * 1e-4:.5f}",{500 + i % 5}\n' for i in range(50)
    )
    telemetry = flight(text)
    np.testing.assert_allclose(telemetry.series("position.latitude_deg").values, 48.1173 + np.arange(50) * 1e-4)
    np.testing.assert_allclose(telemetry.series("position.longitude_deg").values, -11.51667 - np.arange(50) * 1e-4)


def test_what_is_no_position_is_missing():
    read_all = degrees.read(pa.array(["4807.038N", "4867.038N", "99999.0N", None, ""]), "joined")
    assert read_all.to_pylist() == [pytest.approx(LATITUDE), None, None, None, None]
