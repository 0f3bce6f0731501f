"""A damaged cell of the catalogue: every screen of the desk stands, and the lists say which flight's row it is."""

import sqlite3
from contextlib import closing

import pytest

from spooldown.logbook.catalogue import CATALOGUE

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
    said = f"row of flight {flight_id} is damaged (utc_start); `spooldown check --repair` mends it"
    shown = [path for path, a in answers.items() if said in a.text.replace("&#39;", "'")]
    assert shown == (["/", "/flights"] if table == "flight" else [])
