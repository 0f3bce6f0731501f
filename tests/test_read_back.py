"""One value of one quantity, read by a stranger: pages, terminal and exports of a drawn logbook as text alone.

The reader (``tests/read_back.py``) uses no module of the project but the names in ``docs/figures.md``; the seasons are
drawn by simulators of other make (``tests/drawn_logbook.py``) with notes here and there and packs that move.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from msgspec.structs import replace

from tests.drawn_logbook import draw
from tests.read_back import Flight, agrees, flights, numbers, shown_in_terminal, strays, terminal_table
from tests.spooldown.front import run


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("drawn")
    draw(made / "logbook", seed=7, flights=2, minutes=2.0)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("spooldown.processes.workers.available", lambda: 1)  # so few flights are not worth a process
        done = run("pages", "--logbook", made / "logbook", "--out", made / "pages")
    assert done.returncode == 0, done.stderr
    return made


def exports(folder: Path) -> tuple[str, str]:
    figures, flown = (run("export", what, "--logbook", folder / "logbook").stdout for what in ("figures", "flights"))
    return figures, flown


@pytest.fixture(scope="module")
def told(folder: Path) -> dict[str, Flight]:
    return flights(*exports(folder))


def test_pages_print_what_exports_give(folder: Path, told: dict[str, Flight]) -> None:
    assert len(told) == 4
    assert sum(len(f.figures) for f in told.values()) > 500
    assert list(strays(folder / "pages", told, told)) == []


def test_the_terminal_prints_what_exports_give(folder: Path, told: dict[str, Flight]) -> None:
    key = sorted(told)[-1]
    assert list(shown_in_terminal(run("show", key, "--all", "--logbook", folder / "logbook").stdout, told[key])) == []
    listed = list(terminal_table(run("flights", "--logbook", folder / "logbook").stdout))
    assert [row["flight"] for row in listed] == sorted(told, key=lambda k: (k.partition("-")[2], k))
    for row in listed:
        for head, what in (("min", "airborne"), ("burned", "burned"), ("lowest pack", "lowest")):
            value, slack = told[row["flight"]].whole(what)
            (shown,) = numbers(row[head])[:1]
            assert agrees(shown, value, slack), (row, head)


@pytest.mark.parametrize("name", ["content.margin", "burn.rate"])
def test_a_second_value_would_be_found(folder: Path, told: dict[str, Flight], name: str) -> None:
    """One exported figure off by 2 %: pages of the flight, lists, plots and sums all object."""
    key, figure = next((f.key, row) for f in told.values() for n, row in f.figures.items() if n.endswith(name))
    wrong = replace(figure, value=1.02 * figure.value + 1.0)
    other = {**told, key: replace(told[key], figures={**told[key].figures, figure.name: wrong})}
    found = list(strays(folder / "pages", other, [key]))
    assert len(found) >= 4
    assert any(x.startswith(f"{key}.html") for x in found)
    assert any("exported" in x and "tank." in x for x in found)
