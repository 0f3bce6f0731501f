"""Every CSV we write: numbers stay numbers, no text acts, and what a spreadsheet saves comes back."""

import csv
import io
import json

import duckdb
import pyarrow as pa
import pytest
from front import run
from hypothesis import given
from hypothesis import strategies as st

from reports.addresses import neutral
from spooldown.sheets.cells import as_written, cell, encode_rows, encode_table

# OWASP, "CSV Injection": cells must not begin with these characters.
OWASP = ("=", "+", "-", "@", "\t", "\r")


@given(st.text())
def test_no_text_begins_as_a_formula(text):
    written = cell(text)
    assert not written.startswith(OWASP) or written.lstrip("+-").replace(".", "").replace("e", "")[:1].isdigit()
    assert as_written(written) == neutral(text) or text.startswith("'")


@pytest.mark.parametrize("text", ["=1+1", "+1+cmd", "-1-1", "@SUM(A1)", "＝1", "+", "-", "=cmd|' /C calc'!A0"])
def test_what_acts_is_quoted(text):
    assert cell(text) == "'" + text


@pytest.mark.parametrize("value", [-3.5, 0, None, True, "-3.5", "+7", "-1e-5", "plain", "a=b", "2026-01-01"])
def test_what_does_not_act_is_as_it_was(value):
    assert cell(value) == value


@given(st.lists(st.text(st.characters(blacklist_categories=["Cs"]), min_size=1), min_size=1, max_size=6))
def test_both_encoders_write_the_same_cells(texts):
    by_rows = list(csv.reader(io.StringIO(encode_rows(["a"], [{"a": t} for t in texts]))))
    by_table = list(csv.reader(io.StringIO(encode_table(pa.table({"a": texts})).decode(), newline="")))
    assert [r[0] for r in by_table if r] == [r[0] for r in by_rows if r]


def test_duckdb_reads_numbers_as_numbers(tmp_path):
    file = tmp_path / "t.csv"
    file.write_bytes(encode_table(pa.table({"v": [-1.5, None, 2e-9], "w": ["=1", "-x", "-4"]})))
    rows = duckdb.sql(f"select v, w from read_csv('{file}', header=true)").fetchall()
    assert rows == [(-1.5, "'=1"), (None, "'-x"), (2e-9, "-4")]


def test_a_log_named_as_a_formula_is_noted_from_its_own_sheet(tmp_path):
    log = tmp_path / "=cmd.csv"
    log.write_text("Time (s),RX1 Voltage (V)\n" + "".join(f"{i / 10},{8 + i % 7 / 100}\n" for i in range(60)))
    where = ("--logbook", tmp_path / "book")
    assert run("import", log, *where).returncode == 0
    sheet = run("note", "--blank", *where).stdout
    (row,) = csv.DictReader(io.StringIO(sheet))
    assert row["log_file"] == "'=cmd.csv"
    (tmp_path / "sheet.csv").write_text(f"log_file,remarks\n{row['log_file']},calm\n")
    done = run("note", "--sheet", tmp_path / "sheet.csv", *where)
    assert done.returncode == 0, done.stderr


def test_json_that_is_exported_hides_nothing_either(tmp_path):
    log = tmp_path / "a\u202egpj.csv"
    log.write_text("Time (s),RX1 Voltage (V)\n" + "".join(f"{i / 10},{8 + i % 7 / 100}\n" for i in range(60)), "utf-8")
    assert run("import", log, "--logbook", tmp_path / "book").returncode == 0
    written = run("export", "flights", "--format", "json", "--logbook", tmp_path / "book").stdout
    assert "\u202e" not in written
    assert json.loads(written)[0]["source"].encode().startswith(b"a")


@pytest.mark.parametrize("char", ["\u202e", "\u200b", "\x1b", "\u2066", "\ufeff"])
def test_characters_that_hide_are_shown_as_such(tmp_path, char):
    log = tmp_path / "log.csv"
    log.write_text(
        f"Time (s),RX1 Voltage (V),Wib{char}ble\n"
        + "".join(f"{i / 10},{8 + i % 7 / 100},w{char}{i}\n" for i in range(60)),
        "utf-8",
    )
    where = ("--logbook", tmp_path / "book")
    shown = run("import", log, *where).stdout
    (flight,) = [w for w in run("flights", "--json", *where).stdout.split('"') if w.startswith("flight-")]
    assert run("pages", *where).returncode == 0
    shown += (tmp_path / "book" / "pages" / "flights" / f"{flight}.html").read_text("utf-8")
    shown += (tmp_path / "book" / "pages" / "index.html").read_text("utf-8")
    shown += run("export", "telemetry", "--flight", flight, *where).stdout
    shown += run("export", "flights", *where).stdout
    assert char not in shown
