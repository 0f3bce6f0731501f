"""Nothing to do is known without loading the analysis; anything that changed is seen."""

import json
import os
import subprocess
import sys

import pytest
from front import run
from made import draft, register_example, source

from spooldown.logbook.book import Logbook
from spooldown.logbook.note import FlightNote

FLIGHT = "heron-2031-04-05-a"


@pytest.fixture
def folder(tmp_path):
    with Logbook(tmp_path / "book") as book:
        register_example(book)
        book.add([source()], [draft(1), draft(2)], aircraft="Heron")
    assert run("pages", "--logbook", tmp_path / "book").returncode == 0
    return tmp_path / "book"


def built(folder):
    done = run("pages", "--logbook", folder)
    assert done.returncode == 0, done.stderr
    return done.stdout.splitlines()[0]


def test_nothing_to_do_needs_no_analysis(folder):
    script = (
        "import sys; sys.argv = ['spooldown', 'pages', '--logbook', sys.argv[1]]\n"
        "from spooldown import cli\n"
        "try:\n    cli.main()\n"
        "finally:\n    print(sorted({'scipy', 'pandas', 'pyarrow', 'jinja2', 'plotly'} & set(sys.modules)))\n"
    )
    first = built(folder)
    assert first.startswith("0 pages written, ")
    out = subprocess.check_output([sys.executable, "-c", script, folder], text=True).splitlines()
    assert out[0] == first
    assert out[-1] == "[]"


def test_an_import_brings_the_pages_up_to_date_where_it_is_asked(folder, tmp_path):
    log = tmp_path / "log.csv"
    log.write_text("Time (s),RX1 Voltage (V)\n" + "".join(f"{n / 5},{8 - n / 900:.2f}\n" for n in range(200)))
    done = run("import", log, "--aircraft", "Heron", "--pages", "--json", "--logbook", folder)
    assert done.returncode == 0, done.stderr
    said = json.loads(done.stdout)
    assert said["written"] > 0
    (flight,) = [f for one in said["files"] for f in one["flights"]]
    assert (folder / "pages" / "flights" / f"{flight}.html").is_file()
    assert built(folder).startswith("0 pages written, ")


CHANGES = {
    "a note": lambda f: Logbook(f).note({FLIGHT: FlightNote(remarks="calm")}),
    "an import": lambda f: Logbook(f).add([source("b.csv", "22")], [draft(rows=90)], aircraft="Heron"),
    "a removal": lambda f: Logbook(f).remove([FLIGHT]),
    "a title": lambda f: Logbook(f).set_setting("title", "Other"),
    "the register": lambda f: (f / "register" / "heron.toml").write_text(
        (f / "register" / "heron.toml").read_text().replace("rated_mah = 3500", "rated_mah = 3600")
    ),
    "limits": lambda f: [(f / "limits").mkdir(), (f / "limits" / "heron.toml").write_text("")],
    "a page gone": lambda f: (f / "pages" / "season.html").unlink(),
    "a page spoilt": lambda f: (f / "pages" / "season.html").write_text(""),
    "damage": lambda f: (f / "flights" / f"{FLIGHT}.parquet").write_bytes(b"x"),
    "a file put in place": lambda f: os.replace(f / "flights" / f"{FLIGHT}.parquet", f / "flights" / "x-a.parquet"),
}


@pytest.mark.parametrize("change", CHANGES.values(), ids=CHANGES)
def test_every_change_is_looked_at(folder, monkeypatch, change):
    from spooldown.work import unchanged

    with Logbook(folder) as book:
        assert unchanged.counts_of_last(book, folder / "pages") is not None
    change(folder)
    with Logbook(folder) as book:
        assert unchanged.counts_of_last(book, folder / "pages") is None


def test_another_program_looks_again(folder, monkeypatch):
    from spooldown.work import unchanged

    with Logbook(folder) as book:
        before = unchanged.state_read(book)
        monkeypatch.setattr(unchanged, "_PACKAGES", ("analyser", "reports"))
        assert unchanged.state_read(book) != before


def test_another_language_is_another_state(folder):
    page = folder / "pages" / "index.html"
    for language in ("de", "en"):
        assert run("pages", "--language", language, "--logbook", folder).returncode == 0
        assert f'lang="{language}"' in page.read_text()
        again = run("pages", "--language", language, "--logbook", folder).stdout
        assert again.startswith({"en": "0 pages written", "de": "0 Seiten geschrieben"}[language])


def test_another_day_is_another_state(folder, monkeypatch):
    from datetime import datetime

    from spooldown.work import unchanged

    class Later(datetime):
        @classmethod
        def now(cls, tz=None):
            return datetime(2131, 1, 1, tzinfo=tz)

    with Logbook(folder) as book:
        before = unchanged.state_read(book)
        monkeypatch.setattr(unchanged, "datetime", Later)
        assert unchanged.state_read(book) != before


def test_what_comes_during_a_build_is_for_the_next_one(folder):
    from spooldown.work import unchanged

    with Logbook(folder) as book:
        read = unchanged.state_read(book)
        CHANGES["a note"](folder)
        unchanged.remember(read, folder / "pages", 9)
        assert unchanged.counts_of_last(book, folder / "pages") is None


def test_a_text_edited_within_one_tick_of_the_clock_is_seen(folder):
    (text,) = (folder / "register").glob("*.toml")
    before = text.stat()
    said = text.read_text()
    other = said.replace("Heron", "Horen")
    assert len(other) == len(said)
    with text.open("r+") as file:  # as an editor does that writes into the file itself
        file.write(other)
    os.utime(text, ns=(before.st_atime_ns, before.st_mtime_ns))
    assert text.stat().st_ino == before.st_ino
    assert not built(folder).startswith("0 pages written, ")
