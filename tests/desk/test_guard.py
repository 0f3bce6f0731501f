"""Who may ask the desk.

Each test names the part of OWASP ASVS 4.0.3 that it holds, by the numbers of OWASP's public index of its controls.
"""

from __future__ import annotations

import pytest
from starlette.testclient import TestClient

from spooldown.desk.guard import PAIRING_S, TRIES, TRIES_S, Keys
from spooldown.desk.session import Desk
from tests.desk.conftest import HOST, Browser


def stranger(desk: Desk, host: str = HOST) -> TestClient:
    return TestClient(desk.app, base_url=f"http://{host}", follow_redirects=False)


@pytest.mark.parametrize(
    "host", ["evil.example", "evil.example:8765", "127.0.0.1:80", "127.0.0.1", "127.0.0.1:8765.evil"]
)
def test_a_foreign_host_is_refused(browser: Browser, host: str) -> None:
    """14.5.1, DNS rebinding: even a browser that holds the key."""
    assert browser.get("/", headers={"host": host}).status_code == 421


@pytest.mark.parametrize("origin", ["http://evil.example", "null", "http://127.0.0.1:1", "https://evil.example:8765"])
def test_a_change_from_another_site_is_refused(browser: Browser, origin: str) -> None:
    """4.2.2, cross-site request forgery."""
    assert browser.post("/build", headers={"origin": origin}).status_code == 403
    assert browser.post("/build", headers={"sec-fetch-site": "cross-site"}).status_code == 403


@pytest.mark.parametrize(
    "path", ["/build", "/undo", "/settings", "/stop", "/logs", "/logs/drop", "/aircraft/new", "/flights/x/note"]
)
def test_every_change_wants_the_token(browser: Browser, path: str) -> None:
    """4.2.2: the cookie alone changes nothing."""
    kind = {"files": {"files": ("a.csv", b"x")}} if path == "/logs/drop" else {}
    for token in ("", "0" * 64, "ü"):
        assert browser.client.post(path, data={"token": token}, **kind).status_code == 403, path


def test_without_a_key_nothing_is_shown(desk: Desk) -> None:
    """3.4, 4.1.1: another user of this machine."""
    client = stranger(desk)
    for path in ("/", "/flights", "/pages/", "/settings", "/static/desk.js", "/jobs/x.json", "/aircraft"):
        answer = client.get(path)
        assert answer.status_code == 401
        assert str(desk.folder) not in answer.text
    assert client.post("/build").status_code == 401


def test_the_way_in_is_good_once(desk: Desk) -> None:
    code = desk.keys.code(own=True)
    assert stranger(desk).get("/enter", params={"code": code}).status_code == 303
    assert stranger(desk).get("/enter", params={"code": code}).status_code == 403
    assert stranger(desk).get("/enter", params={"door": "x"}).status_code == 403
    assert stranger(desk).get("/enter", params={"door": desk.door}).status_code == 303


def test_the_key_is_kept_from_scripts_and_other_sites(desk: Desk) -> None:
    """3.4.2, 3.4.3."""
    cookie = stranger(desk).get("/enter", params={"code": desk.keys.code()}).headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie


def test_answers_carry_the_protecting_headers(browser: Browser) -> None:
    """14.4: policy, sniffing, framing, referrer."""
    headers = browser.get("/").headers
    assert "default-src 'none'" in headers["content-security-policy"]
    assert "frame-ancestors 'none'" in headers["content-security-policy"]
    assert "unsafe" not in headers["content-security-policy"]
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["x-frame-options"] == "DENY"
    assert headers["cache-control"] == "no-store"


def test_pairing_codes_are_good_once_and_not_for_long() -> None:
    """2.7, 2.2.1: out-of-band codes expire and are rate-limited."""
    now = [0.0]
    keys = Keys(clock=lambda: now[0])
    code = keys.code(digits=True)
    assert keys.pair(code, "phone")
    assert keys.pair(code, "phone") is None
    late = keys.code(digits=True)
    now[0] += PAIRING_S + 1
    assert keys.pair(late, "phone") is None
    for _ in range(TRIES):
        keys.pair("00000000", "guesser")
    good = keys.code(digits=True)
    assert keys.pair(good, "phone") is None, "after too many wrong codes none is taken for a while"
    now[0] += TRIES_S + 1
    assert keys.pair(good, "phone")


def test_a_device_that_may_only_read_changes_nothing(desk: Desk) -> None:
    client = stranger(desk)
    assert client.post("/pair", data={"code": desk.keys.code(writes=False, digits=True)}).status_code == 303
    assert client.get("/").status_code == 200
    assert client.post("/build").status_code == 403
    which = next(iter(desk.keys.devices))
    desk.keys.revoke(which)
    assert client.get("/").status_code == 401


def test_the_terminal_is_told_who_is_let_in_and_shut_out(desk: Desk, browser: Browser) -> None:
    said: list[str] = []
    desk.say = said.append
    phone = stranger(desk)
    code = desk.keys.code(writes=False, digits=True)
    phone.headers["user-agent"] = "a phone\x1b[31m"
    assert phone.post("/pair", data={"code": code}).status_code == 303
    assert said[0].startswith("Let in, to read only: a phone")
    which = next(k for k, d in desk.keys.devices.items() if not d.own)
    assert browser.post("/settings/revoke", {"which": which}).status_code == 303
    assert said[1].startswith("Shut out: a phone")
    assert phone.get("/").status_code == 401


def test_only_digests_of_keys_are_kept(desk: Desk) -> None:
    key = desk.keys.pair(desk.keys.code(), "x")
    assert key
    assert key not in repr(desk.keys.devices)


def test_phones_are_paired_from_this_machine_only(desk: Desk, browser: Browser) -> None:
    assert browser.post("/settings/pairing").status_code == 403, "not started for the network"


@pytest.mark.parametrize(
    "path",
    ["/pages/../catalogue.sqlite", "/pages/%2e%2e/catalogue.sqlite", "/pages//etc/passwd",
                                  "/pages/..%2fcatalogue.sqlite", "/static/..%2fguard.py", "/static/../guard.py",
                                  "/aircraft/..%2f..%2fcatalogue.sqlite", "/pages/.pages.txt", "/pages/%00"],
)  # fmt: skip
def test_no_path_of_a_request_reaches_the_disk(browser: Browser, path: str) -> None:
    """12.3.1, path traversal."""
    assert browser.get(path).status_code in (404, 400)
