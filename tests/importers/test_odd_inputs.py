"""Odd inputs, each told in one sentence: paths that are no files, archives in archives, input without end."""

import gzip
import io
import os
import time
import zipfile
from pathlib import Path

import pytest

from analyser.core.findings import say
from importers.codes import PlanRefused
from importers.plan import plan
from importers.refusal import Refusal
from importers.table import source

LOG = "Time (s),Rx1 RSSI (dBm)\n" + "".join(f"{i / 5:.1f},-{60 + i % 9}\n" for i in range(80))
posix = pytest.mark.skipif(os.name != "posix", reason="needs links and pipes")


@posix
def test_paths_that_are_no_files(tmp_path):
    os.mkfifo(tmp_path / "pipe.csv")
    (tmp_path / "link.csv").symlink_to(tmp_path / "nowhere.csv")
    (tmp_path / "round.csv").symlink_to(tmp_path / "round.csv")
    for path, said in {
        tmp_path / "pipe.csv": r"a pipe.*standard input", Path("/dev/null"): "a device", tmp_path: "a folder",
        tmp_path / "none.csv": "no such file", tmp_path / "link.csv": "a link to nowhere",
        tmp_path / "round.csv": "cannot be followed", tmp_path / ("x" * 300): "cannot be followed",
        Path(os.fsdecode(b"no\xff.csv")): r"^no\ufffd.csv: found no such file",
    }.items():  # fmt: skip
        with pytest.raises(Refusal, match=said):
            plan(path)


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


def test_a_superscript_is_no_digit():
    text = "Time (s);EGT (°C);Rx1 voltage (V)\n" + "".join(f"{i};1.²34;7.400\n" for i in range(30))
    proposal = plan(io.BytesIO(text.encode()), name="log.csv", answers={"decimal": "point"})
    assert next(c for c in proposal.columns if c.heading.startswith("EGT")).kind == "text"


@pytest.mark.parametrize("where", ["heading", "unit row", "line above"])
def test_64_kb_in_one_place(where):
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
        with pytest.raises(Refusal, match=r"a heading of 64.00"):
            plan(data, name="log.csv")
    else:
        plan(data, name="log.csv")
    assert time.process_time() - begun < 2.0


def test_headings_split_at_their_own_commas_are_refused() -> None:
    """Quantity, comma, unit, without quotes: a common habit of laboratories, no source."""
    head = "Time, s,Supply voltage, V,Supply current, A,Shaft speed, rpm"
    rows = "\n".join(f"{i / 4},{8.2 - i / 900:.3f},{1 + i % 7 / 10},{30000 + i * 37 % 900}" for i in range(60))
    with pytest.raises(Refusal) as caught:
        plan(io.BytesIO(f"{head}\n{rows}\n".encode()), name="lab.csv")
    assert caught.value.code is PlanRefused.SPLIT_HEADINGS
    quoted = ",".join(f'"{h}"' for h in ("Time, s", "Supply voltage, V", "Supply current, A", "Shaft speed, rpm"))
    found = plan(io.BytesIO(f"{quoted}\n{rows}\n".encode()), name="lab.csv")
    assert found.columns[1].channel.endswith("voltage_v")


def test_a_clock_that_turns_round_is_told_with_its_line(tmp_path):
    times = [*range(60), *range(58, 10, -1)]
    log = tmp_path / "turned.csv"
    log.write_text("Elapsed (s),Main Engine Speed (rpm)\n" + "".join(f"{t},{33000 + t}\n" for t in times))
    with pytest.raises(Refusal) as refused:
        plan(log)
    assert refused.value.line == 62
    assert "turns round" in str(refused.value)


def test_a_question_names_a_few_of_many_columns(tmp_path):
    heads = [f"Rx1 Pack Cell {n} (V)" for n in range(100, 140)]
    rows = "".join(f"{t}," + ",".join("3.9" for _ in heads) + "\n" for t in range(20))
    log = tmp_path / "wide.csv"
    log.write_text("Elapsed (s)," + ",".join(heads) + "\n" + rows)
    for question in plan(log).questions:
        assert len(str(question.text)) < 500


def test_notices_of_one_code_are_told_apart_by_their_hash():
    notices = [say("import.kept", heading=f"Sensor {n}") for n in range(1000)]
    assert len({hash(n) for n in notices}) == len(notices)
