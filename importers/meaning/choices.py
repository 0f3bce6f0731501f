"""The unit of a channel: as the column says, as only its values can mean, by convention, or asked."""

from __future__ import annotations

from msgspec import Struct

from analyser.core.channels import Channel
from analyser.core.findings import Text, say
from importers.meaning import units
from importers.meaning.codes import MeaningCode
from importers.meaning.heading import Heading
from importers.meaning.units import Conversion
from importers.meaning.witness import Numbers, Verdict, testify

# By a channel's unit: what such logs are written in without saying so; the first is the convention, where there is one.
_USUAL: dict[str, tuple[str, ...]] = {
    "V": ("V", "mV"), "A": ("A", "mA"), "mAh": ("mAh",), "rpm": ("rpm", "krpm"), "°C": ("°C",), "°": ("°",),
}  # fmt: skip
# The values alone may settle these; where they do not, all are asked.
_SETTLED: dict[str, tuple[str, ...]] = {
    "mL": ("mL", "%", "L", "fl oz"), "Pa": ("Pa", "hPa", "kPa", "inHg", "psi"),
}  # fmt: skip
_ASKED: dict[str, tuple[str, ...]] = {
    "V": ("V", "mV"), "A": ("A", "mA"), "m": ("m", "ft"), "m/s": ("m/s", "km/h", "kn", "mph"), "rpm": ("rpm", "krpm"),
    "m/s²": ("m/s²", "g"), "mL": ("mL", "%", "L"), "mL/min": ("mL/min", "L/h", "mL/s"), "Pa": ("Pa", "hPa"),
    "dBm": ("%", "counts", "dBm"), "°C": ("°C", "°F"), "mAh": ("mAh", "Ah"), "°": ("°", "rad"),
}  # fmt: skip
_SCALED: dict[str, tuple[str, ...]] = {"rpm": ("10 rpm", "100 rpm")}
"""What whole numbers of a sensor may count, whatever their heading says."""
_CLIMB = ("m/s", "ft/min", "km/h")
"""What climb rates are given in."""
_ALSO = {
    "ms": "m/s",
    "c": "degC",
    "f": "degF",
    **dict.fromkeys(("degrés", "degrees", "grad", "grados", "gradi"), "degC"),
}
"""What a spelling may stand for besides, where its first meaning is of another kind: "speed_ms"."""
_NOT_SAID = say(MeaningCode.UNIT_NOT_SAID)
_PERCENT = ("control.", "engine.throttle", "engine.pump")


class Unit(Struct, frozen=True):
    """A unit for a channel.

    ``how``: ``said``, ``values`` (only this one makes them possible), ``convention``, ``sign``, ``count`` or ``asked``.
    """

    unit: str | None
    conversion: Conversion
    how: str
    verdict: Verdict
    reason: Text
    ask: tuple[str, ...] = ()
    other_fits: bool = False
    """Whether the values are unusual in this unit, and usual in another of its kind."""


def asked(unit: str) -> tuple[str, ...]:
    """The units that a channel printed in ``unit`` may be logged in without a word."""
    return _ASKED.get(unit, ())


def spelled(heading: Heading, wanted: str) -> str:
    """The unit that a heading says where it is to be one of ``wanted``'s kind: "speed_ms" is in metres a second."""
    also = _ALSO.get(heading.unit_text.casefold(), "")
    unit = heading.unit or ""
    return also if also and units.conversion(unit, wanted) is None else unit


def choose(key: str, channel: Channel, heading: Heading, seen: Numbers | None, *, flags: bool) -> Unit | None:
    """The unit a column is in, were it this channel; None where it cannot be this channel."""
    same = Conversion()
    if channel.unit == "bool":
        fits = flags and heading.unit in (None, "bool", "1", "%")
        return Unit("bool", same, "count", Verdict.FITS, "") if fits else None
    if flags and seen is None:
        return None
    if heading.scale:
        return _scaled(channel, heading, seen)
    if heading.unit is not None:
        return _stated_unit(channel, heading, seen)
    if channel.unit == "1":
        return Unit("1", same, "count", testify(channel, seen, same), say(MeaningCode.COUNT))
    if channel.unit == "counts":
        return None
    if channel.unit == "%":
        return _percent(key, channel, seen)
    if channel.unit == "dBm":
        if seen is not None and seen.high <= 0 and seen.low < 0:
            return Unit("dBm", same, "sign", testify(channel, seen, same), say(MeaningCode.NEGATIVE))
        return Unit(None, same, "asked", Verdict.SILENT, _NOT_SAID, _ASKED["dBm"])
    return _unsaid(channel, seen)


def _stated_unit(channel: Channel, heading: Heading, seen: Numbers | None) -> Unit | None:
    assert heading.unit is not None
    unit = spelled(heading, channel.unit)
    conversion = units.conversion(unit, channel.unit)
    if conversion is None:
        return None
    if unit == "%" and heading.unit_by != "said" and _share(seen):
        return Unit(None, Conversion(), "asked", Verdict.SILENT, say(MeaningCode.UNIT_NOT_CLEAR), ("%", "fraction"))
    verdict = testify(channel, seen, conversion)
    other = verdict is Verdict.ODD and _another_fits(channel, seen, (unit,))
    return Unit(unit, conversion, "said", verdict, say(MeaningCode.UNIT_SAID, unit=heading.unit_text), (), other)


def _share(seen: Numbers | None) -> bool:
    """Whether values look like parts of one, not of a hundred."""
    return seen is not None and not seen.whole and seen.kinds > 1 and seen.low >= -1.0 and seen.high <= 1.0


def _scaled(channel: Channel, heading: Heading, seen: Numbers | None) -> Unit | None:
    """A unit beside "x100" or "/10": whether the values are so many times too large or too small is for them to say."""
    bases = (
        [heading.unit]
        if heading.unit
        else [units.understand(u) or u for u in (_USUAL.get(channel.unit) or (channel.unit,))[:1]]
    )
    ways, fitting = [], []
    for base in bases:
        for expression in (f"{heading.scale} {base}", f"1/{heading.scale} {base}"):
            conversion = units.conversion(expression, channel.unit)
            if conversion is None:
                return None
            ways.append(units.written(expression))
            verdict = testify(channel, seen, conversion)
            if verdict is Verdict.FITS:
                fitting.append(
                    Unit(expression, conversion, "values", verdict, say(MeaningCode.UNIT_BY_VALUES, unit=ways[-1]))
                )
    if len(fitting) == 1:
        return fitting[0]
    return Unit(None, Conversion(), "asked", Verdict.SILENT, say(MeaningCode.UNIT_NOT_CLEAR), tuple(ways))


def _percent(key: str, channel: Channel, seen: Numbers | None) -> Unit | None:
    same = Conversion()
    if not key.startswith(_PERCENT) and "quality" not in key:
        return None
    if seen is None:
        return Unit("%", same, "convention", Verdict.SILENT, say(MeaningCode.UNIT_TAKEN, unit="%"))
    if seen.low < channel.low or seen.high > channel.high:
        return None
    if seen.low >= -1.0 and seen.high <= 1.0 and not seen.whole:
        return Unit(None, same, "asked", Verdict.SILENT, _NOT_SAID, ("%", "fraction"))
    return Unit("%", same, "convention", testify(channel, seen, same), say(MeaningCode.UNIT_TAKEN, unit="%"))


def _unsaid(channel: Channel, seen: Numbers | None) -> Unit | None:
    same = Conversion()
    answers = _CLIMB if channel.quantity == "vario_m_s" else _ASKED.get(channel.unit, (channel.unit,))
    asked = Unit(None, same, "asked", Verdict.SILENT, _NOT_SAID, answers)
    usual = _USUAL.get(channel.unit) or _SETTLED.get(channel.unit, ())
    fitting: list[Unit] = []
    for name in usual:
        expression = units.understand(name) or name
        conversion = units.conversion(expression, channel.unit)
        if conversion is None:
            if seen is None or name != "%" or seen.high <= 105:
                fitting.append(asked)  # of another kind, and possible
            continue
        verdict = testify(channel, seen, conversion)
        if verdict in (Verdict.FITS, Verdict.SILENT):
            fitting.append(
                Unit(expression, conversion, "values", verdict, say(MeaningCode.UNIT_TAKEN_BY_VALUES, unit=name))
            )
    if channel.unit in _USUAL:
        first = units.understand(usual[0]) or usual[0]
        plain = units.conversion(first, channel.unit)
        verdict = testify(channel, seen, plain) if plain else Verdict.CONTRADICTS
        if verdict in (Verdict.FITS, Verdict.SILENT) or (verdict in (Verdict.ODD, Verdict.RESTS) and not fitting):
            if channel.subject == "attitude" and seen and _radians(seen):
                return asked
            if verdict is Verdict.ODD and _another_fits(channel, seen, usual):
                return asked
            assert plain is not None
            return Unit(first, plain, "convention", verdict, say(MeaningCode.UNIT_TAKEN, unit=usual[0]))
    told = [f for f in fitting if f.unit is not None and f.verdict is Verdict.FITS]
    if channel.unit == "A" and seen and seen.high < 0:
        return asked  # signal strengths, say: their size tells no unit of a current
    return told[0] if len(told) == 1 == len(fitting) and seen is not None else asked


def _another_fits(channel: Channel, seen: Numbers | None, usual: tuple[str, ...]) -> bool:
    """Whether values that are unusual in the conventional unit would be usual in another: exhaust in °F, say."""
    others = (
        units.understand(u) or u
        for u in (*_ASKED.get(channel.unit, ()), *_SCALED.get(channel.unit, ()))
        if u not in usual
    )
    found = (units.conversion(u, channel.unit) for u in others)
    return any(testify(channel, seen, c) is Verdict.FITS for c in found if c is not None)


def _radians(seen: Numbers) -> bool:
    """Whether angles may be in radians: all within half a turn of those, and not whole."""
    return max(abs(seen.low), abs(seen.high)) < 3.2 and not seen.whole
