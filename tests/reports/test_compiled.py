"""Compiled templates: taken back from the user's own cache, made again whenever that is not to be trusted."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from jinja2 import DictLoader, Environment

from reports.words.compiled import MOST, Compiled

TEXTS = {"a": "{{ n }} of {{ m }}", "b": "{% if n %}{{ n }}{% endif %}"}


def environment(folder: Path, texts: dict[str, str] = TEXTS) -> tuple[Environment, Compiled]:
    store = Compiled(folder, "one")
    return Environment(loader=DictLoader(texts), bytecode_cache=store, autoescape=True), store


def test_what_was_compiled_is_not_compiled_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    env, store = environment(tmp_path / "cache")
    assert env.get_template("a").render(n=1, m=2) == "1 of 2"
    assert store.kept("words", lambda: {"x": "y"}) == {"x": "y"}
    store.save()
    again, kept = environment(tmp_path / "cache")
    monkeypatch.setattr(Environment, "compile", lambda *_a, **_k: pytest.fail("compiled again"))
    assert again.get_template("a").render(n=3, m=4) == "3 of 4"
    assert kept.kept("words", lambda: pytest.fail("parsed again")) == {"x": "y"}
    other = Compiled(tmp_path / "cache", "two")
    assert other.kept("words", lambda: {"x": "z"}) == {"x": "z"}


def test_another_text_of_the_same_name_is_compiled(tmp_path: Path) -> None:
    env, store = environment(tmp_path)
    env.get_template("a").render(n=1, m=2)
    store.save()
    changed, _ = environment(tmp_path, {**TEXTS, "a": "{{ m }} less {{ n }}"})
    assert changed.get_template("a").render(n=1, m=2) == "2 less 1"


def test_what_two_processes_compiled_is_kept_together(tmp_path: Path) -> None:
    one, other = Compiled(tmp_path, "one"), Compiled(tmp_path, "one")
    one.kept("a", lambda: {"x": "y"})
    other.kept("b", lambda: {"x": "z"})
    one.save()
    other.save()
    both = Compiled(tmp_path, "one")
    assert [both.kept(name, lambda: {}) for name in "ab"] == [{"x": "y"}, {"x": "z"}]


@pytest.mark.skipif(os.name != "posix", reason="the system knows no such permissions")
@pytest.mark.parametrize("mode", [0o660, 0o606])
def test_a_file_that_others_can_write_is_not_taken(tmp_path: Path, mode: int) -> None:
    _, store = environment(tmp_path)
    store.kept("words", lambda: {"x": "y"})
    store.save()
    assert (store.path.stat().st_mode & 0o777) == 0o600
    store.path.chmod(mode)
    assert Compiled(tmp_path, "one").kept("words", lambda: {"x": "mine"}) == {"x": "mine"}


@pytest.mark.parametrize("data", [b"", b"\xff\xff\xff", b"[", b"i\x00\x00\x00\x00"])
def test_a_file_that_does_not_read_is_made_again(tmp_path: Path, data: bytes) -> None:
    store = Compiled(tmp_path, "one")
    tmp_path.mkdir(exist_ok=True)
    store.path.write_bytes(data)
    store.path.chmod(0o600)
    assert Compiled(tmp_path, "one").kept("words", lambda: {"x": "y"}) == {"x": "y"}


def test_where_nothing_can_be_written_nothing_is_kept(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    store = Compiled(tmp_path / "file" / "folder", "one")
    store.kept("words", lambda: {"x": "y"})
    store.save()


def test_few_programs_stay(tmp_path: Path) -> None:
    for n in range(MOST + 3):
        store = Compiled(tmp_path, f"program {n}")
        store.kept("words", lambda: {"x": "y"})
        store.save()
        os.utime(store.path, (n, n))
    assert len(list(tmp_path.iterdir())) == MOST
