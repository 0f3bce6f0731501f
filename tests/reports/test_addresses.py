"""Names from files never leave their folder and never share a page."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reports.addresses import slug


@given(st.text())
def test_slugs_are_plain_file_names(name: str) -> None:
    assert re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", slug(name))
    assert len(slug(name)) <= 48


@given(st.text(), st.text())
def test_different_names_have_different_pages(a: str, b: str) -> None:
    assert (slug(a) == slug(b)) == (a == b)


@pytest.mark.parametrize(
    "name", ["../../etc/passwd", "<script>", "R2", "r2", "R 2", "", "con", "ä", "..", "a/b", "a\\b", "\x00"]
)
def test_hard_names(name: str) -> None:
    assert not set(slug(name)) & set("./\\<>:\x00 ")


def test_names_that_differ_only_in_case_do_not_collide_on_any_disk() -> None:
    assert slug("Tern").lower() != slug("tern").lower()
