"""Odd paths and inputs, each told in one sentence: links, pipes, names that are no UTF-8, input without end."""

import gzip
import os
import signal
import subprocess
import sys
import time
import zipfile
from pathlib import Path

import pytest

from importers.plan import plan
from importers.refusal import Refusal
from importers.table import source
from spooldown.adding import add_file, find_logs
from spooldown.logbook.book import Logbook
from spooldown.problems import NotFoundProblem
from spooldown.register import load

LOG = "Time (s),Rx1 RSSI (dBm)\n" + "".join(f"{i / 5:.1f},-{60 + i % 9}\n" for i in range(80))
posix = pytest.mark.skipif(os.name != "posix", reason="needs links, pipes and byte names")


def imported(tmp_path, *paths):
    with Logbook(tmp_path / "book") as book:
        return [add_file(book, f, load(book)) for f in find_logs(paths)]


@posix
def test_links_out_of_the_folder(tmp_path):
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / "elsewhere" / "log.csv").write_text(LOG)
    logs = tmp_path / "logs"
    logs.mkdir()
    (logs / "linked.csv").symlink_to(tmp_path / "elsewhere" / "log.csv")
    (logs / "dead.csv").symlink_to(tmp_path / "nowhere.csv")
    (logs / "round.csv").symlink_to(logs / "round.csv")
    assert [o.name for o in imported(tmp_path, logs)] == ["logs/linked.csv"]
    with pytest.raises(Refusal, match="a link to nowhere"):
        find_logs([logs / "dead.csv"])


@posix
def test_names_that_are_no_utf8(tmp_path):
    folder = Path(os.fsdecode(os.fsencode(tmp_path) + b"/f\xe9ld"))
    folder.mkdir()
    (folder / os.fsdecode(b"log\xff\n1.csv")).write_text(LOG)
    (outcome,) = imported(tmp_path, folder)
    assert outcome.name == "f\ufffdld/log\ufffd 1.csv"
    with Logbook(tmp_path / "book") as book:
        assert book.flights()[0].source == outcome.name


@posix
def test_a_name_that_is_too_long(tmp_path):
    with pytest.raises(Refusal, match="cannot be followed"):
        find_logs([tmp_path / ("x" * 300)])
    with pytest.raises(Refusal, match="cannot be followed"):
        plan(tmp_path / ("x" * 300))


@posix
def test_pipes_and_devices_are_called_so(tmp_path):
    os.mkfifo(tmp_path / "pipe.csv")
    with pytest.raises(Refusal, match=r"a pipe.*standard input"):
        find_logs([tmp_path / "pipe.csv"])
    with pytest.raises(Refusal, match="a device"):
        find_logs([Path("/dev/null")])
    with pytest.raises(NotFoundProblem, match="no file or folder"):
        find_logs([tmp_path / "none.csv"])


def test_an_archive_in_an_archive(tmp_path):
    inner = gzip.compress(LOG.encode())
    (tmp_path / "twice.csv.gz").write_bytes(gzip.compress(inner))
    with zipfile.ZipFile(tmp_path / "zipped.zip", "w") as archive:
        archive.writestr("log.csv.gz", inner)
    for name in ("twice.csv.gz", "zipped.zip"):
        with pytest.raises(Refusal, match=r"archive .gzip. within an archive"):
            plan(tmp_path / name)


class Endless:
    name = "endless"

    def read(self, size):
        return b"0,1\n" * (size // 4)

    def seekable(self):
        return False


def test_input_without_end_is_refused(monkeypatch):
    monkeypatch.setattr(source, "MOST_BYTES", 8 * 2**20)
    with pytest.raises(Refusal, match="no end"):
        plan(Endless())


@posix
def test_the_copy_of_standard_input_goes_when_the_command_is_ended(tmp_path):
    words = [sys.executable, "-m", "spooldown", "import", "-", "--logbook", str(tmp_path / "book")]
    env = {**os.environ, "TMPDIR": str(tmp_path)}
    with subprocess.Popen(words, stdin=subprocess.PIPE, stderr=subprocess.DEVNULL, env=env) as command:
        command.stdin.write(LOG.encode())
        command.stdin.flush()
        until = time.monotonic() + 60
        while not list(tmp_path.glob("spooldown-*/standard-input.csv")):
            assert time.monotonic() < until
            time.sleep(0.05)
        command.send_signal(signal.SIGTERM)
        assert command.wait(30) == 143
    assert not list(tmp_path.glob("spooldown-*"))


def test_a_superscript_is_no_digit():
    text = "Time (s);EGT (°C);Rx1 voltage (V)\n" + "".join(f"{i};1.²34;7.400\n" for i in range(30))
    import io

    proposal = plan(io.BytesIO(text.encode()), name="log.csv", answers={"decimal": "point"})
    assert next(c for c in proposal.columns if c.heading.startswith("EGT")).kind == "text"


@pytest.mark.parametrize("where", ["heading", "unit row", "line above"])
def test_64_kb_in_one_place(where):
    import io

    lines = LOG.replace("(dBm)", "(dBm),Mode").replace("\n", ",a\n")[:-1].replace("Mode,a", "Mode").split("\n")
    long = "é " * 32_000
    if where == "heading":
        lines[0] += long
    elif where == "unit row":
        lines.insert(1, f"s,dBm,{long}")
    else:
        lines.insert(0, f"# {long}")
    begun = time.process_time()
    data = io.BytesIO("\n".join(lines).encode())
    if where == "heading":
        with pytest.raises(Refusal, match="a heading of 64,00"):
            plan(data, name="log.csv")
    else:
        plan(data, name="log.csv")
    assert time.process_time() - begun < 2.0
