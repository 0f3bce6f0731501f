"""An invented aircraft's programme with something in every part of it, for pages."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np

from analyser.core.events import Event, Level
from analyser.core.figures import Figure, Method
from analyser.core.findings import say
from analyser.core.levels import COMMON_PRACTICE, Limit, Origin
from analyser.programme.before import BeforeFlight, Expected, gravest
from analyser.programme.histories import Flown, History
from analyser.programme.marks import Mark, Verdict
from analyser.programme.measures import BY_ID
from analyser.programme.result import ProgrammeResult
from analyser.programme.service import Component, Fit, Used, Uses, service_state
from analyser.programme.snags import Remedy, Snag, fare
from analyser.programme.steps import find_steps
from analyser.programme.unusual import unlike, usual_of
from analyser.programme.year import Counted, Year
from analyser.season.packs.codes import SeasonPackCode

FIRST = date(2031, 5, 1)


def history(measure: str, part: str, values: np.ndarray, thing: str = "") -> History:
    n = values.size
    return History(
        BY_ID[measure], part, thing, tuple(f"tern-{k:03}" for k in range(1, n + 1)), np.arange(1.0, n + 1),
        tuple(FIRST + timedelta(k) for k in range(n)), values, BY_ID[measure].unit,
    )  # fmt: skip


def programme(aircraft: str = "Tern", evil: str = "") -> ProgrammeResult:
    """Open and closed snags, remedies of every verdict, a step, an unusual figure, service, limits, a lost mark."""
    rng = np.random.default_rng(3)
    burn = rng.normal(300.0, 4.0, 60)
    burn[20:40] += 40.0
    odd = rng.normal(20.0, 0.5, 60)
    odd[-1] = 40.0
    past = {
        h.key: h for h in (
            history("tank.burn_rate_by_sensor", "fuel.left", burn), history("pack.state_after", "pack.rx2", odd, "R2"),
            history("pack.resistance", "pack.rx2", odd[:5], "R2"),
        )
    }  # fmt: skip
    flown = [Flown(f"tern-{k:03}", k, FIRST + timedelta(k - 1), ()) for k in range(1, 61)]
    open_ = Snag(
        7, aircraft, "fuel.left", "", f"left engine burns more{evil}", FIRST + timedelta(20),
        measure="tank.burn_rate_by_sensor", worth=20.0, since="tern-021",
        remedies=(Remedy(FIRST + timedelta(30), f"pump changed{evil}"), Remedy(FIRST + timedelta(40), "nozzle cleaned"),
                  Remedy(FIRST + timedelta(59), "filter changed")),
    )  # fmt: skip
    done = Snag(3, aircraft, "", "", "loose hatch", FIRST, closed=FIRST + timedelta(3))
    snags = tuple(fare(s, past, flown) for s in (open_, done))
    engine = Component(f"{aircraft} left", "engine", (Fit(aircraft, "engine.left"),), {"hours": 10.0, "months": 12.0},
                       since=date(2031, 1, 1))  # fmt: skip
    uses = Uses.of((FIRST + timedelta(k), Used(0.15, 1.0, 1.0)) for k in range(60))
    service = (service_state(engine, uses, date(2031, 8, 1)),)
    event = Event("sag", "pack.rx2", 200.0, 200.5, Level.WATCH, "R2 sagged.")
    own = Limit(f"low{evil}", "figure", "pack.state_after", below={"watch": 30.0}, unit="%", source=Origin.OWNER)
    before = BeforeFlight(
        aircraft, "tern-003", FIRST, (Expected("pack.rx2", "R2", "pack.state_after", usual_of(
            past["pack.state_after", "R2"]), _last(), 60),), (), "",
        snags[:1], gravest([event]), service,
        (say(SeasonPackCode.ASK_NOW, pack=f"R2{evil}", flights=60, low=62.0, high=104.0, limit=80.0),),
    )  # fmt: skip
    return ProgrammeResult(
        aircraft, 60, 3, snags, find_steps(past), find_steps(past), unlike("tern-060", past), service,
        (own, *COMMON_PRACTICE.every), (own.name,), {"sag": (2, 5)},
        (Mark("gone-a", ("00",), 1, "sag", "pack.rx2", "", 30.0, 30.5, Verdict.SENSOR, f"loose plug{evil}"),), before,
        (2031,),
    )  # fmt: skip


def _last() -> Figure:
    return Figure(say(BY_ID["pack.state_after"].code), 40.0, "%", Method.ESTIMATED, digits=0)


def year(aircraft: str, number: int) -> Year:
    """A year with events, snags and verdicts."""
    one = programme(aircraft)
    return Year(
        aircraft, number, 60, 60, 9.0, 120.0, 60, 3000, 3500,
        (Counted("sag", "pack.rx2", 12, 8, Level.WATCH, 3),), (), one.steps, one.snags, one.snags[1:], one.snags[:1],
        {"worked": 1, "did_not": 1, "cant_tell": 1, "": 0},
    )  # fmt: skip
