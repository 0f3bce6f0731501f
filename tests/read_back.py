"""Pages, terminal and exports read as a stranger reads them: the text alone, no module of the project.

A number printed for a flight is held against the table that ``spooldown export figures`` gives: the same label, unit,
value and interval, to the digits that are printed. A head of a table names a figure by its list in ``docs/figures.md``;
which head means which figure stands in :data:`HEADS`, and a head that is in no such list fails.
"""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Iterable, Iterator
from html.parser import HTMLParser
from pathlib import Path

from msgspec import Struct

_ALONE = {"br", "img", "input", "meta", "link", "hr", "use", "path", "wbr", "col", "circle", "rect", "line"}
_INLINE = {"abbr", "b", "i", "a", "span", "em", "strong", "sub", "sup"}
_UNSEEN = {"script", "style", "svg", "template"}
NUMBER = re.compile(r"(?<![\w.,])[−-]?\d{1,3}(?:\u202f\d{3})+(?:\.\d+)?|(?<![\w.,])[−-]?\d+(?:\.\d+)?")


class Node:
    """One element of a page."""

    def __init__(self, tag: str, attributes: dict[str, str], parent: Node | None) -> None:
        self.tag, self.attributes, self.parent = tag, attributes, parent
        self.children: list[Node | str] = []

    def text(self) -> str:
        """What a reader sees, spaces as they wrap."""
        return re.sub(r"[ \t\n]+", " ", self._text()).strip()

    def _text(self) -> str:
        out = []
        for child in self.children:
            if isinstance(child, str):
                out.append(child)
            elif child.tag not in _UNSEEN:
                inner = child._text()
                out.append(inner if child.tag in _INLINE else f" {inner} ")
        return "".join(out)

    def find(self, *tags: str) -> Iterator[Node]:
        """Every element of these kinds below."""
        for child in self.children:
            if isinstance(child, Node):
                if child.tag in tags:
                    yield child
                yield from child.find(*tags)


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.root = self.at = Node("", {}, None)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        node = Node(tag, {k: v or "" for k, v in attrs}, self.at)
        self.at.children.append(node)
        if tag not in _ALONE:
            self.at = node

    def handle_endtag(self, tag: str) -> None:
        node: Node | None = self.at
        while node is not None and node.tag != tag:
            node = node.parent
        if node is not None and node.parent is not None:
            self.at = node.parent

    def handle_data(self, data: str) -> None:
        self.at.children.append(data)


def page(text: str) -> Node:
    """Parse a page."""
    reader = _Reader()
    reader.feed(text)
    return reader.root


class Row(Struct, frozen=True):
    """One figure as an export gives it; ``slack`` is half a unit of its last digit."""

    name: str
    label: str
    unit: str
    value: float
    low: float | None
    high: float | None
    slack: float


def exported(data: str) -> dict[str, dict[str, Row]]:
    """Flight to name to figure, of ``spooldown export figures --format csv``; those without a value are left out."""
    out: dict[str, dict[str, Row]] = {}
    for row in csv.DictReader(io.StringIO(data)):
        flight = out.setdefault(row["flight"], {})
        if row["value"] != "":
            flight[row["figure"]] = Row(
                row["figure"], row["label"], row["unit"], float(row["value"]),
                float(row["low"]) if row["low"] else None, float(row["high"]) if row["high"] else None,
                half_digit(row["value"].removesuffix(".0")),  # a program writes a whole number so
            )  # fmt: skip
    return out


def half_digit(written: str) -> float:
    """Half a unit of a number's last written digit.

    Examples
    --------
    >>> half_digit("12.50"), half_digit("7"), half_digit("114.0")
    (0.005, 0.5, 0.05)
    """
    return 0.5 * 10.0 ** -len(written.partition(".")[2])


def numbers(text: str) -> list[tuple[float, float]]:
    """Every number of a text, and half a unit of its last digit."""
    found = [n.replace("\u202f", "").replace("−", "-") for n in NUMBER.findall(text)]
    return [(float(n), half_digit(n)) for n in found]


def agrees(shown: tuple[float, float], own: float | None, slack: float) -> bool:
    """Whether a printed number is the exported one, rounded."""
    return own is not None and abs(shown[0] - own) <= shown[1] + slack + 1e-9


HEADS = {
    "Burned": r"fuel\.(tanks\.PART\.burn\.)?burned",
    "Burn in flight": r"fuel\.(tanks\.PART\.burn\.)?rate",
    "Put in afterwards": r"fuel\.tanks\.PART\.scale\.put_in",
    "Left at landing": r"fuel\.tanks\.PART\.content\.left",
    "Above reserve": r"fuel\.tanks\.PART\.content\.margin",
    "Used": r"packs\.packs\.PART\.charge\.used_mah",
    "Rate in flight": r"packs\.packs\.PART\.charge\.airborne_mah_per_min",
    "Lowest": r"packs\.packs\.PART\.voltage\.lowest_v",
    "Deepest sag": r"packs\.packs\.PART\.voltage\.deepest_sag_v",
    "Cell spread": r"packs\.packs\.PART\.voltage\.cell_spread_v",
    "Resistance": r"packs\.packs\.PART\.resistance\.value_mohm",
    "Capacity": r"packs\.packs\.PART\.capacity\.(measured|by_discharge|by_charge)_mah",
    "Sag at 10 A": r"packs\.packs\.PART\.resistance\.sag_at_load_v",
    "Median signal": r"link\.receivers\..*\.antennas\.PART\.median_signal",
    "Lowest margin": r"link\.receivers\..*\.antennas\.PART\.lowest_margin_db",
    "Signal fades": r"link\.receivers\..*\.antennas\.PART\.fades",
    "Time in fades": r"link\.receivers\..*\.antennas\.PART\.fade_seconds",
    "Missed packets": r"link\.receivers\..*\.antennas\.PART\.lost_packets",
    "Missed frames": r"link\.receivers\.PART\.lost_frames",
    "Share missed": r"link\.receivers\.PART\.lost_frames_share",
    "Failsafe": r"link\.receivers\.PART\.failsafe_s",
    "Fades on all its antennas": r"link\.receivers\.PART\.fades_together",
    "Fades another antenna covered": r"link\.receivers\.PART\.fades_saved",
    "Ran": r"turbine\.engines\.PART\.run_min",
    "Highest speed": r"turbine\.engines\.PART\.max_rpm",
    "Hottest": r"turbine\.engines\.PART\.max_egt_c",
    "Idle": r"turbine\.engines\.PART\.idle_rpm",
    "Cool-down": r"turbine\.engines\.PART\.cool_down_s",
    "Imbalance": r"fuel\.imbalance",
}  # fmt: skip
"""Head of a table of key figures (without its unit) to the names, in exports, that it may stand for."""


class Flight(Struct, frozen=True):
    """What exports say of one flight: its figures by name, its time in the air and its day."""

    key: str
    aircraft: str
    airborne_min: float
    figures: dict[str, Row]

    def named(self, pattern: str) -> list[Row]:
        """Figures whose name is all of a pattern; of ``(one|another)`` in it only those of the first that are there."""
        if ways := re.search(r"\(([a-z_]+(?:\|[a-z_]+)+)\)", pattern):
            each = (self.named(pattern.replace(ways[0], way)) for way in ways[1].split("|"))
            return next((rows for rows in each if rows), [])
        return [row for name, row in self.figures.items() if re.fullmatch(pattern, name)]

    def whole(self, what: str) -> tuple[float | None, float]:
        """A quantity of the whole flight from its parts, and how far rounding may have moved it."""
        if what == "airborne":
            return self.airborne_min, 1e-6
        if what in ("burned", "rate"):
            one = self.figures.get(f"fuel.{what}")
            return (one.value, one.slack) if one else (None, 0.0)
        rows = self.named(r".*\.fades" if what == "fades" else r"packs\.packs\.[^.]*\.voltage\.lowest_v")
        values = [r.value for r in rows]
        if not values:
            return None, 0.0
        return (sum(values), 0.0) if what == "fades" else (min(values), max(r.slack for r in rows))


def flights(figures: str, flown: str) -> dict[str, Flight]:
    """Every flight, of ``export figures`` and ``export flights``, both CSV."""
    own = exported(figures)
    return {
        row["flight"]: Flight(
            row["flight"], row["aircraft"], float(row["airborne_s"] or 0.0) / 60.0, own.get(row["flight"], {})
        )
        for row in csv.DictReader(io.StringIO(flown))
    }


def _cells(row: Node) -> list[Node]:
    return [c for c in row.children if isinstance(c, Node) and c.tag in ("td", "th")]


def _head(text: str) -> tuple[str, str]:
    """A head without the unit and the method below it, and the unit.

    Examples
    --------
    >>> _head("Burn in flight, mL/min estimated"), _head("Missed packets integrated"), _head("Rate, left")
    (('Burn in flight', 'mL/min'), ('Missed packets', ''), ('Rate, left', ''))
    """
    text = text.replace("\u00a0", " ")
    text = re.sub(r" (estimated|measured|integrated|entered|assumed)$", "", text)
    found = re.fullmatch(r"(.+), (mL|mL/min|mAh|mAh/min|V|mΩ|dBm|dB|s|%|min|rpm|°C)", text)
    return (found[1], found[2]) if found else (text, "")


def _unlike(cell: str, rows: list[Row], unit: str) -> str:
    """What a cell prints that none of the figures holds; '' where one of them does."""
    shown = numbers(re.sub(r"(?<=\d)\s*(%|×)$", "", cell))
    if not shown:
        return "" if not rows else f"{cell!r} where the export has {rows[0].value}"
    for row in rows:
        units = {row.unit, row.unit.replace("/flight", "")}
        value = agrees(shown[0], row.value, row.slack)
        ends = len(shown) < 3 or (agrees(shown[1], row.low, row.slack) and agrees(shown[2], row.high, row.slack))
        if value and ends and (not unit or unit in units or unit == row.unit):
            return ""
    return f"{cell!r}, exported {[(r.value, r.low, r.high, r.unit) for r in rows]}"


def figure_tables(root: Node, flight: Flight) -> Iterator[str]:
    """Rows of a flight's page that name a figure in full, against the export: label, unit, value and interval."""
    by_label: dict[str, list[Row]] = {}
    for row in flight.figures.values():
        by_label.setdefault(row.label.replace("\u00a0", " "), []).append(row)
    for table in root.find("table"):
        lines = [[c.text() for c in _cells(r)] for r in table.find("tr")]
        if not lines or lines[0][:3] != ["Figure", "Value", "Interval"]:
            continue
        for label, value, interval, *_ in lines[1:]:
            own = by_label.get(label.replace("\u00a0", " "), [])
            if value == "not available":
                if own and len(own) == 1:
                    yield f"{label}: not available, exported {own[0].value}"
                continue
            unit = re.sub(r"^[−-]?[\d\u202f.]+\s*", "", value).strip()
            wrong = _unlike(f"{value.removesuffix(unit)} {interval}", own, "")
            if wrong or not own or all(unit.replace("1", "") != r.unit.replace("1", "") for r in own):
                yield f"{label}: {wrong or value}"


def key_tables(root: Node, flight: Flight) -> Iterator[str]:
    """Tables of key figures, a thing a row: each cell against the figure that its head names."""
    for table in root.find("table"):
        lines = [[c.text() for c in _cells(r)] for r in table.find("tr")]
        if not lines or lines[0][0] or len(lines[0]) < 2 or _head(lines[0][1])[0] not in HEADS:
            continue
        heads = [_head(h) for h in lines[0]]
        for name, *cells in lines[1:]:
            for (head, unit), cell in zip(heads[1:], cells, strict=True):
                pattern = HEADS.get(head)
                if pattern is None:
                    yield f"no figure is known for the head {head!r}"
                    continue
                rows = flight.named(pattern.replace("PART", _parts(name)))
                if name.startswith("All"):
                    rows = flight.named(re.sub(r"\(.*\)\?", "", pattern)) if "(" in pattern else []
                if cell == "–":
                    if rows and not name.startswith("All"):
                        yield f"{head}, {name}: nothing, exported {rows[0].value}"
                elif wrong := _unlike(cell, rows, unit):
                    yield f"{head}, {name}: {wrong}"


def _parts(name: str) -> str:
    """The name that exports give to what a row names, as a pattern.

    Examples
    --------
    >>> _parts("Left tank"), _parts("Pack E1 (ECU left)"), _parts("Nose antenna (rx1, antenna 1)")
    ('left', 'ecu_left', 'rx1\\\\.antenna1')
    """
    if found := re.search(r"([^ ,(]+), antenna (\d+)\)?$", name):
        return rf"{found[1]}\.antenna{found[2]}"
    inside = re.search(r"\((.+)\)$", name)
    words = inside[1].lower().split() if inside else name.lower().split()
    return "_".join(w for w in words if w not in ("tank", "engine", "pack", "receiver"))


LISTED = {
    "Capacity measured by the owner": r"packs\.packs\.PART\.capacity\.measured_mah",
    "Capacity charge used": r"packs\.packs\.PART\.capacity\.by_discharge_mah",
    "Capacity charge put back": r"packs\.packs\.PART\.capacity\.by_charge_mah",
    "Resistance by load steps in flight": r"packs\.packs\.PART\.resistance\.value_mohm",
    "Resistance noted readings": r"packs\.packs\.PART\.resistance\.noted_mohm",
    "Cell spread": r"packs\.packs\.PART\.voltage\.cell_spread_v",
    "Sag at 10 A": r"packs\.packs\.PART\.resistance\.sag_at_load_v",
    "Lowest": r"packs\.packs\.PART\.voltage\.lowest_v",
    "Imbalance": r"fuel\.imbalance",
}
"""Head of a table that lists flights to the name in exports; of a rate, the side stands in its head."""
WHOLE = {
    "Airborne": "airborne", "Burned": "burned", "mL/min": "rate", "Signal fades": "fades", "Lowest pack": "lowest",
    "Lowest pack voltage": "lowest",
}  # fmt: skip
"""Head of a table of flights to what :meth:`Flight.whole` adds up."""
NOT_NUMBERS = {"Flight", "Date", "Level", "Begun, UTC", "Layout"}


def flight_rows(root: Node, every: dict[str, Flight]) -> Iterator[str]:
    """Tables that list flights: each row's numbers against that flight's own, whatever the page."""
    title = next((h.text() for h in root.find("h1")), "")
    for table in root.find("table"):
        lines = [_cells(r) for r in table.find("tr")]
        if not lines or not lines[0] or lines[0][0].text() != "Flight":
            continue
        heads = [_head(c.text()) for c in lines[0]]
        for line in lines[1:]:
            target = next((a.attributes.get("href", "") for a in line[0].find("a")), "")
            flight = every.get(re.sub(r".*/|\.html.*", "", target))
            if flight is None:
                continue
            for (head, unit), cell in zip(heads[1:], line[1:], strict=True):
                wrong = _listed(flight, head, unit, cell.text(), title)
                if wrong:
                    yield f"{flight.key}: {head}: {wrong}"


def _listed(flight: Flight, head: str, unit: str, cell: str, title: str) -> str:
    if head in NOT_NUMBERS:
        return ""
    if head in WHOLE:
        value, slack = flight.whole(WHOLE[head])
        shown = numbers(cell)
        if not shown:
            return "" if value is None else f"{cell!r}, exported {value}"
        return "" if agrees(shown[0], value, slack) else f"{cell!r}, exported {value}"
    if head.startswith("Rate, "):
        rows = flight.named(rf"fuel\.tanks\.{_parts(head.removeprefix('Rate, '))}\.burn\.rate")
    elif head in LISTED:
        of_pack = [n for n, r in flight.figures.items() if re.search(rf"\bpack {re.escape(_pack(title))} \(", r.label)]
        places = {n.split(".")[2] for n in of_pack if n.startswith("packs.packs.")} or {"-"}
        rows = [r for place in places for r in flight.named(LISTED[head].replace("PART", re.escape(place)))]
    else:
        return f"no figure is known for the head {head!r}"
    if cell == "–":
        return f"nothing, exported {rows[0].value}" if rows else ""
    return _unlike(cell, rows, unit or _unit_in(cell))


def _pack(title: str) -> str:
    return re.sub(r"^Pack ", "", title)


def _unit_in(cell: str) -> str:
    found = re.match(r"[−-]?[\d\u202f.]+\s(\S+)", cell)
    return found[1] if found else ""


def terminal_table(text: str) -> Iterator[dict[str, str]]:
    """Rows of the tables that a command prints, by their heads; a cell is cut where its head begins."""
    lines = text.splitlines()
    for k, line in enumerate(lines):
        if not re.match(r"\s*─+", line) or not k:
            continue
        head = lines[k - 1]
        names = list(re.finditer(r"[^ ]+(?: [^ ]+)*", head))
        for row in lines[k + 1 :]:
            if not row.strip():
                break
            parts = list(re.finditer(r"[^ ]+(?: [^ ]+)*", row))
            out: dict[str, str] = {}
            for part in parts:
                # A cell belongs to the head with which it shares most columns.
                best = max(names, key=lambda n: min(n.end(), part.end()) - max(n.start(), part.start()))
                out[best[0]] = f"{out[best[0]]} {part[0]}" if best[0] in out else part[0]
            yield out


def shown_in_terminal(text: str, flight: Flight) -> Iterator[str]:
    """Rows of ``spooldown show FLIGHT --all`` against the export."""
    by_label: dict[str, list[Row]] = {}
    for row in flight.figures.values():
        by_label.setdefault(row.label.replace("\u00a0", " "), []).append(row)
    seen = 0
    for line in terminal_table(text):
        if "figure" not in line or line.get("value") in (None, "not available"):
            continue
        seen += 1
        rows = by_label.get(line["figure"].replace("\u00a0", " "), [])
        unit = re.sub(r"^[−-]?[\d\u202f.]+\s*", "", line["value"]).strip()
        wrong = _unlike(f"{line['value'].removesuffix(unit)} {line.get('interval', '')}", rows, "")
        if wrong or all(unit.replace("1", "") != r.unit.replace("1", "") for r in rows):
            yield f"{line['figure']}: {wrong or line['value']}"
    if seen < len(flight.figures):
        yield f"{seen} figures of {len(flight.figures)}"


def compared(text: str, flight: Flight) -> Iterator[str]:
    """The data that the page for comparing reads, a script that assigns JSON, against the export."""
    told = json.loads(text[text.index("]=") + 2 :].rstrip().rstrip(";"))
    subjects = {"fuel": "fuel", "pack": "packs", "link": "link", "engine": "turbine"}
    for one in told["figures"]:
        if one.get("v") is None:
            continue
        path = one["p"].removesuffix(one["u"]).strip()
        row = flight.figures.get(re.sub(r"[^A-Za-z0-9_.]+", "_", f"{subjects[one['g']]}.{path}"))
        wrong = _unlike(f"{one['s'].removesuffix(one['u'])} {one.get('i', '')}", [row] if row else [], "")
        if wrong or row is None or abs(one["v"] - row.value) > row.slack + 1e-9 or not one["n"].startswith(row.label):
            yield f"{path} {one['n']}: {wrong or one['v']}"


def adding_up(flight: Flight) -> Iterator[str]:
    """Sums and quotients among one flight's exported figures that do not come out, beyond their rounding."""
    of = flight.figures

    def sides(what: str, one: list[Row], other: list[Row], factor: float = 1.0, share: float = 0.0) -> Iterator[str]:
        a, b = sum(r.value for r in one), factor * sum(r.value for r in other)
        slack = sum(r.slack for r in one) + abs(factor) * sum(r.slack for r in other) + share * abs(b)
        if one and other and abs(a - b) > slack + 1e-6:
            yield f"{what}: {a:g} against {b:g}"

    tanks = {name.split(".")[2] for name in of if name.startswith("fuel.tanks.")}
    for t in sorted(tanks):
        at = rf"fuel\.tanks\.{re.escape(t)}\."
        burned, content = of.get(f"fuel.tanks.{t}.burn.burned"), f"fuel.tanks.{t}.content."
        if {f"{content}{x}" for x in ("left", "reserve", "margin")} <= of.keys():
            kept = [of[f"{content}reserve"], of[f"{content}margin"]]
            yield from sides(f"left in {t}", [of[f"{content}left"]], kept)
        if burned:
            yield from sides(f"phases of {t}", flight.named(rf"{at}phases\..*\.burned"), [burned], share=0.002)
        for kind in ("phases", "bands"):
            for row in flight.named(rf"{at}{kind}\..*\.rate"):
                stem = row.name.removesuffix("rate")
                minutes = of[f"{stem}minutes"]
                share = minutes.slack / minutes.value if minutes.value else 0.0
                yield from sides(f"rate in {stem}", [of[f"{stem}burned"]], [row], minutes.value, share)
        in_air = flight.named(rf"{at}burn\.airborne")
        yield from sides(f"rate of {t}", in_air, flight.named(rf"{at}burn\.rate"), flight.airborne_min, share=1e-3)
        put_in = flight.named(rf"{at}scale\.put_in")
        if put_in and of.get(f"fuel.tanks.{t}.scale.own"):
            yield from sides(f"noted for {t}", put_in, [burned] if burned else [])
    for what, part in (("burned", "burned"), ("rate", "rate")):
        rows = flight.named(rf"fuel\.tanks\.[^.]*\.burn\.{part}")
        if len(rows) == len(tanks):
            yield from sides(f"all tanks, {what}", flight.named(rf"fuel\.{what}"), rows)
    rates = flight.named(r"fuel\.tanks\.[^.]*\.burn\.rate")
    if len(rates) == 2 and "fuel.imbalance" in of:
        a, b = (r.value for r in rates)
        if abs(of["fuel.imbalance"].value - 200.0 * (a - b) / (a + b)) > of["fuel.imbalance"].slack + 20.0 / (a + b):
            yield f"imbalance {of['fuel.imbalance'].value} of {a} and {b}"
    if "fuel.mass" in of and "fuel.burned" in of and of["fuel.burned"].value:
        kg_per_l = 1000.0 * of["fuel.mass"].value / of["fuel.burned"].value
        if not 0.74 <= kg_per_l <= 0.86:  # Def Stan 91-091 allows 775 to 840 kg/m3 at 15 °C; warm and cold fuel beyond
            yield f"{kg_per_l:.3f} kg a litre"
    for p in sorted({name.split(".")[2] for name in of if name.startswith("packs.packs.")}):
        at = rf"packs\.packs\.{re.escape(p)}\."
        used = flight.named(rf"{at}charge\.used_mah")
        yield from sides(f"charge of {p}", flight.named(rf"{at}charge\.phases\..*\.used_mah"), used, share=0.002)
        before, after = flight.named(rf"{at}state\.before_percent"), flight.named(rf"{at}state\.after_percent")
        if before and after and after[0].value > before[0].value + 1.0:
            yield f"{p} fuller after the flight"
    shares = flight.named(r"packs\.buses\.[^.]*\.share_percent\..*")
    for bus in {r.name.split(".")[2] for r in shares}:
        whole = sum(r.value for r in shares if r.name.split(".")[2] == bus)
        if abs(whole - 100.0) > 1.0:
            yield f"shares of {bus}: {whole} %"


def beyond_interval(flight: Flight) -> Iterator[str]:
    """Figures whose value lies outside their own interval."""
    for row in flight.figures.values():
        if row.low is not None and row.high is not None and not row.low <= row.value <= row.high:
            yield f"{row.name}: {row.value} in {row.low} to {row.high}"


def day_rows(root: Node, every: dict[str, Flight]) -> Iterator[str]:
    """Rows of the list of flying days: each the sum of its flights."""
    for table in root.find("table"):
        lines = [_cells(r) for r in table.find("tr")]
        if not lines or [c.text() for c in lines[0]][:2] != ["Day", "Aircraft"]:
            continue
        heads = [c.text() for c in lines[0]]
        for line in lines[1:]:
            cells = dict(zip(heads, [c.text() for c in line], strict=True))
            day = next(a.attributes["href"] for a in line[0].find("a")).rsplit("/", 1)[-1].removesuffix(".html")
            found = [f for f in every.values() if f"-{day}-" in f.key and f.aircraft in cells["Aircraft"]]
            if numbers(cells["Flights"])[0][0] != len(found):
                yield f"{day}: {cells['Flights']} flights, exported {len(found)}"
            for head, what in (("Airborne", "airborne"), ("Burned", "burned")):
                parts = [f.whole(what) for f in found]
                whole = sum(v for v, _ in parts if v is not None)
                if numbers(cells[head]) and not agrees(numbers(cells[head])[0], whole, sum(s for _, s in parts)):
                    yield f"{day}: {head} {cells[head]}, flights add up to {whole}"
            noted = [r for f in found for r in f.named(r"fuel\.tanks\.[^.]*\.scale\.put_in")]
            can = numbers(cells.get("From the can", ""))
            if can and not agrees(can[0], sum(r.value for r in noted), 0.0):
                yield f"{day}: from the can {cells['From the can']}, noted {sum(r.value for r in noted)}"


KEPT = {
    "flight.fuel_burned": r"fuel\.burned", "flight.fuel_mass": r"fuel\.mass", "flight.burn_rate": r"fuel\.rate",
    "flight.imbalance": r"fuel\.imbalance", "flight.endurance": r"fuel\.endurance",
    "flight.downlink_gaps": r"link\.downlink_gaps", "flight.fades_everywhere": r"link\.fades_on_all_receivers",
    "flight.longest_range": r"link\.max_range_m",
    "tank.burned": r"fuel\.tanks\.PART\.burn\.burned",
    "tank.burned_before_take_off": r"fuel\.tanks\.PART\.burn\.before_take_off",
    "tank.burned_airborne": r"fuel\.tanks\.PART\.burn\.airborne", "tank.burn_rate": r"fuel\.tanks\.PART\.burn\.rate",
    "tank.burn_rate_by_sensor": r"fuel\.tanks\.PART\.by_sensor\.rate",
    "tank.at_start": r"fuel\.tanks\.PART\.content\.start", "tank.left": r"fuel\.tanks\.PART\.content\.left",
    "tank.margin": r"fuel\.tanks\.PART\.content\.margin", "tank.endurance": r"fuel\.tanks\.PART\.content\.endurance",
    "tank.scale": r"fuel\.tanks\.PART\.scale\.own",
    "engine.run_time": r"turbine\.engines\.PART\.run_min", "engine.idle_speed": r"turbine\.engines\.PART\.idle_rpm",
    "engine.idle_spread": r"turbine\.engines\.PART\.idle_spread_rpm",
    "engine.highest_speed": r"turbine\.engines\.PART\.max_rpm",
    "engine.full_speed_spread": r"turbine\.engines\.PART\.max_rpm_spread_rpm",
    "engine.highest_egt": r"turbine\.engines\.PART\.max_egt_c",
    "engine.cool_down": r"turbine\.engines\.PART\.cool_down_s",
    "engine.charge_per_start": r"turbine\.engines\.PART\.mah_per_start",
    "pack.charge_used": r"packs\.packs\.PART\.charge\.used_mah",
    "pack.charge_put_back": r"packs\.packs\.PART\.charge\.put_back_mah",
    "pack.energy_used": r"packs\.packs\.PART\.charge\.used_wh",
    "pack.charge_rate": r"packs\.packs\.PART\.charge\.airborne_mah_per_min",
    "pack.routes_differ": r"packs\.packs\.PART\.charge\.disagreement_percent",
    "pack.lowest_voltage": r"packs\.packs\.PART\.voltage\.lowest_v",
    "pack.lowest_cell": r"packs\.packs\.PART\.voltage\.lowest_cell_v",
    "pack.cell_spread": r"packs\.packs\.PART\.voltage\.cell_spread_v",
    "pack.deepest_sag": r"packs\.packs\.PART\.voltage\.deepest_sag_v",
    "pack.rest_before": r"packs\.packs\.PART\.voltage\.rest_before_v",
    "pack.rest_after": r"packs\.packs\.PART\.voltage\.rest_after_v",
    "pack.state_before": r"packs\.packs\.PART\.state\.before_percent",
    "pack.state_after": r"packs\.packs\.PART\.state\.after_percent",
    "pack.temperature": r"packs\.packs\.PART\.state\.temperature_c",
    "pack.resistance": r"packs\.packs\.PART\.resistance\.value_mohm",
    "pack.resistance_as_read": r"packs\.packs\.PART\.resistance\.as_read_mohm",
    "pack.resistance_noted": r"packs\.packs\.PART\.resistance\.noted_mohm",
    "pack.lead_resistance": r"packs\.packs\.PART\.resistance\.leads_mohm",
    "pack.capacity": r"packs\.packs\.PART\.capacity\.(measured|by_discharge|by_charge)_mah",
    "pack.bus_share": r"packs\.buses\.[^.]*\.share_percent\.PART",
    "bus.worst_load": r"packs\.buses\.PART\.worst_load_a",
    "receiver.missed_frames": r"link\.receivers\.PART\.lost_frames",
    "receiver.missed_frames_rate": r"link\.receivers\.PART\.lost_frames_per_min",
    "receiver.failsafe": r"link\.receivers\.PART\.failsafe_s",
    "receiver.lowest_quality": r"link\.receivers\.PART\.lowest_quality_percent",
    "receiver.fades_together": r"link\.receivers\.PART\.fades_together",
    "antenna.median_signal": r"link\.receivers\.[^.]*\.antennas\.PART\.median_signal",
    "antenna.lowest_signal": r"link\.receivers\.[^.]*\.antennas\.PART\.lowest_signal",
    "antenna.lowest_margin": r"link\.receivers\.[^.]*\.antennas\.PART\.lowest_margin_db",
    "antenna.missed_packets_rate": r"link\.receivers\.[^.]*\.antennas\.PART\.lost_per_min",
    "antenna.fades": r"link\.receivers\.[^.]*\.antennas\.PART\.fades",
    "antenna.fade_time": r"link\.receivers\.[^.]*\.antennas\.PART\.fade_seconds",
}  # fmt: skip
"""Figures kept over flights (docs/programme.md) to the name in exports that they are of."""


def kept(text: str, every: dict[str, Flight]) -> Iterator[str]:
    """The data of the plots over flights, a script that assigns JSON: each figure kept is that flight's own."""
    told = json.loads(text[text.index("=") + 1 :].rstrip().rstrip(";"))
    keys = [f["key"] for f in told["flights"]]
    for measure in told["measures"]:
        pattern = KEPT.get(measure["id"], "")
        for part, points in measure["rows"].items() if pattern else ():
            for n, value, *ends in points:
                flight = every[keys[n]]
                own = _kept_of(flight, pattern, part)
                slack = half_digit(repr(value).removesuffix(".0")) + max((r.slack for r in own), default=0.0) + 1e-9
                if not any(abs(value - r.value) <= slack for r in own):
                    yield f"{flight.key}: {measure['id']} of {part}: {value}, exported {[r.value for r in own]}"
                elif ends and not any(r.low is not None and abs(ends[0] - r.low) <= slack for r in own):
                    yield f"{flight.key}: {measure['id']} of {part}: from {ends[0]}, exported {[r.low for r in own]}"


def _kept_of(flight: Flight, pattern: str, part: str) -> list[Row]:
    if part.startswith("pack:"):
        inside = rf"\bpack {re.escape(part.removeprefix('pack:'))} \("
        places = {n.split(".")[2] for n, r in flight.figures.items() if re.search(inside, r.label)}
    else:
        places = {re.sub(r"^(fuel|engine|bus|link|pack)\.", "", part)}
    return [r for place in places for r in flight.named(pattern.replace("PART", re.escape(place)))]


def said_twice(root: Node) -> Iterator[str]:
    """Figures that one table of figures holds twice."""
    for table in root.find("table"):
        lines = [[c.text() for c in _cells(r)] for r in table.find("tr")]
        if lines and lines[0][:2] == ["Figure", "Value"]:
            names = [line[0] for line in lines[1:]]
            yield from (f"{name} stands twice in one table" for name in sorted(set(names)) if names.count(name) > 1)


UNITS = r"(?:mL|mAh|mΩ|Ω|V|A|W|Wh|J|dB|dBm|rpm|°C|kg|g|s|min|h|m|%|×)(?:/min)?"


def broken_lines(root: Node) -> Iterator[str]:
    """Numbers on a page that a line may part from their unit."""
    for child in root.children:
        if isinstance(child, Node):
            if child.tag not in _UNSEEN:
                yield from broken_lines(child)
        elif found := re.search(rf"\d[ \n]+{UNITS}(?![\w°])", child):
            yield f"a line may end inside {found[0]!r}"


def strays(pages: Path, every: dict[str, Flight], look_at: Iterable[str]) -> Iterator[str]:
    """Whatever the pages of a season print that is not what exports give; of flights, the pages of those to look at.

    Also sums that do not come out and values outside their own interval.
    """
    for key in look_at:
        flight = every[key]
        for name in (f"{key}.html", f"{key}-card.html"):
            root = page((pages / "flights" / name).read_text("utf-8"))
            found = (*figure_tables(root, flight), *key_tables(root, flight), *broken_lines(root))
            yield from (f"{name}: {x}" for x in found)
    for flight in every.values():
        script = (pages / "compare" / f"{flight.key}.js").read_text("utf-8")
        found = (*adding_up(flight), *beyond_interval(flight), *compared(script, flight))
        yield from (f"{flight.key}: {x}" for x in found)
    for path in sorted(p for p in pages.rglob("*.html") if p.parent.name != "flights"):
        text = path.read_text("utf-8")
        if path.parent.name in ("packs", "aircraft"):
            yield from (f"{path.name}: {x}" for x in said_twice(page(text)))
        if 'href="../flights/' in text or 'href="flights/' in text or 'href="days/' in text:
            root = page(text)
            found = (*flight_rows(root, every), *day_rows(root, every), *broken_lines(root))
            yield from (f"{path.name}: {x}" for x in found)
    yield from kept((pages / "data" / "season.js").read_text("utf-8"), every)
