"""Whatever the commands refuse, the desk refuses too: one sentence on the page, and nothing kept."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.desk.conftest import Browser

CORPUS = Path(__file__).parents[1] / "fuzz" / "corpus"
GOOD = "Time (s),RX1 Voltage (V),Wibble,Empty\n" + "".join(f"{i / 10},{8 + i % 7 / 100},{i},\n" for i in range(60))
BAD_LOGS = {
    "empty": b"",
    "binary": bytes(range(256)) * 40,
    "no_time": GOOD.replace("Time (s)", "Flavour").replace("0.", "x").encode(),
    "header_only": GOOD.splitlines()[0].encode(),
    "cut_archive.zip": b"PK\x03\x04" + b"\0" * 40,
    "cut.gz": b"\x1f\x8b\x08\0\0\0\0\0\0\x03\x4b",
}
BAD_FILES = {
    "no TOML": ("[aircraft", "found text that is not TOML"),
    "no aircraft": ("label = 'x'\n", "neither [aircraft] nor"),
    "a typo": ("[aircraft]\nname = 'A'\nmas_kg = 3\n", "mass_kg"),
    "a word for a number": ("[aircraft]\nname = 'A'\nmass_kg = 'heavy'\n", "expected a number"),
    "no name": ("[[packs]]\ncells = 2\n", "name"),
    "a number without end": ("[[packs]]\nname = 'A'\ncells = " + "9" * 5000 + "\n", "a number without end"),
    "a chemistry": ("[[packs]]\nname = 'A'\nchemistry = 'lead'\n", "lipo"),
    "a zero vector": (
        "[aircraft]\nname='A'\n[[layouts]]\nname='L'\n[[layouts.antennas]]\nreceiver='r'\nnumber=1\n"
        "position_m=[0,0,0]\naxis=[0,0,0]\n",
        "zero vector",
    ),
}


def problems(page: str) -> list[str]:
    return [
        re.sub(r"<[^>]+>", "", p)
        for p in re.findall(r'<p class="problem" role="alert"[^>]*>(.*?)</p>', page, re.DOTALL)
    ]


@pytest.mark.parametrize("name", BAD_LOGS)
def test_a_bad_log_is_refused_in_one_sentence(browser: Browser, tmp_path: Path, name: str) -> None:
    file = tmp_path / (name if "." in name else f"{name}.csv")
    file.write_bytes(BAD_LOGS[name])
    page = browser.get(browser.drop(file))
    assert page.status_code == 200
    (sentence,) = problems(page.text)
    assert file.name in sentence
    assert sentence.rstrip().endswith(".")
    for leak in ("Traceback", "fault in spooldown", str(tmp_path), str(browser.desk.folder)):
        assert leak not in page.text
    assert not browser.desk.folder.exists()


def test_the_fuzzers_finds_are_looked_at_without_a_fault(browser: Browser) -> None:
    files = sorted(p for p in CORPUS.iterdir() if p.is_file())
    assert files
    page = browser.get(browser.drop(*files))
    assert page.status_code == 200
    assert "fault in spooldown" not in page.text
    assert "Traceback" not in page.text


@pytest.mark.parametrize("what", BAD_FILES)
def test_a_bad_aircraft_file_is_refused_in_one_sentence(browser: Browser, what: str) -> None:
    text, says = BAD_FILES[what]
    told = browser.post("/aircraft/new/check", {"text": text}).json()
    assert says in told["problem"]
    answer = browser.post("/aircraft/new", {"text": text})
    assert answer.status_code == 422
    (sentence,) = problems(answer.text)
    assert "Traceback" not in sentence
    assert not browser.desk.folder.exists()


@pytest.mark.parametrize(
    ("path", "form"),
    [
        ("/flights/nobody/note", {"remarks": "x"}), ("/flights/nobody/remove", {}), ("/bin/nobody/restore", {}),
        ("/aircraft/nobody.toml", {"text": "x"}), ("/aircraft/nobody.toml/form", {"aircraft.name": "x"}),
        ("/aircraft/nobody.toml/antennas", {"save": "1"}), ("/logs/nobody", {"import": "1"}),
        ("/logs/nobody/together", {"offset:0": "1"}), ("/undo", {"change": "nobody"}),
    ],
)  # fmt: skip
def test_what_is_not_there_is_told(browser: Browser, path: str, form: dict[str, str]) -> None:
    answer = browser.post(path, form)
    assert answer.status_code in (404, 409, 422)
    (sentence,) = problems(answer.text)
    assert "fault in spooldown" not in sentence
    assert not browser.desk.folder.exists()


@pytest.mark.parametrize("size", [3_000, 200_000])
def test_a_form_without_end_is_refused(browser: Browser, size: int) -> None:
    form = {f"aircraft.x{n}": "1" for n in range(size)} if size < 10_000 else {"text": "x" * (2 << 20)}
    answer = browser.post("/aircraft/new", form)
    assert answer.status_code in (400, 413, 422)
    assert "fault in spooldown" not in answer.text


def test_what_was_typed_comes_back_without_what_acts_unseen(browser: Browser) -> None:
    typed = "name = '\u202egnp\x1b[31m'\r\nnote = 'two lines'\r\n"
    for path, field in (("/aircraft/new", "text"), ("/live", "source"), ("/range-checks", "receiver")):
        answer = browser.post(path, {field: typed})
        assert answer.status_code == 422
        assert not set("\u202e\x1b") & set(answer.text)
    back = browser.post("/aircraft/new", {"text": typed}).text
    assert "name = &#39;\ufffdgnp\ufffd[31m&#39;\nnote" in back
