"""A damaged cell of the catalogue: every screen of the desk stands, and the lists say which flight's row it is."""

import sqlite3
from contextlib import closing

import pytest

from spooldown.logbook.catalogue import CATALOGUE
from spooldown.upkeep.checking import check

SCREENS = ("/", "/flights", "/aircraft", "/bin", "/bench", "/range-checks", "/take-away", "/settings")


@pytest.mark.parametrize(("table", "column"), [("flight", "utc_start"), ("note", "body")])
def test_every_screen_stands(flown, table, column):
    with flown.desk.book() as book:
        (flight_id,) = book.flight_ids()
    with closing(sqlite3.connect(flown.desk.folder / CATALOGUE)) as db, db:
        db.execute("INSERT OR REPLACE INTO note VALUES (?, '{}')", (flight_id,))
        db.execute(f"UPDATE {table} SET {column} = CAST(x'6162ff' AS TEXT) WHERE flight_id = ?", (flight_id,))
    answers = {path: flown.get(path) for path in (*SCREENS, f"/flights/{flight_id}/note")}
    assert {path: a.status_code for path, a in answers.items()} == dict.fromkeys(answers, 200)
    what = f"row of flight {flight_id}" if table == "flight" else f"the note of flight {flight_id} in the catalogue"
    said = f"{what} is damaged{' (utc_start)' if table == 'flight' else ''}; `spooldown check --repair` mends it"
    shown = [path for path, a in answers.items() if said in a.text.replace("&#39;", "'")]
    assert shown == ["/", "/flights", *([f"/flights/{flight_id}/note"] if table == "note" else [])]


def test_a_damaged_note_that_can_be_mended_is_not_written_over(flown):
    with flown.desk.book() as book:
        (flight_id,) = book.flight_ids()
    flown.post(f"/flights/{flight_id}/note", {"remarks": "the first"})
    with closing(sqlite3.connect(flown.desk.folder / CATALOGUE)) as db, db:
        db.execute("UPDATE note SET body = substr(body, 2)")
    answer = flown.post(f"/flights/{flight_id}/note", {"remarks": "the second"})
    assert answer.status_code == 409
    assert "check --repair" in answer.text
    assert "the second" in answer.text  # what was typed is not lost either
    check(flown.desk.folder, repair=True)
    with flown.desk.book() as book:
        assert book.notes()[flight_id].remarks == "the first"
