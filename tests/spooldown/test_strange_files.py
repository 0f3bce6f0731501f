"""Something else in the place of a logbook's file: a pipe, a folder, a link to nothing. Told, never waited for."""

import errno
import os
import shutil

import pytest
from front import run, said_once
from made import draft, register_example, source

from importers.refusal import Refusal
from reports.write import MANIFEST, UNDONE, Folder, damaged, undo
from spooldown.judging.files import save, text_of
from spooldown.logbook import entered
from spooldown.logbook.book import Logbook
from spooldown.logbook.note import FlightNote
from spooldown.logbook.plain import files_in
from spooldown.problems import UsageProblem, writing_to
from spooldown.upkeep.checking import check
from spooldown.work import kept
from spooldown.work.unchanged import state_read

ID = "heron-2031-04-05-a"
LIMITS = '[[limits]]\nname = "a"\nevent = "sag"\nlevel = "act"\n'


def _pipe(path):
    if not hasattr(os, "mkfifo"):
        pytest.skip("no named pipes here")
    os.mkfifo(path)


def _lost_link(path):
    path.symlink_to("/nowhere/at/all")


def _folder(path):
    path.mkdir()
    (path / "inside").write_text("kept")


def _unreadable(path):
    path.write_bytes(b"line\n" * 5_000)
    path.chmod(0)
    if os.access(path, os.R_OK):
        pytest.skip("root reads everything")


STRANGE = (_pipe, _lost_link, _folder)


@pytest.fixture
def folder(tmp_path):
    with Logbook(tmp_path / "book") as book:
        register_example(book)
        book.add([source()], [draft(1), draft(2)], aircraft="Heron")
        book.note({ID: FlightNote(remarks="windy")})
        book.keep_text(book.mappings_folder / "mine.toml", b'[columns]\nWibble = ""\n')
        save(book, "Heron", LIMITS)
    return tmp_path / "book"


def noted(folder):
    with Logbook(folder) as book:
        return {i: n.remarks for i, n in book.notes().items()}


@pytest.mark.parametrize("put", [*STRANGE, _unreadable, None])
def test_what_stands_in_the_place_of_what_was_entered_is_told_and_set_aside(folder, put):
    path = folder / entered.FILE
    whole = path.read_bytes()
    path.unlink()
    if put:
        put(path)
    assert [str(d) for d in check(folder)] == [
        "entered.jsonl, which keeps what was entered a second time, is not there or cannot be read"
    ]
    assert all(d.done for d in check(folder, repair=True))
    assert check(folder) == []
    assert len(list((folder / "aside").glob("entered-*"))) == bool(put)
    (folder / "catalogue.sqlite").unlink()  # the new file says all that the old one said
    assert noted(folder) == {ID: "windy"}
    assert whole.count(b"windy") == path.read_bytes().count(b"windy") == 1


@pytest.mark.parametrize("put", STRANGE)
def test_a_note_is_kept_whatever_stands_in_the_place_of_what_was_entered(folder, put):
    (folder / entered.FILE).unlink()
    put(folder / entered.FILE)
    with Logbook(folder) as book:
        book.note({ID: FlightNote(remarks="gusts")})
    assert check(folder) == []
    assert noted(folder) == {ID: "gusts"}


@pytest.mark.parametrize(
    "name", [f"flights/{ID}.parquet", "mappings/mine.toml", "limits/heron.toml", "register/heron.toml"]
)
def test_a_pipe_in_the_place_of_a_file_is_told_as_one(folder, name):
    (folder / name).unlink()
    _pipe(folder / name)
    told = [str(d) for d in check(folder)]
    assert len(told) == 1
    assert name in told[0]
    assert "a pipe" in told[0]


def test_limits_that_cannot_be_read_are_refused_in_a_sentence(folder):
    path = folder / "limits" / "heron.toml"
    path.unlink()
    path.mkdir()
    with Logbook(folder) as book, pytest.raises(Refusal) as refused:
        text_of(book, "Heron")
    assert "found what cannot be read (Is a directory), expected a TOML file; mend it" in str(refused.value)


def test_a_page_with_a_pipe_in_its_place_is_told(tmp_path):
    pages = Folder(tmp_path)
    pages.put("one.html", "mark", lambda: "<p>one</p>")
    pages.finish()
    assert damaged(tmp_path) == []
    (tmp_path / "one.html").unlink()
    _pipe(tmp_path / "one.html")
    assert damaged(tmp_path) == ["one.html"]


def test_a_kept_result_with_a_pipe_in_its_place_is_worked_out_again(folder):
    kept.write(folder / "cache", "one", "0" * 64, b"{}")
    (folder / "cache" / f"one{kept.ENDING}").unlink()
    _pipe(folder / "cache" / f"one{kept.ENDING}")
    assert kept.load(folder / "cache", "one", "0" * 64, dict) is None
    assert kept.damaged(folder / "cache") == [folder / "cache" / f"one{kept.ENDING}"]


def test_a_link_to_nothing_stops_no_pages(folder):
    """Pages ask first whether anything changed: of a link to nothing too."""
    path = folder / "flights" / f"{ID}.parquet"
    data = path.read_bytes()
    states = set()
    with Logbook(folder) as book:
        states.add(state_read(book))
        path.unlink()
        states.add(state_read(book))
        _lost_link(path)
        states.add(state_read(book))
        path.unlink()
        path.write_bytes(data)
        states.add(state_read(book))
    assert len(states) == 4


def test_a_file_for_a_person_to_edit_that_is_lost_is_told_until_it_is_no_longer_expected(folder):
    (folder / "limits" / "heron.toml").unlink()
    what = "limits/heron.toml is not there any more: taken out, or lost"
    assert [(str(d.what), d.done) for d in check(folder)] == [(what, None)]
    assert [str(d.what) for d in check(folder, repair=True) if d.done] == [what]
    assert check(folder) == []
    with Logbook(folder) as book:
        save(book, "Heron", LIMITS)
    assert check(folder) == []


def test_a_damaged_list_of_pages_is_told_until_it_is_to_be_made_again(folder):
    pages = Folder(folder / "pages")
    pages.put("one.html", "mark", lambda: "<p>one</p>")
    pages.finish()
    assert check(folder) == []
    (folder / "pages" / MANIFEST).write_bytes(b"spoilt")
    assert len(check(folder)) == len(check(folder, repair=True)) == 1
    assert check(folder) == []
    again = Folder(folder / "pages")
    again.put("one.html", "mark", lambda: "<p>one</p>")
    again.finish()
    assert damaged(folder / "pages") == []
    assert not list((folder / "pages").glob(".*undone*"))


def test_a_folder_that_holds_no_logbook_is_not_told_to_be_sound(tmp_path):
    (tmp_path / "readme.txt").write_text("no logbook")
    for more in ((), ("--repair",)):
        done = run("check", "--logbook", tmp_path, *more)
        assert (done.returncode, done.stdout) == (4, "")
        assert "there is no logbook" in done.stderr
    assert [p.name for p in tmp_path.iterdir()] == ["readme.txt"]


@pytest.mark.parametrize("name", ["register", "flights", "pages"])
def test_a_folder_that_may_not_be_entered_is_told_and_not_taken_for_an_empty_one(folder, name):
    place = folder / name
    place.mkdir(exist_ok=True)
    place.chmod(0)
    try:
        if os.access(place, os.R_OK):
            pytest.skip("root reads everything")
        done = run("check", "--repair", "--logbook", folder)
        assert done.returncode == 6
        assert "Permission denied" in done.stderr
        assert "fault" not in done.stderr
    finally:
        place.chmod(0o755)
    assert check(folder) == []


def _loop(path):
    path.symlink_to(path)


def test_a_folder_in_the_place_of_a_result_or_a_page_is_set_aside(folder):
    run("pages", "--logbook", folder)
    for name in (f"cache/{ID}.json.zst", f"pages/flights/{ID}.html"):
        (folder / name).unlink()
        _folder(folder / name)
    assert run("flights", "--logbook", folder).returncode == 0
    done = run("check", "--repair", "--logbook", folder)
    assert (done.returncode, done.stdout.count(ID)) == (0, 2)
    assert sorted(p.read_text() for p in (folder / "aside").glob("*/inside")) == ["kept", "kept"]
    assert run("pages", "--logbook", folder).returncode == 0
    assert check(folder) == []


@pytest.mark.parametrize("put", [*STRANGE, _loop])
@pytest.mark.parametrize("name", [MANIFEST, UNDONE, "a.html"])
def test_whatever_stands_in_the_place_of_a_page_is_no_page_and_nothing_waits_for_it(tmp_path, put, name):
    root = tmp_path / "pages"

    def build():
        with writing_to(root):
            out = Folder(root)
            for page in ("a.html", "b.html"):
                out.put(page, "1", lambda: "text")
            out.finish()

    build()
    (root / name).unlink(missing_ok=True)
    put(root / name)
    assert damaged(root) == ([] if name == UNDONE else [name])
    undo(root, damaged(root))
    if put is _folder:
        with pytest.raises(UsageProblem, match=rf"{name} is a folder, and a file belongs there"):
            build()
        shutil.rmtree(root / name)
    build()
    assert (root / "a.html").read_text() == "text"
    assert damaged(root) == []


@pytest.fixture
def closed(monkeypatch):
    """Closes folders to whoever looks into them, root too, as a folder of somebody else's is closed (POSIX, EACCES)."""
    shut = set()

    def close(path):
        shut.add(os.fspath(path))

    def refusing(look):
        def looked(place="."):
            if os.fspath(place) in shut:
                raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), os.fspath(place))
            return look(place)

        return looked

    for name in ("listdir", "scandir"):
        monkeypatch.setattr(os, name, refusing(getattr(os, name)))
    return close


@pytest.mark.parametrize("name", ["mappings", "register", "bin", "cache", "cache/season"])
def test_check_tells_every_folder_that_it_cannot_look_into_and_goes_on(folder, closed, name):
    run("flights", "--logbook", folder)
    (folder / name).mkdir(parents=True, exist_ok=True)
    (folder / "limits" / "heron.toml").unlink()
    closed(folder / name)
    said = [str(d) for d in check(folder)]
    shut = f"{folder / name} may not be looked into (Permission denied)"
    assert len(said) == 2
    assert sum(one.startswith(shut) for one in said) == sum(one.startswith("limits/heron.toml") for one in said) == 1


def test_a_folder_that_is_closed_is_no_empty_one(folder, closed, tmp_path):
    log = "Time (s),RX1 Voltage (V)\n" + "".join(f"{i / 10},{8 + i % 7 / 100}\n" for i in range(60))
    for place in ("logs", "logs/closed", "only/closed"):
        (tmp_path / place).mkdir(parents=True)
        (tmp_path / place / "a.csv").write_text(log)
    closed(tmp_path / "logs" / "closed")
    closed(tmp_path / "only" / "closed")
    done = run("import", tmp_path / "logs", "--logbook", folder)
    assert (done.returncode, "logs/closed may not be looked into" in done.stderr) == (3, True)
    with Logbook(folder) as book:
        assert len(book.flight_ids()) == 3  # the others went on
    (tmp_path / "only" / "a.csv").unlink(missing_ok=True)
    assert "only/closed may not be looked into" in said_once(run("import", tmp_path / "only", "--logbook", folder))
    closed(folder / "mappings")
    assert "may not be looked into" in said_once(run("import", tmp_path / "logs", "--logbook", folder))
    closed(folder / "bin")
    assert run("flights", "--logbook", folder).returncode == 0  # a bin costs what is in it alone
    closed(folder / "flights")
    assert "may not be looked into" in said_once(run("flights", "--logbook", folder))
    (folder / "catalogue.sqlite").unlink()
    assert "may not be looked into" in said_once(run("flights", "--logbook", folder))


def test_files_in_a_folder_come_by_name_and_none_where_there_is_no_folder(tmp_path):
    for name in ("b.toml", "a.toml", ".c.toml", "d.txt"):
        (tmp_path / name).touch()
    assert [p.name for p in files_in(tmp_path, ".toml")] == ["a.toml", "b.toml"]
    assert files_in(tmp_path / "none", ".toml") == files_in(tmp_path / "d.txt", ".toml") == []
