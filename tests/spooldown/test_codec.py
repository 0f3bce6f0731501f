import copy
import math
import pickle
import struct
from collections.abc import Iterator, Mapping
from datetime import UTC, date, datetime
from typing import Any

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pytest
from msgspec import Struct, ValidationError
from msgspec.structs import replace

from analyser.core.aircraft import Aircraft, FlightContext, Pack, Reserve, Tank
from analyser.core.events import Attention, Event, Level
from analyser.core.figures import Figure, FloatArray, Method, Trace
from analyser.core.findings import Finding, Part, say
from analyser.core.levels import COMMON_PRACTICE
from analyser.core.telemetry import Suspect
from analyser.flight import analyse_flight
from analyser.record import FlightRecord
from analyser.season.analysis import analyse_season
from spooldown.logbook.codec import finding_in, finding_out, from_bytes, from_json, to_bytes, to_json
from tests.analyser.flown import motion, telemetry, truth


class Everything(Struct, frozen=True, eq=False):
    floats: FloatArray
    counts: npt.NDArray[np.int32]
    flags: npt.NDArray[np.bool_]
    maybe: FloatArray | None
    trace: Trace | None
    figure: Figure
    events: tuple[Event, ...]
    shares: dict[str, Figure]
    suspects: tuple[Suspect, ...]
    number: float
    numpy_number: float
    numpy_flag: bool


def test_results_come_back_exactly():
    odd = np.array([[0.1, np.nan], [np.inf, -0.0]])
    figure = Figure("Burned", math.pi, "mL", Method.ESTIMATED, low=1.0, high=math.nextafter(4, 5), doubts=("a", "b"))
    there = Everything(
        floats=odd[:, ::-1],
        counts=np.arange(24, dtype=np.int32).reshape(2, 3, 4),
        flags=np.array([True, False]),
        maybe=None,
        trace=Trace("Burn", "mL/min", np.arange(3.0), np.array([1, np.nan, 3]), low=np.empty(0)),
        figure=figure,
        events=(Event("sag", "pack.rx1", 1.0, 2.0, Level.WATCH, "x", depth=figure, causes=("gear",)),),
        shares={"rx1": figure, "ß": Figure.unavailable("a", "", "b")},
        suspects=(Suspect("pack.rx1.voltage_v", "spike", 1.0, 1.5, 1, "n", False),),
        number=math.nan,
        numpy_number=np.float64(-np.inf),
        numpy_flag=np.bool_(True),
    )
    back = from_bytes(to_bytes(there), Everything)
    for name in ("floats", "counts", "flags"):
        a, b = getattr(there, name), getattr(back, name)
        assert a.dtype == b.dtype
        assert a.shape == b.shape
        assert a.tobytes() == b.tobytes()
    np.testing.assert_array_equal(back.trace.values, there.trace.values)
    assert back.trace.low.shape == (0,)
    assert back.maybe is None
    assert (back.figure, back.events, back.shares) == (there.figure, there.events, there.shares)
    assert isinstance(back.events[0].level, Level)
    assert back.suspects == there.suspects
    assert math.isnan(back.number)
    assert back.numpy_number == -math.inf
    assert back.numpy_flag is True


def test_a_context_hash_does_not_depend_on_the_order_of_mappings():
    one = FlightContext(packs={"a": Pack("A"), "b": Pack("B")})
    two = FlightContext(packs={"b": Pack("B"), "a": Pack("A")})
    assert to_bytes(one, sort=True) == to_bytes(two, sort=True)
    assert from_bytes(to_bytes(one), FlightContext) == one
    tank = Tank("left", 3000, reserve=Reserve(minutes=2))
    assert from_bytes(to_bytes(tank), Tank) == tank


def test_long_arrays_come_back_exactly_and_pack_well():
    t = np.round(np.arange(12_000) / 20, 3)
    values = np.sin(t)
    values[::7] = np.nan
    values[1] = -0.0
    there = Trace("a", "dB", t.astype(np.float32), values)
    data = to_bytes(there)
    back = from_bytes(data, Trace)
    for old, new in ((there.time_s, back.time_s), (there.values, back.values)):
        assert old.dtype == new.dtype
        assert old.tobytes() == new.tobytes()
    assert len(_packed(data)) < 0.9 * (there.time_s.nbytes + there.values.nbytes)
    cube = np.zeros((24, 8, 40), np.int32)
    cube[3, 4, 5] = 7
    assert len(_packed(to_bytes(Trace("b", "", cube, cube)))) < 2000  # type: ignore[arg-type]
    assert (from_bytes(to_bytes(Trace("b", "", cube, cube)), Trace).values == cube).all()


def _packed(data: bytes) -> bytes:
    """As kept results are packed on the disk."""
    return bytes(pa.compress(data, codec="zstd", asbytes=True))


def test_arrays_written_before_packing_still_read():
    old = b'{"label": "a", "unit": "", "time_s": {"dtype": "<f8", "shape": [2], "base64": "AAAAAAAAAAAAAAAAAADwPw=="},'
    old += b'"values": {"dtype": "<f8", "shape": [0], "base64": ""}, "method": "measured"}'
    assert from_json(old, Trace).time_s.tolist() == [0.0, 1.0]


def test_arrays_are_written_in_json_too() -> None:
    there = Trace("a", "dB", np.array([0.0, 1.5]), np.array([[np.nan, -0.0]]))
    back = from_json(to_json(there), Trace)
    assert list(leaves(back)) == list(leaves(there))


def test_findings_come_back_exactly():
    figure = Figure("Burned", 1.5, "mL", Method.MEASURED, how=say("a.b", channel=Part("fuel.left.used_ml")))
    said = say(
        "a.b", figure=figure, part=Part("fuel.left"), name="left", n=3, x=0.5, nan=math.inf, yes=True,
        at=datetime(2026, 9, 5, 10, 30, tzinfo=UTC), day=date(2026, 9, 5), inner=say("c.d", parts=(Part("pack.a"), 1)),
    )  # fmt: skip
    event = Event("sag", "pack.rx1", 1.0, 2.0, Level.WATCH, said, causes=("gear", say("e.f")))
    back = from_bytes(to_bytes(event), Event)
    assert back == event
    assert list(leaves(back)) == list(leaves(event))
    assert isinstance(back.summary.values["part"], Part)
    assert back.summary.values["inner"].values["parts"] == (Part("pack.a"), 1)
    assert list(leaves(finding_in(finding_out(said)))) == list(leaves(said))


def test_a_text_may_be_a_part() -> None:
    asks = Attention(Level.WATCH, Part("fuel.left"), "{", figure=None, aircraft="Heron")
    assert list(leaves(from_bytes(to_bytes(asks), Attention))) == list(leaves(asks))


def leaves(there: Any) -> Iterator[tuple[type, object]]:
    """Whatever a value holds, with the type of each; not by the code under test."""
    if isinstance(there, Finding):
        yield Finding, str(there.code)  # of whatever enumeration
        yield from leaves(there.values)
    elif isinstance(there, Struct):
        yield type(there), there.__struct_fields__
        for name in there.__struct_fields__:
            yield from leaves(getattr(there, name))
    elif isinstance(there, Mapping):
        yield dict, tuple(there)
        for value in there.values():
            yield from leaves(value)
    elif isinstance(there, tuple | list):
        yield tuple, len(there)
        for value in there:
            yield from leaves(value)
    elif isinstance(there, np.ndarray):
        yield np.ndarray, (there.dtype, there.shape, there.tobytes())
    elif isinstance(there, float | np.floating) or type(there) is int:
        yield float, struct.pack("<d", there)
    else:
        yield type(there), there


def test_whole_results_come_back_exactly() -> None:
    t = truth()
    rates = {"engine.main.speed_rpm": t.speed_rpm, "fuel.main.used_ml": t.burned_ml, **motion(t.time_s)}
    rates |= {"pack.rx1.voltage_v": 8.0 - t.time_s / 900, "pack.rx1.current_a": 1.0 + np.sin(t.time_s) ** 2}
    flown = telemetry(t.time_s, **{name.replace(".", "__"): v for name, v in rates.items()})
    context = FlightContext(
        "a", Aircraft("Heron", tanks=(Tank("main", 3000),)), packs={"rx1": Pack("A", rated_mah=3000)}
    )
    result = analyse_flight(flown, context)
    season = analyse_season([FlightRecord("a", 1, datetime(2031, 4, 5, tzinfo=UTC), context, result)])
    assert result.fuel.burned.value
    assert season.packs
    for there in (result, season, context, COMMON_PRACTICE):
        back = from_bytes(to_bytes(there), type(there))
        assert list(leaves(back)) == list(leaves(there))
        assert to_bytes(from_bytes(to_bytes(back), type(there))) == to_bytes(back)


def test_what_was_kept_before_a_field_was_there_still_reads() -> None:
    assert from_json('{"name": "left"}', Tank) == Tank("left")
    with pytest.raises(ValidationError):
        from_json('{"capacity_ml": 3000}', Tank)


def test_a_part_is_a_name_as_any_other() -> None:
    there = FlightContext(packs={Part("rx1"): Pack(Part("A"))})
    assert from_json(to_json(there), FlightContext) == FlightContext(packs={"rx1": Pack("A")})
    assert to_json({Part("rx1"): 1}) == b'{"rx1":1}'


def test_a_figure_that_is_read_is_the_same_figure() -> None:
    there = Figure("Burned", 1.5, "mL", Method.ESTIMATED, low=1.0, high=2.0, how=say("a.b", n=1))
    data = to_bytes(there)

    def back() -> Figure:
        return from_bytes(data, Figure)

    assert back() == there
    assert there == back()
    assert hash(back()) == hash(there)
    assert repr(back()) == repr(there)
    assert replace(back(), value=1.75) == replace(there, value=1.75)
    assert copy.deepcopy(back()) == there
    assert pickle.loads(pickle.dumps(back())) == there
    assert not hasattr(back(), "valeu")
    assert not hasattr(there, "valeu")
    with pytest.raises(AttributeError):
        back().value = 2.0  # type: ignore[misc]
    old = from_json('{"label": "a", "value": 1, "unit": "s", "method": "measured"}', Figure)
    assert old == Figure("a", 1.0, "s", Method.MEASURED)
    assert isinstance(old.value, float)
