"""What the owner of Tern proved on the bench before the first flight: invented readings, written down by hand.

The load tests are the packs' one-second resistances of the first flight at 18 °C and 95 %, as a voltmeter showed them.
"""

from __future__ import annotations

_DONE = (
    (
        "priming",
        "left",
        "2026-04-04",
        "volume_ml=1200 seconds_to_engine=34 air=none leaks=none air_trap=full",
        "Invented. Filled by a third.",
    ),
    (
        "priming",
        "right",
        "2026-04-04",
        "volume_ml=1200 seconds_to_engine=37 air=few_bubbles leaks=none air_trap=full",
        "Invented. Bubbles gone after a minute.",
    ),
    (
        "tank",
        "left",
        "2026-04-04",
        "capacity_ml=3590 unusable_ml=62",
        "Invented.",
    ),
    (
        "tank",
        "right",
        "2026-04-04",
        "capacity_ml=3610 unusable_ml=58",
        "Invented.",
    ),
    (
        "load",
        "R1",
        "2026-04-05",
        "first_a=0.5 first_v=8.18 second_a=2.6 second_v=8.033 temperature_c=18 charge_percent=95",
        "Invented. Bulbs of 0.5 and 2.6 A.",
    ),
    (
        "load",
        "R2",
        "2026-04-05",
        "first_a=0.5 first_v=8.17 second_a=2.6 second_v=8.037 temperature_c=18 charge_percent=95",
        "Invented.",
    ),
    (
        "supply",
        "",
        "2026-04-05",
        "lowest_v=7.42 highest_a=9.5 seconds=120",
        "Invented. All surfaces and the gear together.",
    ),
    (
        "pulled",
        "R1",
        "2026-04-05",
        "lowest_v=6.84 highest_a=9.4 seconds=120",
        "Invented.",
    ),
    (
        "pulled",
        "R2",
        "2026-04-05",
        "lowest_v=6.97 highest_a=9.5 seconds=120",
        "Invented.",
    ),
    (
        "plugs",
        "left",
        "2026-04-11",
        "moved=its_own",
        "Invented. Left engine run alone.",
    ),
    (
        "plugs",
        "right",
        "2026-04-11",
        "moved=its_own",
        "Invented.",
    ),
    (
        "ground-run",
        "left",
        "2026-04-11",
        "start_s=33 start_egt_c=655 idle_rpm=34500 acceleration_s=3.6 full_rpm=117800 full_egt_c=640 cool_down_s=95",
        "Invented.",
    ),
    (
        "ground-run",
        "right",
        "2026-04-11",
        "start_s=35 start_egt_c=662 idle_rpm=34700 acceleration_s=3.8 full_rpm=118100 full_egt_c=645 cool_down_s=98",
        "Invented.",
    ),
)


def bench_records() -> list[dict[str, object]]:
    """One row a procedure."""
    return [
        {"procedure": procedure, "aircraft": "Tern", "of": of, "day": day, "readings": readings, "remarks": remarks}
        for procedure, of, day, readings, remarks in _DONE
    ]
