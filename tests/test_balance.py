"""The order in which workers take files."""

from pathlib import Path
from types import SimpleNamespace

from tests.balance import EACH_S, LONG_S, longest_first, pytest_xdist_auto_num_workers

HERE = Path(__file__).parent


def test_longest_files_come_first_and_stay_whole():
    names = ["importers/test_a.py"] * 9 + ["spooldown/test_fleet.py"] * 2 + ["browser/test_b.py"] * 3
    items = [SimpleNamespace(path=HERE / name, number=n) for n, name in enumerate(names)]
    mixed = sorted(items, key=lambda item: item.number % 3)
    got = longest_first(mixed)
    assert [item.path.parent.name for item in got] == ["spooldown"] * 2 + ["browser"] * 3 + ["importers"] * 9
    for folder in ("spooldown", "browser", "importers"):
        assert [i for i in got if i.path.parent.name == folder] == [i for i in mixed if i.path.parent.name == folder]


def test_every_long_file_and_folder_is_there():
    assert all(list(HERE.glob(f"{name}/")) or list(HERE.rglob(f"{name}.py")) for name in LONG_S)
    assert min(LONG_S.values()) > EACH_S
    assert pytest_xdist_auto_num_workers() >= 2
