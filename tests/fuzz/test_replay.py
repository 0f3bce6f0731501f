"""Every input that once broke the importer, and a few that nearly did: read or refused, nothing else."""

from pathlib import Path

import pytest

from tests.fuzz.fuzz_import import attempt, attempt_live

FILES = sorted((Path(__file__).parent / "corpus").iterdir())


def test_there_is_something_to_replay():
    assert FILES


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.name[:24])
def test_replay(path):
    assert attempt(path.read_bytes())


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.name[:24])
def test_the_same_bytes_as_they_would_arrive(path):
    assert attempt_live(path.read_bytes()) >= 0
