"""The owner's files of the invented scenario: aircraft, antenna layouts and packs, as TOML a person can edit."""

from __future__ import annotations

from typing import Any

import tomli_w

from sample_logs.generator import scenario
from sample_logs.generator.radio import Aerial

LABEL = "# Invented scenario: no real aircraft, field, part or maker.\n"
_NOTE = "Invented aircraft of the invented scenario."


def aircraft_files() -> dict[str, str]:
    """Relative path → text of every owner's file."""
    return {
        "aircraft/tern.toml": LABEL + tomli_w.dumps(_tern()),
        "aircraft/plover.toml": LABEL + tomli_w.dumps(_plover()),
        "aircraft/packs.toml": LABEL + tomli_w.dumps({"packs": _packs()}),
    }


def _antenna(a: Aerial) -> dict[str, Any]:
    return {
        "receiver": a.receiver,
        "number": a.number,
        "name": a.name,
        "kind": "dipole",
        "position_m": list(a.position_m),
        "axis": list(a.axis),
    }


def _tern() -> dict[str, Any]:
    engine = {"idle_rpm": 33_000.0, "max_rpm": 122_000.0, "max_egt_c": 730.0, "max_start_egt_c": 720.0}
    service = {"service_interval_h": 25.0}
    shadow = scenario.TAILPIPES
    return {
        "aircraft": {
            "name": "Tern",
            "mass_kg": 24.0,
            "radio_mhz": 2440.0,
            "brown_out_v": scenario.BROWN_OUT_V,
            "reserve": {"percent": 20.0},
            "fuel": {"density_15c_kg_m3": 803.0, "oil_percent": 3.0, "density_is_assumed": False},
            "note": _NOTE,
        },
        "engines": [
            {"name": "left", "tank": "left", "pack_role": "ecu_left", "hours_before_log": 14.2, **engine, **service},
            {"name": "right", "tank": "right", "pack_role": "ecu_right", "hours_before_log": 11.2, **engine, **service},
        ],
        "tanks": [
            {"name": "left", "engine": "left", "capacity_ml": 3600.0, "unusable_ml": 60.0, "x_m": 0.12},
            {"name": "right", "engine": "right", "capacity_ml": 3600.0, "unusable_ml": 60.0, "x_m": 0.12},
        ],
        "receivers": [
            {"name": "rx1", "sensitivity_dbm": -94.0, "frame_rate_hz": 45.0},
            {"name": "rx2", "sensitivity_dbm": -94.0, "frame_rate_hz": 45.0},
        ],
        "layouts": [
            {
                "name": "A",
                "since": _date("2026-04-01"),
                "note": "As built: fin antenna along the fuselage, low on the fin.",
                "antennas": [_antenna(a) for a in scenario.TERN_LAYOUTS["A"]],
                "shadows": [
                    {
                        "what": shadow.what,
                        "receiver": "rx2",
                        "number": 2,
                        "azimuth_deg": shadow.azimuth_deg,
                        "elevation_deg": shadow.elevation_deg,
                        "half_width_deg": shadow.half_width_deg,
                        "loss_db": shadow.loss_db,
                    }
                ],
            },
            {
                "name": "B",
                "since": _date(scenario.MOVED_ON),
                "note": "Fin antenna moved up to the fin tip, axis upright.",
                "antennas": [_antenna(a) for a in scenario.TERN_LAYOUTS["B"]],
            },
        ],
    }


def _plover() -> dict[str, Any]:
    return {
        "aircraft": {
            "name": "Plover",
            "mass_kg": 13.5,
            "radio_mhz": 2440.0,
            "brown_out_v": 6.0,
            "reserve": {"percent": 20.0},
            "note": _NOTE,
        },
        "engines": [
            {
                "name": "main",
                "tank": "main",
                "pack_role": "ecu",
                "idle_rpm": 36_000.0,
                "max_rpm": 128_000.0,
                "max_egt_c": 730.0,
                "max_start_egt_c": 720.0,
                "service_interval_h": 25.0,
                "hours_before_log": 6.0,
            }
        ],
        "tanks": [{"name": "main", "engine": "main", "capacity_ml": 3000.0, "unusable_ml": 50.0, "x_m": 0.05}],
        "receivers": [{"name": "rx1", "sensitivity_dbm": -94.0, "frame_rate_hz": 45.0}],
        "layouts": [
            {
                "name": "P",
                "since": _date("2026-04-01"),
                "antennas": [_antenna(a) for a in scenario.PLOVER_LAYOUTS["P"]],
            }
        ],
    }


def _packs() -> list[dict[str, Any]]:
    receiver = {"chemistry": "li_ion", "cells": 2, "rated_mah": 2600.0, "in_service_since": _date("2025-03-15")}
    engine = {"chemistry": "lipo", "cells": 3, "rated_mah": 2400.0, "in_service_since": _date("2025-09-01")}
    rx1, rx2 = {"role": "rx1", "use": "receiver"}, {"role": "rx2", "use": "receiver"}

    def ecu(role: str) -> dict[str, str]:
        return {"role": role, "use": "engine"}

    return [
        {"name": "R1", **rx1, "new_resistance_mohm": _new_mohm("R1"), "cycles_before_log": 30, **receiver},
        {"name": "R2", **rx2, "new_resistance_mohm": _new_mohm("R2"), "cycles_before_log": 95, **receiver},
        {"name": "E1", **ecu("ecu_left"), "cycles_before_log": 12, **engine},
        {"name": "E2", **ecu("ecu_right"), "cycles_before_log": 12, **engine},
        {"name": "P1", **rx1, "new_resistance_mohm": _new_mohm("P1"), "cycles_before_log": 18, **receiver},
        {"name": "E3", **ecu("ecu"), "cycles_before_log": 8, **engine},
    ]


def _new_mohm(name: str) -> float:
    """What the owner read at 25 °C when the pack was new: the model's first day."""
    return round(1000 * scenario.receiver_pack(name, 1).resistance_ohm, 1)


def _date(text: str) -> Any:
    from datetime import date

    return date.fromisoformat(text)
