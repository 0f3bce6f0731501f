"""A desk on a fresh logbook, and a browser's side of it without a browser."""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from pathlib import Path
from time import monotonic, sleep
from typing import Any

import httpx2 as httpx
import pytest
from msgspec import Struct
from starlette.testclient import TestClient

from spooldown.desk import building
from spooldown.desk.application import make
from spooldown.desk.session import Desk, Place
from spooldown.desk.views import logs

PORT = 8765
SAMPLES = Path(__file__).parents[2] / "sample_logs"
TERN = SAMPLES / "tern" / "tern-2026-04-18.csv"
HOST = f"127.0.0.1:{PORT}"


class Browser(Struct):
    """A browser that was let in: keeps its cookie, and sends the token that pages carry."""

    client: TestClient
    desk: Desk

    def get(self, path: str, **more: Any) -> httpx.Response:
        return self.client.get(path, **more)

    @property
    def token(self) -> str:
        found = re.search(r'data-token="([0-9a-f]+)"', self.get("/").text)
        assert found
        return found[1]

    def post(self, path: str, data: dict[str, Any] | None = None, **more: Any) -> httpx.Response:
        return self.client.post(path, data={"token": self.token, **(data or {})}, **more)

    def finished(self, answer: httpx.Response) -> dict[str, Any]:
        """Follow a job to its end."""
        name = str(answer.headers["location"]).rpartition("/")[2]
        end = monotonic() + 120
        while monotonic() < end:
            told = self.get(f"/jobs/{name}.json").json()
            if told["state"] in ("finished", "stopped"):
                return dict(told)
            sleep(0.05)
        raise AssertionError("the job did not end")

    def drop(self, *files: Path) -> str:
        """Drop files as the script does; returns the path of their review."""
        headers = {"X-Token": self.token}
        batch = self.client.post("/logs", headers=headers).json()["batch"]
        for file in files:
            done = self.client.put(
                f"/logs/{batch}/file", params={"name": file.name}, content=file.read_bytes(), headers=headers
            )
            assert done.status_code == 200, done.text
        return f"/logs/{batch}"


@pytest.fixture
def desk(tmp_path: Path, request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> Iterator[Desk]:
    """A desk; after a change it builds pages only for tests marked ``builds``: what they need is built once."""
    if request.node.get_closest_marker("builds") is None:
        monkeypatch.setattr(building, "build_now", lambda desk, job: None)
        monkeypatch.setattr(logs, "build_now", lambda desk, job: None)
    made = make(tmp_path / "logbook", Place("127.0.0.1", PORT), [HOST, f"localhost:{PORT}"])
    yield made
    made.close()


@pytest.fixture
def browser(desk: Desk) -> Browser:
    """This machine's own browser."""
    return let_in(desk)


def let_in(desk: Desk) -> Browser:
    """Let a browser in as the terminal's address does."""
    client = TestClient(desk.app, base_url=f"http://{HOST}", follow_redirects=False, raise_server_exceptions=False)
    assert client.get("/enter", params={"code": desk.keys.code(own=True)}).status_code == 303
    return Browser(client, desk)


@pytest.fixture(scope="session")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A logbook with one flight, its aircraft and packs described: all of it through the desk."""
    desk = make(tmp_path_factory.mktemp("made") / "logbook", Place("127.0.0.1", PORT), [HOST])
    browser = let_in(desk)
    for name in ("tern.toml", "packs.toml"):
        text = (SAMPLES / "aircraft" / name).read_text("utf-8")
        assert browser.post("/aircraft/new", {"text": text}).status_code == 303
    review = browser.drop(TERN)
    told = browser.finished(browser.post(review, {"import": "1", "aircraft": "Tern"}))
    assert told["failed"] == []
    desk.close()
    return desk.folder


@pytest.fixture
def flown(made: Path, desk: Desk, browser: Browser) -> Browser:
    """A desk on a copy of that logbook."""
    shutil.copytree(made, desk.folder)
    return browser


def flight_of(browser: Browser) -> str:
    with browser.desk.book() as book:
        (flight,) = book.flights()
    return flight.flight_id
