"""Write the invented scenario: logs, aircraft files, field sheet, range checks and ground truth.

``python -m sample_logs.generator [OUT]``; OUT is this package's parent folder unless given.
"""

from __future__ import annotations

import csv
import io
import json
import sys
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from sample_logs.generator import dialects, scenario
from sample_logs.generator.bench import bench_records
from sample_logs.generator.electric import warmth
from sample_logs.generator.files import aircraft_files
from sample_logs.generator.range_walks import mean_gain_db, range_checks
from sample_logs.generator.scenario import Sortie
from sample_logs.generator.sensors import record
from sample_logs.generator.session import STEP_S, Session, play

BROADSIDE_DEG = {"A": (90.0, 0.0), "B": (180.0, 0.0)}
"""Body azimuth and elevation where the fin antenna hears best, by layout: across its axis, clear of shadows."""


def main(out: Path, say: Callable[[str], object] = print) -> None:
    """Play every flight and write what there is to write."""
    texts: dict[str, str] = {}
    sheet: list[dict[str, object]] = []
    truth: list[dict[str, Any]] = []
    for sortie in (*scenario.tern(), *scenario.plover()):
        session = play(sortie.plan)
        columns = record(sortie, session)
        text = dialects.write(sortie.dialect, sortie.start, columns, sortie.aircraft)
        texts[sortie.file] = dialects.join_two(texts[sortie.file], text) if sortie.file in texts else text
        sheet.append(field_row(sortie, session))
        truth.append(truth_of(sortie, session))
        say(f"{sortie.aircraft} {sortie.number}: {sortie.file}")
    for name, text in {**texts, **aircraft_files()}.items():
        target = out / name
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_text(text, encoding="utf-8", newline="\n")
    last = ("air_temperature_c", "pilot_latitude_deg", "pilot_longitude_deg", "pilot_altitude_m", "remarks")
    (out / "field_sheet.csv").write_text(_csv(sheet, last), encoding="utf-8", newline="\n")
    (out / "range_check.csv").write_text(_csv(range_checks()), encoding="utf-8", newline="\n")
    (out / "bench.csv").write_text(_csv(bench_records()), encoding="utf-8", newline="\n")
    story = {**planted(), "flights": truth}
    (out / "ground_truth.json").write_text(json.dumps(story, indent=1) + "\n", encoding="utf-8", newline="\n")


def planted() -> dict[str, Any]:
    """What the scenario hides, and what its sensors do that the logs don't say."""
    before = {n: scenario.receiver_pack("R2", n) for n in (1, 14)}
    return {
        "invented": True,
        "burn_change": {
            "aircraft": "Tern",
            "engine": "left",
            "from_flight": scenario.BURN_CHANGE_FLIGHT,
            "factor": scenario.BURN_CHANGE,
        },
        "null": {
            "aircraft": "Tern",
            "antenna": "rx2.antenna2",
            "side": "tail-on",
            "azimuth_deg": scenario.NULL_DEG[0],
            "elevation_deg": scenario.NULL_DEG[1],
            "until_flight": scenario.MOVED_AFTER_FLIGHT,
            "gain_dbi": {name: _fin_dbi(name, *scenario.NULL_DEG) for name in ("A", "B")},
            "best_gain_dbi": {name: _fin_dbi(name, *BROADSIDE_DEG[name]) for name in ("A", "B")},
            "note": "Direct wave plus mean diffuse scatter. The shadow fades out over 8° outside its cone; the "
            "aircraft file, as its owner drew it, has the plain cone.",
        },
        "ageing": {
            "pack": "R2",
            "role": "rx2",
            "weak_cell": 2,
            "brown_out_v": scenario.BROWN_OUT_V,
            "brown_outs_from_flight": 8,
            "cause": "gear",
            "new_resistance_25c_mohm": round(1000 * before[1].resistance_ohm, 1),
            "last_resistance_25c_mohm": round(1000 * before[14].resistance_ohm, 1),
            "last_capacity_mah": round(before[14].capacity_mah),
            "note": "Neither receiver pack alone would carry the gear's surge; R1 is sound all the same.",
        },
        "hot_start": {"aircraft": "Tern", "flight": scenario.HOT_START_FLIGHT, "engine": "right", "limit_c": 720},
        "cool_down_cut": {
            "aircraft": "Tern",
            "flight": scenario.CUT_COOL_DOWN_FLIGHT,
            "engines": ["left", "right"],
            "logged_s": scenario.CUT_COOL_DOWN_S,
        },
        "failsafe": {
            "aircraft": "Tern",
            "flight": scenario.MOVED_AFTER_FLIGHT,
            "receiver": "rx2",
            "cause": "noise beside the receiver, far away and tail-on",
        },
        "signal_percent": {"0 %": "-100 dBm", "100 %": "-40 dBm", "between": "linear in dB"},
        "sensor_scale": {
            "note": "a tank's sensor shows this share of the fuel really burned",
            **scenario.SENSOR_SCALE,
        },
    }


def _fin_dbi(layout: str, azimuth_deg: float, elevation_deg: float) -> float:
    fin = scenario.TERN_LAYOUTS[layout][-1]
    return round(mean_gain_db(fin, scenario.TERN_LINK, azimuth_deg, elevation_deg), 1)


def field_row(sortie: Sortie, session: Session) -> dict[str, object]:
    """What the owner wrote on the field sheet after this flight."""
    rng = np.random.default_rng(sortie.plan.seed + 11)
    row: dict[str, object] = {
        "log_file": Path(sortie.file).name,
        "part": sortie.part,
        "aircraft": sortie.aircraft,
        "layout": sortie.layout,
    }
    for role, pack in sortie.packs.items():
        row[f"pack_{role}"] = pack
    for side, engine in session.engines.items():
        row[f"fuel_before_{side}_ml"] = round(scenario.CAPACITY_ML[side])
        row[f"fuel_put_in_{side}_ml"] = round(float(engine.burned_ml[-1]) * (1 + 0.006 * rng.standard_normal()))
    states = dict(zip(sortie.packs, (*sortie.plan.receiver_packs, *sortie.plan.engine_packs), strict=True))
    for role, trace in session.packs.items():
        # Packs are charged after every flying day; a little more goes in than came out.
        row[f"charged_{role}_mah"] = round(float(trace.used_mah[-1]) * (1.015 + 0.008 * rng.standard_normal()))
        if sortie.number % 3 == 1:
            # The charger reads them as warm as they are, a little above the air.
            celsius = round(sortie.plan.air_c + 3)
            warm = 1000 * float(warmth(celsius))
            cells = [warm * c.resistance_ohm * (1 + 0.02 * rng.standard_normal()) for c in states[role].cells]
            row[f"cell_resistance_{role}_mohm"] = "/".join(f"{c:.1f}" for c in cells)
            row[f"pack_temperature_{role}_c"] = celsius
    row["air_temperature_c"] = sortie.plan.air_c
    row["pilot_latitude_deg"] = scenario.LATITUDE_DEG
    row["pilot_longitude_deg"] = scenario.LONGITUDE_DEG
    row["pilot_altitude_m"] = scenario.GROUND_M
    row["remarks"] = sortie.remarks
    return row


def truth_of(sortie: Sortie, session: Session) -> dict[str, Any]:
    """What really happened, to the digits worth comparing."""
    t = session.motion.time_s
    marks = session.motion.marks
    air = (t >= marks["lift_off"]) & (t <= marks["touch_down"])
    airborne_frames = slice(*(round(marks[m] * sortie.plan.link.frame_rate_hz) for m in ("lift_off", "touch_down")))
    minutes = (marks["touch_down"] - marks["lift_off"]) / 60.0
    below = session.bus_v < scenario.BROWN_OUT_V
    receiver_packs = [role for role in session.packs if role.startswith("rx")]
    states = dict(zip(sortie.packs, (*sortie.plan.receiver_packs, *sortie.plan.engine_packs), strict=True))
    return {
        "file": sortie.file,
        "part": sortie.part,
        "aircraft": sortie.aircraft,
        "number": sortie.number,
        "utc_start": sortie.start.isoformat(),
        "lift_off_s": round(marks["lift_off"], 1),
        "touch_down_s": round(marks["touch_down"], 1),
        "duration_s": round(float(t[-1]), 1),
        "burned_ml": {k: round(float(e.burned_ml[-1]), 1) for k, e in session.engines.items()},
        "burn_in_flight_ml_per_min": {
            k: round(float(np.ptp(e.burned_ml[air]) / minutes), 2) for k, e in session.engines.items()
        },
        "start_peak_egt_c": {k: round(float(e.egt_c[t < marks["taxi"]].max()), 0) for k, e in session.engines.items()},
        "used_mah": {k: round(float(p.used_mah[-1]), 1) for k, p in session.packs.items()},
        "capacity_mah": {k: round(p.capacity_mah, 0) for k, p in states.items()},
        "resistance_25c_mohm": {k: round(1000 * p.resistance_ohm, 1) for k, p in states.items()},
        "one_second_resistance_25c_mohm": {k: round(1000 * p.one_second_ohm, 1) for k, p in states.items()},
        "cells": {
            role: [
                {"resistance_25c_mohm": round(1000 * c.resistance_ohm, 1), "capacity_mah": round(c.capacity_mah)}
                for c in states[role].cells
            ]
            for role in receiver_packs
        },
        "bus_lowest_v": round(float(session.bus_v.min()), 3),
        "bus_below_brown_out_s": round(float(below.sum() * STEP_S), 2),
        "brown_outs": [
            {"start_s": t[a].round(2), "end_s": t[b - 1].round(2), "lowest_v": session.bus_v[a:b].min().round(2)}
            for a, b in _spans(below)
        ],
        "gear_up_s": round(marks["gear_up"], 1),
        "gear_down_s": round(marks["gear_down"], 1),
        "air_moves_to_m_s": {"east": sortie.plan.wind_m_s[0], "north": sortie.plan.wind_m_s[1]},
        "max_range_m": round(float(session.range_m.max()), 0),
        "lost_frames": {k: int(v[-1]) for k, v in session.lost.items()},
        "failsafe_s": {
            k: round(float(v.sum()) / sortie.plan.link.frame_rate_hz, 2) for k, v in session.failsafe.items()
        },
        "antenna_lost": {f"{r}.antenna{n}": int(h.lost.sum()) for (r, n), h in session.heard.items()},
        "antenna_lost_airborne": {
            f"{r}.antenna{n}": int(h.lost[airborne_frames].sum()) for (r, n), h in session.heard.items()
        },
        "layout": sortie.layout,
    }


def _spans(mask: npt.NDArray[np.bool_]) -> list[tuple[int, int]]:
    """First and one past last position of every stretch where ``mask`` holds; holes below half a second join up."""
    edges = np.flatnonzero(np.diff(np.r_[False, mask, False].astype(int))).reshape(-1, 2)
    if not len(edges):
        return []
    apart = (edges[1:, 0] - edges[:-1, 1]) * STEP_S > 0.5
    first, last = edges[np.r_[True, apart], 0], edges[np.r_[apart, True], 1]
    return list(zip(first.tolist(), last.tolist(), strict=True))


def _csv(rows: Sequence[Mapping[str, object]], last: Sequence[str] = ()) -> str:
    names = [n for n in dict.fromkeys(k for row in rows for k in row) if n not in last] + list(last)
    text = io.StringIO()
    writer = csv.DictWriter(text, names, restval="", lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue()


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).resolve().parents[1])
