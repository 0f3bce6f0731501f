"""Radio link in one flight: fades, lost frames and failsafe, per receiver and antenna, and from which side.

The composition: where the transmitter was seen (:mod:`analyser.core.geometry`), each signal against what its
distance explains (:mod:`analyser.link.signal_level`), its fades (:mod:`analyser.link.fades`), what was lost
(:mod:`analyser.link.losses`), and all of it sorted by direction (:mod:`analyser.link.directions`).
"""

from __future__ import annotations

import numpy as np
from msgspec import Struct, field
from msgspec.structs import replace

from analyser.core.aircraft import FlightContext
from analyser.core.codes import CoreCode
from analyser.core.events import Event, happened
from analyser.core.figures import Z95, Figure, FloatArray, Method, Missing, Trace
from analyser.core.findings import Finding, Part, Text, say
from analyser.core.geometry import STEP_S, Geometry, Seen, locate
from analyser.core.phases import Phases
from analyser.core.statistics.robust import median
from analyser.core.tables import Tabular
from analyser.core.telemetry import Series, Telemetry
from analyser.link.codes import LinkCode
from analyser.link.count_rate import counter_map
from analyser.link.directions import DirectionBins, late_deg, sort_by_direction
from analyser.link.fades import fades_together, find_fades, find_low_margin, worst_direction
from analyser.link.losses import (
    BURST_FRAMES,
    FRAMES,
    PACKETS,
    count_losses,
    downlink_hole_s,
    find_failsafe,
    running_loss,
)
from analyser.link.maps import antenna_key
from analyser.link.propagation import DEFAULT_MHZ
from analyser.link.signal_level import POSITION_SE_M, SignalLevel, level_of, slim

SOUND_M_S = 340.0
"""Speed of sound at 15 °C (ICAO standard atmosphere, Doc 7488: 340.3 m/s); no model flies faster."""
FIX_JUMP_M = 60.0
"""So far a place may jump where a receiver changes the satellites it reckons by; common practice, no source."""


class AntennaResult(Struct, frozen=True):
    """One antenna over one flight. ``name`` is ``<receiver>.antenna<n>``, or the receiver where it reports one for all.

    ``distance_exponent`` is the fitted fall with distance (2 in free space); ``lost_bursts`` counts bursts of lost
    packets, for antennas that report no signal strength. ``fade_azimuth_deg`` and ``fade_elevation_deg``, shape
    (fades,), say from where in body axes the transmitter was seen at the bottom of each fade; NaN where no direction
    is trusted.
    """

    name: str
    receiver: str
    number: int
    unit: str
    median_signal: Figure
    lowest_signal: Figure
    lowest_margin_db: Figure
    lost_packets: Figure
    lost_per_min: Figure
    fades: Figure
    fade_seconds: Figure
    worst_direction: Text
    residual: Trace | None
    bins: DirectionBins | None
    events: tuple[Event, ...]
    distance_exponent: Figure | None = None
    lost_bursts: Figure | None = None
    fade_azimuth_deg: FloatArray | None = None
    fade_elevation_deg: FloatArray | None = None


class ReceiverResult(Struct, frozen=True):
    """One receiver over one flight."""

    name: str
    lost_frames: Figure
    lost_frames_per_min: Figure
    failsafe_s: Figure
    fades_together: Figure
    fades_saved: Figure
    antennas: tuple[AntennaResult, ...]
    events: tuple[Event, ...]
    lowest_quality_percent: Figure | None = None
    lost_frames_share: Figure | None = None


class LinkResult(Tabular, Struct, frozen=True):
    """The radio link of one flight.

    ``directions_from`` says how the transmitter's direction in body axes was found ('' where it wasn't),
    ``pilot_from`` how the pilot's place was; ``directions_left_out_s`` is airborne time without a trusted direction.
    """

    receivers: tuple[ReceiverResult, ...]
    max_range_m: Figure
    range_m: Trace | None
    directions_from: Text
    downlink_gaps: Figure
    events: tuple[Event, ...]
    missing: tuple[Missing, ...]
    pilot_from: Text = ""
    directions_left_out_s: Figure | None = None
    left_out: dict[str, float] = field(default_factory=dict)
    fades_on_all_receivers: Figure | None = None

    @property
    def bridging(self) -> tuple[str, ...]:
        """Names of the receivers whose antennas can bridge each other's fades."""
        return tuple(r.name for r in self.receivers if r.fades_saved.value is not None)


class _Flight(Struct, frozen=True, eq=False):
    """What every antenna of the flight is judged with."""

    telemetry: Telemetry
    geometry: Geometry | None
    air: tuple[float, float]
    mhz: float
    mhz_is_assumed: bool
    _seen: list[tuple[FloatArray, Seen]] = field(default_factory=list)
    _late: dict[int, float] = field(default_factory=dict)
    """By the identity of what ``_seen`` keeps."""
    _airborne: dict[int, tuple[FloatArray, slice]] = field(default_factory=dict)
    """By the identity of the instants, which the telemetry keeps."""

    def seen_at(self, time_s: FloatArray) -> Seen | None:
        """The geometry at a sensor's samples; antennas of one log mostly share their instants, so it is kept."""
        if self.geometry is None:
            return None
        for known, seen in self._seen:
            if known is time_s or np.array_equal(known, time_s):
                return seen
        self._seen.append((time_s, self.geometry.seen_at(time_s)))
        return self._seen[-1][1]

    def late_deg(self, level: SignalLevel) -> float:
        """How far late positions turn what an antenna saw; once for all that share their instants."""
        if level.seen is None:
            return 0.0
        if id(level.seen) not in self._late:
            self._late[id(level.seen)] = late_deg(level.time_s, level.seen)
        return self._late[id(level.seen)]

    @property
    def has_position(self) -> bool:
        return self.telemetry.has("position.latitude_deg", "position.longitude_deg")

    def airborne(self, channel: str) -> Series:
        """Samples of a channel between lift-off and touch-down."""
        t, v = self.telemetry.series(channel)
        if id(t) not in self._airborne:  # the same object for all channels read at the same instants
            part = slice(*np.searchsorted(t, self.air[0]).flat, *np.searchsorted(t, self.air[1], "right").flat)
            self._airborne[id(t)] = t[part], part
        time_s, part = self._airborne[id(t)]
        return Series(time_s, v[part])


def analyse_link(telemetry: Telemetry, phases: Phases, context: FlightContext) -> LinkResult:
    """Work out one flight's radio-link story.

    Figures cover the airborne span, or the whole log where lift-off can't be told. What the log lacks (position,
    attitude, signal, counters) costs only the figures that need it and is listed in :attr:`LinkResult.missing`.
    """
    receivers = telemetry.instances("link")
    if not receivers and not telemetry.instances("downlink"):
        gone = say(LinkCode.NO_LINK_CHANNEL)
        lacking = Missing("link", say(LinkCode.NO_LINK), say(LinkCode.LINK_COST), say(LinkCode.LINK_REMEDY))
        return LinkResult(
            receivers=(),
            max_range_m=Figure.unavailable(say(LinkCode.LONGEST_RANGE), "m", gone),
            range_m=None,
            directions_from="",
            downlink_gaps=Figure.unavailable(say(LinkCode.DOWNLINK_GAPS), "", gone),
            events=(),
            missing=(lacking,),
        )
    geometry = locate(telemetry, phases, context)
    mhz = context.aircraft.radio_mhz if context.aircraft and context.aircraft.radio_mhz else None
    flight = _Flight(
        telemetry, geometry, phases.airborne_span or (0.0, telemetry.duration_s), mhz or DEFAULT_MHZ, mhz is None
    )
    results = tuple(_receiver(name, flight, context) for name in receivers)
    max_range, range_trace = _range(flight)
    gaps, gap_events = _downlink(flight)
    everywhere = [a for r in results for a in r.antennas]
    together = fades_together([a.events for a in everywhere])
    lost_s = (
        Figure(
            say(LinkCode.UNTRUSTED_TIME), geometry.unknown_s, "s", Method.ESTIMATED, digits=0,
            how=say(CoreCode.JOINED, parts=tuple(
                say(LinkCode.LEFT_OUT, why=say(why), seconds=s) for why, s in geometry.left_out.items()
            )) if geometry.left_out else say(LinkCode.NONE_LEFT_OUT),
        )
        if geometry and geometry.directions_from
        else Figure.unavailable(say(LinkCode.UNTRUSTED_TIME), "s", say(LinkCode.NO_DIRECTION_AT_ALL))
    )  # fmt: skip
    return LinkResult(
        receivers=results,
        max_range_m=max_range,
        range_m=range_trace,
        directions_from=geometry.directions_from if geometry else "",
        downlink_gaps=gaps,
        events=gap_events,
        missing=_missing(flight, results),
        pilot_from=geometry.pilot_from if geometry else "",
        directions_left_out_s=lost_s,
        left_out=geometry.left_out if geometry else {},
        fades_on_all_receivers=_count(
            LinkCode.FADES_EVERYWHERE, together.shared, say(LinkCode.SAME_INSTANT), Method.ESTIMATED
        )
        if len(results) > 1 and len(everywhere) > 1
        else None,
    )


def _missing(flight: _Flight, results: tuple[ReceiverResult, ...]) -> tuple[Missing, ...]:
    out = []
    g = flight.geometry
    antennas = [a for r in results for a in r.antennas]
    if g is None and flight.has_position:
        place, cost, remedy = LinkCode.PILOTS_PLACE, LinkCode.PLACE_COST, LinkCode.PLACE_REMEDY
        out.append(Missing("link", say(place), say(cost), say(remedy)))
    elif g is None:
        position, cost, remedy = LinkCode.POSITION, LinkCode.POSITION_COST, LinkCode.LOG_POSITION
        out.append(Missing("link", say(position), say(cost), say(remedy)))
    else:
        if not g.height_from:
            height = say(CoreCode.HEIGHT)
            out.append(Missing("link", height, say(LinkCode.HEIGHT_COST), say(LinkCode.LOG_HEIGHT)))
        elif g.directions_from != say(CoreCode.ATTITUDE_LOGGED):
            derived = say(LinkCode.ATTITUDE_COST, degrees=g.uncertainty_deg)
            out.append(Missing("link", say(LinkCode.ATTITUDE), derived, say(LinkCode.LOG_ATTITUDE)))
        if g.pilot_from != say(CoreCode.PILOT_ENTERED):
            out.append(Missing("link", say(LinkCode.PILOTS_PLACE), g.pilot_from, say(LinkCode.ENTER_PLACE)))
    if flight.mhz_is_assumed and any(a.unit == "dBm" for a in antennas):
        assumed = say(LinkCode.FREQUENCY_COST, mhz=flight.mhz)
        out.append(Missing("link", say(LinkCode.FREQUENCY), assumed, say(LinkCode.SET_FREQUENCY)))
    if results and not any(a.number for a in antennas):
        each, cost, remedy = LinkCode.PER_ANTENNA, LinkCode.PER_ANTENNA_COST, LinkCode.LOG_PER_ANTENNA
        out.append(Missing("link", say(each), say(cost), say(remedy)))
    return tuple(out)


def _range(flight: _Flight) -> tuple[Figure, Trace | None]:
    label = say(LinkCode.LONGEST_RANGE)
    g = flight.geometry
    if g is None:
        gone = say(LinkCode.NO_PLACE_KNOWN if flight.has_position else LinkCode.NO_POSITION_LOGGED)
        return Figure.unavailable(label, "m", gone), None
    distance = np.sqrt(g.east_m**2 + g.north_m**2 + g.up_m**2)
    shown = distance[g.airborne & np.isfinite(distance)]
    how = say(LinkCode.RANGE_HOW, slant=bool(g.height_from), pilot=g.pilot_from)
    label_of_trace = say(LinkCode.RANGE_FROM_PILOT)
    trace = Trace(label_of_trace, "m", slim(g.time_s, 4), slim(distance, 1), method=Method.ESTIMATED, how=how)
    if not shown.size:
        return Figure.unavailable(label, "m", say(LinkCode.NO_POSITION_AIRBORNE)), trace
    far, off = float(shown.max()), float(np.hypot(g.pilot_error_m, Z95 * POSITION_SE_M))
    found = Figure(label, far, "m", Method.ESTIMATED, low=max(far - off, 0.0), high=far + off, how=how, digits=0)
    doubts = _jumps(g) + ((say(LinkCode.PLACES_FAR, distance=far),) if far > FARTHEST_M else ())
    return (replace(found, doubts=doubts) if doubts else found), trace


FARTHEST_M = 30_000.0
"""No model is flown by hand farther from who flies it (common practice, no source)."""


def _jumps(g: Geometry) -> tuple[Finding, ...]:
    """Doubt places between which the model would have flown faster than sound: some of them are wrong."""
    stepped = np.sqrt(np.diff(g.east_m) ** 2 + np.diff(g.north_m) ** 2 + np.diff(g.up_m) ** 2)
    stepped[~(g.airborne[:-1] & g.airborne[1:] & np.isfinite(stepped))] = 0.0
    most = int(np.argmax(stepped)) if stepped.size else 0
    if not stepped.size or stepped[most] <= SOUND_M_S * STEP_S + FIX_JUMP_M:
        return ()
    return (say(LinkCode.PLACES_JUMP, distance=float(stepped[most]), at_s=float(g.time_s[most])),)


def _downlink(flight: _Flight) -> tuple[Figure, tuple[Event, ...]]:
    """Holes in the record while airborne: nobody saw the control link then, which says nothing against it."""
    t = flight.telemetry.time_s
    t = t[(t >= flight.air[0]) & (t <= flight.air[1])]
    if t.size < 3:
        return Figure.unavailable(say(LinkCode.DOWNLINK_GAPS), "", say(LinkCode.TOO_FEW_ROWS)), ()
    step = np.diff(t)
    limit = downlink_hole_s(t)
    at = np.flatnonzero(step > limit)
    events = tuple(
        happened(
            "downlink_gap", "downlink", (float(t[i]), float(t[i + 1])),
            say(LinkCode.DOWNLINK_GAP, seconds=float(step[i])), size=float(step[i]),
        )
        for i in at
    )  # fmt: skip
    how = say(LinkCode.HOLES_HOW, seconds=limit)
    return _count(LinkCode.DOWNLINK_GAPS, at.size, how), events


def _count(label: LinkCode, value: float, how: Finding, method: Method = Method.INTEGRATED) -> Figure:
    return Figure(say(label), float(value), "", method, how=how, digits=0)


_PER_ANTENNA = ("antenna<n>_rssi_dbm", "antenna<n>_signal_percent", "antenna<n>_signal_counts", "antenna<n>_lost")
_SIGNALS = (("rssi_dbm", "dBm"), ("signal_percent", "%"), ("signal_counts", "counts"))


def _receiver(name: str, flight: _Flight, context: FlightContext) -> ReceiverResult:
    telemetry = flight.telemetry
    subject = f"link.{name}"
    numbers = sorted({n for q in _PER_ANTENNA for n in telemetry.numbers("link", name, q)})
    if not numbers and any(telemetry.has(f"{subject}.{q}") for q, _ in _SIGNALS):
        numbers = [0]
    antennas = tuple(_antenna(name, n, flight, context) for n in numbers)
    channel = f"{subject}.lost_frames"
    lost = count_losses(running_loss(flight.airborne(channel)), channel, subject, FRAMES)
    failsafe, spans = find_failsafe(telemetry.series(f"{subject}.failsafe"), telemetry.time_s, flight.air, name)
    together = fades_together([a.events for a in antennas])
    events = [
        *lost.bursts,
        *spans,
        *(
            happened(
                "fade_together", subject, (a, b), say(LinkCode.FADED_TOGETHER, receiver=Part(subject), seconds=b - a),
                size=b - a,
            )
            for a, b in together.spans
        ),
    ]  # fmt: skip
    labels = (LinkCode.FADES_ON_ALL, LinkCode.FADES_BRIDGED)
    if sum(1 for a in antennas if a.fades.value is not None) >= 2:
        how = say(LinkCode.ANTENNAS_COMPARED)
        counts = (together.shared, together.clusters - together.shared)
        all_of, saved = (_count(x, n, how, Method.ESTIMATED) for x, n in zip(labels, counts, strict=True))
    else:
        gone = say(LinkCode.NEEDS_TWO_ANTENNAS)
        all_of, saved = (Figure.unavailable(say(x), "", gone) for x in labels)
    return ReceiverResult(
        name,
        lost.total,
        lost.per_min,
        failsafe,
        all_of,
        saved,
        antennas,
        tuple(sorted(events, key=lambda e: e.start_s)),
        _lowest_quality(flight.airborne(f"{subject}.link_quality_percent")),
        _share(lost.per_min, name, context),
    )


def _share(per_min: Figure, receiver: str, context: FlightContext) -> Figure | None:
    """Missed frames over frames sent, where the owner stated how many a second the receiver gets."""
    described = context.aircraft.receiver(receiver) if context.aircraft else None
    if described is None or described.frame_rate_hz is None:
        return None
    rate = described.frame_rate_hz
    how = say(LinkCode.LOST_FRAMES_SHARE_HOW, rate=rate)
    share = per_min.times(100.0 / (60.0 * rate), say(LinkCode.LOST_FRAMES_SHARE), "%", how=how, digits=2)
    if share.value and share.value < 0.05:
        # Some frames missed are never shown as 0.00 %.
        share = replace(share, digits=min(5, 1 - int(np.floor(np.log10(share.value)))))
    if share.value is None or share.value <= 100.0:
        return share
    return share.with_doubt(say(LinkCode.MORE_THAN_SENT, rate=rate))


def _lowest_quality(quality: Series) -> Figure:
    label = say(LinkCode.LOWEST_QUALITY)
    if not quality:
        return Figure.unavailable(label, "%", say(LinkCode.NO_QUALITY))
    how = say(LinkCode.WHILE_AIRBORNE)
    return Figure(label, float(quality.values.min()), "%", Method.MEASURED, how=how, digits=0)


def _signal(receiver: str, number: int, flight: _Flight) -> tuple[Series, str]:
    stem = f"link.{receiver}." + (f"antenna{number}_" if number else "")
    for quantity, unit in _SIGNALS:
        found = flight.airborne(f"{stem}{quantity}")
        if found.time_s.size > 1:
            return found, unit
    return Series(np.empty(0), np.empty(0)), ""


def _antenna(receiver: str, number: int, flight: _Flight, context: FlightContext) -> AntennaResult:
    key = antenna_key(receiver, number)
    subject = f"link.{key}"
    channel = f"link.{receiver}.antenna{number}_lost" if number else f"link.{receiver}.lost_frames"
    running = running_loss(flight.airborne(channel))
    lost = count_losses(running, channel, subject, PACKETS)
    signal, unit = _signal(receiver, number, flight)
    if not signal:
        gone = say(LinkCode.NO_SIGNAL, antenna=Part(subject))
        bins = _bins(None, running, flight)

        def none(label: LinkCode, unit: str) -> Figure:
            return Figure.unavailable(say(label), unit, gone)

        return AntennaResult(
            name=key,
            receiver=receiver,
            number=number,
            unit="lost",
            median_signal=none(LinkCode.MEDIAN_SIGNAL, "dBm"),
            lowest_signal=none(LinkCode.LOWEST_SIGNAL, "dBm"),
            lowest_margin_db=none(LinkCode.LOWEST_MARGIN, "dB"),
            lost_packets=lost.total,
            lost_per_min=lost.per_min,
            fades=none(LinkCode.FADES, ""),
            fade_seconds=none(LinkCode.TIME_FADED, "s"),
            worst_direction=_worst_by_counter(bins),
            residual=None,
            bins=bins,
            events=lost.bursts,
            lost_bursts=_count(LinkCode.LOST_BURSTS, len(lost.bursts), say(LinkCode.BURSTS_HOW, packets=BURST_FRAMES)),
        )
    level = level_of(signal, unit, flight.seen_at(signal.time_s), flight.mhz)
    fades = find_fades(level, subject)
    count, seconds = fades.figures()
    described = context.aircraft.receiver(receiver) if context.aircraft else None
    margin, margin_events = find_low_margin(level, described.sensitivity_dbm if described else None, subject)
    bins = _bins(level, running, flight)
    airborne = say(LinkCode.WHILE_AIRBORNE)
    return AntennaResult(
        name=key,
        receiver=receiver,
        number=number,
        unit=unit,
        median_signal=Figure(
            say(LinkCode.MEDIAN_SIGNAL), median(level.values), unit, Method.INTEGRATED, how=airborne, digits=0
        ),
        lowest_signal=Figure(
            say(LinkCode.LOWEST_SIGNAL), float(level.values.min()), unit, Method.MEASURED, how=airborne, digits=0
        ),
        lowest_margin_db=margin,
        lost_packets=lost.total,
        lost_per_min=lost.per_min,
        fades=count,
        fade_seconds=seconds,
        worst_direction=worst_direction(fades.events, level) or _worst_by_counter(bins),
        residual=Trace(
            say(LinkCode.RESIDUAL, antenna=Part(subject)), level.residual_unit, slim(level.time_s, 4),
            slim(level.residual, 1),
            how=level.how,
        )
        if fades.judged > 0
        else None,
        bins=bins,
        events=(*fades.events, *margin_events),
        distance_exponent=_exponent(level),
        fade_azimuth_deg=fades.azimuth_deg,
        fade_elevation_deg=fades.elevation_deg,
    )  # fmt: skip


def _exponent(level: SignalLevel) -> Figure:
    label, fit = say(LinkCode.DISTANCE_EXPONENT), level.fit
    if fit is None:
        return Figure.unavailable(label, "", say(LinkCode.NO_EXPONENT))
    how = say(LinkCode.EXPONENT_HOW, two_ray=fit.two_ray_shows)
    return Figure(label, fit.exponent, "", Method.ESTIMATED, low=fit.low, high=fit.high, how=how, digits=2)


def _bins(level: SignalLevel | None, running: Series, flight: _Flight) -> DirectionBins | None:
    g = flight.geometry
    if g is None or not g.directions_from:
        return None
    middle = (running.time_s[:-1] + running.time_s[1:]) / 2
    late = flight.late_deg(level) if level is not None else 0.0
    return sort_by_direction(level, running, flight.seen_at(middle) if middle.size else None, g.uncertainty_deg, late)


def _worst_by_counter(bins: DirectionBins | None) -> Text:
    """Where most is lost a second, if some direction stands out against the flight's usual."""
    made = counter_map("", "", [bins]) if bins is not None and bins.counted and bins.lost.sum() >= 10 else None
    where = made.nulls[0].values["where"] if made and made.nulls else ""
    return where if isinstance(where, Finding) else ""
