"""Fuzzing the whole way: a log of the invented scenario is spoilt, imported, analysed, put on pages and exported.

``python -m tests.fuzz.whole_path [ROUNDS [FIRST_SEED]]`` runs as long as it is told to; the test suite flies a few
fixed seeds. What must hold: no traceback; no number that is none on any page or in any table; every interval around its
value; and no figure beyond what physics or the aircraft's file allow, unless a doubt stands beside it.
"""

from __future__ import annotations

import csv
import io
import json
import math
import random
import re
import sys
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

from analyser.core.figures import Figure, figures_of
from analyser.flight import FlightResult
from spooldown import register
from spooldown.logbook.book import Logbook
from spooldown.work.overview import overview
from tests.spooldown.front import run

SAMPLES = Path(__file__).resolve().parents[2] / "sample_logs"
EVERY = 4
"""One row of so many is kept: faults of the way show in short logs too."""
ODD = (
    *(
        "NaN",
        "inf",
        "-inf",
        "1e308",
        "-1e308",
        "1e-320",
        "65535",
        "-32768",
        "4294967295",
        "0",
        "-1",
        "",
        "--",
        "9" * 40,
    ),
    *("2²", "١٢٣", "1.2.3", "1e", "null", "#N/A", "true", "0x1F", "12:34", "−5", "1 000", "1'000,5"),
)
UNITS = (
    "V",
    "mV",
    "A",
    "mA",
    "°C",
    "°F",
    "K",
    "m",
    "ft",
    "km/h",
    "kt",
    "mph",
    "mL",
    "L",
    "fl oz",
    "L/h",
    "g",
    "%",
    "rpm",
    "dBm",
)
Rows = list[list[str]]


def _cells(rows: Rows, rng: random.Random) -> None:
    for _ in range(rng.randint(1, 30)):
        row = rng.choice(rows[1:])
        row[rng.randrange(len(row))] = rng.choice(ODD)


def _column(rows: Rows, rng: random.Random) -> int:
    return rng.randrange(1, len(rows[0]))


def _burst(rows: Rows, rng: random.Random) -> None:
    column, start, odd = _column(rows, rng), rng.randrange(1, len(rows)), rng.choice(ODD)
    for row in rows[start : start + rng.randint(2, 60)]:
        row[column] = odd


def _scaled(rows: Rows, rng: random.Random) -> None:
    column, by = _column(rows, rng), rng.choice((0.0, -1.0, 10.0, 1000.0, 1e9, 1e-6))
    for row in rows[1:]:
        try:
            row[column] = repr(float(row[column].replace(",", ".")) * by)
        except ValueError:
            continue


def _stuck(rows: Rows, rng: random.Random) -> None:
    column, start = _column(rows, rng), rng.randrange(1, len(rows))
    for row in rows[start:]:
        row[column] = rows[start][column]


def _stepped(rows: Rows, rng: random.Random) -> None:
    column, by = _column(rows, rng), rng.choice((1e3, -50.0, 1e5))
    for row in rows[rng.randrange(1, len(rows)) :]:
        try:
            row[column] = repr(float(row[column].replace(",", ".")) + by)
        except ValueError:
            continue


def _dropped(rows: Rows, rng: random.Random) -> None:
    column = _column(rows, rng)
    for row in rows:
        del row[column]


def _holed(rows: Rows, rng: random.Random) -> None:
    start = rng.randrange(1, len(rows))
    del rows[start : start + rng.randint(10, 200)]


def _turned(rows: Rows, rng: random.Random) -> None:
    rows[1:] = rows[:0:-1]


def _twice(rows: Rows, rng: random.Random) -> None:
    at = rng.randrange(1, len(rows))
    rows[at:at] = [list(row) for row in rows[at : at + rng.randint(1, 50)]]


def _clock(rows: Rows, rng: random.Random) -> None:
    odd, at = rng.choice(("1e300", "-5", "99999999", "0", "", "12:61:99")), rng.randrange(1, len(rows))
    for row in rows[at : at + rng.randint(1, 5)]:
        row[0] = odd


def _unit(rows: Rows, rng: random.Random) -> None:
    """Another unit behind a heading, the values left as they were."""
    column = _column(rows, rng)
    rows[0][column] = re.sub(r"\s*[(\[].*", "", rows[0][column]) + f" ({rng.choice(UNITS)})"


def _same_heading(rows: Rows, rng: random.Random) -> None:
    rows[0][_column(rows, rng)] = rows[0][rng.randrange(len(rows[0]))]


def _strange_column(rows: Rows, rng: random.Random) -> None:
    """The values of a column of another log under a heading of this one."""
    other = _rows(rng.choice(sorted(SAMPLES.glob("*/*.csv"))))
    if len(other) > 5:
        column, theirs = _column(rows, rng), rng.randrange(len(other[0]))
        for n, row in enumerate(rows[1:]):
            row[column] = other[1 + n % (len(other) - 1)][theirs]


SPOILT: tuple[Callable[[Rows, random.Random], None], ...] = (
    _cells, _burst, _scaled, _stuck, _stepped, _dropped, _holed, _turned, _twice, _clock,
    _unit, _same_heading, _strange_column,
)  # fmt: skip


def _ends_mixed(data: bytes, rng: random.Random) -> bytes:
    return b"".join(line + rng.choice((b"\n", b"\r\n", b"\r")) for line in data.splitlines())


def _cut_inside_a_letter(data: bytes, rng: random.Random) -> bytes:
    """The last letter of more than one byte is cut, or a letter amid the text loses its first byte."""
    letters = [m.start() for m in re.finditer(rb"[\xc2-\xf4][\x80-\xbf]", data)]
    if not letters:
        return data + "ü".encode()[:1]
    at = rng.choice(letters)
    return data[: at + 1] if at > len(data) // 2 else data[:at] + data[at + 1 :]


SPOILT_BYTES = (_ends_mixed, _cut_inside_a_letter)


def _rows(path: Path) -> Rows:
    """A log's header and one row of so many, those of the usual width."""
    text = path.read_text("utf-8-sig", errors="replace")
    rows = [row for row in csv.reader(io.StringIO(text), delimiter=_delimiter(text)) if row]
    return [row for row in [*rows[:2], *rows[2::EVERY]] if len(row) == len(rows[0])]


def _delimiter(text: str) -> str:
    return max(",;\t", key=text[:2000].count)


def spoilt(seed: int) -> tuple[str, bytes, str]:
    """A log with a few things wrong: whose it is, its bytes, and what was done to it."""
    rng = random.Random(seed)
    owner, pattern = rng.choice((("Tern", "tern/*.csv"), ("Plover", "plover/*.csv")))
    path = rng.choice(sorted(SAMPLES.glob(pattern)))
    rows = _rows(path)
    done: list[Callable[..., object]] = list(rng.sample(SPOILT, rng.randint(1, 3)))
    for one in done:
        if len(rows) > 5 and min(map(len, rows)) > 2:
            one(rows, rng)
    out = io.StringIO()
    csv.writer(out, delimiter=_delimiter(path.read_text("utf-8-sig", errors="replace")), lineterminator="\n").writerows(
        rows
    )
    data = out.getvalue().encode()
    if rng.random() < 0.2:
        last = rng.choice(SPOILT_BYTES)
        data = last(data, rng)
        done.append(last)
    return owner, data, f"seed {seed}, {path.name}: {', '.join(f.__name__[1:] for f in done)}"


def fly(seeds: range) -> Iterator[str]:
    """Take spoilt logs the whole way in one logbook; yields what must not be."""
    with tempfile.TemporaryDirectory(prefix="spooldown-") as place:
        book = Path(place, "book")
        said: dict[str, str] = {}
        with Logbook(book) as made:
            for path in sorted((SAMPLES / "aircraft").glob("*.toml")):
                register.add(made, path.read_bytes(), path.name)
        for seed in seeds:
            owner, data, what = spoilt(seed)
            log = Path(place, f"s{seed}.csv")
            log.write_bytes(data)
            done = run("import", log, "--aircraft", owner, "--logbook", book)
            longer = done.returncode == 2 and "longer copy of the same log" in done.stderr
            if (
                (done.returncode not in (0, 3, 5) and not longer)
                or "Traceback" in done.stderr
                or "fault in" in done.stderr
            ):
                yield f"{what}: import ended with {done.returncode}: {done.stderr[-400:]}"
            said[log.name] = what
        yield from _held(book, said)


def _held(book: Path, said: dict[str, str]) -> Iterator[str]:
    pages = run("pages", "--json", "--logbook", book)
    if pages.returncode not in (0, 7) or "Traceback" in pages.stderr:
        yield f"pages ended with {pages.returncode}: {pages.stderr[-600:]}"
        return
    with Logbook(book) as opened:
        source = {f.flight_id: said.get(Path(f.source).name, "") for f in opened.flights()}
        found = overview(opened, register.load(opened), failures=[])
        for failed in json.loads(pages.stdout).get("failed", []):
            if "fault" in failed["why"]:
                yield f"{source[failed['flight']]}: {failed['why']}"
        for entry in found.flights:
            flight_id = entry.flight.flight_id
            tanks = entry.context.aircraft.tanks if entry.context.aircraft else ()
            capacity = {t.name: t.capacity_ml for t in tanks}
            for wrong in impossible(found.whole(flight_id).result, capacity):
                yield f"{source[flight_id]}: {wrong}"
    for path in sorted((book / "pages").rglob("*.html")):
        for wrong in no_numbers(path.read_text("utf-8")):
            yield f"{source.get(path.stem, '')}: {path.parent.name}/{path.name}: {wrong}"
    for what in ("figures", "events", "flights"):
        done = run("export", what, "--format", "json", "--logbook", book)
        try:
            json.loads(done.stdout, parse_constant=_refuse)
        except ValueError as error:
            yield f"export {what}: {error}"


def _refuse(word: str) -> None:
    raise ValueError(f"{word} is no number")


def no_numbers(page: str) -> Iterator[str]:
    """What a page shows as a number and is none; data for scripts must be JSON."""
    for kind, script in re.findall(r"<script([^>]*)>(.*?)</script>", page, re.DOTALL):
        if "application/json" in kind:
            try:
                json.loads(script, parse_constant=_refuse)
            except ValueError as error:
                yield f"data in the page: {error}"
    text = re.sub(r"<(script|style)\b.*?</\1>", " ", page, flags=re.DOTALL)
    text = re.sub(r"<[^>]+>", " ", text)
    text = re.sub(r"&#39;[^&]{0,60}&#39;", "''", text)  # a cell of the log, quoted
    for found in re.findall(r".{0,40}(?<![\w.])[-−]?(?:nan|inf|infinity)(?![\w.]).{0,20}", text, re.IGNORECASE):
        yield f"shows {' '.join(found.split())!r}"


BOUNDS = {
    "°C": (-100.0, 1500.0),
    "V": (-1.0, 100.0),
    "A": (-1000.0, 1000.0),
    "rpm": (0.0, 500_000.0),
    "mΩ": (-1e-9, 10_000.0),
    "m": (-1000.0, 50_000.0),
    "m/s": (-350.0, 350.0),
    "mAh": (-1000.0, 100_000.0),
    "min": (-1e-6, 2880.0),
    "h": (-1e-6, 48.0),
    "mL/min": (-1e-6, 10_000.0),
}
"""What no model aircraft goes beyond, by unit; common practice, no source."""


def impossible(result: FlightResult, capacity_ml: dict[str, float | None]) -> Iterator[str]:
    """Figures that cannot be and say so nowhere."""
    for path, f in figures_of(result):
        if f.value is None:
            continue
        ends = [x for x in (f.low, f.value, f.high) if x is not None]
        if not all(map(math.isfinite, ends)):
            yield f"{path} is {ends}"
        elif ends != sorted(ends):
            yield f"{path} lies outside its own interval: {ends}"
        elif not f.doubts:
            yield from _beyond(path, f, capacity_ml)


def _beyond(path: str, f: Figure, capacity_ml: dict[str, float | None]) -> Iterator[str]:
    assert f.value is not None
    low, high = BOUNDS.get(f.unit, (-math.inf, math.inf))
    if f.unit in ("m", "min", "h") and "trend" in path:
        return
    if not low <= f.value <= high:
        yield f"{path} is {f.value:g} {f.unit}, without a doubt beside it"
    if path.endswith(("state.before_percent", "state.after_percent")) and not -0.5 <= f.value <= 100.5:
        yield f"{path} is {f.value:g} %"
    tank = re.match(r"fuel\.tanks\.([^.]+)\.content\.(start|left)$", path)
    if tank and (most := capacity_ml.get(tank.group(1))) and not -0.05 * most <= f.value <= 1.05 * most:
        yield f"{path} is {f.value:g} mL of a tank of {most:g} mL, without a doubt beside it"


def main() -> None:
    """Fly ROUNDS times ten seeds."""
    rounds, first = (int(w) for w in [*sys.argv[1:], *("6", "1000")[len(sys.argv) - 1 :]][:2])
    wrong = 0
    for start in range(first, first + 10 * rounds, 10):
        for one in fly(range(start, start + 10)):
            wrong += 1
            print(one, flush=True)
    print(f"{10 * rounds} logs, {wrong} findings")
    sys.exit(wrong > 0)


if __name__ == "__main__":
    main()
