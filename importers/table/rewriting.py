"""Files that are no table of rows until they are rewritten as one.

A spreadsheet's own writing of texts (``="8.21"``), a table on its side (one row a sensor, the time along the columns),
tables of single sensors one below the other under titles, or side by side with a time each, and cells that name their
value (``V=8.21``). Each is known by its form alone and rewritten whole, so that all else reads plain text; what is not
certain is left as it is.
"""

from __future__ import annotations

import io
import itertools
import re
from collections.abc import Collection, Sequence
from typing import Any, BinaryIO, cast

import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.csv as pa_csv

from analyser.core.findings import Finding, say
from importers.meaning import units
from importers.meaning.heading import dissect
from importers.meaning.words import fold, meanings
from importers.refusal import Refusal
from importers.table.codes import TableCode, TableRefused
from importers.table.dialect import split_line, typed
from importers.table.source import Reader, Source
from importers.table.text import Encoding, detect

MOST_BYTES = 128 * 2**20
"""A file that must be rewritten whole is held in memory: one that is larger is refused."""
_WRAPPED = re.compile(r'"=""([^"\n]*)"""|="([^"\n]*)"')
"""A text as a spreadsheet writes it so that it stays one: ="8.21", and the same in quotes of its own."""
_DELIMITERS = "\t;,|"
_NAMED_CELL = r"\s*((?:[^\W\d_]|°)[^=:\n\"]{{0,40}}?)\s*{mark}\s*([^{stops}\n\"]*)"
_QUOTES = ' "#'
_LEAST_TIMES, _MOST_ROWS = 6, 500
"""Times along a table on its side at least, and its rows at most: a sensor each."""
_PREAMBLE, _HEAD = 40, 2**15
"""Lines, and characters, among which the first header stands."""
_PARTS = {"rx", "ecu", "engine", "pack", "tank", "fuel", "bus", "gps", "pump", "antenna"}


class _Unread(Exception):
    """Why a file of a known form can't be rewritten."""

    def __init__(self, code: TableRefused, **values: Any) -> None:
        super().__init__(code)
        self.code, self.values = code, values


class Rewritten(Source):
    """A file as a plain table; its name and the hash of its content are those of the file itself.

    ``told`` is what was done to it, one thing after the other.
    """

    def __init__(self, origin: Source, text: str, told: Finding) -> None:
        super().__init__(cast(BinaryIO, io.BytesIO(text.encode())), origin.name, origin.member)
        self.origin: Source = origin
        self.told: tuple[Finding, ...] = (*(origin.told if isinstance(origin, Rewritten) else ()), told)

    @property
    def text(self) -> str:
        """All of it."""
        return cast(io.BytesIO, self.stream).getvalue().decode()

    def stored_sha256(self) -> str:
        """SHA-256 of the stored bytes of the file itself."""
        return self.origin.stored_sha256()

    def _digest(self) -> str:
        return self.origin.content_sha256()

    def __getstate__(self) -> dict[str, object]:
        return {**super().__getstate__(), "stream": cast(io.BytesIO, self.stream).getvalue()}

    def __setstate__(self, state: dict[str, object]) -> None:
        self.__dict__.update(state)
        self.stream = cast(BinaryIO, io.BytesIO(cast(bytes, state["stream"])))


def rewritten(origin: Source, text: str, *, whole: bool) -> Rewritten | None:
    """The same log as a plain table, where its first lines show that it must be rewritten; else None.

    Parameters
    ----------
    text : str
        The first lines; ``whole`` says that these are all.

    Raises
    ------
    Refusal
        If it must be, and is too large.
    """
    if isinstance(origin, Rewritten):
        return None
    unwrapped: Rewritten | None = None
    if '="' in text and len(_WRAPPED.findall(text)) > text.count("\n") // 2:
        text, whole = (text if whole else _all(origin)), True
        text = _WRAPPED.sub(_unwrapped, text)
        unwrapped = Rewritten(origin, text, say(TableCode.UNWRAPPED))
    for seems, make, code in (
        (_seems_turned, _turned, TableCode.TURNED), (_seems_titled, _titled, TableCode.TITLED),
        (_seems_beside, _beside, TableCode.BESIDE),
        (_seems_named, _named, TableCode.NAMED),
    ):  # fmt: skip
        if seems(text):
            try:
                made = make(text if whole else _all(origin))
            except _Unread as why:
                raise Refusal(origin.name, why.code, **why.values) from None
            if made is not None:
                return Rewritten(unwrapped or origin, made, say(code))
    return unwrapped


def _all(origin: Source) -> str:
    reader: Reader = origin.open()
    try:
        data = reader.read(MOST_BYTES + 1)
        while len(data) <= MOST_BYTES and (more := reader.read(MOST_BYTES + 1 - len(data))):
            data += more
    finally:
        reader.close()
    if len(data) > MOST_BYTES:
        raise Refusal(origin.name, TableRefused.TOO_LARGE_TO_REWRITE, mib=MOST_BYTES // 2**20)
    encoding: Encoding = detect(data[: 512 * 1024], origin.name)
    text = data[encoding.mark :].decode(encoding.name, "replace").replace("\0", "").replace("\x1a", "")
    return re.sub(r"\r\n?", "\n", text)


def _unwrapped(found: re.Match[str]) -> str:
    inner = found[1] if found[1] is not None else found[2]
    return f'"{inner}"' if any(c in inner for c in _DELIMITERS) else inner


def numbered(
    origin: Source, written: Sequence[str], header: str, at: tuple[int, ...], names: Collection[str]
) -> Rewritten:
    """A long table whose ``names`` of sensors have a number each where they come several times at one time.

    Parameters
    ----------
    written : sequence of str
        The headings of its columns, as in the line ``header``.
    at : tuple of int
        The columns of the time, of the sensor, and perhaps of its device before that.
    """
    text = origin.text if isinstance(origin, Rewritten) else _all(origin)
    delimiter, start = _delimiter_of(header), text.index(header)
    table = _strings(text[start + len(header) :], delimiter, len(written))
    whose = [table.column(i) for i in at]
    nth = (
        pa.table(whose, names=[str(i) for i in at]).to_pandas().groupby([str(i) for i in at], sort=False).cumcount() + 1
    )
    full = pc.utf8_trim_whitespace(pc.binary_join_element_wise(*whose[2:], whose[1], " "))
    more = pc.binary_join_element_wise(whose[1], pa.array(nth.astype(str), pa.string()), " ")
    sensor = pc.if_else(pc.is_in(full, pa.array([*names], pa.string())), more, whose[1])
    table = table.set_column(at[1], f"c{at[1]}", sensor)
    made = _written(table.columns, written, ended=text.endswith("\n"), above=text[:start].replace(delimiter, "\t"))
    return Rewritten(origin, made, say(TableCode.NUMBERED, names=tuple(sorted(names))))


def _written(
    columns: Sequence[pa.Array | pa.ChunkedArray], names: Sequence[str], *, ended: bool, above: str = ""
) -> str:  # fmt: skip
    """A table as text between tabs, below the lines ``above`` it; of the cells only those that need it are quoted."""
    out = io.BytesIO()
    options = pa_csv.WriteOptions(include_header=False, delimiter="\t", quoting_style="needed")
    pa_csv.write_csv(pa.table(list(columns), names=list(names)), out, options)
    lines = [f"# {line.lstrip('#').strip()}\n" for line in above.split("\n") if line.strip()]
    text = "".join(lines) + "\t".join(n.replace("\t", " ") for n in names) + "\n" + out.getvalue().decode()
    return text if ended else text.removesuffix("\n")


def _delimiter_of(line: str) -> str:
    return max(_DELIMITERS, key=line.count)


# A table on its side


def _many_cells(text: str) -> tuple[str, list[list[str]]]:
    """The delimiter of the first line that has many cells, and the first cells of it and of the next few lines.

    Nothing where no number follows its first two cells: then it is no row of numbers.
    """
    starts = [line[:4000] for line in text[:_HEAD].split("\n", 12)[:12] if line.strip()]
    for n, start in enumerate(starts):
        delimiter = _delimiter_of(start)
        if start.count(delimiter) >= _LEAST_TIMES:
            few = split_line(start[:400], delimiter)[1:3]
            return delimiter, [split_line(s, delimiter)[:-1] for s in starts[n:]] if any(map(typed, few)) else []
    return "", []


def _of_time(heading: str) -> bool:
    plain = dissect(heading)
    return bool({"time", "elapsed"} & set(plain.ideas)) or plain.unit in ("s", "ms") or fold(heading) in ("t", "ms")


def _seems_turned(text: str) -> bool:
    """Whether the first lines hold a name each, perhaps a unit, and then numbers."""
    _, rows = _many_cells(text)
    at = next((i for i, c in enumerate(rows[0]) if typed(c)), 0) if rows else 0
    return at in (1, 2) and all(not any(map(typed, r[:at])) and all(typed(c) for c in r[at:] if c) for r in rows)


def _turned(text: str) -> str | None:
    delimiter, first = _many_cells(text)
    at = next(i for i, c in enumerate(first[0]) if typed(c))
    rows = [split_line(line, delimiter) for line in text.split("\n", _MOST_ROWS + 1)]
    rows = [r for r in rows if len(r) > at + 1]
    width = max(map(len, rows))
    if not 2 <= len(rows) <= min(_MOST_ROWS, width - at - 1) or any(typed(r[0]) for r in rows):
        return None
    if not text.endswith("\n") and len(rows[-1]) < width:
        rows[-1].pop()  # it was cut there
    rows.sort(key=lambda r: not _of_time(_with_unit(r[:at])))
    if not _of_time(_with_unit(rows[0][:at])):
        raise _Unread(TableRefused.TURNED_WITHOUT_TIME, names=tuple(r[0] for r in rows[:4]))
    columns = [pa.array([*r[at:], *[""] * (width - len(r))], pa.string()) for r in rows]
    above = "\n".join(itertools.takewhile(lambda x: x.count(delimiter) < _LEAST_TIMES, text[:_HEAD].split("\n")))
    names = [_with_unit(r[:at]) for r in rows]
    return _written(columns, names, ended=True, above=above.replace(delimiter, "\t"))


def _with_unit(cells: Sequence[str]) -> str:
    """A row's name: its first cell, and the unit in the second."""
    name, *rest = cells
    unit = rest[0] if rest else ""
    return f"{name} ({unit})" if unit and units.understand(unit) else f"{name} {unit}".strip()


# Tables one below the other


def _header(text: str) -> tuple[str, str]:
    """The first heading of the first line that begins with the name of the time, and the delimiter behind it."""
    for line in text[:_HEAD].split("\n", _PREAMBLE)[:_PREAMBLE]:
        delimiter = _delimiter_of(line)
        cell = line.partition(delimiter)[0]
        if delimiter in line and not typed(cell.strip(_QUOTES)) and _of_time(cell.strip(_QUOTES)):
            return cell, delimiter
    return "", ""


def _seems_titled(text: str) -> bool:
    """Whether a header comes again, with other columns or under another title."""
    cell, delimiter = _header(text)
    at = text.find(f"{cell}{delimiter}") if cell else -1
    return at >= 0 and text.find(f"\n{cell}{delimiter}", at + 1) >= 0 and _of_sensors(_sections(text))


_Section = tuple[str, list[str], str]
"""Title, headings and body of a table."""


def _sections(text: str) -> list[_Section]:
    """Each table whose header begins with the same name of the time."""
    cell, delimiter = _header(text)
    found = list(re.finditer(rf"(?m)^{re.escape(cell)}{re.escape(delimiter)}[^\n]*$", text))
    out = []
    for n, m in enumerate(found):
        before = text[found[n - 1].end() if n else 0 : m.start()]
        title = next((line for line in reversed(before.rsplit("\n", 4)[-4:]) if line.strip()), "")
        cells = [c for c in split_line(title, delimiter) if c]
        title = _bare_title(cells[0]) if len(cells) == 1 and not typed(cells[0]) else ""
        end = found[n + 1].start() if n + 1 < len(found) else len(text)
        out.append((title, split_line(m[0], delimiter), text[m.end() : end]))
    return out


def _bare_title(text: str) -> str:
    """A title without marks around it, and without a word that only says that one follows: "Sensor: EGT"."""
    text = text.strip("#[]*=-: ")
    said, _, rest = text.partition(":")
    return rest.strip() if rest and {"sensor", "name"} & set(dissect(said).ideas) else text


def _of_sensors(some: Sequence[_Section]) -> bool:
    """Whether tables are of a sensor or part each, not of a flight each."""
    names = [n for section in some for n in _names(section)]
    if len(some) < 2 or len(set(names)) < len(names) or any(typed(h) for _, headings, _ in some for h in headings):
        return False
    titles, headers = [title for title, _, _ in some], {tuple(headings) for _, headings, _ in some}
    if len(headers) == len(some) or all(_plain(h) for headings in headers for h in headings[1:] if h):
        return True
    return all(_PARTS & {m for w in dissect(t).words for m in meanings(w)} for t in titles)


def _plain(heading: str) -> bool:
    """Whether a heading says only that there are values below it."""
    return "value" in dissect(heading).ideas


def _names(section: _Section) -> list[str]:
    """What each column but the time is called: by the table's title and its own heading."""
    title, headings, _ = section
    return [title if title and _plain(h) and not dissect(h).unit else f"{title} {h}".strip() for h in headings[1:] if h]


def _titled(text: str) -> str | None:
    some, (_, delimiter) = _sections(text), _header(text)
    if not _of_sensors(some):
        return None
    pieces = []
    for section in some:
        table = _strings(section[2], delimiter, len(section[1]))
        pieces += [(table.column(0), name, table.column(i)) for i, name in enumerate(_names(section), 1)]
    above = text[: text.index(_header(text)[0] + delimiter)].replace(delimiter, "\t")
    return _one_row_a_reading(pieces, some[0][1][0], ended=text.endswith("\n"), above=above)


def _strings(body: str, delimiter: str, width: int) -> pa.Table:
    """The lines of a table that have as many cells as it has columns."""
    keys = [f"c{i}" for i in range(width)]
    lines = "\n".join(re.findall(rf"[^\n]*{re.escape(delimiter)}[^\n]*", body))
    if not lines:
        return pa.table({k: pa.nulls(0, pa.string()) for k in keys})
    return pa_csv.read_csv(
        pa.BufferReader(lines.encode()),
        pa_csv.ReadOptions(column_names=keys, use_threads=False),
        pa_csv.ParseOptions(delimiter=delimiter, invalid_row_handler=lambda _: "skip"),
        pa_csv.ConvertOptions(column_types=dict.fromkeys(keys, pa.string())),
    )


def _one_row_a_reading(
    pieces: Sequence[tuple[pa.ChunkedArray, str, pa.ChunkedArray]], clock: str, *, ended: bool, above: str
) -> str | None:
    """Times, a sensor's name and its values, for each sensor, as one row a reading, one sensor after the other."""
    tables = []
    for times, name, values in pieces:
        timed = pc.match_substring_regex(times, r"^\s*-?\d")
        there = pc.and_(timed, pc.not_equal(pc.utf8_trim_whitespace(values), ""))
        table = pa.table({"t": times, "v": values}).filter(there)
        tables.append(table.add_column(1, "n", pa.array([name] * len(table), pa.string())))
    whole = pa.concat_tables(tables)
    return _written(whole.columns, (clock, "Sensor", "Value"), ended=ended, above=above) if len(whole) else None


# Tables side by side


def _clocks(text: str) -> tuple[str, list[str], list[int]]:
    """The header line, its cells, and the places of those that tell the time of the columns behind them.

    They have one heading, or each the name of the column behind it: ``RPM time, RPM, EGT time, EGT``.
    """
    cell, delimiter = _header(text)
    line = next((x for x in text[:_HEAD].split("\n", _PREAMBLE) if cell and x.startswith(f"{cell}{delimiter}")), "")
    cells = split_line(line, delimiter) if line else []
    at = [i for i, c in enumerate(cells) if fold(c) == fold(cells[0])]
    if len(at) < 2:
        at = [i for i, (c, behind) in enumerate(itertools.pairwise(cells)) if _time_of(c, behind)]
    return line, cells, at if at[:1] == [0] else []


def _time_of(heading: str, behind: str) -> bool:
    """Whether a heading says that it is the time of the column behind it."""
    plain = dissect(heading)
    own = {w for w, i in zip(plain.words, plain.ideas, strict=True) if i not in ("time", "elapsed", "")}
    return "time" in plain.ideas and bool(own) and own <= set(dissect(behind).words) and not _of_time(behind)


def _seems_beside(text: str) -> bool:
    """Whether one header names several times, and something behind each."""
    _, cells, at = _clocks(text)
    return len(at) > 1 and all(n - i > 1 for i, n in itertools.pairwise([*at, len(cells)]))


def _beside(text: str) -> str | None:
    line, cells, at = _clocks(text)
    table = _strings(text[text.index(line) + len(line) :], _header(text)[1], len(cells))
    clocks = [dissect(cells[i]) for i in at]
    if all(table.column(i).equals(table.column(at[0])) for i in at) or len({c.unit for c in clocks}) > 1:
        return None  # the same clock again, or clocks of several kinds
    spans = [_span(table.column(i)) for i in at]
    shared = min(last for _, last in spans) - max(first for first, _ in spans)
    if not all(shared >= 0.5 * (last - first) for first, last in spans if last - first == min(b - a for a, b in spans)):
        return None  # clocks that begin elsewhere are not of one flight's time
    pieces = [
        (table.column(start), cells[i], table.column(i))
        for start, end in itertools.pairwise([*at, len(cells)])
        for i in range(start + 1, end)
        if cells[i]
    ]
    names = [name for _, name, _ in pieces]
    if len(set(names)) < len(names):
        return None
    clock = f"Time ({clocks[0].unit_text})" if clocks[0].unit else "Time"
    above = text[: text.index(line)].replace(_header(text)[1], "\t")
    return _one_row_a_reading(pieces, cells[0] if cells[0] == cells[at[1]] else clock, ended=True, above=above)


def _span(times: pa.ChunkedArray) -> tuple[float, float]:
    """First and last of some times, s, where they are plain numbers; all the same where they are not."""
    plain = pc.replace_substring(times, ",", ".")
    plain = plain.filter(pc.match_substring_regex(plain, r"^\s*-?\d+\.?\d*\s*$"))
    return (float(plain[0].as_py()), float(plain[-1].as_py())) if len(plain) > 1 else (0.0, 0.0)


# Cells that name their value


def _seems_named(text: str) -> bool:
    line = next(itertools.islice((x for x in text.split("\n", 40) if x.strip()), 8, None), "")
    return bool(re.search(r"(?:^|[\t;,| ])\s*\"?(?:[^\W\d_]|°)[^=:,;\t|]{0,40}[=:]\s*[-+]?\d", line[:2000]))


def _named(text: str) -> str | None:
    lines = re.findall(r"[^\n]*\S[^\n]*", text)
    some = lines[len(lines) // 3 :][:60]
    for delimiter in [d for d in _DELIMITERS if all(d in line for line in some)] or [" "]:
        for mark in "=:":
            made = _without_names(lines, some, delimiter, mark)
            if made is not None:
                return made if text.endswith("\n") else made.removesuffix("\n")
    return None


def _without_names(lines: Sequence[str], some: Sequence[str], delimiter: str, mark: str) -> str | None:
    stops = delimiter if delimiter != " " else r"\s"
    cell = re.compile(_NAMED_CELL.format(mark=mark, stops=stops))
    rows = [[cell.fullmatch(c.strip(' "')) for c in split_line(line, delimiter)] for line in some]
    good = [[m for m in r if m] for r in rows]
    if not all(good) or sum(map(len, good)) < 0.5 * sum(map(len, rows)):
        return None
    if any(len({m[1] for m in r}) < len(r) for r in good):
        return None  # one name over two values of a row
    first = [c.strip(' "') for c in split_line(lines[0], delimiter)]
    headed = not any(cell.fullmatch(c) or typed(c) for c in first)
    plain = [n for n in range(len(rows[0])) if all(len(r) > n and r[n] is None for r in rows)]
    if headed and (len(first) != len(rows[0]) or delimiter == " "):
        return None
    if not headed and (plain not in ([], [0], [0, 1]) or not all(typed(split_line(x, delimiter)[n])
                                                                 for x in some for n in plain)):  # fmt: skip
        return None
    heads = {n: first[n] if headed else ("Date", "Time")[n - len(plain)] for n in plain}
    at: dict[str, set[int]] = {}
    for r in rows:
        for n, m in enumerate(r):
            if m:
                at.setdefault(m[1], set()).add(n)
    headings = {n: _named_heading(first[min(some)] if headed and len(some) == 1 else "", n) for n, some in at.items()}
    body = pa.array(lines[1:] if headed else lines, pa.string())
    gap = r"\s" if delimiter == " " else re.escape(delimiter)
    patterns = [rf"^(?:[^{stops}]*{gap}+){{{n}}}[ \"]*(?P<v>[^{stops}\"]*)" for n in plain]
    patterns += [rf'(?:^|{gap})[ "]*{re.escape(n)}\s*{mark}\s*(?P<v>[^{stops}"]*)' for n in at]
    found = [pc.struct_field(pc.extract_regex(body, p), "v") for p in patterns]
    beside, named = found[: len(plain)], found[len(plain) :]
    marks = sum(int(pc.sum(pc.count_substring(c, mark)).as_py() or 0) * sign for c, sign in
                [(body, 1), *((c, -1) for c in beside)])  # fmt: skip
    if "" in headings.values() or sum(len(f) - f.null_count for f in named) != marks:
        return None  # a name that the first lines have not, or one that the heading contradicts
    return _written(found, [*heads.values(), *headings.values()], ended=True)


def _named_heading(heading: str, name: str) -> str:
    """Heading and name of a value together: "Batt" and "V"; one alone where it says the other; '' where they differ."""
    unit, own = units.understand(name), dissect(heading)
    if not heading or fold(heading) == fold(name):
        return name
    if own.unit and unit:
        return heading if units.conversion(unit, own.unit) is not None else ""
    if fold(name) in own.words or not (unit or meanings(fold(name))):
        return heading
    return f"{heading} ({name})" if unit and not meanings(fold(name)) else f"{heading} {name}"
