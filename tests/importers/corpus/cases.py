"""The corpus: small files in many dialects, what must come of each, and how its table is written.

A case holds the bytes and one of three outcomes: the known table of :mod:`tests.importers.corpus.spelling`, a few
known values, or the words a refusal must contain.
"""

from __future__ import annotations

import io
import zipfile

from msgspec import Struct, field
from msgspec.structs import replace

from tests.importers.corpus.spelling import CLOCKS, Spelling, expected, lines, render

Table = dict[str, list[float | bool | str | None]]


class Case(Struct, frozen=True):
    """One file.

    Parameters
    ----------
    table : dict or None
        Channels that must come back, all rows; ``whole`` says that there may be no others.
    refused : str
        Words of the one sentence, where it must be refused.
    asks : frozenset of str
        What must be asked first; ``answers`` settles it.
    flights : int
        How many flights it holds; ``table`` is the first.
    notice : str
        Words that must stand among the notices.
    delimiter, header : str, int or None
        The truth about its layout, for comparing sniffers: ``header`` is the 1-based line number, None where the file
        has none. Without a delimiter the case is no table.
    """

    name: str
    data: bytes
    table: Table | None = None
    whole: bool = True
    refused: str = ""
    asks: frozenset[str] = frozenset()
    answers: dict[str, str] = field(default_factory=dict)
    flights: int = 1
    notice: str = ""
    delimiter: str = ""
    header: int | None = None
    text: str = ""


def _told(name: str, spelling: Spelling, **more: object) -> Case:
    """A case of the known table."""
    answers = CLOCKS[spelling.clock][2]
    _, header = lines(spelling)
    plain = replace(spelling, encoding="utf-8", pack="")
    case = Case(
        name, render(spelling), expected(spelling), asks=frozenset(answers), answers=answers,
        delimiter=spelling.delimiter, header=header, text=render(plain).decode(),
    )  # fmt: skip
    return replace(case, **more)  # type: ignore[arg-type]


def _odd(name: str, data: str | bytes, delimiter: str = "", header: int | None = None, **more: object) -> Case:
    """A case written out."""
    raw = data.encode() if isinstance(data, str) else data
    text = data if isinstance(data, str) else ""
    return replace(Case(name, raw, delimiter=delimiter, header=header, text=text), **more)  # type: ignore[arg-type]


def _rows(header: str, n: int = 20, row: str = "{t:.1f},{v}") -> str:
    return header + "\n" + "".join(row.format(t=i / 10, i=i, v=-60 - i % 9) + "\n" for i in range(n))


def _zip(files: dict[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in files.items():
            archive.writestr(name, data)
    return out.getvalue()


S = Spelling
_FIRST = [-60.0 - i % 9 for i in range(20)]
_TENTHS = [i / 10 for i in range(20)]
_RSSI = "link.rx1.rssi_dbm"

CASES: tuple[Case, ...] = (
    # Text
    _told("plain", S()),
    _told("UTF-8 with its mark", S(encoding="utf-8-sig", headings="german")),
    _told("UTF-16 with its mark", S(encoding="utf-16", headings="french")),
    _told("UTF-16 without a mark, little end first", S(encoding="utf-16-le")),
    _told("UTF-16 without a mark, big end first", S(encoding="utf-16-be")),
    _told("Windows-1252", S(encoding="cp1252", headings="german", delimiter=";", decimal=",")),
    _told("Latin-1", S(encoding="latin-1", headings="spanish")),
    _told("semicolons and decimal commas", S(delimiter=";", decimal=",")),
    _told("commas and quoted decimal commas", S(decimal=",", quoted=True)),
    _told("semicolons and decimal points", S(delimiter=";")),
    _told("tabs", S(delimiter="\t")),
    _told("tabs and decimal commas", S(delimiter="\t", decimal=",")),
    _told("bars", S(delimiter="|")),
    _told("runs of blanks", S(delimiter=" ")),
    _told("thousands in quoted commas", S(thousands=",", quoted=True)),
    _told("thousands in points", S(thousands=".", decimal=",", delimiter=";")),
    _told("thousands in apostrophes", S(thousands="'", delimiter=";")),
    _told("thousands in no-break blanks", S(thousands="\u00a0", decimal=",", delimiter=";")),
    _told("thousands in thin blanks", S(thousands="\u202f", decimal=",", delimiter=";")),
    _told("everything quoted", S(quoted=True)),
    _told("line ends of two marks", S(line_end="\r\n")),
    _told("line ends of the other mark", S(line_end="\r")),
    _told("remarks above", S(preamble="comments")),
    _told("keys and values above", S(preamble="keys", delimiter=";", decimal=",")),
    _told("slashes above", S(preamble="slashes")),
    _told("prose above", S(preamble="prose", delimiter="\t")),
    _told("remarks between the rows", S(comment_every=7)),
    _told("the header comes again", S(repeat_header=11)),
    _told("a unit row", S(headings="bare", unit_row=True)),
    _told("a unit row, bars, French line ends", S(headings="bare", unit_row=True, delimiter="|", line_end="\r\n")),
    _told("rows end in a delimiter", S(trailing=True)),
    _told("rows end in a semicolon", S(trailing=True, delimiter=";", decimal=",")),
    _told("zero bytes", S(nul_every=9), notice="zero byte"),
    _told("last line cut", S(cut=30), notice="cut"),
    _told("last line without its end", S(ended=False)),
    _told("gzip", S(pack="gz")),
    _told("zip", S(pack="zip", encoding="utf-16")),
    _told("Zstandard", S(pack="zst", delimiter=";", decimal=",")),
    _told("bzip2", S(pack="bz2")),
    _told("xz", S(pack="xz")),
    *(_told(f"silent cells as {b}", S(blank=b)) for b in ("-", "NaN", "N/A", "null")),
    *(_told(f"headings in {h.title()}", S(headings=h)) for h in ("snake", "german", "french", "spanish")),
    # Clocks
    *(_told(f"clock: {c}", S(clock=c)) for c in CLOCKS if c not in ("seconds", "clock, comma")),
    _told("clock: decimal comma, semicolons", S(clock="clock, comma", delimiter=";", decimal=",")),
    _odd(
        "clock: one step back",
        "time (s),Rx1 RSSI (dBm)\n" + "".join(f"{t},-60\n" for t in (0, 1, 2, 3, 2.5, 5, 6, 7, 8, 9)),
        ",", 1, table={"time_s": [0, 1, 2, 3, 4, 5, 6, 7, 8, 9], _RSSI: [-60.0] * 10}, notice="stepped back",
    ),
    _odd(
        "two flights by silence",
        "time (s),Rx1 RSSI (dBm)\n" + "".join(f"{t},-60\n" for t in [*range(20), *range(500, 530)]),
        ",", 1, table={"time_s": [float(t) for t in range(20)], _RSSI: [-60.0] * 20}, flights=2,
    ),
    _odd(
        "two flights by a clock that starts anew",
        "time (s),Rx1 RSSI (dBm)\n" + "".join(f"{t},-60\n" for t in [*range(20), *range(30)]),
        ",", 1, table={"time_s": [float(t) for t in range(20)], _RSSI: [-60.0] * 20}, flights=2,
    ),
    _odd("minutes and seconds, or hours and minutes",
         "Time,Rx1 RSSI (dBm)\n" + "".join(f"00:{i:02d},-60\n" for i in range(20)), ",", 1,
         table={"time_s": [float(i) for i in range(20)], _RSSI: [-60.0] * 20},
         asks=frozenset({"minutes"}), answers={"minutes": "mm:ss"}),
    # Shapes
    _told("long", S(long=True)),
    _told("long with units", S(long=True, unit_row=True, headings="bare", delimiter=";", decimal=",")),
    _told("long, clock past midnight", S(long=True, clock="clock", headings="german")),
    # Columns
    _odd("short rows throughout", "time (s),Rx1 RSSI (dBm),EGT (°C),Fuel (mL)\n" + "".join(
        f"{i / 10:.1f},{-60 - i % 9}{',500,100' if i % 2 else ''}\n" for i in range(20)), ",", 1,
        table={"time_s": _TENTHS, _RSSI: _FIRST, "engine.main.egt_c": [500.0 if i % 2 else None for i in range(20)],
               "fuel.main.remaining_ml": [100.0 if i % 2 else None for i in range(20)]}),
    _odd("one row too long", _rows("time (s),Rx1 RSSI (dBm)") + "2.0,-60,7,8,9\n", ",", 1,
         table={"time_s": _TENTHS, _RSSI: _FIRST}, notice="left out"),
    _odd("an unknown column is kept", _rows("time (s),Rx1 RSSI (dBm),Zorp", row="{t:.1f},{v},{i}"), ",", 1,
         table={"time_s": _TENTHS, _RSSI: _FIRST, "extra.zorp": [float(i) for i in range(20)]}, notice="extra.zorp"),
    _odd("the same column twice", _rows("time (s),Rx1 RSSI (dBm),Rx1 RSSI (dBm)", row="{t:.1f},{v},{v}"), ",", 1,
         table={"time_s": _TENTHS, _RSSI: _FIRST, "extra.rx1_rssi_dbm_2": _FIRST}, notice="holds the same values"),
    _odd("an empty column is dropped", _rows("time (s),Rx1 RSSI (dBm),Nothing", row="{t:.1f},{v},"), ",", 1,
         table={"time_s": _TENTHS, _RSSI: _FIRST}, notice="dropped"),
    _odd("words among the numbers", _rows("time (s),Rx1 RSSI (dBm)", 20).replace("1.0,-61", "1.0,oops"), ",", 1,
         table={"time_s": _TENTHS, _RSSI: [None if i == 10 else v for i, v in enumerate(_FIRST)]}, notice="oops"),
    _odd("a quoted heading over two lines", _rows('time (s),"Rx1\nRSSI (dBm)"'), ",", 1,
         table={"time_s": _TENTHS, _RSSI: _FIRST}),
    _odd("units inside the cells", _rows("time (s),Rx1 RSSI (dBm)", row="{t:.1f},{v} dBm"), ",", 1,
         table={"time_s": _TENTHS, _RSSI: _FIRST}),
    _odd("minus as printed", _rows("time (s),Rx1 RSSI (dBm)").replace("-6", "\u22126"), ",", 1,
         table={"time_s": _TENTHS, _RSSI: _FIRST}),
    _odd("powers of ten", "time (s),Rx1 Voltage (V)\n" + "".join(f"{i}e-1,7.5E+0\n" for i in range(20)), ",", 1,
         table={"time_s": _TENTHS, "pack.rx1.voltage_v": [7.5] * 20}),
    _odd("two columns for one channel", _rows("time (s),Left EGT (°C),EGT left (°F)", row="{t:.1f},500,932"), ",", 1,
         table={"time_s": _TENTHS, "engine.left.egt_c": [500.0] * 20}, whole=False,
         asks=frozenset({"column.engine.left.egt_c"}), answers={"column.engine.left.egt_c": "Left EGT (°C)"}),
    _odd("three decimals or thousands", "time (s);Rx1 Voltage\n" + "".join(f"{i};7,{412 - i}\n" for i in range(20)),
         ";", 1, table={"time_s": [float(i) for i in range(20)],
                        "pack.rx1.voltage_v": [float(f"7.{412 - i}") for i in range(20)]},
         asks=frozenset({"decimal"}), answers={"decimal": "comma"}),
    _odd("no unit said", _rows("time (s),Rx1 RSSI (dBm),Altitude", row="{t:.1f},{v},{i}"), ",", 1,
         table={"time_s": _TENTHS, _RSSI: _FIRST, "position.altitude_m": [float(i) for i in range(20)]},
         asks=frozenset({"unit.altitude"}), answers={"unit.altitude": "m"}),
    _odd("heading and unit row differ", _rows("time (s),Rx1 batt mV\ns,V", row="{t:.1f},{i}"), ",", 1,
         table={"time_s": _TENTHS, "pack.rx1.voltage_v": [i / 1000 for i in range(20)]},
         asks=frozenset({"unit.rx1_batt_mv"}), answers={"unit.rx1_batt_mv": "mV"}),
    _odd("heading and cells differ", _rows("time (s),Rx1 batt (V)", row="{t:.1f},{i} mV"), ",", 1,
         table={"time_s": _TENTHS, "pack.rx1.voltage_v": [i / 1000 for i in range(20)]},
         asks=frozenset({"unit.rx1_batt_v"}), answers={"unit.rx1_batt_v": "mV"}),
    _odd("row numbers under no heading", _rows(",time,Rx1 RSSI (dBm)", row="{i},{t:.1f},{v}"), ",", 1,
         table={"time_s": _TENTHS, _RSSI: _FIRST}, whole=False),
    _odd("row numbers and no clock", _rows(",Rx1 RSSI (dBm)", row="{i},{v}"), ",", 1,
         refused="no column that tells the time"),
    _odd("thousands or three decimals, tabs",
         "time (s)\tLeft RPM\n" + "".join(f"{i}\t{33 + i}.000\n" for i in range(20)), "\t", 1,
         table={"time_s": [float(i) for i in range(20)],
                "engine.left.speed_rpm": [(33 + i) * 1000.0 for i in range(20)]},
         asks=frozenset({"decimal"}), answers={"decimal": "comma"}),
    _odd("mostly words", "time (s),Rx1 RSSI (dBm),mode,state,note,pilot\n" + "".join(
        f"{i / 10:.1f},{-60 - i % 9},manual,{'ready' if i < 9 else 'run'},none of it,Kim\n" for i in range(20)), ",", 1,
        table={"time_s": _TENTHS, _RSSI: _FIRST}, whole=False),
    _odd("zip with two logs, one named", _zip({"a.csv": _rows("time (s),Rx1 RSSI (dBm)").encode(), "b.csv": b"x,y\n"}),
         table={"time_s": _TENTHS, _RSSI: _FIRST}, answers={"member": "a.csv"}),
    _odd("gzip cut short", render(S(pack="gz"))[:-30], table={}, whole=False, notice="damaged"),
    # What is refused
    _odd("empty", "", refused="an empty file"),
    _odd("nothing but blanks", " \r\n\t\n\x00", refused="an empty file"),
    _odd("a byte-order mark alone", b"\xef\xbb\xbf", refused="an empty file"),
    _odd("binary", bytes(range(256)) * 20, refused="binary data"),
    _odd("a picture", b"\x89PNG\r\n\x1a\n" + bytes(200), refused="a picture"),
    _odd("an office document", b"\xd0\xcf\x11\xe0" + bytes(200), refused="an office document"),
    _odd("prose", "Dear all,\nthe weather was fine.\nWe flew.\n", refused="no table"),
    _odd("header only", "time (s),Rx1 RSSI (dBm)\n", ",", 1, refused="no row of numbers"),
    _odd("no header", "0.0,-60\n0.1,-61\n0.2,-62\n0.3,-63\n", ",", None, refused="without a header line"),
    _odd("no time", _rows("Rx1 RSSI (dBm),Pack R1 Voltage (V)", row="{v},7.{i:02d}"), ",", 1,
         refused="no column that tells the time"),
    _odd("no known channel", _rows("time (s),zorp,quux", row="{t:.1f},{i},2"), ",", 1,
         refused="no column that is a known channel"),
    _odd("decimal commas between commas", "time (s),Rx1 Voltage (V)\n" + "".join(f"{i},5,7,4{i % 10}\n"
         for i in range(20)), refused="fields"),
    _odd("every time unreadable", "time (s),Rx1 RSSI (dBm)\n" + "".join(f"x{i},-60\n" for i in range(20)), ",", 1,
         refused="no column that tells the time"),
    _odd("two decimal marks",
         "time (s);Rx1 Voltage (V);EGT (°C)\n" + "".join(f"{i},5;7.412;500,5\n" for i in range(20)), ";", 1,
         refused="both commas and points as decimal marks"),
    _odd("one sensor in two units", "time (s),Sensor,Value,Unit\n" + "".join(
        f"{i},Rx1 batt,7400,mV\n{i},EGT,500,°C\n{i}.5,Rx1 batt,7.4,V\n" for i in range(20)), ",", 1,
        refused="'Rx1 batt' in two units"),
    _odd("zip with two logs", _zip({"a.csv": b"x", "b.csv": b"y"}), refused="a zip archive holding 2 files"),
    _odd("zip with nothing", _zip({}), refused="a zip archive holding 0 files"),
    _odd("zip cut short", render(S(pack="zip"))[:-40], refused="a zip archive that cannot be opened"),
    _odd("gzip of nothing", b"\x1f\x8b\x08\x00", refused="cannot be read or expanded"),
    _odd("one number", "7\n", refused="no table"),
    _odd("a line without end", "time (s),Rx1 RSSI (dBm)\n" + "9" * (2**20 // 2), refused="found"),
)  # fmt: skip
