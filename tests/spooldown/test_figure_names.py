"""Exported figures have stable ASCII names, and every one of them is listed in the docs."""

from __future__ import annotations

import csv
import io
import re
from pathlib import Path

import pytest

from analyser.core.figures import Figure
from spooldown.work.export import identifier, rounded
from tests.spooldown.front import run

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def exported(tmp_path_factory: pytest.TempPathFactory) -> list[str]:
    place = ("--logbook", str(tmp_path_factory.mktemp("book") / "book"))
    samples = ROOT / "sample_logs"
    assert run("register", *sorted((samples / "aircraft").glob("*.toml")), *place).returncode == 0
    logs = [sorted((samples / kind).glob("*.csv"))[0] for kind in ("tern", "plover")]
    assert run("import", *logs, "--answer", "doubtful=as-shown", *place).returncode == 0
    rows = csv.DictReader(io.StringIO(run("export", "figures", *place).stdout))
    return [row["figure"] for row in rows]


def test_names_are_plain_and_each_stands_in_the_docs(exported: list[str]) -> None:
    listed = re.findall(r"^\| `([^`]+)` \|", (ROOT / "docs" / "figures.md").read_text("utf-8"), re.MULTILINE)
    known = [
        re.compile(re.sub(r"<[a-z]+>", r"\\w+(?:\\.antenna\\d+)?", re.escape(p).replace("\\<", "<"))) for p in listed
    ]
    assert len(exported) > 200
    for name in sorted(set(exported)):
        assert re.fullmatch(r"[A-Za-z0-9_.]+", name), name
        assert any(k.fullmatch(name) for k in known), name


@pytest.mark.parametrize(
    ("path", "name"),
    [("a.0-20 % of full.b", "a.0_20_of_full.b"), ("fuel.phases.cool-down.rate", "fuel.phases.cool_down.rate")],
)
def test_blanks_and_signs_become_one_underscore(path: str, name: str) -> None:
    assert identifier(path) == name


@pytest.mark.parametrize(
    ("half", "value", "shown"),
    # JCGM 100:2008, 7.2.6: 10.05762 Ω with an uncertainty of 27 mΩ is given as 10.058 Ω
    [(0.027, 10.05762, 10.058), (31.4, 2092.37, 2092.0), (0.4, 11.87654, 11.88), (0.0, 11.87654, 11.9)],
)
def test_values_are_rounded_to_what_they_can_mean(half: float, value: float, shown: float) -> None:
    assert rounded(value, Figure.within("x", value, half, "V", digits=0)) == shown
    assert rounded(None, Figure.within("x", value, half, "V", digits=0)) is None
