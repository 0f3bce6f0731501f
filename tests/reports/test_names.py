"""Dotted parts become the owner's own names in the reader's language, and nothing else in a text changes."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from analyser.core.aircraft import Antenna, AntennaLayout
from analyser.core.channels import VOCABULARY
from reports.words.catalogue import LANGUAGES, has, reading
from reports.words.names import Names, names_in_flight, names_on, naming, said, with_owner
from reports.words.reader import Reader
from tests.reports import invented

OWN = Names({"rx2.antenna2": "fin"}, {"rx2": "R2"})


@pytest.mark.parametrize(
    ("raw", "words", "german"),
    [
        ("link.rx2.antenna2", "Fin antenna (rx2, antenna 2)", "Antenne „fin“ (rx2, Antenne 2)"),
        ("link.rx1.antenna1", "rx1, antenna 1", "rx1, Antenne 1"),
        ("link.rx2", "Receiver rx2", "Empfänger rx2"),
        ("pack.rx2", "Pack R2 (rx2)", "Akku R2 (rx2)"),
        ("pack.ecu_left", "Pack ECU left", "Akku ECU links"),
        ("bus.main", "Main bus", "Bus Haupt"),
        ("engine.left", "Left engine", "Triebwerk links"),
        ("fuel.right", "Right tank", "Tank rechts"),
        ("fuel.right.used_ml", "Fuel used, right", "Kraftstoff verbraucht, rechts"),
        ("attitude", "Movement", "Bewegung"),
    ],
)
def test_a_heading_names_a_part(raw: str, words: str, german: str) -> None:
    assert OWN.heading(raw) == words
    with reading(Reader("de")):
        assert OWN.heading(raw) == german


def test_an_antenna_with_a_name_of_one_word_is_not_called_antenna_twice() -> None:
    assert Names({"rx1.antenna1": "fin antenna"})("rx1.antenna1") == "the fin antenna (rx1, antenna 1)"


def test_a_plain_remark_names_its_parts() -> None:
    with naming(OWN):
        text = said("rx2.antenna2 faded. Moving it helped, by -2.5 dB (-3.1 to -1.0) since 2026-07-01, 5% of pack.rx2.")
    assert text == (
        "The fin antenna (rx2, antenna 2) faded. Moving it helped, by −2.5 dB (−3.1 to −1.0) since 2026-07-01,"
        " 5\u00a0% of pack R2 (rx2)."
    )


@pytest.mark.parametrize("text", ["", "The left engine burns 8.4 % more.", "fuel.left.remaining_ml is stuck"])
def test_other_text_stays_as_it_is(text: str) -> None:
    with naming(OWN):
        assert said(text) == text


def test_names_come_from_the_layout_of_the_flight_and_from_the_newest_for_an_aircraft() -> None:
    def layout(name: str, given: str) -> AntennaLayout:
        return AntennaLayout(name, (Antenna("rx1", 1, (0.0, 0.0, 0.0), (0.0, 0.0, 1.0), name=given),))

    aircraft = replace(invented.TERN, layouts=(layout("A", "nose"), layout("B", "tail")))
    context = replace(invented.flight(1, aircraft=aircraft).record.context, layout=aircraft.layouts[0])
    assert names_in_flight(context).heading("rx1.antenna1") == "Nose antenna (rx1, antenna 1)"
    assert names_on(aircraft)("rx1.antenna1") == "the tail antenna (rx1, antenna 1)"
    assert names_on(None)("rx1.antenna1") == "rx1, antenna 1"


def test_owner_is_added_only_where_the_label_lacks_it() -> None:
    assert with_owner("Lowest voltage", "rx1") == "Lowest voltage, rx1"
    assert with_owner("Burned, left", "left") == "Burned, left"
    assert with_owner("Fades", "rx1.antenna2") == "Fades, rx1, antenna 2"


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_channel_has_words(language: str) -> None:
    with reading(Reader(language)):
        assert [c for c in VOCABULARY if not has(f"channel.{c.subject}.{c.quantity}")] == []
