"""Rows sorted through the disk are those that numpy's stable sort gives, in little memory."""

import io
import itertools
import tempfile

import numpy as np
import pyarrow as pa
import pytest

from importers.plan import plan
from importers.read import read
from importers.table import sorting


def tables(rng, count, rows):
    names = np.array(["a", "b", "c"])
    for n in range(count):
        keys = np.round(rng.normal(0, 3, rows), 1)
        keys[rng.random(rows) < 0.02] = np.inf
        of = pa.array(names[rng.integers(0, 1 + n % 3, rows)]).dictionary_encode()
        yield pa.table({"name": of, "place": np.arange(n * rows, (n + 1) * rows)}), keys


@pytest.mark.parametrize("most", [0, 30_000, 2**30])
@pytest.mark.parametrize("merged", [64, 2**17])
def test_rows_come_as_a_stable_sort_gives_them(monkeypatch, tmp_path, most, merged):
    monkeypatch.setattr(sorting, "MOST_BYTES", most)
    monkeypatch.setattr(sorting, "PIECE_ROWS", 16)
    monkeypatch.setattr(sorting, "MERGED_ROWS", merged)
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    keys = np.concatenate([k for _, k in tables(np.random.default_rng(1), 7, 501)])
    names = [n for t, _ in tables(np.random.default_rng(1), 7, 501) for n in t.column("name").to_pylist()]
    order = np.argsort(keys, kind="stable")
    got = list(sorting.in_order(tables(np.random.default_rng(1), 7, 501)))
    assert (len(got) > 10) == (merged == 64 and most < 2**30)
    whole = pa.concat_tables(got)
    assert whole.column_names == ["name", "place"]
    assert (whole.column("place").to_numpy() == order).all()
    assert whole.column("name").to_pylist() == [names[i] for i in order]
    ends = [(t.column("place")[0].as_py(), t.column("place")[-1].as_py()) for t in got]
    assert all(keys[a[1]] < keys[b[0]] for a, b in itertools.pairwise(ends))
    assert not list(tmp_path.iterdir())


def one_after_the_other(stamps=3000):
    rng = np.random.default_rng(2)
    lines = ["time_s,sensor,value"]
    for name in ("Rx1 RSSI", "Rx2 RSSI", "EGT"):
        lines += [f"{i / 10:.1f},{name},{-60 + i % 9 if 'R' in name else 500 + i % 7}" for i in range(stamps)
                  if rng.random() < 0.9]  # fmt: skip
    return "\n".join([*lines, ""]).encode()


def test_a_log_of_one_sensor_after_the_other_reads_the_same_through_the_disk(monkeypatch):
    data = one_after_the_other()

    def telemetry():
        made = plan(io.BytesIO(data), name="log")
        assert made.in_blocks
        (draft,) = [d.telemetry() for d in read(made)]
        return draft.table

    here = telemetry()
    monkeypatch.setattr(sorting, "MOST_BYTES", 0)
    monkeypatch.setattr(sorting, "MERGED_ROWS", 500)
    monkeypatch.setattr(sorting, "PIECE_ROWS", 50)
    there = telemetry()
    assert here.num_rows > 2900
    assert here.equals(there)
