"""What the owner noted for one flight, as the logbook keeps it: names where the analyser's context has the things."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TypeVar

from msgspec import Struct, field
from msgspec.structs import replace

from analyser.core.aircraft import FuelNote, PackNote

Note = TypeVar("Note", FuelNote, PackNote)


class FlightNote(Struct, frozen=True):
    """Notes of one flight; everything optional.

    Parameters
    ----------
    packs : mapping of str to str
        Role in the log → name of the registered pack that was fitted.
    layout : str
        Name of the antenna layout in use.
    fuel : mapping of str to FuelNote
        Tank → volumes.
    readings : mapping of str to PackNote
        Role → what charger and meter said after the flight.
    """

    packs: Mapping[str, str] = field(default_factory=dict)
    layout: str = ""
    fuel: Mapping[str, FuelNote] = field(default_factory=dict)
    readings: Mapping[str, PackNote] = field(default_factory=dict)
    air_temperature_c: float | None = None
    pilot_latitude_deg: float | None = None
    pilot_longitude_deg: float | None = None
    pilot_altitude_m: float | None = None
    remarks: str = ""

    def updated(self, newer: FlightNote) -> FlightNote:
        """Return these notes with everything ``newer`` states put over them."""
        return FlightNote(
            packs={**self.packs, **newer.packs},
            layout=newer.layout or self.layout,
            fuel=_over(self.fuel, newer.fuel),
            readings=_over(self.readings, newer.readings),
            remarks=newer.remarks or self.remarks,
            **{
                name: value if (value := getattr(newer, name)) is not None else getattr(self, name)
                for name in ("air_temperature_c", "pilot_latitude_deg", "pilot_longitude_deg", "pilot_altitude_m")
            },
        )

    def __bool__(self) -> bool:
        return self != FlightNote()


BOUNDS: Mapping[str, tuple[float, float, str]] = {
    "air_temperature_c": (-60, 60, "°C"),
    "pilot_latitude_deg": (-90, 90, "degrees"),
    "pilot_longitude_deg": (-180, 180, "degrees"),
    "pilot_altitude_m": (-500, 9000, "m"),
    "before_ml": (0, 100_000, "mL"),
    "put_in_ml": (0, 100_000, "mL"),
    "charged_mah": (0, 100_000, "mAh"),
    "capacity_mah": (1, 100_000, "mAh"),
    "resistance_mohm": (0, 10_000, "mΩ"),
    "cell_resistance_mohm": (0, 10_000, "mΩ"),
    "temperature_c": (-60, 150, "°C"),
}
"""What can be on Earth where people fly models; anything else is a slip of the pen."""


def _over(old: Mapping[str, Note], new: Mapping[str, Note]) -> dict[str, Note]:
    merged = dict(old)
    for key, item in new.items():
        stated = {name: v for name in item.__struct_fields__ if (v := getattr(item, name)) not in (None, ())}
        merged[key] = replace(merged[key], **stated) if key in merged else item
    return merged
