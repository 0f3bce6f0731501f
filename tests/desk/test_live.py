"""Recording on the desk: begun and ended by clicks, watched on a phone, handed on to the import."""

from __future__ import annotations

import socket
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from spooldown.desk.session import Desk, Place
from tests.desk.conftest import HOST, Browser, let_in
from tests.desk.real_desk import DESKTOP, PHONE, Running, running_desk, screen
from tests.desk.real_desk import let_in as let_chromium_in
from tests.live.conftest import HEADING, LOCAL, Scripted, Wire, line, recorded, wire  # noqa: F401 - a fixture

ROWS = [line(n, 0.1) for n in range(400)]


def free_port() -> int:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as one:
        one.bind((LOCAL, 0))
        return int(one.getsockname()[1])


def send(port: int, *lines: bytes) -> None:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as one:
        one.bind((LOCAL, 47_631))  # one sender is listened to, so it is always the same
        for some in lines:
            one.sendto(some, (LOCAL, port))
            time.sleep(0.001)


def until(true: Callable[[], Any], seconds: float = 10.0) -> Any:
    end = time.monotonic() + seconds
    while not (found := true()):
        assert time.monotonic() < end, "it did not happen"
        time.sleep(0.05)
    return found


def test_a_recording_from_start_to_import(browser: Browser) -> None:
    port = free_port()
    assert browser.post("/live/limits", {"limits": "pack.*.voltage_v<8.19\r\n\r\n"}).status_code == 303
    begun = browser.post("/live", {"kind": "udp", "udp": str(port)})
    assert begun.status_code == 303, begun.text
    place = begun.headers["location"]
    assert "waiting for the first bytes" in browser.get(place).text
    send(port, HEADING, *ROWS)
    told = until(lambda: (t := browser.get(f"{place}/now").json())["groups"] and t["count"] and t)
    voltage = told["groups"][0]["lines"][0]
    assert voltage["channel"] == "pack.rx1.voltage_v"
    assert voltage["passed"]
    assert any("is below your limit" in p for p in told["passed"])
    assert len(voltage["trace"]) == 120
    assert "no alarm to fly by" in told["caution"]
    page = browser.get(place).text
    assert "is below your limit" in page, "without a script as well"
    assert browser.post("/live", {"kind": "udp", "udp": str(port)}).status_code == 422, "one at a time"
    assert browser.post(f"{place}/end").headers["location"] == place
    assert browser.get(f"{place}/now").json()["ended"]
    (file,) = (browser.desk.folder / "recordings").glob("*.csv")
    assert file.read_bytes() == HEADING + b"".join(ROWS)
    review = browser.post(f"{place}/import").headers["location"]
    assert review.startswith("/logs/")
    assert "Rx1 Voltage" in browser.get(review).text


def test_a_serial_port_is_chosen_among_those_there_are(
    browser: Browser, wire: Wire, monkeypatch: pytest.MonkeyPatch  # noqa: F811
) -> None:  # fmt: skip
    monkeypatch.setattr("spooldown.live.sources.ports.found", lambda: (str(wire.link),))
    assert str(wire.link) in browser.get("/live").text
    refused = browser.post("/live", {"kind": "serial", "port": "/dev/sda", "baud": "9600"})
    assert refused.status_code == 422
    assert "there is no serial port" in refused.text
    assert "9999999 baud" in browser.post(
        "/live", {"kind": "serial", "port": str(wire.link), "baud": "9999999"}).text  # fmt: skip
    begun = browser.post("/live", {"kind": "serial", "port": str(wire.link), "baud": "9600"})
    place = begun.headers["location"]
    wire.send(HEADING + b"".join(ROWS[:50]))
    until(lambda: browser.get(f"{place}/now").json()["groups"])
    browser.post(f"{place}/end")


def test_what_another_process_records_is_seen_as_well(browser: Browser) -> None:
    folder = browser.desk.folder / "recordings"
    recorded(Scripted(HEADING, *ROWS, None), folder / "elsewhere.csv")
    assert "elsewhere.csv" in browser.get("/live").text
    assert "Pack voltage" in browser.get("/live/elsewhere.csv").text
    assert browser.get("/live/elsewhere.csv/now").json()["ended"]


@pytest.mark.parametrize("name", ["nothing.csv", "..%2Fcatalogue.sqlite", "%2Fetc%2Fpasswd"])
def test_no_other_file_is_shown(browser: Browser, name: str) -> None:
    assert browser.get(f"/live/{name}").status_code == 404
    assert browser.get(f"/live/{name}/now").status_code == 404
    assert browser.post(f"/live/{name}/end").status_code == 404


def test_what_is_no_limit_is_told_and_not_kept(browser: Browser) -> None:
    told = browser.post("/live/limits", {"limits": "voltage<7"})
    assert told.status_code == 422
    assert "names no channel" in told.text
    with browser.desk.book() as book:
        assert book.setting("live_limits") == ""


def test_a_phone_neither_lets_the_network_in_nor_calls_out(desk: Desk) -> None:
    phone = let_in(desk)
    desk.lan = Place("192.0.2.9", desk.place.port)
    (key,) = desk.keys.devices
    desk.keys.devices[key] = type(desk.keys.devices[key])("phone", 0.0, writes=True, own=False)
    assert 'name="tcp"' not in phone.get("/live").text
    for form in ({"kind": "tcp", "tcp": "192.0.2.7:80"}, {"kind": "udp", "udp": "9", "network": "on"}):
        answer = phone.post("/live", form)
        assert answer.status_code == 422
        assert "a phone can&#39;t start this kind" in answer.text
    desk.keys.devices[key] = type(desk.keys.devices[key])("phone", 0.0, writes=False, own=False)
    assert phone.post("/live", {"kind": "udp", "udp": "9"}).status_code == 403


def test_names_of_a_stream_are_text(browser: Browser) -> None:
    heading = HEADING.replace(b"Rx1 Voltage", b"Rx1<script>alert(1)</script> Voltage")
    recorded(Scripted(heading, *ROWS, None), browser.desk.folder / "recordings" / "x.csv")
    page = browser.get("/live/x.csv").text
    assert "<script>alert" not in page


def test_a_forged_request_starts_nothing(browser: Browser) -> None:
    assert browser.client.post("/live", data={"kind": "udp", "udp": "9"}).status_code == 403
    answer = browser.client.post("/live", data={"kind": "udp", "udp": "9"}, headers={"origin": "http://elsewhere"})
    assert answer.status_code == 403
    assert HOST


@pytest.fixture(scope="module")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    with running_desk(tmp_path_factory.mktemp("live")) as made:
        yield made


@pytest.fixture(scope="module")
def state(running: Running, chromium: Any, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return let_chromium_in(running, chromium, tmp_path_factory.mktemp("state"))


@pytest.mark.browser
def test_in_a_real_browser_at_both_sizes(running: Running, chromium: Any, state: Path) -> None:
    """Values change while one looks, a limit is shown and sounds, it fits a phone, and ends by a click."""
    one, port = screen(chromium, state, DESKTOP), free_port()
    page = one.page
    page.goto(f"{running.url}/live")
    assert one.axe() == []
    page.fill("textarea[name=limits]", "pack.rx1.voltage_v<8.17")
    with page.expect_navigation():
        page.click("form[action='/live/limits'] button")
    page.fill("input[name=udp]", str(port))
    page.click("button.big")
    page.wait_for_url("**/live/recorded-*")
    page.click("[data-sound]")
    send(port, HEADING, *ROWS[:200])
    page.wait_for_selector(".reading b")
    first = page.inner_text(".reading b")
    send(port, *ROWS[200:])
    page.wait_for_function("before => document.querySelector('.reading b').textContent !== before", arg=first)
    page.wait_for_selector("[data-passed] .problem")
    page.wait_for_selector("#live[data-sounded]", state="attached")
    assert one.axe() == []
    phone = screen(chromium, state, PHONE, has_touch=True, color_scheme="dark")
    phone.page.goto(page.url)
    phone.page.wait_for_selector(".reading .spark path")
    assert phone.fits()
    assert phone.axe() == []
    assert phone.small_targets() == []
    phone.page.goto(f"{running.url}/live")
    assert phone.fits()
    assert phone.small_targets() == []
    page.click("text=End the recording")
    page.wait_for_selector("text=Look at it and import")
    assert "ended" in page.inner_text("[data-state]")
    assert one.complaints == []
    assert phone.complaints == []


def test_a_source_without_headings(browser: Browser) -> None:
    port = free_port()
    told = browser.post("/live", {"kind": "udp", "udp": str(port), "mapping": "nothing"})
    assert told.status_code == 422
    assert "no saved mapping with headings" in told.text
    place = browser.post("/live", {"kind": "udp", "udp": str(port), "headings": HEADING.decode()}).headers["location"]
    send(port, *ROWS)
    until(lambda: browser.get(f"{place}/now").json()["groups"])
    browser.post(f"{place}/end")
    review = browser.get(browser.post(f"{place}/import").headers["location"])
    assert "Rx1 Voltage" in review.text
