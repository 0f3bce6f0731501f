"""Packed files, streams and soiled bytes: what can be read is read, within bounds, and what was mended is said."""

import bz2
import gzip
import io
import lzma
import subprocess
import sys
import zipfile

import pyarrow as pa
import pytest

from importers.plan import plan
from importers.read import read
from importers.refusal import Refusal
from importers.table import source

LOG = ("t (s),Rx1 RSSI (dBm)\n" + "".join(f"{i / 10:.1f},-{60 + i % 9}\n" for i in range(200))).encode()
WANTED = [-60.0 - i % 9 for i in range(200)]


def drafts(data, **answers):
    proposal = plan(io.BytesIO(data), name="log", answers=answers)
    return [(d.telemetry(), d) for d in read(proposal)]


def values(data, **answers):
    ((telemetry, _),) = drafts(data, **answers)
    return telemetry.series("link.rx1.rssi_dbm").values.tolist()


def zipped(*names):
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name in names:
            archive.writestr(name, LOG)
    return out.getvalue()


PACKED = {
    "gzip": gzip.compress(LOG), "zip": zipped("log.csv"), "zip with a remark": zipped("log.csv", "__MACOSX/x"),
    "zstd": pa.compress(LOG, "zstd", asbytes=True), "bzip2": bz2.compress(LOG), "xz": lzma.compress(LOG),
}  # fmt: skip


@pytest.mark.parametrize("kind", PACKED)
def test_packed_files(kind):
    assert values(PACKED[kind]) == WANTED


def test_several_files_in_a_zip_are_asked_by_name():
    data = zipped("a.csv", "b.csv")
    with pytest.raises(Refusal, match="2 files"):
        values(data)
    assert values(data, member="b.csv") == WANTED


@pytest.mark.parametrize("pack", [gzip.compress, bz2.compress, lzma.compress])
def test_expansion_is_bounded(monkeypatch, pack):
    monkeypatch.setattr(source, "FREE_EXPANSION", 2**20)
    monkeypatch.setattr(source, "MAX_RATIO", 10)
    with pytest.raises(Refusal, match="expands"):
        values(pack(LOG + b"0,-9\n" * 2**20))


def test_a_damaged_archive_gives_what_it_still_can():
    whole = gzip.compress(LOG * 1, compresslevel=0)
    ((telemetry, draft),) = drafts(whole[: len(whole) // 2])
    assert 80 < telemetry.time_s.size < 110
    assert any("damaged" in n for n in map(str, draft.notices))


def test_standard_input_cannot_seek():
    code = (
        "import sys; from importers.plan import plan; from importers.read import read; p = plan(sys.stdin.buffer); "
        "print([d.telemetry().time_s.size for d in read(p)], p.source)"
    )
    done = subprocess.run([sys.executable, "-c", code], input=LOG, capture_output=True, check=True)
    assert done.stdout.decode().startswith("[200]")


def test_zero_bytes_are_removed_and_counted():
    soiled = LOG.replace(b"\n5.0,", b"\n5.0\0,").replace(b"\n7.0,", b"\0\n7.0,")
    ((telemetry, draft),) = drafts(soiled)
    assert telemetry.series("link.rx1.rssi_dbm").values.tolist() == WANTED
    assert any("2 zero byte" in n for n in map(str, draft.notices))


def test_runs_of_blanks():
    text = "time_s  rx1_rssi_dbm   rx1_voltage_v\n" + "".join(f"  {i / 10:5.1f}   -60 \t 7.4\n" for i in range(40))
    ((telemetry, _),) = drafts(text.encode())
    assert telemetry.series("pack.rx1.voltage_v").values.tolist() == [7.4] * 40


@pytest.mark.parametrize(("mark", "decimal", "sep"), [
    (",", ".", ";"), (".", ",", ";"), ("'", ".", ","), ("\u00a0", ",", ";"), (" ", ",", ";"),
])  # fmt: skip
def test_thousands_marks(mark, decimal, sep):
    rows = "".join(f"{i}{decimal}5{sep}{91 + i}{mark}23{i % 10}{decimal}5\n" for i in range(40))
    ((telemetry, _),) = drafts(f"t (s){sep}Engine speed (rpm)\n{rows}".encode())
    assert telemetry.series("engine.main.speed_rpm").values.tolist() == [(91 + i) * 1000 + 230 + i % 10 + 0.5
                                                                        for i in range(40)]  # fmt: skip


def test_a_header_that_comes_again_is_left_out():
    header, rest = LOG.split(b"\n", 1)
    lines = rest.split(b"\n")
    again = b"\n".join([header, *lines[:50], header, *lines[50:120], header, *lines[120:]])
    assert values(again) == WANTED


@pytest.mark.parametrize(("modulus", "unit", "step"), [
    (2**16, "ms", 50), (2**32, "ms", 100), (2**32, "us", 20_000), (2**31, "us", 20_000),
])  # fmt: skip
def test_counters_that_start_anew_are_carried_on(modulus, unit, step):
    first = modulus - 100 * step - step // 3
    text = f"tick ({unit}),Rx1 RSSI (dBm)\n" + "".join(f"{(first + i * step) % modulus},-60\n" for i in range(400))
    ((telemetry, draft),) = drafts(text.encode())
    per_second = {"ms": 1e3, "us": 1e6}[unit]
    assert telemetry.time_s == pytest.approx([i * step / per_second for i in range(400)], abs=1e-9)
    assert any("counter" in n for n in map(str, draft.notices))


def test_small_backward_steps():
    times = [i / 10 for i in range(100)]
    times[40], times[41] = times[41], times[40]  # one row late
    later = [t - 0.5 if i > 70 else t for i, t in enumerate(times)]  # the clock set back
    text = "t (s),Rx1 RSSI (dBm)\n" + "".join(f"{t:.1f},-60\n" for t in later)
    ((telemetry, draft),) = drafts(text.encode())
    assert telemetry.time_s.size == 100
    assert telemetry.duration_s == pytest.approx(9.9, abs=0.15)
    assert any("set back" in n for n in map(str, draft.notices))


@pytest.mark.parametrize(("data", "said"), [
    (b"<!DOCTYPE html>\n<html><body>Sign in</body></html>\n" * 9, "a web page"),
    (b'<?xml version="1.0"?>\n<log>\n<row t="1"/>\n</log>\n', "an XML file"),
    (b'{"t": 1, "rssi": -60}\n' * 9, "JSON"), (b'[\n {"t": 1,\n "rssi": -60}\n]\n', "JSON"),
    (zipped("[Content_Types].xml", "xl/workbook.xml", "xl/worksheets/sheet1.xml"), "an office document"),
    (zipped("mimetype", "content.xml", "styles.xml"), "an office document"),
])  # fmt: skip
def test_what_is_no_csv_is_called_by_its_name(data, said):
    with pytest.raises(Refusal, match=f"found {said}"):
        values(data)
