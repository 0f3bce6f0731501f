"""Several processes on one logbook: what one of them has in hand, or takes away, is no fault to the others."""

import threading
import time

import pytest
from front import run
from made import draft, source

from reports import write
from spooldown.logbook.book import Logbook
from spooldown.problems import LogbookProblem
from spooldown.upkeep.checking import check


@pytest.fixture
def folder(tmp_path):
    with Logbook(tmp_path / "book") as book:
        for n in range(3):
            book.add([source(f"{n}.csv", f"{n:02}")], [draft(rows=80 + n)], aircraft="Heron")
    return tmp_path / "book"


def test_a_flight_taken_out_while_pages_are_built_is_still_shown_on_them(folder, monkeypatch):
    from reports import site

    build = site.build_site
    gone = "heron-2031-04-05-b"

    def then(*words, **more):
        with Logbook(folder) as book:
            book.remove([gone])
        return build(*words, **more)

    with monkeypatch.context() as patch:
        patch.setattr(site, "build_site", then)
        done = run("pages", "--logbook", folder)
    assert (done.returncode, done.stderr) == (0, "")
    assert (folder / "pages" / "flights" / f"{gone}.html").is_file()
    assert run("pages", "--logbook", folder).returncode == 0
    assert not (folder / "pages" / "flights" / f"{gone}.html").exists()
    with Logbook(folder) as book:
        flight = book.flight("heron-2031-04-05-a")
        book.delete([flight.flight_id])
        with pytest.raises(LogbookProblem, match="taken out of the logbook meanwhile"):
            book.telemetry_of(flight)


def test_two_builds_of_one_folder_wait_for_each_other(tmp_path):
    root, began, order = tmp_path / "pages", threading.Event(), []

    def second():
        began.set()
        with write.alone(root):
            order.append("second")

    with write.alone(root):
        other = threading.Thread(target=second)
        other.start()
        began.wait(5)
        time.sleep(0.1)
        order.append("first")
    other.join(5)
    assert order == ["first", "second"]


def test_a_page_that_is_being_replaced_or_taken_out_is_no_damage(tmp_path):
    root = tmp_path / "pages"
    out = write.Folder(root)
    for name in ("a", "b"):
        out.put(f"{name}.html", "1", lambda: "text")
    out.finish()
    assert write.damaged(root) == []
    again = write.Folder(root)
    again.keeps("a.html", "1")
    again.replacing(["b.html"])
    (root / "b.html").unlink()
    assert write.damaged(root) == []  # as it is between taking it out and the new list of pages
    again.finish()
    assert write.damaged(root) == []
    (root / "a.html").write_text("other")
    assert write.damaged(root) == ["a.html"]


def test_what_another_process_writes_beside_the_results_is_no_stray(folder):
    cache = folder / "cache"
    cache.mkdir(exist_ok=True)
    part = cache / "heron-2031-04-05-a.json.zst.1.part"
    part.write_bytes(b"x")
    ending = threading.Timer(0.05, part.unlink)
    ending.start()
    assert check(folder) == []
    ending.join()
    part.write_bytes(b"x")
    assert ["belong to no flight" in str(d) for d in check(folder)] == [True]
