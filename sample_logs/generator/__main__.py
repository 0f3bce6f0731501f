"""Write the invented scenario: logs, aircraft files, field sheet and ground truth.

``python -m sample_logs.generator [OUT]``; OUT is this package's parent folder unless given.
"""

from __future__ import annotations

import csv
import io
import json
import sys
from pathlib import Path
from typing import Any

import numpy as np

from sample_logs.generator import dialects, scenario
from sample_logs.generator.files import aircraft_files
from sample_logs.generator.scenario import Sortie
from sample_logs.generator.sensors import record
from sample_logs.generator.session import STEP_S, Session, play


def main(out: Path) -> None:
    """Play every flight and write what there is to write."""
    texts: dict[str, str] = {}
    sheet: list[dict[str, object]] = []
    truth: list[dict[str, Any]] = []
    for sortie in (*scenario.tern(), *scenario.plover()):
        session = play(sortie.plan)
        columns = record(sortie, session)
        # A file is never written after a cut-off recorder: the log ends a little before the truth does.
        text = dialects.write(sortie.dialect, sortie.start, columns, sortie.aircraft)
        texts[sortie.file] = dialects.join_two(texts[sortie.file], text) if sortie.file in texts else text
        sheet.append(field_row(sortie, session))
        truth.append(truth_of(sortie, session))
        print(f"{sortie.aircraft} {sortie.number}: {sortie.file}", file=sys.stderr)
    for name, text in {**texts, **aircraft_files()}.items():
        target = out / name
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_text(text, encoding="utf-8", newline="\n")
    (out / "field_sheet.csv").write_text(_csv(sheet), encoding="utf-8", newline="\n")
    story = {
        "invented": True,
        "burn_change": {"aircraft": "Tern", "engine": "left", "from_flight": 5, "factor": scenario.BURN_CHANGE},
        "null": {"aircraft": "Tern", "antenna": "rx2.antenna2", "side": "tail-on", "until_flight": 8},
        "ageing": {"pack": "R2", "role": "rx2", "weak_cell": 2, "brown_out_v": scenario.BROWN_OUT_V},
        "sensor_scale": scenario.SENSOR_SCALE,
        "flights": truth,
    }
    (out / "ground_truth.json").write_text(json.dumps(story, indent=1) + "\n", encoding="utf-8", newline="\n")


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
            cells = [1000 * c.resistance_ohm * (1 + 0.02 * rng.standard_normal()) for c in states[role].cells]
            row[f"cell_resistance_{role}_mohm"] = "/".join(f"{c:.1f}" for c in cells)
            row[f"pack_temperature_{role}_c"] = round(sortie.plan.air_c + 3)
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
    minutes = (marks["touch_down"] - marks["lift_off"]) / 60.0
    below = session.bus_v < scenario.BROWN_OUT_V
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
        "bus_lowest_v": round(float(session.bus_v.min()), 3),
        "bus_below_brown_out_s": round(float(below.sum() * STEP_S), 2),
        "max_range_m": round(float(session.range_m.max()), 0),
        "lost_frames": {k: int(v[-1]) for k, v in session.lost.items()},
        "failsafe_s": {
            k: round(float(v.sum()) / sortie.plan.link.frame_rate_hz, 2) for k, v in session.failsafe.items()
        },
        "antenna_lost": {f"{r}.antenna{n}": int(h.lost.sum()) for (r, n), h in session.heard.items()},
        "layout": sortie.layout,
    }


def _csv(rows: list[dict[str, object]]) -> str:
    last = ["air_temperature_c", "pilot_latitude_deg", "pilot_longitude_deg", "pilot_altitude_m", "remarks"]
    names = [n for n in dict.fromkeys(k for row in rows for k in row) if n not in last] + last
    text = io.StringIO()
    writer = csv.DictWriter(text, names, restval="", lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue()


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).resolve().parents[1])
