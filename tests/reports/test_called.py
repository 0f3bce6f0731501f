"""Raw prefixes become the owner's own names, and nothing else in a text changes."""

from __future__ import annotations

from dataclasses import replace

import pytest

from analyser.core.aircraft import Antenna, AntennaLayout
from reports.called import Called, called, called_on
from tests.reports import invented

OWN = Called({"rx2.antenna2": "fin"}, {"rx2": "R2"})


@pytest.mark.parametrize(
    ("raw", "words"),
    [
        ("link.rx2.antenna2", "Fin antenna (rx2, antenna 2)"),
        ("link.rx1.antenna1", "rx1, antenna 1"),
        ("link.rx2", "Receiver rx2"),
        ("pack.rx2", "Pack R2 (rx2)"),
        ("pack.ecu_left", "Pack ecu left"),
        ("bus.main", "Main bus"),
        ("engine.left", "Left engine"),
        ("fuel.right", "Right tank"),
        ("attitude", "Attitude"),
    ],
)
def test_a_subject_in_words(raw: str, words: str) -> None:
    assert OWN.subject(raw) == words


def test_a_sentence_names_an_antenna_in_full_once() -> None:
    text = "rx2.antenna2 faded. Moving rx2.antenna2 helped, by -2.5 dB (-3.1 to -1.0) since 2026-07-01."
    assert OWN.sentence(text) == (
        "Fin antenna (rx2, antenna 2) faded. Moving the fin antenna helped, by −2.5 dB (−3.1 to −1.0) since 2026-07-01."
    )


@pytest.mark.parametrize("text", ["", "The left engine burns 8.4 % more.", "fuel.left.remaining_ml is stuck"])
def test_other_text_stays_as_it_is(text: str) -> None:
    assert OWN.sentence(text) == text


def test_names_come_from_the_layout_of_the_flight_and_from_the_newest_for_an_aircraft() -> None:
    def layout(name: str, given: str) -> AntennaLayout:
        return AntennaLayout(name, (Antenna("rx1", 1, (0.0, 0.0, 0.0), (0.0, 0.0, 1.0), name=given),))

    aircraft = replace(invented.TERN, layouts=(layout("A", "nose"), layout("B", "tail")))
    context = replace(invented.flight(1, aircraft=aircraft).record.context, layout=aircraft.layouts[0])
    assert called(context).antenna("rx1.antenna1") == "Nose antenna (rx1, antenna 1)"
    assert called_on(aircraft).antenna("rx1.antenna1", begins=False) == "the tail antenna (rx1, antenna 1)"
    assert called_on(None).antenna("rx1.antenna1") == "rx1, antenna 1"
