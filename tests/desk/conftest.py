"""A desk on a fresh logbook, and a browser's side of it without a browser."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from time import monotonic, sleep
from typing import Any

import httpx2 as httpx
import pytest
from starlette.testclient import TestClient

from spooldown.desk.application import make
from spooldown.desk.session import Desk, Place

PORT = 8765
HOST = f"127.0.0.1:{PORT}"


@dataclass
class Browser:
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
def desk(tmp_path: Path) -> Iterator[Desk]:
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
