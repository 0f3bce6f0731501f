"""What a live view shows: calm, in the reader's words, harmless whatever the stream holds; limits speak once."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pyarrow as pa
import pytest
from rich.console import Console

from reports.words.reader import Reader, reading
from spooldown import register
from spooldown.live import journal
from spooldown.live.limits import AGAIN_S, Watchman, parse_all, parse_limit
from spooldown.live.picture import event_text, picture
from spooldown.live.recordings import journal_of
from spooldown.live.screen import drawn, show, summary
from spooldown.live.state import State
from spooldown.live.watch import Watch
from spooldown.problems import UsageProblem
from tests.live.conftest import HEADING, Scripted, line, recorded


def watched(tmp_path: Path, data: bytes, *limits: str) -> Watch:
    recorded(Scripted(data, None), tmp_path / "a.csv")
    watch = Watch(tmp_path / "a.csv", limits=parse_all(limits))
    watch.catch_up()
    return watch


SAMPLES = Path(__file__).parents[2] / "sample_logs"
ROWS = HEADING + b"".join(line(n, 0.2) for n in range(300))


def on_screen(watch: Watch, width: int = 100) -> str:
    console = Console(width=width, record=True, file=open("/dev/null", "w"))  # noqa: SIM115
    console.print(drawn(picture(watch)))
    return console.export_text()


def plain(shown: str) -> str:
    return " ".join(shown.split(" ")).replace("\n", " ").replace("  ", " ")


def test_the_picture(tmp_path: Path) -> None:
    shown = on_screen(watched(tmp_path, ROWS))
    assert "8.17\u00a0V" in shown
    assert "lowest of 10 s: 8.17" in shown
    assert "3\u202f970\u00a0mL" in shown
    assert re.search(r"burns about 30\s*mL/min", shown), "0.1 mL a row, five rows a second"
    assert "weakest of 10 s: −66" in shown
    assert "no alarm to fly by" in plain(shown)
    assert "0:59" in shown


def test_in_german(tmp_path: Path) -> None:
    watch = watched(tmp_path, ROWS)
    with reading(Reader("de")):
        shown = on_screen(watch)
    assert "8,17\u00a0V" in shown
    assert "kein Alarm, nach dem man fliegt" in plain(shown)
    assert "Kraftstoff" in shown


def test_at_the_width_of_a_small_terminal(tmp_path: Path) -> None:
    assert max(map(len, on_screen(watched(tmp_path, ROWS), 60).splitlines())) <= 60


HOSTILE = "\x1b]0;gone\x07\x1b[2J\u202e\u200b<script>"


def test_text_of_a_stream_cannot_steer_a_screen(tmp_path: Path) -> None:
    heading = HEADING.replace(b"Rx1 Voltage", f"Rx1 Voltage {HOSTILE}".encode())
    watch = watched(tmp_path, heading + b"".join(line(n) for n in range(100)), "pack.*.voltage_v<9")
    side = journal.Journal(journal_of(tmp_path / "a.csv"))
    side.note("lost", why=HOSTILE)
    side.note(HOSTILE, why=HOSTILE)
    side.close()
    watch.catch_up()
    watch.step()
    shown = on_screen(watch) + "\n".join(summary(picture(watch)))
    assert not set(shown) & set("\x1b\x07\u202e\u200b")
    assert "gone" in shown, "it is shown, and does nothing"


def test_a_journal_of_another_hand_is_no_fault(tmp_path: Path) -> None:
    for event in ({"event": "lost", "byte": 1}, {"event": "garbage", "byte": 1, "n": "x", "at": "yesterday"}):
        assert event_text(event)


def push(state: State, t: float, value: float) -> None:
    state.push(np.array([t]), pa.table({"pack.rx1.voltage_v": [value]}))


def test_a_limit_speaks_once_until_it_was_kept_for_a_while() -> None:
    state, man = State(), Watchman(parse_all(["pack.*.voltage_v<7.2"]))
    spoken = []
    for t, value in [(0, 8.0), (1, 7.1), (2, 7.0), (3, 8.0), (4, 7.1), (4 + AGAIN_S + 1, 8.0), (17, 8.0), (18, 7.15)]:
        push(state, t, value)
        spoken += [(p.at_s, p.value) for p in man.look(state)]
        if t == 4:
            assert [p.value for p in man.now.values()] == [7.0], "the worst since it was passed stands"
    assert spoken == [(1.0, 7.1), (18.0, 7.15)]


def test_a_sag_between_two_looks_is_heard() -> None:
    state, man = State(), Watchman(parse_all(["pack.rx1.voltage_v<7.2"]))
    state.push(np.arange(0, 1, 0.02), pa.table({"pack.rx1.voltage_v": [8.0] * 30 + [6.9] + [8.0] * 19}))
    (passed,) = man.look(state)
    assert (passed.value, passed.at_s) == (6.9, pytest.approx(0.6))
    assert man.look(state) == []


@pytest.mark.parametrize(
    ("word", "why"),
    [
        ("pack.rx1.voltage_v", "is no limit"),
        ("pack.rx1.voltage_v<", "is no limit"),
        ("pack.rx1.voltage_v<7<8", "is no limit"),
        ("pack.rx1.voltag_v<7", "did you mean"),
        ("engines.left.egt_c>700", "names no channel"),
    ],
)
def test_what_is_no_limit_is_told(word: str, why: str) -> None:
    with pytest.raises(UsageProblem, match=why):
        parse_limit(word)


@pytest.mark.parametrize(
    "word", ["pack.*.voltage_v<7,2", "link.rx1.antenna1_rssi_dbm<-90", "fuel.*.remaining_ml < 600"]
)
def test_limits_in_the_forms_there_are(word: str) -> None:
    limit = parse_limit(word)
    assert parse_limit(str(limit)) == limit


def test_limits_on_the_screen_and_in_lines(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    watch = watched(tmp_path, ROWS, "fuel.left.remaining_ml<3980")
    assert "! 3\u202f970\u00a0mL" in on_screen(watch)
    turns = iter([True, False])
    show(watch, lambda: next(turns), plain=True, bell=True)
    lines = capsys.readouterr().out.splitlines()
    assert sum(one.startswith("! Fuel remaining, left") for one in lines) == 1
    assert "is below your limit" in next(one for one in lines if one.startswith("!"))
    assert any("recording of script begins" in one for one in lines)
    assert "\a" not in "".join(lines), "no bell into a file"


def test_not_understood_yet_is_said(tmp_path: Path) -> None:
    watch = watched(tmp_path, b"".join(line(n) for n in range(300)))
    shown = on_screen(watch)
    assert "Not understood yet" in shown
    noise = watched(tmp_path / "b", bytes(range(128, 256)) * 40)
    assert "wrong speed of the port" in on_screen(noise)


def test_what_an_antenna_missed_stands_beside_it(tmp_path: Path) -> None:
    head = b"time_s,Rx1 Antenna 1 RSSI (dBm),Rx1 Antenna 1 Lost,Rx1 Lost Frames,Rx1 Failsafe\n"
    rows = [f"{n},{-60 - n % 5},{n // 10},{n // 50},{int(n > 290)}\n".encode() for n in range(300)]
    watch = watched(tmp_path, head + b"".join(rows[:290]))
    (signals,) = picture(watch).groups
    antenna, frames = signals.lines
    assert "missed 6 in the last minute, 28 in all" in antenna.beside
    assert (frames.value, frames.beside) == ("5", "1 more in the last minute; failsafe off")
    watch = watched(tmp_path / "b", head + b"".join(rows))
    (signals,) = picture(watch).groups
    assert [(one.value, one.passed) for one in signals.lines][-1] == ("ON", True)


def test_parts_have_the_names_their_owner_gave_them(tmp_path: Path) -> None:
    tern = register.parse((SAMPLES / "aircraft" / "tern.toml").read_bytes(), "tern.toml").aircraft
    data = b"".join((SAMPLES / "tern" / "tern-2026-07-04.csv").read_bytes().splitlines(keepends=True)[:300])
    recorded(Scripted(data, None), tmp_path / "a.csv")
    watch = Watch(tmp_path / "a.csv", aircraft=tern)
    watch.catch_up()
    signals = next(g for g in picture(watch).groups if g.kind == "signal")
    assert any("fin" in one.label.lower() for one in signals.lines)
